"""A slab's outline as the wall draws it: upright, standing on the floor, simplified, with a few lines of grain.

The slab frame (x along the slab, y across, both up) is turned by a quarter to the left, never mirrored, so that x = 0, the
butt where it is known, stands on the floor. Paths are SVG's, in whole mm from the upper left corner of the drawing.
"""

from collections import OrderedDict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from threading import Lock

import numpy as np
import shapely

from grainlog.yard.outlines import Drawn, Outlines

#: What simplifying may move an edge by, as a share of the slab's width: less than a pixel at the closest scale.
_COARSENESS = 0.003
#: Lines of grain: where each lies between the two edges, and at how many places it is drawn through.
_GRAIN, _STATIONS = (0.14, 0.31, 0.46, 0.62, 0.83), 11
#: Shapes kept in memory; about 2 kB each.
_KEPT = 20_000


@dataclass(frozen=True)
class Shape:
    """One slab's drawing.

    width_mm, height_mm : of everything drawn. left_mm, top_mm : y and x of the slab frame at the upper left corner.
    wood, bark, grain : SVG paths; bark is empty where none was seen, voids are in the wood's path (even-odd).
    """

    width_mm: float
    height_mm: float
    left_mm: float
    top_mm: float
    wood: str
    bark: str
    grain: str

    def path(self, shape: shapely.Geometry) -> str:
        """A polygon, or several, of the slab frame, mm, as a path of this drawing."""
        rings = [ring for part in shapely.get_parts(shape) if part.geom_type == "Polygon" and not part.is_empty
                 for ring in (part.exterior, *part.interiors)]  # fmt: skip
        return "".join(closed_path(self._upright(shapely.get_coordinates(ring)[:-1])) for ring in rings)

    def _upright(self, points: np.ndarray) -> np.ndarray:
        return upright(points, self.left_mm, self.top_mm)


class Shapes:
    """Shapes by survey, kept in memory once drawn: a survey's outline never changes."""

    def __init__(self, outlines: Outlines):
        self._outlines = outlines
        self._kept: OrderedDict[int, Shape] = OrderedDict()
        self._lock = Lock()

    def of(self, surveys: Sequence[int]) -> dict[int, Shape]:
        """The shapes of some surveys, by survey. Raises YardError."""
        with self._lock:
            found = {survey: self._kept[survey] for survey in surveys if survey in self._kept}
        drawn = {s: shape_of(one) for s, one in self._outlines.of([s for s in surveys if s not in found])}
        with self._lock:
            self._kept.update(drawn)
            while len(self._kept) > _KEPT:
                self._kept.popitem(last=False)
        return found | drawn


def shape_of(drawn: Drawn) -> Shape:
    """The drawing of a survey's outlines."""
    rings = [ring for ring in (drawn.wood, drawn.bark) if len(ring) >= 3]
    (low_x, low_y), (top, left) = np.vstack(rings).min(axis=0), np.vstack(rings).max(axis=0)
    width = float(left - low_y)
    off = _COARSENESS * width

    def placed(points: np.ndarray) -> np.ndarray:
        return upright(points, left, top)

    wood = "".join(closed_path(simplified(placed(ring), off)) for ring in (drawn.wood, *drawn.holes) if len(ring) >= 3)
    bark = closed_path(simplified(placed(drawn.bark), off)) if len(drawn.bark) >= 3 else ""
    grain = "".join(open_curve(placed(line)) for line in grain_lines(drawn.wood))
    return Shape(width, float(top - low_x), float(left), float(top), wood, bark, grain)


def upright(points: np.ndarray, left_mm: float, top_mm: float) -> np.ndarray:
    """(n, 2) slab frame, mm, as (n, 2) mm to the right and down from the drawing's upper left corner."""
    return np.column_stack([left_mm - points[:, 1], top_mm - points[:, 0]])


def grain_lines(wood: np.ndarray) -> list[np.ndarray]:
    """A few lines that run between the two edges as grain would, (m, 2) mm, slab frame: a drawing, nothing measured."""
    low, high = wood[:, 0].min(), wood[:, 0].max()
    along = low + (high - low) * np.linspace(0.012, 0.988, _STATIONS)
    lower, upper = _edges(wood, along)
    # Grain closes in towards the middle on its way up the tree.
    spread = 1.0 - 0.28 * np.linspace(0.0, 1.0, _STATIONS) ** 1.5
    whole = shapely.make_valid(shapely.Polygon(wood))
    lines = []
    for place in _GRAIN:
        share = 0.5 + (place - 0.5) * spread
        line = np.column_stack([along, lower + share * (upper - lower)])
        if not whole.covers(shapely.LineString(line)):
            # At a fork or a deep bay: the longest stretch that is wood.
            stretches = shapely.get_parts(shapely.intersection(shapely.LineString(line), whole))
            line = shapely.get_coordinates(max(stretches, key=shapely.length, default=shapely.LineString()))
        if len(line) >= 3:
            lines.append(line)
    return lines


def _edges(wood: np.ndarray, along: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The lowest and highest y of a closed ring at some places along it."""
    start, end = wood, np.roll(wood, -1, axis=0)
    run = end[:, 0] - start[:, 0]
    crosses = (np.minimum(start[:, 0], end[:, 0]) <= along[:, None]) & (
        np.maximum(start[:, 0], end[:, 0]) > along[:, None]
    )
    share = (along[:, None] - start[:, 0]) / np.where(run == 0, 1.0, run)
    y = start[:, 1] + share * (end[:, 1] - start[:, 1])
    return np.where(crosses, y, np.inf).min(axis=1), np.where(crosses, y, -np.inf).max(axis=1)


def simplified(points: np.ndarray, off: float) -> np.ndarray:
    """A closed line, n x 2, with fewer corners, nowhere more than `off` (same unit) from what was left out (Douglas-Peucker)."""
    return shapely.get_coordinates(shapely.simplify(shapely.LinearRing(points), off))[:-1]


def closed_path(points: np.ndarray) -> str:
    """A closed path in whole mm; steps from point to point, which are shorter to write than places."""
    whole = np.rint(points).astype(int)
    steps = np.diff(whole, axis=0)
    steps = steps[np.any(steps != 0, axis=1)]
    return f"M{_numbers(whole[0])}l{_numbers(steps.ravel())}z"


def open_curve(points: np.ndarray) -> str:
    """A smooth open path: a quadratic B-spline, whose pieces meet half-way between the points."""
    middles = (points[1:] + points[:-1]) / 2
    first, control, *rest = np.rint([points[0], points[1], *middles[1:], points[-1]]).astype(int)
    return f"M{_numbers(first)}Q{_numbers(control)} {_numbers(rest[0])}T{_numbers(np.ravel(rest[1:]))}"


def _numbers(values: Iterable[int]) -> str:
    # A minus sign parts two numbers as well as a blank does.
    return " ".join(map(str, values)).replace(" -", "-")
