"""Length, widths, area, volume and board feet of one outline: plain geometry, no opinion on where the wood is.

Conventions, all common practice without a published source, chosen to surprise a sawyer least:

- An **end** reaches from corner to corner, and a corner is where a straight edge held at 45 degrees touches the
  outline. So a skewed cut is wholly an end, a rounded end stops being one where it has turned half way into the long
  edge, a step in an end counts as part of the slab only where it is longer than the width it costs, and ragged bark
  on the long edges never looks like an end.
- A **width** is taken across the slab, at right angles to its length, where neither side of the tape lies on an end.
  It bridges voids as a tape does, but the open gap of a fork is not wood: there the widths of the prongs are added.
- The **three widths** are taken a tenth of the square-end length in from each end of it, and half way.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from grainlog.errors import WrongUse
from grainlog.face.frame import OutlineError, smallest_rectangle
from grainlog.units import Quantity, board_feet
from grainlog.units.factors import MM_PER_INCH

STATION_STEP_MM = 25.0
_THREE_PLACES = (0.1, 0.5, 0.9)

# One thickness reading is good to 1 mm (common practice, no source). A quarter of its variance is the tool's own,
# which more readings with the same tool do not take away; the rest is hand and place, which they do.
THICKNESS_U_MM = 1.0
_TOOL_SHARE = 0.25


@dataclass(frozen=True)
class OutlineMeasures:
    """What one outline measures, mm and mm2.

    length_mm : longer side of the smallest rectangle, at any angle, around the wood
    length_square_mm : longest stretch between the two ends, along the slab; 0 where the ends meet
    width_min_mm, width_mean_mm, width_max_mm : over the stations
    width_three_mm : mean of the three widths
    area_mm2 : wood, voids taken out
    bark_area_mm2 : between wood edge and bark edge; None where no bark edge is given
    stations : (n, 4) float64
        For each width station x, y of its outermost lower and upper crossing, and the width of wood between them (less
        than their distance across a fork), slab frame.
    three_stations : (3, 4) float64
        The same for the three widths.
    """

    length_mm: float
    length_square_mm: float
    width_min_mm: float
    width_mean_mm: float
    width_max_mm: float
    width_three_mm: float
    area_mm2: float
    bark_area_mm2: float | None
    stations: np.ndarray
    three_stations: np.ndarray

    def scalars(self) -> dict[str, float]:
        """The single numbers by name, for evaluating their uncertainty together."""
        names = ("length_mm", "length_square_mm", "width_min_mm", "width_mean_mm", "width_max_mm", "width_three_mm",
                 "area_mm2", "bark_area_mm2")
        return {name: getattr(self, name) for name in names if getattr(self, name) is not None}


@dataclass(frozen=True)
class Thickness:
    """How thick a slab is, as the person measured it.

    readings : tuple of float, mm
    mean_mm, least_mm, greatest_mm : float
    spread_mm : float
        Sample standard deviation of the readings; 0 for one reading.
    u_mm : float
        Standard uncertainty of the mean.
    """

    readings: tuple[float, ...]
    mean_mm: float
    least_mm: float
    greatest_mm: float
    spread_mm: float
    u_mm: float

    @classmethod
    def from_readings(cls, readings_mm: Sequence[float], u_reading_mm: float = THICKNESS_U_MM) -> "Thickness":
        """Mean and uncertainty of one or several readings around the slab.

        The variance of a reading is a quarter tool and three quarters hand and place. Of n readings the second part is
        estimated from their own scatter, with the stated part counted as one more observation because two or three
        readings say little about scatter, and divided by n (JCGM 100:2008, 4.2.3); the tool's part stays whole:

            u2 = [(3/4 u_reading2 + (n - 1) s2) / n] / n + 1/4 u_reading2

        so that one reading keeps exactly `u_reading_mm`. Raises WrongUse for no reading, or one that is not a size.
        """
        readings = tuple(float(value) for value in readings_mm)
        if not readings:
            raise WrongUse("No thickness is given; measure the slab's thickness and give it, as in 63.5mm or 2 1/2in.")
        if not all(math.isfinite(value) and value > 0 for value in readings):
            raise WrongUse("A thickness has to be a size greater than zero, as in 63.5mm or 2 1/2in.")
        if not (math.isfinite(u_reading_mm) and u_reading_mm > 0):
            raise WrongUse("How sure a thickness reading is has to be a size greater than zero, as in 1mm.")
        count, mean = len(readings), math.fsum(readings) / len(readings)
        scatter = math.fsum((value - mean) ** 2 for value in readings)
        spread = math.sqrt(scatter / (count - 1)) if count > 1 else 0.0
        place = ((1 - _TOOL_SHARE) * u_reading_mm**2 + scatter) / count**2
        u = math.sqrt(place + _TOOL_SHARE * u_reading_mm**2)
        return cls(readings, mean, min(readings), max(readings), spread, u)

    @property
    def quantity(self) -> Quantity:
        """Mean thickness with its standard uncertainty, mm."""
        return Quantity(self.mean_mm, self.u_mm, {"thickness": self.u_mm})


def measure_outline(
    wood: np.ndarray, holes: Sequence[np.ndarray] = (), bark: np.ndarray | None = None
) -> OutlineMeasures:
    """Measure one outline.

    wood : (n, 2) float64
        Wood edge, slab frame, mm, open or closed, either direction.
    holes : sequence of (m, 2) float64
        Voids through the wood.
    bark : (k, 2) float64, optional
        Bark edge of the same face.

    Raises OutlineError for an outline without area.
    """
    wood = _closed(wood)
    outer = _area(wood)
    box = smallest_rectangle(wood)
    if outer <= 0:
        raise OutlineError("The outline has no area; draw or photograph the slab's face again.")
    low, high = _between_ends(wood)
    # Where the ends meet in a tip, just short of it, so that there is wood to measure.
    left, right = wood[:, 0].min(), wood[:, 0].max()
    inset = 1e-9 * (right - left)
    three = _widths(wood, np.clip(low + np.array(_THREE_PLACES) * (high - low), left + inset, right - inset))
    stations = _widths(wood, np.arange(math.ceil(low / STATION_STEP_MM), high / STATION_STEP_MM) * STATION_STEP_MM)
    stations = stations if len(stations) else three[1:2]
    widths = stations[:, 3]
    return OutlineMeasures(
        length_mm=box.length,
        length_square_mm=high - low,
        width_min_mm=float(widths.min()),
        width_mean_mm=float(widths.mean()),
        width_max_mm=float(widths.max()),
        width_three_mm=float(three[:, 3].mean()),
        area_mm2=outer - sum(_area(_closed(hole)) for hole in holes),
        bark_area_mm2=None if bark is None else max(_area(_closed(bark)) - outer, 0.0),
        stations=stations,
        three_stations=three,
    )


def widths_at(wood: np.ndarray, x: np.ndarray) -> np.ndarray:
    """The width anywhere along a slab, ends included.

    wood : (n, 2) float64, wood edge, slab frame, mm. x : (m,) float64, places along the slab, mm.

    Returns (k, 4) float64: x, y of the outermost lower and upper crossing, and the width of wood between them; a place
    beyond the wood is left out. Raises OutlineError.
    """
    return _widths(_closed(wood), np.asarray(x, np.float64))


def between_ends(wood: np.ndarray) -> tuple[float, float]:
    """x where the left end is over on both long edges, and where the right end begins, mm. Raises OutlineError."""
    return _between_ends(_closed(wood))


def board_feet_exact(area_mm2: float, thickness_mm: float) -> float:
    """Board feet by the outline: area times thickness over 144 cubic inches, nothing rounded."""
    return board_feet(area_mm2 * thickness_mm)


def board_feet_three_width(length_mm: float, width_three_mm: float, thickness_mm: float) -> float:
    """Board feet as a tape gives them: overall length times the mean of three widths times thickness.

    Thickness under 1 in counts as 1 in (glossaries in the Wood Handbook's wording). That the overall length and three
    widths stand for a live-edge slab is common practice, no source.
    """
    return board_feet(length_mm * width_three_mm * max(thickness_mm, MM_PER_INCH))


def _closed(points: np.ndarray) -> np.ndarray:
    points = np.asarray(points, np.float64)
    if points.ndim != 2 or points.shape[1] != 2 or len(points) < 3 or not np.isfinite(points).all():
        raise OutlineError("An outline needs at least three points with two finite coordinates each.")
    return points if (points[0] == points[-1]).all() else np.vstack([points, points[:1]])


def _area(ring: np.ndarray) -> float:
    """Area of a closed ring by the shoelace rule, without sign; taken from its first point to keep the digits."""
    x, y = (ring - ring[0]).T
    return abs(float(x[:-1] @ y[1:] - x[1:] @ y[:-1])) / 2


def _between_ends(ring: np.ndarray) -> tuple[float, float]:
    """x where the left end is over on both sides, and where the right end begins on either side.

    Where the ends meet, as on a piece as wide as it is long, both are the middle between them.
    """
    x, y = ring.T
    up, down = x + y, x - y
    low = max(x[np.argmin(down)], x[np.argmin(up)])
    high = min(x[np.argmax(up)], x[np.argmax(down)])
    return (float(low), float(high)) if low <= high else (float(low + high) / 2,) * 2


def _widths(ring: np.ndarray, stations: np.ndarray) -> np.ndarray:
    """For each x: lowest and highest crossing with the ring and the length inside it, (n, 4)."""
    x, y = ring.T
    before = x[None, :-1] <= stations[:, None]
    # Half-open: a station through a vertex crosses exactly one of its two edges, so crossings always pair up.
    station, edge = np.nonzero(before != (x[None, 1:] <= stations[:, None]))
    share = (stations[station] - x[edge]) / (x[edge + 1] - x[edge])
    crossing = y[edge] + share * (y[edge + 1] - y[edge])
    order = np.lexsort((crossing, station))
    station, crossing = station[order], crossing[order]
    count = np.bincount(station, minlength=len(stations))
    met = count > 0
    last = np.cumsum(count)[met] - 1
    first = last - count[met] + 1
    sign = np.where(np.arange(len(crossing)) % 2, 1.0, -1.0)
    inside = np.bincount(station, weights=sign * crossing, minlength=len(stations))
    return np.column_stack([stations[met], crossing[first], crossing[last], inside[met]])
