"""Tops with live edges: a straight stretch of the slab with square ends, and how narrow it gets.

A stretch lies along the slab, turned by no more than a few degrees (`TURNS`): the maker squares the ends to a centre line
laid along the slab. With both edges kept, its width is least where the wood is narrowest within the stretch; with one edge
kept and the other cut straight along the stretch, the least width reaches from the straight cut to the deepest place of the
live edge, so that piece holds a rectangle of its length and least width.
"""

import math
from dataclasses import dataclass

import numpy as np
import shapely

from grainlog.fit.rectangle import Strip
from grainlog.fit.region import Region, polygons_of

#: Directions of a stretch, radians.
TURNS = np.radians(np.arange(-6.0, 6.01, 0.5))
#: Between two lines across; width between them is bounded by both outlines' own corners, mm per mm of size.
_COMB = 1.5e-3


@dataclass(frozen=True)
class Stretch:
    """A stretch of wood with both live edges.

    angle : float
        Its direction, radians; start, length : along it, mm
    width : float
        Where it is narrowest, mm.
    polygon : shapely Polygon, slab frame, mm
    """

    angle: float
    start: float
    length: float
    width: float
    polygon: shapely.Polygon


def live_widths(region: Region, lengths: np.ndarray) -> np.ndarray:
    """(n,) mm: for each length the greatest width that a stretch so long can have everywhere; 0 where none is so long.

    Taken between the outermost crossings of lines across, so a bound from above where the wood forks or has voids.
    """
    widest = np.zeros(len(lengths))
    for angle in TURNS:
        step, _, low, high = _comb(region, angle)
        for index, length in enumerate(lengths):
            lines = int(length // step)
            run = _least((high - low)[0], max(lines, 1))
            widest[index] = max(widest[index], float(run.max(initial=0.0)))
    # A simplified outline that lies within its tolerance of the whole one can be narrower by twice that.
    return np.where(widest > 0, widest + 4e-4 * region.size, 0.0)


def widest_stretch(region: Region, length: float) -> Stretch | None:
    """The stretch of a length with both live edges that stays widest, or None where the wood is not so long.

    What the person avoids may not lie in it anywhere, since from edge to edge all of it is used.
    """
    best: Stretch | None = None
    looked_at = []
    for angle in TURNS:
        step, first, low, high = _comb(region, angle)
        lines = math.ceil(length / step) + 1
        widths = _least((high - low)[0], lines)
        if len(widths) and widths.max() > 0:
            at = int(np.argmax(widths))
            looked_at.append((float(widths[at]), float(angle), first + at * step))
    for width, angle, start in sorted(looked_at, reverse=True)[:4]:
        if best is not None and width < best.width:
            break
        # The comb's stretch is longer than asked by up to two steps; the piece may lie anywhere in that.
        for slide in (0.0, 0.5, 1.0):
            found = _cut(region, angle, start + slide * (lines * step - length - step), length)
            if found is not None and (best is None or found.width > best.width):
                best = found
    return best


def along_live_edge(region: Region, strip: Strip, upper: bool) -> shapely.Polygon | None:
    """The piece from the straight side of `strip` out to the live edge beyond its other side, slab frame, mm."""
    reach = region.size
    beyond = strip.part(0.0, 0.0, strip.length, reach) if upper else strip.part(
        0.0, strip.width - reach, strip.length, reach
    )  # fmt: skip
    return _part_around(region, beyond, strip.polygon.centroid)


def _cut(region: Region, angle: float, start: float, length: float) -> Stretch | None:
    """The stretch as a piece of the wood, with its least width on the whole outline; None where it is not in one piece."""
    reach = region.size
    box = Strip(angle, start, -2 * reach, length, 4 * reach).polygon
    parts = list(shapely.get_parts(polygons_of(region.whole.intersection(box))))
    if not parts:
        return None
    piece = max(parts, key=lambda part: part.area)
    if piece.interiors or len(parts) > 1 and sum(part.area for part in parts) > 1.001 * piece.area:
        return None
    corners = shapely.get_coordinates(piece)
    cosine, sine = math.cos(angle), math.sin(angle)
    u, v = corners @ np.array([cosine, sine]) - start, corners @ np.array([-sine, cosine])
    if u.min() > 1e-6 * reach or u.max() < length - 1e-6 * reach:
        return None
    width = _least_width(u, v, length)
    return Stretch(angle, start, length, width, piece) if width > 0 else None


def _least_width(u: np.ndarray, v: np.ndarray, length: float) -> float:
    """The least distance across a ring between its outermost crossings, over the whole stretch, mm."""
    places = np.unique(np.clip(u, 1e-6 * length, (1 - 1e-6) * length))
    a, b = np.minimum(u[:-1], u[1:]), np.maximum(u[:-1], u[1:])
    least = math.inf
    for some in np.array_split(places, max(1, len(places) // 256)):
        met = (a[None] <= some[:, None]) & (b[None] >= some[:, None]) & (b > a)[None]
        share = (some[:, None] - u[:-1][None]) / np.where(u[1:] == u[:-1], 1.0, u[1:] - u[:-1])[None]
        at = v[:-1][None] + share * (v[1:] - v[:-1])[None]
        width = np.where(met, at, -np.inf).max(axis=1) - np.where(met, at, np.inf).min(axis=1)
        least = min(least, float(width.min()))
    return least


def _comb(region: Region, angle: float) -> tuple[float, float, np.ndarray, np.ndarray]:
    """Step, first place, and the outermost (1, t) lower and upper crossings of lines across the direction, mm."""
    edges = region.simple_edges
    cosine, sine = math.cos(angle), math.sin(angle)
    u = edges[:, 0::2] * cosine + edges[:, 1::2] * sine
    v = edges[:, 1::2] * cosine - edges[:, 0::2] * sine
    step = _COMB * region.size
    first = float(u.min())
    lines = first + step * np.arange(int((u.max() - first) // step) + 1)
    start = np.ceil((u.min(axis=1) - first) / step).astype(int)
    count = np.maximum(np.floor((u.max(axis=1) - first) / step).astype(int) - start + 1, 0)
    edge = np.repeat(np.arange(len(edges)), count)
    line = start[edge] + np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)
    keep = line < len(lines)
    edge, line = edge[keep], line[keep]
    run = u[edge, 1] - u[edge, 0]
    share = np.divide(lines[line] - u[edge, 0], run, out=np.zeros(len(run)), where=np.abs(run) > 1e-12)
    at = v[edge, 0] + np.clip(share, 0, 1) * (v[edge, 1] - v[edge, 0])
    high, low = np.full(len(lines), -np.inf), np.full(len(lines), np.inf)
    np.maximum.at(high, line, at)
    np.minimum.at(low, line, at)
    return step, first, low[None], high[None]


def _least(values: np.ndarray, lines: int) -> np.ndarray:
    """The least of every `lines` values in a row."""
    if lines > len(values):
        return np.empty(0)
    out, reach = values, 1
    while 2 * reach <= lines:
        out, reach = np.minimum(out[:-reach], out[reach:]), 2 * reach
    rest = lines - reach
    return np.minimum(out[: len(out) - rest], out[rest:]) if rest else out


def _part_around(region: Region, box: shapely.Polygon, point: shapely.Point) -> shapely.Polygon | None:
    parts = shapely.get_parts(polygons_of(region.whole.intersection(box)))
    return next((part for part in parts if part.intersects(point)), None)
