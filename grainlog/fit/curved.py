"""Round, oval and free pieces: the place where the piece has most wood around it.

An ellipse is a circle once the wood is stretched across its length, so both go by the largest circle in a polygon
(shapely's `maximum_inscribed_circle`, GEOS). A free shape is first laid on a raster by correlation at every few degrees,
where no cell of it may lie off the wood, and then moved and turned until the least distance to the edge is greatest.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
import shapely
from scipy.optimize import minimize
from scipy.signal import fftconvolve
from shapely import affinity

from grainlog.fit.region import Region

_STEP_DEG = 3.0
_FREE_STEP_DEG = 2.5
_CELLS = 260


@dataclass(frozen=True)
class Spot:
    """Where a piece lies best.

    x, y : float
        Its middle in the slab frame, mm.
    angle : float, radians
    spare : float
        How much wider the piece could be there, mm; negative where it does not fit.
    """

    x: float
    y: float
    angle: float
    spare: float


def lay_round(region: Region, diameter: float) -> Spot:
    """The largest circle on the wood."""
    circle = _circle(region.parts, tolerance=1e-4 * region.size)
    x, y = shapely.get_coordinates(circle)[0]
    # The circle's own distance to the edge on the whole outline, not the tolerance of the search.
    radius = shapely.Point(x, y).distance(region.whole.boundary)
    return Spot(float(x), float(y), 0.0, 2 * float(radius) - diameter)


def lay_oval(region: Region, length: float, width: float) -> Spot:
    """The ellipse of this shape that can be largest on the wood; `spare` is what its shorter axis could grow by."""
    parts = [part.simplify(1e-4 * region.size) for part in region.parts]

    def tried(angle: float, tolerance: float) -> tuple[float, float, float, float]:
        turned = [affinity.rotate(part, -angle, origin=(0, 0), use_radians=True) for part in parts]
        squeezed = [affinity.scale(part, width / length, 1.0, origin=(0, 0)) for part in turned]
        circle = _circle(squeezed, tolerance)
        (x, y), _ = shapely.get_coordinates(circle)
        x *= length / width
        cosine, sine = math.cos(angle), math.sin(angle)
        return 2 * circle.length, cosine * x - sine * y, sine * x + cosine * y, angle

    coarse = 2e-3 * region.size
    best = max(tried(math.radians(degrees), coarse) for degrees in np.arange(0.0, 180.0, _STEP_DEG))
    step = math.radians(_STEP_DEG) / 2
    while step > math.radians(0.02):
        best = max(best, *(tried(best[3] + turn, 5e-5 * region.size) for turn in (-step, step)))
        step /= 2
    _, x, y, angle = best
    return Spot(x, y, angle, _grown_to(region, length, width, best) - width)


def lay_free(region: Region, shape: shapely.Polygon) -> Spot:
    """Where the shape (about its own middle) keeps furthest from the edge; `spare` is twice that distance."""
    simple = Region(region.simple)
    boundary = simple.whole.boundary
    shapely.prepare(simple.whole)

    def clearance(at: np.ndarray) -> float:
        laid = _moved(shape, at[0], at[1], at[2])
        if simple.whole.covers(laid):
            return float(boundary.distance(laid))
        # How far the shape reaches out of the wood, or an edge of the wood into the shape, whichever is more: this
        # shrinks evenly on the way to a place where it fits.
        out = shapely.distance(
            shapely.points(shapely.get_coordinates(laid.segmentize(shape.length / 80))), simple.whole
        )
        into = corners[shapely.contains_xy(laid, corners)]
        depth = shapely.distance(shapely.points(into), laid.exterior) if len(into) else np.zeros(1)
        return -float(max(out.max(), depth.max(), 1e-9))

    corners = simple.edges[:, :2]
    best = np.array([0.0, 0.0, 0.0])
    most = -math.inf
    # Angles in units in which a step of one moves the corners by about a millimetre.
    unit = np.array([1.0, 1.0, 2 / shape.length * math.pi])

    def climbed(start: np.ndarray, stride: float) -> tuple[float, np.ndarray]:
        ends = start + stride * simple.size * unit * np.vstack([np.zeros(3), np.eye(3)])
        found = minimize(
            lambda at: -clearance(at * unit), start / unit, method="Nelder-Mead",
            options={"initial_simplex": ends / unit, "xatol": 0.02, "fatol": 0.02, "maxfev": 220},
        )  # fmt: skip
        return -float(found.fun), found.x * unit

    for start in _raster_starts(simple, shape):
        most, best = max((most, best), climbed(start, 0.01), key=lambda one: one[0])
    # Once more from the best, because a simplex can shrink onto a ridge that is no summit.
    most, best = max((most, best), climbed(best, 0.004), key=lambda one: one[0])
    laid = _moved(shape, *best)
    spare = 2 * float(region.whole.boundary.distance(laid)) if region.whole.covers(laid) else min(2 * most, -1e-6)
    return Spot(float(best[0]), float(best[1]), float(best[2]), spare)


def laid_at(shape: shapely.Polygon, spot: Spot) -> shapely.Polygon:
    """A shape about its own middle, laid where `spot` says, slab frame, mm."""
    return _moved(shape, spot.x, spot.y, spot.angle)


def _moved(shape: shapely.Polygon, x: float, y: float, angle: float) -> shapely.Polygon:
    return affinity.translate(affinity.rotate(shape, angle, origin=(0, 0), use_radians=True), x, y)


def _circle(parts: list[shapely.Polygon], tolerance: float) -> shapely.LineString:
    return max((shapely.maximum_inscribed_circle(part, tolerance=tolerance) for part in parts), key=lambda c: c.length)


def _grown_to(region: Region, length: float, width: float, best: tuple[float, float, float, float]) -> float:
    """The shorter axis of the largest ellipse of this shape at that place on the whole outline, mm."""
    _, x, y, angle = best
    moved = affinity.rotate(affinity.translate(region.whole, -x, -y), -angle, origin=(0, 0), use_radians=True)
    squeezed = affinity.scale(moved, width / length, 1.0, origin=(0, 0))
    return 2 * float(squeezed.boundary.distance(shapely.Point(0, 0)))


def _raster_starts(region: Region, shape: shapely.Polygon) -> list[np.ndarray]:
    """The most promising (x, y, angle) by how little of the shape lies off the wood, and how deep in it is else."""
    left, low, right, high = region.whole.bounds
    cell = max(right - left, high - low) / _CELLS
    columns, rows = int((right - left) / cell) + 3, int((high - low) / cell) + 3
    wood = _painted(region.whole, np.array([left - cell, low - cell]), cell, rows, columns)
    # Depth below the edge counts for free places, so that the deepest of them is looked at first.
    depth = cv2.distanceTransform(wood, cv2.DIST_L2, 3)
    off = 1.0 - wood
    found = []
    for degrees in np.arange(0.0, 360.0, _FREE_STEP_DEG):
        angle = math.radians(degrees)
        turned = affinity.rotate(shape, angle, origin=(0, 0), use_radians=True)
        a, b, c, d = turned.bounds
        if c - a > right - left + 4 * cell or d - b > high - low + 4 * cell:
            continue
        wide, tall = int((c - a) / cell) + 3, int((d - b) / cell) + 3
        mask = _painted(turned, np.array([a - cell, b - cell]), cell, tall, wide)
        rim = mask - cv2.erode(mask, np.ones((3, 3), np.uint8))
        if mask.shape[0] > off.shape[0] or mask.shape[1] > off.shape[1]:
            continue
        over = fftconvolve(off, mask[::-1, ::-1].astype(float), mode="valid")
        room = fftconvolve(depth, rim[::-1, ::-1].astype(float), mode="valid") / max(int(rim.sum()), 1)
        score = -np.maximum(over - 0.5, 0) + 1e-3 * room
        row, column = np.unravel_index(int(np.argmax(score)), score.shape)
        found.append(
            (
                float(score[row, column]),
                left - cell + column * cell - (a - cell),
                low - cell + row * cell - (b - cell),
                angle,
            )
        )
    found.sort(reverse=True)
    return [np.array(place) for _, *place in found[:8]] or [np.array([(left + right) / 2, (low + high) / 2, 0.0])]


def _painted(shape: shapely.Geometry, corner: np.ndarray, cell: float, rows: int, columns: int) -> np.ndarray:
    mask = np.zeros((rows, columns), np.uint8)
    rings = [
        np.round((shapely.get_coordinates(ring) - corner) / cell).astype(np.int32)
        for part in shapely.get_parts(shape)
        for ring in (part.exterior, *part.interiors)
    ]
    cv2.fillPoly(mask, rings, 1)
    return mask
