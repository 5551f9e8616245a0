"""The slab frame: x along the slab, y across, z towards the camera, origin at the middle of one end.

The frame hangs on the smallest rectangle, at any angle, around the wood: x runs along its longer side, so all wood has
0 <= x <= length and -width / 2 <= y <= width / 2. It is always right-handed seen from above; what the second face of a
slab shows is therefore a mirror image of the first, and `align_to` says which way round it lies.
"""

import math
from dataclasses import dataclass
from itertools import product

import numpy as np
import shapely

from grainlog.errors import GrainlogError, WrongUse

# Two ways round whose overlaps differ by less than this are not told apart: an outline good to 2 mm each side of a
# 400 mm slab moves the overlap by about 0.01.
_OVERLAP_MARGIN = 0.02
# Below this overlap neither way round shows the slab that the first survey shows.
_LEAST_OVERLAP = 0.7


class OutlineError(GrainlogError):
    """An outline that cannot be measured; the message says what is wrong with it."""


@dataclass(frozen=True)
class Rectangle:
    """A rectangle at any angle.

    centre : (2,) float64, mm
    angle : float
        Direction of the longer side, radians, -pi/2 < angle <= pi/2.
    length, width : float
        Longer and shorter side, mm.
    """

    centre: np.ndarray
    angle: float
    length: float
    width: float


@dataclass(frozen=True)
class SlabFrame:
    """Where the slab frame lies in the plane frame.

    origin : (2,) float64
        Middle of the end where x = 0, plane frame, mm.
    angle : float
        Direction of x in the plane frame, radians.
    flipped : bool
        True where x = 0 is the right end as the photo shows it (for an upright slab: the upper end).
    length, width : float
        Sides of the smallest rectangle around the wood, mm.
    """

    origin: np.ndarray
    angle: float
    flipped: bool
    length: float
    width: float

    def to_slab(self, points: np.ndarray) -> np.ndarray:
        """(n, 2) plane-frame mm to slab-frame mm."""
        return (np.asarray(points, np.float64) - self.origin) @ _turn(self.angle).T

    def to_plane(self, points: np.ndarray) -> np.ndarray:
        """(n, 2) slab-frame mm to plane-frame mm."""
        return np.asarray(points, np.float64) @ _turn(self.angle) + self.origin


@dataclass(frozen=True)
class Alignment:
    """How a later outline lies on the first one of the same slab.

    rotate : bool
        The later frame is to be turned by 180 degrees, so that x = 0 is the same end of the slab.
    mirrored : bool
        The later outline is of the other face: after any turn, y runs the other way.
    iou : float
        Overlap of the two outlines so laid, intersection over union, 0 to 1.
    ambiguous : bool
        The other way round fits as well, or neither fits: a person has to say which end is which.
    length, shift : float
        Length of the later outline and how far it is moved along x to lie on the first, mm.
    """

    rotate: bool
    mirrored: bool
    iou: float
    ambiguous: bool
    length: float
    shift: float

    def to_first(self, points: np.ndarray) -> np.ndarray:
        """(n, 2) points in the later outline's slab frame to the first outline's slab frame, mm."""
        return _laid(np.asarray(points, np.float64), self.length, self.rotate, self.mirrored) + [self.shift, 0.0]


def smallest_rectangle(points: np.ndarray) -> Rectangle:
    """Rectangle of least area, at any angle, around the points.

    One side of it lies along an edge of the convex hull (Freeman and Shapira 1975), so every hull edge is tried; all
    in float64, where cv2.minAreaRect works in float32. Raises OutlineError where the points span no area.
    """
    points = _points(points)
    middle = points.mean(axis=0)
    hull = shapely.convex_hull(shapely.linestrings(points - middle))
    # A millionth of a square millimetre is no face; directions of so thin a shape are rounding noise.
    if hull.geom_type != "Polygon" or hull.area < 1e-6:
        raise OutlineError("The outline has no area; draw or photograph the slab's face again.")
    corners = shapely.get_coordinates(hull)
    if not shapely.is_ccw(hull.exterior):
        corners = corners[::-1]
    edges = np.diff(corners, axis=0)
    along = edges / np.hypot(edges[:, 0], edges[:, 1])[:, None]
    normal = along[:, ::-1] * [-1.0, 1.0]
    # Round a convex hull the edges only ever turn left, so the corner furthest out in a direction starts the first
    # edge that has turned a right angle past it: a search among the edge angles, for all edges at once.
    angles = np.unwrap(np.arctan2(edges[:, 1], edges[:, 0]))
    twice_round = np.concatenate([angles, angles + 2 * np.pi])
    front, opposite, back = (
        corners[np.searchsorted(twice_round, angles + quarters * np.pi / 2) % len(angles)] for quarters in (1, 2, 3)
    )
    low, high = (along * back).sum(axis=1), (along * front).sum(axis=1)
    near, far = (normal * corners[:-1]).sum(axis=1), (normal * opposite).sum(axis=1)
    best = int(np.argmin((high - low) * (far - near)))
    centre = middle + along[best] * (low[best] + high[best]) / 2 + normal[best] * (near[best] + far[best]) / 2
    length, width = float(high[best] - low[best]), float(far[best] - near[best])
    axis = along[best] if length >= width else normal[best]
    # Taken with x > 0 (or straight up), so that the angle never depends on the order of the points.
    axis = axis if (axis[0], axis[1]) > (0.0, 0.0) else -axis
    return Rectangle(centre, math.atan2(axis[1], axis[0]), max(length, width), min(length, width))


def slab_frame(wood: np.ndarray, butt: str | None = None) -> SlabFrame:
    """Lay the slab frame into the plane frame.

    wood : (n, 2) float64
        Wood outline, plane frame (x right, y up as the photo shows it), mm.
    butt : {"left", "right", "bottom", "top"}, optional
        Where the photo shows the butt end, which is then x = 0; otherwise x = 0 is the left end, or the lower end of a
        slab that stands exactly upright in the photo.

    Raises OutlineError for an outline without area, WrongUse for a `butt` that is none of these or that the slab does
    not have (the left end of an upright slab).
    """
    box = smallest_rectangle(wood)
    axis = np.array([math.cos(box.angle), math.sin(box.angle)])
    flipped = _butt_is_far_end(axis, butt)
    if flipped:
        axis = -axis
    origin = box.centre - axis * box.length / 2
    return SlabFrame(origin, math.atan2(axis[1], axis[0]), flipped, box.length, box.width)


def align_to(first: np.ndarray, outline: np.ndarray, same_face: bool) -> Alignment:
    """Find which way round a later outline of a slab lies on its first one.

    first, outline : (n, 2) float64
        Wood outlines, each in its own slab frame, mm.
    same_face : bool
        False where the slab was turned over in between. Turned about its long axis, a point (x, y) of the first face
        is seen at (x, -y); turned end over end, it is seen at (length - x, y), which is the same after half a turn.

    As it is and turned by 180 degrees are compared by overlap, each with the left ends, the middles and the right ends
    brought together, because an end may have been trimmed off since. Raises OutlineError.
    """
    fixed = _polygon(first)
    points = _points(outline)
    length, first_length = float(np.ptp(points[:, 0])), float(np.ptp(_points(first)[:, 0]))
    shifts = sorted({0.0, (first_length - length) / 2, first_length - length}, key=abs)
    tried = []
    for rotate, shift in product((False, True), shifts):
        laid = _polygon(_laid(points, length, rotate, not same_face) + [shift, 0.0])
        both = fixed.intersection(laid).area
        tried.append((both / (fixed.area + laid.area - both), rotate, shift))
    overlap = {rotate: max(iou for iou, r, _ in tried if r == rotate) for rotate in (False, True)}
    # Only a clear gain turns the slab round: a symmetric outline stays as it lies.
    rotate = overlap[True] > overlap[False] + 1e-9
    iou, _, shift = max((entry for entry in tried if entry[1] == rotate), key=lambda entry: entry[0])
    ambiguous = abs(overlap[True] - overlap[False]) < _OVERLAP_MARGIN or iou < _LEAST_OVERLAP
    return Alignment(rotate, not same_face, float(iou), bool(ambiguous), length, float(shift))


def _turn(angle: float) -> np.ndarray:
    cosine, sine = math.cos(angle), math.sin(angle)
    return np.array([[cosine, sine], [-sine, cosine]])


def _butt_is_far_end(axis: np.ndarray, butt: str | None) -> bool:
    """Whether the butt is the end that the axis (x > 0, or straight up) points to."""
    if butt is None:
        return False
    sides = {"left": (0, -1.0), "right": (0, 1.0), "bottom": (1, -1.0), "top": (1, 1.0)}
    if butt not in sides:
        raise WrongUse(f"'{butt}' is not a side of the photo; say left, right, bottom or top.")
    coordinate, sign = sides[butt]
    if abs(axis[coordinate]) < 1e-9:
        other = "bottom or top" if coordinate == 0 else "left or right"
        raise WrongUse(f"The slab has no {butt} end in this photo; say {other}.")
    return bool(sign * axis[coordinate] > 0)


def _laid(points: np.ndarray, length: float, rotate: bool, mirrored: bool) -> np.ndarray:
    turned = np.array([length, 0.0]) - points if rotate else points
    return turned * [1.0, -1.0] if mirrored else turned


def _points(points: np.ndarray) -> np.ndarray:
    points = np.asarray(points, np.float64)
    if points.ndim != 2 or points.shape[1] != 2 or len(points) < 3 or not np.isfinite(points).all():
        raise OutlineError("An outline needs at least three points with two finite coordinates each.")
    return points


def _polygon(points: np.ndarray) -> shapely.Geometry:
    polygon = shapely.make_valid(shapely.Polygon(_points(points)))
    if polygon.area <= 0:
        raise OutlineError("The outline has no area; draw or photograph the slab's face again.")
    return polygon
