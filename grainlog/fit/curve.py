"""How wide at which length: a short text per outline that says, for every length, what surely does not fit.

Two curves over lengths in steps of `STEP_MM`: the greatest width of a straight piece, and of a piece that keeps both live
edges. Both are upper bounds on the whole outline, voids filled and defects left, so whatever a person wants avoided or a
search later finds on the outline itself, no slab that holds the piece is ever passed over.

Each width is four hexadecimal digits, in tenths of a millimetre rounded up, so that a database can compare them as text
without reading them: entry k bounds the pieces from k to k + 1 steps long.
"""

import math
from dataclasses import dataclass

import numpy as np
import shapely

from grainlog.fit.envelope import envelope
from grainlog.fit.live_edge import live_widths
from grainlog.fit.region import Region, region_of

STEP_MM = 25.0
#: Raised whenever curves made before could be wrong for the search as it is now.
CURVE_VERSION = 1
_TENTHS = 10
_MOST = 0xFFFF
DIGITS = 4


@dataclass(frozen=True)
class Curve:
    """What a search asks first.

    straight, live : str
        Bounds by length, as the module says; beyond their end nothing fits.
    round_mm : float
        No circle on the wood is wider, mm.
    area_mm2 : float
        The outline's, voids filled.
    """

    straight: str
    live: str
    round_mm: float
    area_mm2: float


def curve_of(wood: np.ndarray) -> Curve:
    """The curve of one wood outline, (n, 2) mm in the slab frame. Raises OutlineRefused."""
    region = Region(shapely.Polygon(region_of(wood).whole.exterior))
    seen = envelope(region)
    across = float(region.size)
    lengths = np.arange(0.0, region.size + STEP_MM, STEP_MM)
    straight = [min(across, seen.bound(length, length + STEP_MM, across)) for length in lengths]
    circle = shapely.maximum_inscribed_circle(region.whole, tolerance=0.5)
    # The circle found is within its tolerance of the largest.
    return Curve(
        straight=_written(straight),
        live=_written(live_widths(region, lengths)),
        round_mm=2 * (circle.length + 0.5),
        area_mm2=float(region.whole.area),
    )


def entry_for(length_mm: float) -> int:
    """Which entry bounds pieces of this length."""
    return int(length_mm // STEP_MM)


def digits_for(width_mm: float) -> str:
    """A width as it is compared with an entry: an entry that is less cannot hold it."""
    return f"{min(max(math.floor(width_mm * _TENTHS), 0), _MOST):0{DIGITS}X}"


def bound_at(written: str, length_mm: float) -> float:
    """The bound on width at a length, mm; 0 beyond the end of the curve."""
    entry = written[DIGITS * entry_for(length_mm) :][:DIGITS]
    if not entry:
        return 0.0
    value = int(entry, 16)
    return math.inf if value == _MOST else value / _TENTHS


def _written(widths: list[float] | np.ndarray) -> str:
    # A bound for a length holds for every greater one, so the least of those so far is the best.
    least = np.minimum.accumulate(np.maximum(np.asarray(widths, np.float64), 0.0))
    tenths = np.minimum(np.ceil(least * _TENTHS).astype(np.int64), _MOST)
    last = np.flatnonzero(tenths)
    return "".join(f"{value:0{DIGITS}X}" for value in tenths[: last[-1] + 1 if len(last) else 0])
