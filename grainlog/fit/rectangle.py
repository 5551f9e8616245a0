"""The widest rectangle of a given length on a piece of wood, at any angle and place.

Where and at what angle to look comes from two coarse views: the comb of `envelope` (exact for wood without voids and
forks), and where that leaves a doubt a raster eroded by the rectangle's length at every angle of a fan. Each promising
place is then settled on the outline itself: at one angle, the clear strips between all edges that cross the stretch are
known exactly (`clear_strips`), and place and angle are moved while the strip gets wider.
"""

import math
from dataclasses import dataclass
from itertools import product

import cv2
import numpy as np
import shapely

from grainlog.fit.climb import climb
from grainlog.fit.envelope import Envelope, envelope
from grainlog.fit.region import Region

_TRIED, _LOOKED_AT = 6, 12
_RASTER_CELLS = 420
#: A result this near to the bound needs no second view.
_NEAR_ENOUGH = 0.997
#: One this near needs no further start.
_AT_CEILING = 0.9985
_HAIR_MM = 1e-6
#: Ragged ends alone make a line in fifty cross more than twice.
_FORKED = 0.02


@dataclass(frozen=True)
class Strip:
    """A rectangle on the wood.

    angle : float
        Direction of its length in the slab frame, radians.
    start, low : float
        Its corner along and across that direction, from the slab frame's origin, mm.
    length, width : float, mm
    """

    angle: float
    start: float
    low: float
    length: float
    width: float

    @property
    def polygon(self) -> shapely.Polygon:
        """The rectangle in the slab frame, mm."""
        return self.part(0.0, 0.0, self.length, self.width)

    def part(self, along: float, across: float, length: float, width: float) -> shapely.Polygon:
        """A smaller rectangle in it, its corner `along` and `across` from this one's, mm."""
        u, v = self.start + along, self.low + across
        corners = np.array([[u, v], [u + length, v], [u + length, v + width], [u, v + width]])
        cosine, sine = math.cos(self.angle), math.sin(self.angle)
        return shapely.Polygon(corners @ np.array([[cosine, sine], [-sine, cosine]]))

    def middle(self, width: float) -> shapely.Polygon:
        """The rectangle of this length and a smaller width along its middle, mm."""
        return self.part(0.0, (self.width - width) / 2, self.length, width)


def clear_strips(edges: np.ndarray, angle: float, start: float, length: float) -> np.ndarray:
    """(k, 2) float64: from where to where the wood is clear over the whole stretch, across it, mm.

    edges : (n, 4) float64, mm
    angle : direction of the stretch, radians; start, length : along it, mm

    A rectangle over the whole stretch is free of an edge exactly where the part of the edge within the stretch does not
    reach between its two sides, so the gaps between those reaches are all there is, and this is exact.
    """
    cosine, sine = math.cos(angle), math.sin(angle)
    x1, y1, x2, y2 = edges.T
    u1, u2 = x1 * cosine + y1 * sine - start, x2 * cosine + y2 * sine - start
    inside = (np.maximum(u1, u2) > 0) & (np.minimum(u1, u2) < length)
    if not inside.any():
        return np.empty((0, 2))
    u1, u2 = u1[inside], u2[inside]
    v1, v2 = (y[inside] * cosine - x[inside] * sine for x, y in ((x1, y1), (x2, y2)))
    run = u2 - u1
    slope = np.divide(v2 - v1, run, out=np.zeros(len(run)), where=run != 0)
    # Clipped to the stretch; an edge straight across it keeps its own reach.
    near = v1 + (np.minimum(np.maximum(u1, 0.0), length) - u1) * slope
    far = np.where(run != 0, v1 + (np.minimum(np.maximum(u2, 0.0), length) - u1) * slope, v2)
    below, above = np.minimum(near, far), np.maximum(near, far)
    order = np.argsort(below)
    below, above = below[order], np.maximum.accumulate(above[order])
    # Edges that meet in a corner leave no gap, but rounding may.
    gap = below[1:] - above[:-1] > _HAIR_MM
    low, high = above[:-1][gap], below[1:][gap]
    if not len(low):
        return np.empty((0, 2))
    # In the wood where an odd number of edges crosses the middle line below.
    crosses = (u1 <= length / 2) != (u2 <= length / 2)
    at = np.sort(v1[crosses] + (length / 2 - u1[crosses]) * slope[crosses])
    wood = np.searchsorted(at, (low + high) / 2) % 2 == 1
    return np.stack([low[wood], high[wood]], axis=1)


def widest_strip(region: Region, length: float, seen: Envelope | None = None, enough: float = math.inf) -> Strip | None:
    """The widest rectangle with one side of `length` mm on the wood, or None where no rectangle so long lies on it.

    seen : the region's own envelope, if it was made already.
    enough : a width from which on a wider rectangle is of no interest, mm; ends the search early.

    Within about 0.2 % of the widest in what was tried (`tests/outside/test_fit_shapes.py`); always on the wood.
    """
    seen = seen or envelope(region)
    bound = seen.widths(int(length // seen.step))
    ceiling = float(bound.max())
    best = _settled(region, length, _from_comb(region, length, seen, bound), enough, ceiling)
    reached = best is not None and best.width >= min(_NEAR_ENOUGH * ceiling, enough)
    # Where the comb sees all there is, the raster could add nothing.
    hidden = not region.is_whole or float(seen.forked[np.argmax(bound.max(axis=1))]) > _FORKED
    if not reached and ceiling > 0 and hidden:
        least = 0.0 if best is None else best.width
        other = _settled(region, length, _from_raster(region, length, seen, bound, least), enough, ceiling)
        best = max((found for found in (best, other) if found is not None), key=lambda s: s.width, default=None)
    return best


def _settled(
    region: Region, length: float, starts: list[tuple[float, float]], enough: float, ceiling: float
) -> Strip | None:
    """The widest strip that climbing from the starts leads to, settled on the whole outline."""
    edges = region.simple_edges
    best = (-math.inf, 0.0, 0.0)
    for angle, start in starts:
        best = max(best, _climbed(edges, region.size, length, angle, start, 1.0))
        if best[0] >= min(1.002 * enough, _AT_CEILING * ceiling):
            break
    if 0 < best[0] < 1.002 * enough:
        # A ridge between two edges can lie between the directions tried; wide steps from its top cross it.
        for stride in (3.0, 1.0, 0.4):
            best = max(best, _climbed(edges, region.size, length, *best[1:], stride))
    if best[0] <= 0:
        return None
    # What the simplified outline left out can bite off a corner; a last short climb on the whole one gets round it.
    _, angle, start = _climbed(region.edges, region.size, length, *best[1:], 0.15)
    widest = _widest(clear_strips(region.edges, angle, start, length))
    return widest and Strip(angle, start, widest[0], length, widest[1] - widest[0])


def _climbed(
    edges: np.ndarray, size: float, length: float, angle: float, start: float, stride: float
) -> tuple[float, float, float]:
    """Width, angle and start after a climb; a width below nothing where no clear strip is near."""
    strip = _widest(clear_strips(edges, angle, start, length))
    if strip is None:
        angle, start = _way_in(edges, size, length, angle, start)
        strip = _widest(clear_strips(edges, angle, start, length))
    return (-1.0, angle, start) if strip is None else climb(edges, size, length, angle, start, strip, stride)


def _way_in(edges: np.ndarray, size: float, length: float, angle: float, start: float) -> tuple[float, float]:
    """Angle and start of a stretch moved and turned until there is something clear over it, or no further."""
    value = _widest_at(edges, angle, start, length)
    by_turn, by_shift = math.radians(0.6), 0.006 * size
    for _ in range(100):
        if by_turn <= math.radians(0.004) or value > 0:
            break
        for move in product((-1, 0, 1), repeat=2):
            tried = angle + move[0] * by_turn, start + move[1] * by_shift
            if (other := _widest_at(edges, *tried, length)) > value:
                value, (angle, start) = other, tried
                break
        else:
            by_turn, by_shift = by_turn / 2, by_shift / 2
    return angle, start


def _widest(strips: np.ndarray) -> tuple[float, float] | None:
    """The widest of some strips, from where to where across."""
    if not len(strips):
        return None
    low, high = strips[np.argmax(strips[:, 1] - strips[:, 0])]
    return float(low), float(high)


def _widest_at(edges: np.ndarray, angle: float, start: float, length: float) -> float:
    strips = clear_strips(edges, angle, start, length)
    if len(strips):
        return float((strips[:, 1] - strips[:, 0]).max())
    # Nowhere clear: less bad the less the stretch reaches beyond the wood, so that a climb finds its way in.
    u = edges[:, 0] * math.cos(angle) + edges[:, 1] * math.sin(angle)
    return -1.0 - max(0.0, float(u.min()) - start) - max(0.0, start + length - float(u.max()))


def _from_comb(region: Region, length: float, seen: Envelope, bound: np.ndarray) -> list[tuple[float, float]]:
    """The most promising angles and places by the comb, looked at on the outline, no two near each other."""
    per_angle = bound.max(axis=1)
    looked_at: list[tuple[float, float, float]] = []
    angles: list[float] = []
    for row in np.argsort(per_angle)[::-1]:
        if len(angles) == _LOOKED_AT or per_angle[row] <= 0:
            break
        angle = float(seen.angles[row])
        if any(abs(angle - other) < math.radians(0.8) for other in angles):
            continue
        angles.append(angle)
        # The highest places, and some along the plateau below them: a slab of even width has a long one.
        top = np.flatnonzero(bound[row] >= 0.9995 * per_angle[row])
        level = np.flatnonzero(bound[row] >= 0.985 * per_angle[row])
        places = [
            some[np.linspace(0, len(some) - 1, min(count, len(some))).astype(int)]
            for some, count in ((top, 3), (level, 6))
        ]
        for at in np.unique(np.concatenate(places)):
            start = float(seen.first[row] + (at - 0.5) * seen.step)
            looked_at.append((_widest_at(region.simple_edges, angle, start, length), angle, start))
    looked_at += [(_widest_at(region.simple_edges, *at, length), *at) for at in _along_sides(region, length)]
    return _apart(looked_at, 8 * seen.step)


def _along_sides(region: Region, length: float) -> list[tuple[float, float]]:
    """Angles and places flush with a long straight side, where a piece may fit with nothing to spare."""
    edges = region.simple_edges
    reach = np.hypot(edges[:, 2] - edges[:, 0], edges[:, 3] - edges[:, 1])
    found = []
    for edge in edges[np.argsort(reach)[-3:]]:
        along = math.atan2(edge[3] - edge[1], edge[2] - edge[0])
        for angle in (along, along + math.pi / 2):
            u = edges[:, 0] * math.cos(angle) + edges[:, 1] * math.sin(angle)
            found += [(angle, float(u.min())), (angle, float(u.max()) - length)]
    return found


def _apart(looked_at: list[tuple[float, float, float]], shift: float) -> list[tuple[float, float]]:
    """The best of (width, angle, start) that are not all the same place."""
    chosen: list[tuple[float, float]] = []
    for _, angle, start in sorted(looked_at, reverse=True):
        if len(chosen) == _TRIED:
            break
        if all(abs(angle - other) > math.radians(1.2) or abs(start - at) > shift for other, at in chosen):
            chosen.append((angle, start))
    return chosen


def _from_raster(
    region: Region, length: float, seen: Envelope, bound: np.ndarray, least: float
) -> list[tuple[float, float]]:
    """Promising angles and places on a raster of the wood turned to each angle of the fan."""
    cell = region.size / _RASTER_CELLS
    per_angle = bound.max(axis=1)
    rings = [
        shapely.get_coordinates(ring)
        for part in shapely.get_parts(region.simple)
        for ring in (part.exterior, *part.interiors)
    ]
    found = []
    # One angle of the fan for each degree is enough to start from.
    degree = np.floor(np.degrees(seen.angles))
    for row in np.flatnonzero((per_angle > least) & (np.diff(degree, prepend=np.nan) != 0)):
        angle = float(seen.angles[row])
        width, start = _raster_best(rings, angle, length, cell)
        if width > least - 3 * cell:
            found.append((width, angle, start))
    return _apart(found, 8 * cell)


def _raster_best(rings: list[np.ndarray], angle: float, length: float, cell: float) -> tuple[float, float]:
    """Width and start of about the widest rectangle at one angle, mm."""
    cosine, sine = math.cos(angle), math.sin(angle)
    turned = [ring @ np.array([[cosine, -sine], [sine, cosine]]) for ring in rings]
    corner = np.concatenate(turned).min(axis=0)
    width, height = (np.ceil(np.ptp(np.concatenate(turned), axis=0) / cell).astype(int) + 2).tolist()
    mask = np.zeros((height, width), np.uint8)
    cv2.fillPoly(mask, [np.round((ring - corner) / cell).astype(np.int32) for ring in turned], 1)
    cells = max(1, math.floor(length / cell))
    if cells > width:
        return -1.0, 0.0
    # A stretch is clear where the sum over it is full.
    sums = np.cumsum(np.pad(mask, ((0, 0), (1, 0))), axis=1, dtype=np.int32)
    clear = (sums[:, cells:] - sums[:, :-cells]) == cells
    run, most = np.zeros(clear.shape[1], np.int32), np.zeros(clear.shape[1], np.int32)
    for row in clear:
        run = (run + 1) * row
        np.maximum(most, run, out=most)
    at = int(np.argmax(most))
    return float(most[at] * cell), float(corner[0] + at * cell)
