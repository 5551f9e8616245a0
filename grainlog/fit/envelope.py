"""How wide a rectangle of a given length could be, at the most, at each of many angles: fast, and never too small.

At one angle the wood is looked at along a comb of lines across the rectangle's length. A rectangle lies between the
outermost crossings of every line it covers, and one of length l covers at least floor(l / comb step) lines in a row,
whatever its place; so the least distance between those crossings bounds its width. Outermost crossings know no voids and
no forks, which makes the bound looser there but never wrong.

Between two angles of the fan: a rectangle l x w turned by e holds an upright one of (l cos e - w sin e) x
(w cos e - l sin e) (its corners lie on or within the sides), so the bound at the nearest angle, asked for the shorter
length and widened by (l sin e) and 1 / cos e, covers the angles in between.
"""

from dataclasses import dataclass

import numpy as np

from grainlog.fit.region import Region

_TEETH = 320
#: Degrees: from where to where, and the step. Long pieces lie near the slab's own axis, where a small turn costs most.
_FANS = ((-4.0, 4.0, 0.1), (4.0, 15.0, 0.25), (15.0, 165.0, 1.0), (165.0, 176.0, 0.25))


def fan() -> tuple[np.ndarray, np.ndarray]:
    """(a,) angles and (a,) half steps to the neighbours, radians; together they cover half a turn."""
    angles, half = [], []
    for begin, end, step in _FANS:
        # Each angle stands in the middle of its own step, so that the fans meet without a gap.
        angles.append(np.arange(round((end - begin) / step)) * step + begin + step / 2)
        half.append(np.full(len(angles[-1]), step / 2))
    return np.radians(np.concatenate(angles)), np.radians(np.concatenate(half))


@dataclass(frozen=True, eq=False)
class Envelope:
    """The comb seen at every angle of the fan.

    angles, half_step : (a,) float64, radians
    step : float
        Between two teeth of the comb, mm.
    first : (a,) float64
        Along the rectangle's length, the place of the first tooth, mm.
    high, low : list of (a, t) float64
        Level k holds, for each tooth, the least upper and the greatest lower crossing over it and the next 2**k - 1, mm;
        -inf and inf where a line misses the wood.
    slop : float
        How far the simplified outline that was looked at may lie inside the whole one, mm.
    forked : (a,) float64
        Share of the lines that cross the wood's edge more than twice: there the outermost crossings are not all there is.
    """

    angles: np.ndarray
    half_step: np.ndarray
    step: float
    first: np.ndarray
    high: list[np.ndarray]
    low: list[np.ndarray]
    slop: float
    forked: np.ndarray

    def widths(self, teeth: int) -> np.ndarray:
        """(a, s) widths between the outermost crossings of `teeth` lines in a row, from each start; -inf where none."""
        count = self.high[0].shape[1]
        if teeth > count:
            return np.full((len(self.angles), 1), -np.inf)
        level = min(max(teeth, 1).bit_length() - 1, len(self.high) - 1)
        rest = max(teeth, 1) - 2**level
        starts = count - max(teeth, 1) + 1
        high = np.minimum(self.high[level][:, :starts], self.high[level][:, rest : rest + starts])
        low = np.maximum(self.low[level][:, :starts], self.low[level][:, rest : rest + starts])
        return high - low

    def bound(self, length: float, up_to: float | None = None, across: float | None = None) -> float:
        """No rectangle with a side from `length` to `up_to` mm is wider than this, at any angle; 0 where none fits.

        across : a width that no rectangle in this wood can exceed, mm; the comb's own reach where left out.
        """
        up_to = length if up_to is None else up_to
        across = self.step * self.high[0].shape[1] if across is None else across
        best = 0.0
        for half in np.unique(self.half_step):
            sine, cosine = np.sin(half), np.cos(half)
            held = length * cosine - across * sine - 2 * self.slop
            rows = self.half_step == half
            widest = float(self.widths(int(held // self.step))[rows].max(initial=-np.inf))
            best = max(best, (widest + 2 * self.slop + up_to * sine) / cosine if np.isfinite(widest) else 0.0)
        return max(best, 0.0)


def envelope(region: Region) -> Envelope:
    """Look at the wood along the comb, at every angle of the fan at once."""
    angles, half = fan()
    step = region.size / (_TEETH - 2)
    edges = region.simple_edges
    cosine, sine = np.cos(angles)[:, None], np.sin(angles)[:, None]
    u1, u2 = (cosine * edges[:, i] + sine * edges[:, i + 1] for i in (0, 2))
    v1, v2 = (cosine * edges[:, i + 1] - sine * edges[:, i] for i in (0, 2))
    first = np.minimum(u1, u2).min(axis=1)
    near, far = (np.minimum(u1, u2) - first[:, None]) / step, (np.maximum(u1, u2) - first[:, None]) / step
    start = np.ceil(near).astype(np.int64)
    count = np.maximum(np.floor(far).astype(np.int64) - start + 1, 0)
    # One entry for every line that crosses every edge, flat; edges along a line cross it nowhere, their neighbours do.
    flat = np.repeat(np.arange(count.size), count.ravel())
    order = np.arange(len(flat)) - np.repeat(np.cumsum(count.ravel()) - count.ravel(), count.ravel())
    tooth = start.ravel()[flat] + order
    run = (u2 - u1).ravel()[flat]
    place = tooth * step + np.repeat(first, count.sum(axis=1)) - u1.ravel()[flat]
    share = np.divide(place, run, out=np.zeros_like(run), where=np.abs(run) > 1e-12)
    v = v1.ravel()[flat] + np.clip(share, 0, 1) * (v2 - v1).ravel()[flat]
    cell = np.repeat(np.arange(len(angles)), count.sum(axis=1)) * _TEETH + tooth
    high, low = np.full(len(angles) * _TEETH, -np.inf), np.full(len(angles) * _TEETH, np.inf)
    np.maximum.at(high, cell, v)
    np.minimum.at(low, cell, v)
    shape = (len(angles), _TEETH)
    crossings = np.bincount(cell, minlength=len(high)).reshape(shape)
    forked = (crossings > 2).sum(axis=1) / np.maximum((crossings > 0).sum(axis=1), 1)
    slop = 1e-4 * region.size + 1e-6
    levels = _levels(high.reshape(shape), np.minimum), _levels(low.reshape(shape), np.maximum)
    return Envelope(angles, half, step, first, *levels, slop, forked)


def _levels(values: np.ndarray, pick: np.ufunc) -> list[np.ndarray]:
    levels = [values]
    while 2 ** len(levels) <= values.shape[1]:
        reach = 2 ** (len(levels) - 1)
        levels.append(pick(levels[-1][:, :-reach], levels[-1][:, reach:]))
    return levels
