"""Whether two photos show the same wood in the same place where they overlap: the check that no card can make.

Cards tie photos only if nothing was moved between them. The grain knows: both photos are shown square-on, and how far one
must be shifted to lie on the other is found by normalised cross-correlation. It should be nothing, within what the solution
leaves open.
"""

from dataclasses import dataclass
from itertools import combinations

import cv2
import numpy as np

from grainlog.face.opinion import cover
from grainlog.scale.flat import FlatView
from grainlog.scale.mosaic import MosaicPlane
from grainlog.scale.mosaic_view import MosaicViewer
from grainlog.survey.errors import SurveyError
from grainlog.survey.uncertainty import BOW_MM, CUP_MM

#: Compared at this size, mm per px, by detail finer than this, mm; less than this much wood in common says nothing, mm2.
COMPARED_MM_PER_PX, DETAIL_MM, LEAST_SHARED_MM2 = 1.5, 12.0, 20_000.0
#: This far from the wood edge and from cards nothing is compared: parallax of the flank, shadows, mm.
INWARDS_MM = 15.0
#: How far a shift is sought, share of the overlap's sides.
SOUGHT = 0.2
#: Pictures of the same wood, laid on each other, agree at least this well (correlation of their detail).
SAME_WOOD = 0.25
#: Farther apart than this many standard uncertainties, and than this, mm, something was moved.
MOVED_U, MOVED_MM = 4.0, 6.0


@dataclass(frozen=True)
class Agreement:
    """How two photos agree where both show the wood.

    photos : (int, int)
        Which two, by their place in the solution.
    apart_mm : float
        How far one lies from the other.
    u_mm : float
        What that may be by chance: one standard uncertainty of the distance between the two.
    alike : float
        Correlation of their detail once laid on each other, -1..1.
    shared_mm2 : float
    """

    photos: tuple[int, int]
    apart_mm: float
    u_mm: float
    alike: float
    shared_mm2: float

    def require(self, names: list[str]) -> None:
        """Raise SurveyError where the two photos cannot be of one slab that lay still."""
        if self.alike < SAME_WOOD:
            raise SurveyError(
                f"{names[0]} and {names[1]} do not show the same wood where they overlap: check that both are of this slab "
                "and that nothing was moved between them."
            )
        if self.apart_mm > max(MOVED_MM, MOVED_U * self.u_mm):
            raise SurveyError(
                f"The wood lies {self.apart_mm:.0f} mm apart in {names[0]} and {names[1]}: slab or cards were moved between "
                "the photos, or thickness or lift are not as said; check these, else take the photos again with everything left "
                "where it is."
            )


def agreement_of(viewer: MosaicViewer, wood_mm: np.ndarray) -> tuple[Agreement, ...]:
    """Compare every two photos that share enough wood; outline (n, 2) mm, plane frame."""
    plane = viewer.plane
    bounds = (*(wood_mm.min(0) - 5.0), *(wood_mm.max(0) + 5.0))
    views = [one.flat_view(COMPARED_MM_PER_PX, bounds) for one in viewer.viewers]
    inner = _inner(wood_mm, views[0], plane)
    found = []
    for first, second in combinations(range(len(views)), 2):
        both = inner & views[first].seen & views[second].seen
        area = float(both.sum()) * COMPARED_MM_PER_PX**2
        if area > LEAST_SHARED_MM2:
            shift, alike = _shift(views[first], views[second], both)
            rows, columns = np.nonzero(both)
            middle = views[first].to_mm(np.array([[columns.mean(), rows.mean()]]))
            found.append(Agreement((first, second), shift, _apart_u(plane, first, second, middle), alike, area))
    return tuple(found)


def _inner(wood_mm: np.ndarray, view: FlatView, plane: MosaicPlane) -> np.ndarray:
    """(h, w) bool: wood well inside the edge and clear of the cards."""
    mask = (cover(wood_mm, view) > 0.99).astype(np.uint8)
    for home, zone in plane.shares.card_zones.values():
        for part in getattr(zone, "geoms", [zone]):
            mask[cover(np.asarray(part.exterior.coords)[:-1], view) > 0] = 0
    reach = max(1, round(INWARDS_MM / view.mm_per_px))
    return cv2.erode(mask, np.ones((2 * reach + 1, 2 * reach + 1), np.uint8), borderValue=0) > 0


def _shift(first: FlatView, second: FlatView, both: np.ndarray) -> tuple[float, float]:
    """How far apart, mm, and how alike once laid on each other: the middle of one sought in the whole of the other."""
    rows, columns = np.nonzero(both)
    window = slice(rows.min(), rows.max() + 1), slice(columns.min(), columns.max() + 1)
    share = both[window].astype(np.float32)
    one, other = (_detail(view.rgb[window]) * share for view in (first, second))
    low = (np.array(share.shape) * SOUGHT).astype(int)
    middle = tuple(slice(edge, side - edge) for edge, side in zip(low, share.shape))
    scores = cv2.matchTemplate(other, one[middle], cv2.TM_CCORR_NORMED, mask=share[middle])
    scores = np.where(np.isfinite(scores), scores, -1.0)
    y, x = np.unravel_index(int(scores.argmax()), scores.shape)
    off = np.array([y - low[0] + _between(scores[:, x], y), x - low[1] + _between(scores[y], x)])
    return float(np.hypot(*off)) * first.mm_per_px, float(scores[y, x])


def _between(scores: np.ndarray, at: int) -> float:
    """Where the top of a parabola through a greatest score and its neighbours lies, from `at`."""
    if not 0 < at < len(scores) - 1:
        return 0.0
    before, top, after = scores[at - 1 : at + 2]
    bend = before - 2 * top + after
    return float((before - after) / (2 * bend)) if bend < 0 else 0.0


def _detail(rgb: np.ndarray) -> np.ndarray:
    """(h, w) float32: log light without what is coarser than `DETAIL_MM`, which light and gloss change."""
    light = np.log(rgb.astype(np.float32).mean(-1) + 8.0)
    return cv2.GaussianBlur(light, (0, 0), 1.0) - cv2.GaussianBlur(light, (0, 0), DETAIL_MM / COMPARED_MM_PER_PX)


def _apart_u(plane: MosaicPlane, first: int, second: int, middle_mm: np.ndarray) -> float:
    """Standard uncertainty of the distance between a point of the face in two photos: solution, cup and bow, mm."""
    places = [plane.planes[index].to_px(middle_mm) for index in (first, second)]

    def apart(other: MosaicPlane) -> np.ndarray:
        one, two = (other.planes[index].to_mm(px) for index, px in zip((first, second), places))
        return (two - one)[0]

    u, _ = plane.spread(apart)
    cameras = [plane.planes[index].camera_mm for index in (first, second)]
    parallax = np.linalg.norm(cameras[0][:2] / cameras[0][2] - cameras[1][:2] / cameras[1][2])
    return float(np.hypot(np.linalg.norm(u), parallax * np.hypot(CUP_MM, BOW_MM)))
