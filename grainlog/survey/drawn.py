"""What a person drew on one of several photos of a slab, or on the picture that these were joined to.

A drawn point is (x, y), or (x, y, photo): 1 is the photo that was given first, 2 the next, `JOINED` (0) the joined picture.
Without it the first photo is meant. What is kept always names a photo: a photo's pixels stay, while those of the joined
picture move when thickness or lift are said anew.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from grainlog.errors import WrongUse
from grainlog.scale.mosaic import MosaicPlane
from grainlog.scale.plane import FacePlane
from grainlog.survey.request import Request

JOINED = 0
#: Half a pixel beyond the outermost centres is where a photo ends; what is kept is rounded to a hundredth.
BEYOND_PX = 0.51


@dataclass(frozen=True)
class Drawing:
    """Where points drawn on several photos lie in their joined picture, and the other way round.

    plane : MosaicPlane
    order : tuple of int
        For each photo in the order given its place among the plane's photos.
    """

    plane: MosaicPlane
    order: tuple[int, ...]

    def to_mm(self, points: np.ndarray) -> np.ndarray:
        """(n, 2 or 3) drawn points to (n, 2) plane-frame mm. Raises WrongUse for a photo that is not there."""
        points = named(points)
        out = self.plane.sheet.to_mm(points[:, :2])
        for photo in set(points[:, 2]) - {JOINED}:
            mine = points[:, 2] == photo
            out[mine] = self._own(photo).to_mm(points[mine, :2])
        return out

    def on_joined(self, points: np.ndarray) -> np.ndarray:
        """(n, 2 or 3) drawn points to (n, 2) px of the joined picture. Raises as `to_mm`."""
        return self.plane.sheet.to_px(self.to_mm(points))

    def on_photos(self, points: np.ndarray) -> np.ndarray:
        """(n, 2 or 3) drawn points to (n, 3) that all name the photo which shows them."""
        points = named(points)
        mine = np.flatnonzero(points[:, 2] == JOINED)
        mm = self.plane.sheet.to_mm(points[mine, :2])
        which = self.plane.shares.photo_of(mm) if len(mine) else mine
        for index in np.unique(which):
            px = self.plane.shares.planes[index].to_px(mm[which == index])
            points[mine[which == index]] = np.column_stack([px, np.full(len(px), self.order.index(index) + 1.0)])
        return points

    def require_shown(self, request: Request) -> None:
        """Raise WrongUse where wood or a dab is drawn outside the photo that it is drawn on, or where no photo shows anything."""
        rings = () if request.outline is None else (request.outline.wood_px, *request.outline.holes_px)
        for points in map(named, (*rings, *request.dabs.wood, *request.dabs.other)):
            for photo in set(points[:, 2]):
                mm = self.to_mm(points[points[:, 2] == photo])
                if photo == JOINED and self.plane.inside_px(mm).min() < -BEYOND_PX:
                    raise WrongUse(
                        "Something is drawn where none of the photos shows anything; draw it on what they show."
                    )
                if photo != JOINED and self._own(photo).inside_px(mm).min() < -BEYOND_PX:
                    raise WrongUse(
                        f"Something is drawn outside photo {photo:g}; draw it on the photo as it is shown upright."
                    )

    def _own(self, photo: float) -> FacePlane:
        if photo not in range(1, len(self.order) + 1):
            raise WrongUse(f"Something is drawn on photo {photo:g}, and there are {len(self.order)}: name one of them.")
        return self.plane.shares.planes[self.order[int(photo) - 1]]


def named(points: np.ndarray, photo: int = 1) -> np.ndarray:
    """(n, 2 or 3) drawn points to new (n, 3), those that name no photo being on `photo`."""
    points = np.atleast_2d(np.array(points, np.float64))
    return points if points.shape[1] == 3 else np.column_stack([points, np.full(len(points), float(photo))])


def moved(request: Request, change: Callable[[np.ndarray], np.ndarray]) -> Request:
    """The request with all that is drawn put through `change`, points to points."""
    drawn = request.outline
    if drawn is not None:
        rings = {name: getattr(drawn, name) for name in ("bark_px", "silhouette_px")}
        around = {name: None if ring is None else change(ring) for name, ring in rings.items()}
        drawn = replace(
            drawn, wood_px=change(drawn.wood_px), holes_px=tuple(change(hole) for hole in drawn.holes_px), **around
        )
    return replace(request, outline=drawn, dabs=request.dabs.moved(change))


def on_one_photo(request: Request) -> Request:
    """The request for a single photo, its points (n, 2). Raises WrongUse where something is drawn on another."""

    def change(points: np.ndarray) -> np.ndarray:
        if points.shape[1] == 3 and (points[:, 2] != 1).any():
            raise WrongUse("Something is drawn on another photo than the first, and only one photo is given.")
        return points[:, :2]

    return moved(request, change)
