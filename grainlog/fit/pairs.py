"""Two slabs as one top: opened like a book, or side by side with their live edges facing across a gap.

Opened like a book: two slabs that lay on each other in the log show, on the two faces that met at the kerf, the same grain
mirrored. Each gives up one live edge, sawn straight (at whatever few degrees off the slab's axis leave most), and the
straight edges are glued. The second outline is laid mirrored on the first, as the wood lay, and both are cut at the same
place along the log, so that the figure runs on across the joint.

Side by side: each slab's outer edge is sawn straight and parallel, the inner live edges face each other and are a given
distance apart at their nearest.
"""

import math
from dataclasses import dataclass
from itertools import product

import numpy as np
import shapely
from shapely import affinity

from grainlog.fit.live_edge import along_live_edge
from grainlog.fit.rectangle import Strip, clear_strips
from grainlog.fit.region import Region, polygons_of

_TURNS = np.radians(np.arange(-4.0, 4.01, 0.5))
_PLACES = 48
_LINES = 160


@dataclass(frozen=True, eq=False)
class Half:
    """One slab's part in a pair.

    shape : shapely Polygon, in that slab's own frame, mm
    strip : the straight part of it in the frame it was found in, see `Pair.second_lies`
    lost_mm2 : wood between the new straight edge and the live edge it replaces
    """

    shape: shapely.Polygon
    strip: Strip
    lost_mm2: float


@dataclass(frozen=True, eq=False)
class Pair:
    """The widest top of a length from two slabs.

    width : float
        At its narrowest, mm; for "gap" between the straight outer edges.
    drawn : (shapely Polygon, shapely Polygon)
        Both parts as they lie in the top: length along x from 0, first slab below, mm.
    gap : float
        Least distance between the live edges, mm; 0 for "book".
    overlap : float
        Of the two outlines as they lay in the log, 0 to 1: how well the grain can match; 1 for "gap", where it need not.
    """

    kind: str
    first: Half
    second: Half
    width: float
    drawn: tuple[shapely.Polygon, shapely.Polygon]
    gap: float
    overlap: float


def book(first: Region, second: Region, length: float, straight: bool) -> Pair | None:
    """The widest top of a length from two neighbours opened like a book, or None where they are not so long.

    first, second : each as its own met face shows it.
    straight : whether the outer edges are sawn straight too, or left live.
    """
    lain, back, overlap = _as_it_lay(first, second)
    strips = [_best_by_place(region, length) for region in (first, lain)]
    places = [index for index in range(_PLACES) if strips[0][index] and strips[1][index]]
    if not places:
        return None
    at = max(places, key=lambda index: strips[0][index].width + strips[1][index].width)
    one, two = strips[0][at], strips[1][at]
    inner = min((True, False), key=lambda up: _beyond(first, one, up).area + _beyond(lain, two, up).area)
    shapes = [_open(region, strip, inner, straight) for region, strip in ((first, one), (lain, two))]
    if any(shape is None for shape in shapes):
        return None
    halves = [
        Half(shape if region is first else back(shape), strip, float(_beyond(region, strip, inner).area))
        for region, strip, shape in zip((first, lain), (one, two), shapes, strict=True)
    ]
    # In the top the first part's inner edge is y = 0 seen from below, the second's, mirrored back, y = 0 from above.
    below, above = (_upright(shape, strip, inner) for shape, strip in zip(shapes, (one, two), strict=True))
    drawn = (below, affinity.scale(above, 1, -1, origin=(0, 0)))
    return Pair("book", halves[0], halves[1], _least_between(*drawn, length), drawn, 0.0, overlap)


def beside(first: Region, second: Region, length: float, gap: float) -> Pair | None:
    """The widest top of a length from two slabs with their live edges `gap` mm apart at their nearest, or None.

    Either edge of each slab may face the other, and the second may lie either end round.
    """
    best: tuple | None = None
    ours, theirs = _best_by_place(first, length)[::5], _best_by_place(second, length)[::5]
    reaches = [
        [(strip, side, _reach(region, strip, side)) for strip in strips if strip for side in (True, False)]
        for region, strips in ((first, ours), (second, theirs))
    ]
    for (one, up, reach_1), (two, down, reach_2) in product(*reaches):
        # The second part is turned by half a turn to face the first; its lower edge is turned there once already.
        width = gap + float((reach_1 + (reach_2[::-1] if up == down else reach_2)).max())
        if best is None or width > best[0]:
            best = (width, one, two, up, down)
    if best is None or not math.isfinite(best[0]):
        return None
    _, one, two, up, down = best
    shapes = [_open(region, strip, not side, False) for region, strip, side in ((first, one, up), (second, two, down))]
    if any(shape is None for shape in shapes):
        return None
    below = _outer_down(shapes[0], one, up)
    above = _outer_down(shapes[1], two, down)
    above = affinity.scale(above, -1, -1, origin=(length / 2, 0))
    above = affinity.translate(above, 0, _lift(below, above, length) + gap)
    halves = [
        Half(shape, strip, float(_beyond(region, strip, not side).area))
        for region, strip, side, shape in zip((first, second), (one, two), (up, down), shapes, strict=True)
    ]
    return Pair("gap", halves[0], halves[1], float(above.bounds[3]), (below, above), gap, 1.0)


def _as_it_lay(first: Region, second: Region):
    """The second outline on the first as the wood lay in the log, how to bring a shape back, and their overlap.

    Mirrored across, since the two met faces are seen from opposite sides; the other end round where that covers better.
    """
    shift = first.whole.centroid.x
    tried = []
    for turn in (1, -1):
        lain = affinity.scale(second.whole, turn, -turn, origin=(0, 0))
        by = shift - lain.centroid.x
        lain = affinity.translate(lain, by, 0)
        both = lain.intersection(first.whole).area
        tried.append((both / (lain.area + first.whole.area - both), turn, by, lain))
    # The same end round unless the other covers clearly better.
    best = tried[1] if tried[1][0] > tried[0][0] + 0.02 else tried[0]
    overlap, turn, by, lain = best

    def back(shape: shapely.Geometry) -> shapely.Geometry:
        return affinity.scale(affinity.translate(shape, -by, 0), turn, -turn, origin=(0, 0))

    return Region(lain), back, float(overlap)


def _best_by_place(region: Region, length: float) -> list[Strip | None]:
    """The widest strip about each of a row of places along the slab; None where the wood is not so long there."""
    left, _, right, _ = region.whole.bounds
    found: list[Strip | None] = []
    for middle in np.linspace(left + length / 2, right - length / 2, _PLACES) if right - left >= length else []:
        best: Strip | None = None
        for angle in _TURNS:
            start = middle * math.cos(angle) - length / 2
            strips = clear_strips(region.simple_edges, float(angle), float(start), length)
            if not len(strips):
                continue
            low, high = strips[np.argmax(strips[:, 1] - strips[:, 0])]
            if best is None or high - low > best.width:
                best = Strip(float(angle), float(start), float(low), length, float(high - low))
        found.append(best and _settled(region, best))
    return found or [None] * _PLACES


def _settled(region: Region, strip: Strip) -> Strip | None:
    """The strip at its place on the whole outline."""
    strips = clear_strips(region.edges, strip.angle, strip.start, strip.length)
    if not len(strips):
        return None
    low, high = strips[np.argmax(strips[:, 1] - strips[:, 0])]
    return Strip(strip.angle, strip.start, float(low), strip.length, float(high - low))


def _beyond(region: Region, strip: Strip, upper: bool) -> shapely.Geometry:
    """The wood beyond one side of a strip, over its length."""
    reach = region.size
    box = strip.part(0, strip.width if upper else -reach, strip.length, reach)
    return polygons_of(region.whole.intersection(box))


def _open(region: Region, strip: Strip, inner: bool, straight: bool) -> shapely.Polygon | None:
    """A slab's part: straight on the inner side (upper where `inner`), straight or live on the outer."""
    if straight:
        return strip.polygon
    shape = along_live_edge(region, strip, upper=not inner)
    return None if shape is None or shape.interiors else shape


def _upright(shape: shapely.Polygon, strip: Strip, inner: bool) -> shapely.Polygon:
    """A shape with its strip along x from 0 and its inner side at y = 0, the wood below."""
    turned = affinity.rotate(shape, -strip.angle, origin=(0, 0), use_radians=True)
    edge = strip.low + (strip.width if inner else 0.0)
    moved = affinity.translate(turned, -strip.start, -edge)
    return moved if inner else affinity.scale(moved, 1, -1, origin=(0, 0))


def _outer_down(shape: shapely.Polygon, strip: Strip, upper_faces: bool) -> shapely.Polygon:
    """A shape with its straight outer side at y = 0 and the wood, with the facing live edge, above; by turning only."""
    turned = affinity.rotate(shape, -strip.angle, origin=(0, 0), use_radians=True)
    if upper_faces:
        return affinity.translate(turned, -strip.start, -strip.low)
    moved = affinity.translate(turned, -strip.start, -(strip.low + strip.width))
    return affinity.rotate(moved, 180, origin=(strip.length / 2, 0))


def _reach(region: Region, strip: Strip, upper: bool) -> np.ndarray:
    """How far the live edge on one side lies from the straight outer side, at even places along the strip, mm."""
    shape = along_live_edge(Region(region.simple), strip, upper)
    if shape is None or shape.interiors:
        return np.full(_LINES, -np.inf)
    turned = affinity.rotate(shape, -strip.angle, origin=(0, 0), use_radians=True)
    moved = affinity.translate(turned, -strip.start, -strip.low)
    xs = (np.arange(_LINES) + 0.5) * strip.length / _LINES
    low, high = _crossings(moved, xs)
    return high if upper else strip.width - low


def _crossings(shape: shapely.Polygon, xs: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Outermost lower and upper crossings of a polygon at each x, mm; inf and -inf off it."""
    ring = shapely.get_coordinates(shape.exterior)
    a, b = ring[:-1], ring[1:]
    run = np.where(a[:, 0] == b[:, 0], 1.0, b[:, 0] - a[:, 0])
    met = (np.minimum(a[:, 0], b[:, 0])[None] <= xs[:, None]) & (np.maximum(a[:, 0], b[:, 0])[None] >= xs[:, None])
    y = a[None, :, 1] + (xs[:, None] - a[None, :, 0]) / run[None] * (b[:, 1] - a[:, 1])[None]
    return np.where(met, y, np.inf).min(axis=1), np.where(met, y, -np.inf).max(axis=1)


def _places(one: shapely.Polygon, two: shapely.Polygon, length: float) -> np.ndarray:
    """Where the distance between two outlines can be least or greatest: at their corners."""
    corners = np.concatenate([shapely.get_coordinates(shape)[:, 0] for shape in (one, two)])
    return np.unique(np.clip(corners, 1e-6 * length, (1 - 1e-6) * length))


def _least_between(below: shapely.Polygon, above: shapely.Polygon, length: float) -> float:
    xs = _places(below, above, length)
    return float((_crossings(above, xs)[1] - _crossings(below, xs)[0]).min())


def _lift(below: shapely.Polygon, above: shapely.Polygon, length: float) -> float:
    """By how much the upper part is moved up so that the two just touch."""
    xs = _places(below, above, length)
    return float((_crossings(below, xs)[1] - _crossings(above, xs)[0]).max())
