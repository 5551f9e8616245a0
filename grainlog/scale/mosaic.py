"""Several photos of one slab as one picture seen square-on: for every point of the face, the photo that shows it best.

All photos of one solution share its plane frame, so nothing is stitched by how it looks: a point of the face lies where
the solution says in each of them. The seam is hard (mixing two sights of a sloping flank would blur its edge), a card is
taken whole from one photo, and photos are only matched in brightness and colour.

The *pixels* of a `MosaicPlane` are those of the joined picture. Each belongs to one photo, and when an uncertainty is
traced it goes with that photo's pixel: the rule "what is held fixed is pixels" is the same as for one photo.
"""

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import shapely

from grainlog.scale.plane import FacePlane
from grainlog.scale.solve import Solution

#: Points nearer than this to a photo's frame are taken from another photo where one shows them, px.
FRAME_PX = 6.0
#: A card and this much around it come from one photo, mm.
AROUND_CARD_MM = 25.0
#: The joined picture is never finer than this, mm per px, and never has more pixels.
FINEST_MM_PER_PX, MOST_PX = 0.5, 12e6
#: The joined picture ends where the slab's surroundings are seen flatter than this, degrees from straight down.
WORTH_SHOWING_DEG = 50.0


@dataclass(frozen=True)
class Sheet:
    """The pixels of a square-on picture.

    bounds_mm : (least x, least y, greatest x, greatest y), plane frame
    mm_per_px : float
    """

    bounds_mm: tuple[float, float, float, float]
    mm_per_px: float

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height; a pixel more than fits, but not for the last bit of a float."""
        left, bottom, right, top = self.bounds_mm
        return tuple(max(1, int(np.ceil(side / self.mm_per_px - 1e-6))) for side in (right - left, top - bottom))

    @property
    def origin_mm(self) -> np.ndarray:
        """(2,) plane-frame place of the centre of the first pixel; rows run down, y runs up."""
        return np.array([self.bounds_mm[0] + self.mm_per_px / 2, self.bounds_mm[3] - self.mm_per_px / 2])

    def to_mm(self, px: np.ndarray) -> np.ndarray:
        """(..., 2) px (column, row) to (..., 2) plane-frame mm."""
        return self.origin_mm + np.asarray(px, float) * [self.mm_per_px, -self.mm_per_px]

    def to_px(self, mm: np.ndarray) -> np.ndarray:
        """(..., 2) plane-frame mm to (..., 2) px."""
        return (np.asarray(mm, float) - self.origin_mm) / [self.mm_per_px, -self.mm_per_px]


@dataclass(frozen=True)
class Shares:
    """Which photo shows each point of the face, by the solution; an uncertainty that is traced changes nothing of it.

    planes : tuple of FacePlane
        The plane as each photo sees it, in the order of the solution's views.
    """

    planes: tuple[FacePlane, ...]

    def photo_of(self, mm: np.ndarray) -> np.ndarray:
        """(n,) int: which photo shows each plane-frame point (n, 2)."""
        inside_px = np.stack([plane.inside_px(mm) for plane in self.planes])
        return self.best(mm, inside_px >= FRAME_PX, inside_px >= 0)

    def best(self, mm: np.ndarray, inside: np.ndarray, seen: np.ndarray) -> np.ndarray:
        """(...) int: which photo shows points (..., 2) best, given which show them well inside, and at all: (k, ...) bool.

        The one with the smallest pixel there, which of equal cameras is the one that looks down the steepest; within a
        card's zone the card's own photo.
        """
        cost = np.stack([_pixel_area(plane, mm) for plane in self.planes]) + 1e6 * ~inside + 1e9 * ~seen
        for home, zone in self.card_zones.values():
            left, bottom, right, top = zone.bounds
            near = (mm[..., 0] > left) & (mm[..., 0] < right) & (mm[..., 1] > bottom) & (mm[..., 1] < top)
            if near.any():
                near[near] = shapely.contains_xy(zone, mm[near])
                cost[home, near & inside[home]] = -1.0
        return cost.argmin(0)

    @cached_property
    def card_zones(self) -> dict[int, tuple[int, shapely.Geometry]]:
        """For each card the photo it is taken from, and the part of the plane where any photo shows it, with a margin."""
        problem = self.planes[0].solution.problem
        zones = {}
        for card in problem.cards:
            shown = [plane.to_mm(plane.card_outline_px(card)) for plane in self.planes]
            finders = [index for index, view in enumerate(problem.views) if any(seen.card == card for seen in view.cards)]
            home = min(finders, key=lambda index: float(_pixel_area(self.planes[index], shown[index].mean(0))))
            showing = [k for k, plane in enumerate(self.planes) if k in finders or plane.inside_px(shown[k]).max() > 0]
            zones[card] = home, shapely.union_all([shapely.Polygon(shown[k]) for k in showing]).buffer(AROUND_CARD_MM)
        return zones

    def cameras_over(self, mm: np.ndarray) -> np.ndarray:
        """(..., 3) mm, plane frame: the camera that shows each point (..., 2)."""
        cameras = np.array([plane.camera_mm for plane in self.planes])
        return cameras[self.photo_of(mm.reshape(-1, 2))].reshape(*mm.shape[:-1], 3)


@dataclass(frozen=True)
class MosaicPlane(FacePlane):
    """The face plane of several photos: a `FacePlane` whose pixels are those of the joined picture.

    `view` is the photo with the lowest camera, whose height stands for all of them where one is asked for: what lies
    out of the plane weighs most there. `slant` and `mm_per_px` are those of the photo that shows the point.
    """

    sheet: Sheet = field(kw_only=True)
    shares: Shares = field(kw_only=True)

    @classmethod
    def of(cls, solution: Solution) -> "MosaicPlane":
        """The plane of a solution of several views, with the sheet that holds all that is worth showing."""
        planes = tuple(FacePlane(solution, index) for index in range(len(solution.problem.views)))
        lowest = int(np.argmin([plane.camera_mm[2] for plane in planes]))
        boxes = np.array([plane.shown_bounds(WORTH_SHOWING_DEG) for plane in planes])
        left, bottom, right, top = map(float, (*boxes[:, :2].min(0), *boxes[:, 2:].max(0)))
        finest = min(plane.mm_per_px(_middle(plane)) for plane in planes)
        size = max(FINEST_MM_PER_PX, finest, float(np.sqrt((right - left) * (top - bottom) / MOST_PX)))
        return cls(solution, lowest, sheet=Sheet((left, bottom, right, top), size), shares=Shares(planes))

    @cached_property
    def planes(self) -> tuple[FacePlane, ...]:
        """The plane as each photo sees it, in the order of the solution's views."""
        if self.vector is None:
            return self.shares.planes
        return tuple(FacePlane(self.solution, index, self.vector) for index in range(len(self.shares.planes)))

    def to_mm(self, px: np.ndarray) -> np.ndarray:
        """(n, 2) px of the joined picture to (n, 2) plane-frame mm."""
        return self._carried(self.sheet.to_mm(px), self.shares.planes, self.planes)

    def to_px(self, mm: np.ndarray) -> np.ndarray:
        """(n, 2) plane-frame mm to (n, 2) px of the joined picture."""
        return self.sheet.to_px(self._carried(np.asarray(mm, float), self.planes, self.shares.planes))

    def _carried(self, mm: np.ndarray, seen_by: tuple[FacePlane, ...], shown_by: tuple[FacePlane, ...]) -> np.ndarray:
        """Points through the pixels of the photos that show them, from one set of planes to another."""
        if seen_by is shown_by:
            return mm
        which, out = self.shares.photo_of(mm), np.empty_like(mm)
        for index in np.unique(which):
            mine = which == index
            out[mine] = shown_by[index].to_mm(seen_by[index].to_px(mm[mine]))
        return out

    def inside_px(self, mm: np.ndarray) -> np.ndarray:
        """(n,) how far inside the frame of the photo that shows them best in that respect points (n, 2) are seen, px."""
        return np.max([plane.inside_px(mm) for plane in self.planes], 0)

    def mm_per_px(self, mm: np.ndarray) -> float:
        """Size of a pixel, mm, of the photo that shows the point (2,)."""
        return self._showing(mm).mm_per_px(mm)

    def slant(self, mm: np.ndarray) -> float:
        """Angle (rad) from straight down under which the point (2,) is seen by the photo that shows it."""
        return self._showing(mm).slant(mm)

    def _showing(self, mm: np.ndarray) -> FacePlane:
        return self.planes[int(self.shares.photo_of(np.asarray(mm, float)[None])[0])]

    def card_outlines_px(self) -> dict[int, np.ndarray]:
        """Outline of each card's paper in the joined picture, as the photo it is taken from shows it."""
        homes = {card: self.planes[home] for card, (home, _) in self.shares.card_zones.items()}
        return {card: self.sheet.to_px(plane.to_mm(plane.card_outline_px(card))) for card, plane in homes.items()}


def _middle(plane: FacePlane) -> np.ndarray:
    size = np.array(plane.solution.problem.views[plane.view].size_px, float)
    return plane.to_mm((size[None] - 1) / 2)[0]


def _pixel_area(plane: FacePlane, mm: np.ndarray) -> np.ndarray:
    """(...) mm2 of the face that a pixel of a photo covers at points (..., 2): grows with distance and slant."""
    camera = plane.camera_mm
    aside = ((mm - camera[:2]) ** 2).sum(-1) / camera[2] ** 2
    return (camera[2] / plane.camera.focal_px) ** 2 * (1 + aside) ** 1.5
