"""Lay a later view of a slab on an earlier one: how it lies, and how much it has shrunk across the grain.

The face's own figure (SIFT features of the evenly lit face) and its outline are used together. Wood shrinks across the grain
and hardly along it, so the map is a turn, a shift and two scales. Where the two views do not lie on each other well enough,
nothing is guessed: the reason is given.

Methods: Lowe 2004, "Distinctive image features from scale-invariant keypoints"; Fischler and Bolles 1981, "Random sample
consensus"; soft L1 loss as in scipy.optimize.least_squares.
"""

from dataclasses import dataclass

import cv2
import numpy as np
import shapely
from scipy.optimize import least_squares

from grainlog.checks.board import Board, lay_board
from grainlog.errors import GrainlogError
from grainlog.face.frame import SlabFrame, align_to
from grainlog.notes import Note
from grainlog.scale.flat import FlatView

#: Views are compared at this resolution, mm/px: grain shows, single pixels of noise do not.
LOOK_MM = 1.6
#: Features that agree lie this near each other once laid on one another, mm.
AGREE_MM = 5.0
#: So many features must agree, spread over this share of length and width; and the outlines must overlap this much.
LEAST_POINTS, LEAST_SPREAD, LEAST_OVERLAP = 24, 0.45, 0.85
#: Scales that wood can have: it shrinks across by up to a tenth, swells again when wetted, and keeps its length.
ACROSS, ALONG = (0.96, 1.13), (0.97, 1.03)
#: Features at neighbouring places err together (cup, lens, height): so many count as one.
_TOGETHER = 12.0
#: The outline is known to about this in each place, mm; so many places err together.
_OUTLINE_U_MM, _OUTLINE_TOGETHER = 2.0, 60.0
#: An end or a long edge that lies this far short of the earlier one was cut off, mm.
CUT_MM = 15.0
_MOST_FEATURES = 5000


class NotTheSame(GrainlogError):
    """Two views that cannot be laid on each other; `code` says why."""

    def __init__(self, code: str, message: str):
        super().__init__(message)
        self.code = code


@dataclass(frozen=True)
class Look:
    """A face as it is compared: evenly lit, small, in its own slab frame.

    light : (h, w) uint8, 128 is even wood
    wood : (h, w) bool
    corner_mm : (2,) float64, slab-frame position of the centre of the first pixel; rows run down, y up
    outline : (n, 2) float64, wood edge, slab frame, mm
    """

    light: np.ndarray
    wood: np.ndarray
    corner_mm: np.ndarray
    outline: np.ndarray


@dataclass(frozen=True)
class Registration:
    """How a later view lies on an earlier one.

    matrix : (2, 3) float64
        Later slab frame to earlier slab frame, mm.
    across, along : float
        Earlier size over later size; above 1 where the slab has shrunk.
    shrinkage, shrinkage_u : float
        Share of the earlier width that is gone, and its standard uncertainty (of laying the views on each other and of both
        scales, as far as these were given).
    residual_mm : float
        RMS distance of features that agree.
    points : int
        How many of them.
    overlap : float
        Of the outlines, intersection over union.
    notes : tuple of Note
    """

    matrix: np.ndarray
    across: float
    along: float
    shrinkage: float
    shrinkage_u: float
    residual_mm: float
    points: int
    overlap: float
    notes: tuple[Note, ...]

    def to_earlier(self, points: np.ndarray) -> np.ndarray:
        """(n, 2) later slab frame to earlier slab frame, mm."""
        return np.asarray(points, float) @ self.matrix[:, :2].T + self.matrix[:, 2]


def look_of(board: Board, outline: np.ndarray) -> Look:
    """The look of a board; `outline` in the slab frame, mm."""
    h, w = board.wood.shape
    factor = board.mm_per_px / LOOK_MM
    size = max(8, round(w * factor)), max(8, round(h * factor))
    # Checks come and go; the figure of the wood stays, so the darkest and the brightest are cut off.
    light = np.clip(board.light, 0.55, 1.45)
    if factor < 1:
        light = cv2.GaussianBlur(light, (0, 0), 0.5 / factor)
    # Exactly `LOOK_MM` per pixel: a size rounded to whole pixels would look like shrinkage.
    onto = np.array([[1 / factor, 0, 0], [0, 1 / factor, 0]])
    light = cv2.warpAffine(light, onto, size, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE)
    wood = cv2.warpAffine(board.wood.astype(np.uint8), onto, size, flags=cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP) > 0
    return Look(np.clip(np.rint(128 + 220 * (light - 1)), 0, 255).astype(np.uint8), wood, board.corner_mm, outline)


def look_at(view: FlatView, wood: np.ndarray, holes: tuple[np.ndarray, ...], frame: SlabFrame) -> Look:
    """The look of a flat view; outlines in the plane frame, mm."""
    return look_of(lay_board(view, wood, holes, frame), frame.to_slab(wood))


def register(earlier: Look, later: Look, scale_u: float = 0.0) -> Registration:
    """Lay a later look on an earlier one of the same face.

    scale_u : float
        Standard uncertainty, relative, of the ratio of the two scales across the slab.

    Raises
    ------
    NotTheSame
        code "turned-over": the other face is up. "another-slab": neither figure nor outline agree. "too-little-figure":
        the outline agrees, but too little of the face's figure does to be sure.
    """
    ours, theirs = _features(earlier), _features(later)
    one, two, turned = _agreeing(ours, theirs)
    if len(one) < LEAST_POINTS:
        _say_why(earlier, later)
    first = _start(later, turned)
    matrix, values, covariance, residual = _solved(one, two, earlier.outline, later.outline, first)
    overlap = _overlap(earlier.outline, later.outline @ matrix[:, :2].T + matrix[:, 2])
    spread = np.ptp(one, axis=0) / np.ptp(earlier.outline, axis=0)
    if (spread < LEAST_SPREAD).any() or residual > AGREE_MM:
        raise NotTheSame(
            "too-little-figure",
            f"Only part of the face ({100 * spread.min():.0f} % of it) looks like the earlier photo: take it again in even "
            "light with the face swept clean.",
        )
    across, along = float(values[3]), float(values[2])
    if not (ACROSS[0] < across < ACROSS[1] and ALONG[0] < along < ALONG[1]):
        raise NotTheSame(
            "scale",
            f"Laid on the earlier photo the slab would be {100 * (1 / along - 1):+.1f} % longer and "
            f"{100 * (1 / across - 1):+.1f} % wider, which wood does not do: check the cards, thickness and lift of both.",
        )
    notes = _cut(earlier.outline, later.outline @ matrix[:, :2].T + matrix[:, 2])
    if overlap < LEAST_OVERLAP and not notes:
        notes = (Note("outline-differs", f"The outlines overlap by only {100 * overlap:.0f} %: check the outline of both."),)
    shrinkage_u = float(np.hypot(np.sqrt(covariance[3, 3]) / across**2, scale_u))
    return Registration(matrix, across, along, 1 - 1 / across, shrinkage_u, residual, len(one), overlap, notes)


def _features(look: Look):
    """Places (n, 2) mm and descriptors (n, 128) of the face's figure, away from its rim."""
    inner = cv2.erode(look.wood.astype(np.uint8), np.ones((7, 7), np.uint8))
    sift = cv2.SIFT_create(nfeatures=_MOST_FEATURES, contrastThreshold=0.015, edgeThreshold=25)
    points, descriptors = sift.detectAndCompute(look.light, inner)
    if not points:
        return np.zeros((0, 2)), np.zeros((0, 128), np.float32)
    # It doubles the picture first and gives places a quarter of a pixel too far right and down (see the half turn's test).
    px = np.array([point.pt for point in points]) - 0.25
    # RootSIFT: the square root of the descriptor compares better (Arandjelovic and Zisserman 2012).
    roots = np.sqrt(descriptors / np.maximum(descriptors.sum(1, keepdims=True), 1e-6))
    return look.corner_mm + px * [LOOK_MM, -LOOK_MM], roots


def _agreeing(ours, theirs) -> tuple[np.ndarray, np.ndarray, bool]:
    """Pairs of places that agree on one map, earlier (n, 2) and later (n, 2) mm; and whether it is nearly a half turn."""
    none = np.zeros((0, 2)), np.zeros((0, 2)), False
    if len(ours[0]) < 3 or len(theirs[0]) < 3:
        return none
    distance = 2 - 2 * theirs[1] @ ours[1].T
    order = np.argpartition(distance, 1, axis=1)[:, :2]
    nearest = np.take_along_axis(distance, order, 1)
    swap = nearest[:, 0] > nearest[:, 1]
    best, ratio = np.where(swap, order[:, 1], order[:, 0]), nearest.min(1) / np.maximum(nearest.max(1), 1e-9)
    mutual = distance.argmin(0)[best] == np.arange(len(best))
    keep = mutual & (ratio < 0.85)
    one, two = ours[0][best[keep]], theirs[0][keep]
    if len(one) < 3:
        return none
    affine, agrees = cv2.estimateAffine2D(
        two, one, method=cv2.RANSAC, ransacReprojThreshold=AGREE_MM, maxIters=4000, confidence=0.999
    )
    if affine is None:
        return none
    agrees = agrees.ravel() > 0
    # Whatever cannot be a slab that shrank is chance.
    columns = np.linalg.norm(affine[:, :2], axis=0)
    lean = abs(affine[:, 0] @ affine[:, 1]) / max(columns.prod(), 1e-9)
    if not (0.9 < columns[0] < 1.12 and 0.85 < columns[1] < 1.2) or lean > 0.05 or np.linalg.det(affine[:, :2]) < 0:
        return none
    return one[agrees], two[agrees], bool(affine[0, 0] < 0)


def _start(later: Look, turned: bool) -> np.ndarray:
    """Turn, scales and shift to begin with."""
    low, high = later.outline.min(0), later.outline.max(0)
    return np.array([np.pi, high[0] + low[0], 1.0, 1.0, 0.0]) if turned else np.array([0.0, 0.0, 1.0, 1.0, 0.0])


def _matrix(values) -> np.ndarray:
    turn, x, along, across, y = values
    c, s = np.cos(turn), np.sin(turn)
    return np.array([[c * along, -s * across, x], [s * along, c * across, y]])


def _solved(one, two, outline, other, first):
    """Least squares over features and outline: matrix, values (turn, x, along, across, y), covariance, RMS of features."""
    edge = shapely.Polygon(outline).exterior
    share = np.linspace(0, 1, 160, endpoint=False)
    ring = shapely.get_coordinates(shapely.line_interpolate_point(shapely.Polygon(other).exterior, share, normalized=True))

    def residuals(values):
        matrix = _matrix(values)
        laid = two @ matrix[:, :2].T + matrix[:, 2]
        off = (laid - one) / (spread * np.sqrt(_TOGETHER))
        around = shapely.distance(shapely.points(ring @ matrix[:, :2].T + matrix[:, 2]), edge)
        around = np.minimum(around, 12.0) / (_OUTLINE_U_MM * np.sqrt(_OUTLINE_TOGETHER))
        return np.concatenate([off.ravel(), around])

    spread, values = 1.5, first
    for _ in range(2):
        solved = least_squares(residuals, values, loss="soft_l1", x_scale=[1e-3, 1.0, 1e-3, 1e-3, 1.0])
        values = solved.x
        matrix = _matrix(values)
        off = two @ matrix[:, :2].T + matrix[:, 2] - one
        residual = float(np.sqrt((off**2).sum(1).mean()))
        spread = max(residual / np.sqrt(2), 0.3)
    covariance = np.linalg.pinv(solved.jac.T @ solved.jac)
    return matrix, values, covariance, residual


def _overlap(a, b) -> float:
    one, two = (shapely.make_valid(shapely.Polygon(ring)) for ring in (a, b))
    return float(one.intersection(two).area / one.union(two).area)


def _cut(earlier, laid) -> tuple[Note, ...]:
    """Ends that lie short of where they lay, and long edges that do."""
    notes = []
    for name, short in (("butt", laid[:, 0].min() - earlier[:, 0].min()), ("top", earlier[:, 0].max() - laid[:, 0].max())):
        if short > CUT_MM:
            notes.append(Note("cut-shorter", f"The {name} end lies {short:.0f} mm inside the earlier one: it was cut off since."))
    for name, short in zip(("left", "right"), _ripped(earlier, laid)):
        if short > CUT_MM:
            notes.append(Note("ripped", f"The {name} edge lies {short:.0f} mm or more inside the earlier one: the slab was ripped since."))
    return tuple(notes)


def _ripped(earlier, laid) -> tuple[float, float]:
    """How far inside the earlier outline the left (greater y) and the right edge lie, mm, over a quarter of their length at least."""
    low, high = max(earlier[:, 0].min(), laid[:, 0].min()), min(earlier[:, 0].max(), laid[:, 0].max())
    x, far = np.linspace(low, high, 42)[1:-1], float(np.abs(earlier).max() + np.abs(laid).max())
    across = shapely.linestrings([[[one, -far], [one, far]] for one in x])
    before, now = (
        shapely.bounds(shapely.intersection(across, shapely.make_valid(shapely.Polygon(ring))))[:, [3, 1]] for ring in (earlier, laid)
    )
    left, right = np.nanquantile((before - now) * [1, -1], 0.75, axis=0)
    return float(left), float(right)


def _say_why(earlier: Look, later: Look) -> None:
    """Raise with the likeliest reason why no figure agrees. The other face is a mirror of the outline, in another figure."""
    same, other = (align_to(earlier.outline, later.outline, face).iou for face in (True, False))
    if other > max(same + 0.03, LEAST_OVERLAP):
        raise NotTheSame("turned-over", "The other face seems to be up in this photo: say so, or turn the slab over.")
    if same < LEAST_OVERLAP:
        raise NotTheSame(
            "another-slab", "Neither outline nor figure of this face is that of the earlier photos: check which slab it is."
        )
    raise NotTheSame(
        "too-little-figure",
        "The outline agrees with the earlier photos but the figure of the face does not: check which slab and which face it "
        "is, and take the photo in even light with the face swept clean.",
    )
