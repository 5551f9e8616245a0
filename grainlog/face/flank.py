"""The wood edge where the bark is off: a bare flank has the colour of the wood, and passes for it.

The edge of the face runs on smoothly from where there is bark to where it is off; what steps in there is the silhouette.
Where instead the wood edge steps out and the silhouette does not, flank was taken for wood. Along each long side the crease
between face and flank is looked for over a hand's breadth at a time, at full resolution: there light, colour or
roughness change, however little. It is followed from end to end as a line that bends slowly (dynamic programming over
place and slope), and holds to the edge found so far where that has what the network takes for wood inside it.
"""

from dataclasses import dataclass

import cv2
import numpy as np
import shapely
from scipy.linalg import solveh_banded
from scipy.ndimage import gaussian_filter1d, grey_closing

from grainlog.scale.flat import FlatView
from grainlog.units.runs import runs

from . import network
from .crease import SPACING_MM, best_line, clearness
from .found import EdgeUncertainty
from .opinion import colour_features
from .strip import Strip, unroll_open

_OFFSETS = np.arange(-34.0, 62.0, 1.0)
_BEYOND_MM = 24.0  # the side is continued so far past the saw cut
_STIFF_MM, _LEAN = 90.0, 0.05  # of the smooth line under a side's bumps: about a sixth of the wave it follows; weight of what sticks out
_KEEP, _FLANK, _AWAY = 2.0, 1.0, 0.4  # rewards and prices of the line, in units of noise; set on rendered views
#: When a stretch is flank: it sticks out so far along so much, with a shoulder so steep, and the silhouette steps out by no more
#: than half of that; and the crease inside it is so clear, on the whole and in its worse quarter. Set on rendered views.
_OUT_MM, _LONG_MM, _STEEP, _SILHOUETTE, _CLEAR, _CLEAR_QUARTER = 4.0, 16.0, 0.35, 0.5, 1.2, 0.7
_SHORTEST_MM = 250.0
_HELD_MM = (5.0, 20.0)
_NEAR_MM = 5.0  # beside a crease
_RATHER = 0.55  # the network's share for flank, of flank and wood, in a large stretch: wood that juts out has about half
_PALER = -0.015  # log light: sapwood is paler than the heartwood inside it, a flank in the shade is not
_SMALL_MM = 8.0  # lower ones are told by crease and shoulder alone: the silhouette is not known that well
_STAYS_MM = 2.0  # how unsure an edge that was moved stays; RMS on rendered views


@dataclass(frozen=True)
class Mended:
    """A wood edge without the bare flank that was taken for wood.

    wood : (n, 2) float64, mm
    beside : shapely geometry
        What was taken off, and what lies just outside of it: no bark is there either.
    doubt_mm : (k,) float64
        How unsure the long edges are for that reason, at places `SPACING_MM` apart: 0 where nothing was found amiss.
    moved_mm, open_mm : float
        Length of the edge that was moved; length where it may be flank too but was left as it was.
    """

    wood: np.ndarray
    beside: shapely.Geometry
    doubt_mm: np.ndarray
    moved_mm: float
    open_mm: float

    def widened(self, sure: EdgeUncertainty) -> EdgeUncertainty:
        """The uncertainty of the long edges with this doubt on top."""
        common, spread = float(self.doubt_mm.mean()), float(np.sqrt((self.doubt_mm**2).mean()))
        return EdgeUncertainty(float(np.hypot(sure.systematic, common)), float(np.hypot(sure.random, spread)))


def without_bare_flank(
    view: FlatView, wood: np.ndarray, sides: list[np.ndarray], asked: FlatView, scores: np.ndarray
) -> Mended:
    """Take off the stretches of flank that were taken for wood.

    view : the face at a millimetre a pixel
    wood : (n, 2) float64, mm, anticlockwise
    sides : list of (k, 2) float64
        Its long edges, points `SPACING_MM` apart, anticlockwise.
    asked, scores : a view around the slab and the network's (h, w, 5) class scores of its pixels
    """
    mask = _mask(wood, view)
    off, doubts = [], [np.zeros(1)]
    for side in sides:
        found, doubt = _along(view, mask, side, asked, scores)
        off += found
        doubts.append(doubt)
    doubt = np.concatenate(doubts)
    moved, left = (SPACING_MM * float(which.sum()) for which in (doubt == _STAYS_MM, doubt > _STAYS_MM))
    beside = shapely.union_all(off) if off else shapely.Polygon()
    if off:
        face = shapely.make_valid(shapely.Polygon(wood)).difference(beside)
        wood = largest_ring(face)
    return Mended(wood, beside, doubt, moved, left)


def long_edges(points: np.ndarray, ends: np.ndarray) -> list[np.ndarray]:
    """The long edges of a closed ring (n, 2) with points `SPACING_MM` apart, `ends` (n,) being True on its sawn ends."""
    ends = grey_closing(ends.astype(np.uint8), round(60 / SPACING_MM), mode="wrap") > 0
    turn = int(ends.argmax())
    points, long = np.roll(points, -turn, axis=0), ~np.roll(ends, -turn)
    return [points[first:last] for first, last in runs(long) if (last - first) * SPACING_MM >= _SHORTEST_MM]


def largest_ring(shape: shapely.Geometry) -> np.ndarray:
    """(n, 2): the outer ring of the largest polygon in a shape, anticlockwise, open."""
    parts = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]
    ring = shapely.Polygon(max(parts, key=lambda part: part.area).exterior)
    return shapely.get_coordinates(shapely.orient_polygons(ring))[:-1]


def _along(view, mask, side, asked, scores) -> tuple[list[shapely.Geometry], np.ndarray]:
    """What is to be taken off one side, and the doubt at each of its places."""
    smooth = _under(side)
    line, more = _continued(smooth)
    strip = unroll_open(view, line, _OFFSETS)
    edge = _edge(strip, view, mask, more, ((side - smooth) * strip.normals[more:-more]).sum(1))
    within = np.zeros(len(line), bool)
    within[more:-more] = True
    # A side without steps is left alone, and costs nothing.
    rise = np.abs(edge[5:] - edge[:-5])[more : len(line) - more - 5]
    if not len(rise) or rise.max() < _STEEP * 5 * SPACING_MM - 1:
        return [], np.zeros(len(side))
    thought = strip.sample(asked, scores)
    clear = clearness(strip)
    crease, how_clear = _follow(clear, thought, edge, within)
    out = np.where(within, edge - crease, 0)
    silhouette, paler = _silhouette(thought), _paler_outside(strip, crease)
    doubt = np.zeros(len(line))
    taken = []
    for first, last in runs(out > 1.0):
        if (out[first:last] > _OUT_MM).sum() * SPACING_MM < _LONG_MM:
            continue
        if not _steps_out(out, silhouette - edge, first, last, more):
            continue
        part = slice(first, last)
        between = (_OFFSETS > crease[part, None] + 1) & (_OFFSETS < edge[part, None] - 1)
        flank, other = (float(thought[part, :, kind][between].mean()) for kind in (network.FLANK, network.WOOD))
        thinks = out[part].mean() < _SMALL_MM or flank > _RATHER * (flank + other)
        if thinks and _is_clear(out[part], how_clear[part]) and np.mean(paler[part]) < _PALER:
            taken.append(_outside(strip, crease, edge, first, last, more))
            doubt[part] = _STAYS_MM
        elif out[part].mean() > _SMALL_MM:
            doubt[part] = np.maximum(out[part], _STAYS_MM + 1e-3)
    return taken, doubt[more:-more]


def _mask(ring: np.ndarray, view: FlatView) -> np.ndarray:
    px = np.round(view.to_px(ring) * 16).astype(np.int32)
    return cv2.fillPoly(np.zeros(view.seen.shape, np.uint8), [px], 1, cv2.LINE_8, 4).astype(np.float32)


def _under(side: np.ndarray) -> np.ndarray:
    """(n, 2): a smooth line along a side that bumps outwards hardly move (asymmetric least squares, Eilers 2003)."""
    n = len(side)
    stiff = (_STIFF_MM / SPACING_MM) ** 4
    bands = np.zeros((3, n))
    bands[2, :-2] += 1
    bands[2, 1:-1] += 4
    bands[2, 2:] += 1
    bands[1, 1:-1] -= 2
    bands[1, 2:] -= 2
    bands[0, 2:] += 1
    bands *= stiff
    weight = np.ones(n)
    for _ in range(12):
        system = bands.copy()
        system[2] += weight
        smooth = solveh_banded(system, weight[:, None] * side)
        along = np.gradient(smooth, axis=0)
        sticks_out = (side - smooth)[:, 0] * along[:, 1] - (side - smooth)[:, 1] * along[:, 0]
        weight = np.where(sticks_out > 1.0 * SPACING_MM, _LEAN, 1.0)
    return smooth


def _continued(line: np.ndarray) -> tuple[np.ndarray, int]:
    """The line with straight pieces at either end, and how many points each has."""
    more = round(_BEYOND_MM / SPACING_MM)
    reach = min(15, len(line) - 1)
    before, after = line[0] - line[reach], line[-1] - line[-1 - reach]
    before, after = (way / np.linalg.norm(way) * SPACING_MM for way in (before, after))
    count = np.arange(1, more + 1)[:, None]
    return np.vstack([line[0] + before * count[::-1], line, line[-1] + after * count]), more


def _edge(strip: Strip, view: FlatView, mask: np.ndarray, more: int, about: np.ndarray) -> np.ndarray:
    """(n,) offset of the wood edge at each place: of its crossings the one nearest to `about`; 0 past the saw cuts."""
    inside = strip.sample(view, mask) > 0.5
    crossing = inside[:, :-1] & ~inside[:, 1:]
    between = (strip.offsets[1:] + strip.offsets[:-1]) / 2
    away = np.where(crossing[more:-more], np.abs(between - about[:, None]), 1e6)
    nearest = away.argmin(1)
    edge = np.zeros(len(strip.points))
    edge[more:-more] = np.where(away.min(1) < 1e6, between[nearest], np.clip(about, between[0], between[-1]))
    return edge



def _follow(clear, thought, edge, within) -> tuple[np.ndarray, np.ndarray]:
    """(n,) offset of the crease at each place, and how clear it is there."""
    offsets = _OFFSETS[None]
    wood = thought[..., [network.WOOD, network.VOID, network.CARD]].sum(-1)
    place = np.arange(len(edge))
    at = np.clip(np.round(edge - _OFFSETS[0]).astype(int), 0, len(_OFFSETS) - 1)
    # An edge that sticks out of the smooth line is held to less: it may be the bump that is looked for.
    believed = _inside(wood)[place, at] * within * np.clip((_HELD_MM[1] - edge) / (_HELD_MM[1] - _HELD_MM[0]), 0, 1)
    gain = clear - _AWAY * np.clip((np.abs(_OFFSETS) - 3) / 10, 0, 2.5)
    gain = gain - _FLANK * _inside(thought[..., network.FLANK])
    gain = gain + _KEEP * believed[:, None] * (np.abs(offsets - edge[:, None]) < 2)
    gain = gain - 3.0 * (offsets > np.maximum(edge, 0)[:, None] + 4)
    line, slope = best_line(gain.astype(np.float32))
    return gaussian_filter1d(_OFFSETS[line], 2), clear[slope, place, line]


def _inside(value: np.ndarray) -> np.ndarray:
    """(n, m): the mean of what lies 2 to 10 mm inside each sample."""
    total = np.concatenate([np.zeros((len(value), 1)), value.cumsum(1)], 1)
    at = np.arange(value.shape[1])
    low, high = np.maximum(at - 10, 0), np.maximum(at - 1, 0)
    return (total[:, high] - total[:, low]) / np.maximum(high - low, 1)



def _silhouette(thought: np.ndarray) -> np.ndarray:
    """(n,) offset from which on the network sees ground."""
    ground = gaussian_filter1d(thought[..., network.OTHER], 2, axis=1) > 0.5
    ground &= _OFFSETS > -10
    return np.where(ground.any(1), _OFFSETS[ground.argmax(1)], _OFFSETS[-1])


def _paler_outside(strip: Strip, crease: np.ndarray) -> np.ndarray:
    """(n,) how much paler it is just outside the crease than just inside, log light."""
    light = colour_features(strip.rgb)[..., 0]
    from_it = strip.offsets - crease[:, None]
    sides = [np.abs(from_it - middle) < _NEAR_MM / 2 for middle in (-_NEAR_MM, _NEAR_MM)]
    inside, outside = ((light * side).sum(1) / np.maximum(side.sum(1), 1) for side in sides)
    return outside - inside


def _steps_out(out, gap, first, last, more) -> bool:
    """Whether the edge steps out between two places with a steep shoulder, and the silhouette does not."""
    n = len(out)
    here = out[first:last]
    high = here > 0.5 * here.max()
    at_start, at_end = first - more < 4, n - more - last < 4
    rise = (out[5:] - out[:-5]) / (5 * SPACING_MM)
    shoulders = [] if at_start else [rise[max(0, first - 3) : first + 7].max()]
    shoulders += [] if at_end else [-rise[max(0, last - 12) : last].min()]
    if not shoulders or max(shoulders) < _STEEP:
        return False
    beside = np.r_[max(more, first - 20) : first, last : min(n - more, last + 20)]
    steps_in = np.median(gap[beside]) - np.median(gap[first:last][high]) if len(beside) > 8 else np.inf
    return bool(here.mean() < _SMALL_MM or steps_in >= _SILHOUETTE * here.mean())


def _is_clear(out, how_clear) -> bool:
    """Whether the crease is clear where the edge sticks out most."""
    clear = how_clear[out > 0.5 * out.max()]
    return bool(clear.mean() > _CLEAR and np.quantile(clear, 0.25) > _CLEAR_QUARTER)


def _outside(strip: Strip, crease, edge, first, last, more) -> shapely.Geometry:
    """The region between the crease and a little outside the edge; at a saw cut it goes on past it."""
    n = len(edge)
    inner, outer = crease.copy(), np.maximum(edge, crease) + 6
    low, high = first, last
    place = np.arange(n)
    for cut, reach in ((first - more < 4, slice(more + 1, more + 9)), (n - more - last < 4, slice(n - more - 9, n - more - 1))):
        if cut:
            start = reach.start <= n // 2
            past = place < more + 2 if start else place >= n - more - 2
            slope, height = np.polyfit(place[reach], crease[reach], 1)
            inner[past] = height + slope * place[past]
            outer[past] = max(outer[reach].max(), inner[past].max()) + 6
            low, high = (0, high) if start else (low, n)
    a, b = strip.at(inner), strip.at(outer)
    quads = np.stack([a[low : high - 1], b[low : high - 1], b[low + 1 : high], a[low + 1 : high]], 1)
    return shapely.union_all(shapely.buffer(shapely.make_valid(shapely.polygons(quads)), 0.01))
