"""What fits, against shapes whose best answer is known in closed form, and against other people's algorithms.

- Ellipse: every rectangle inscribed in an ellipse that is no circle has its sides along the axes, so one of length l is
  2 b sqrt(1 - (l / 2a)^2) wide (from the equation of the ellipse); the greatest has sides a sqrt 2 and b sqrt 2.
- Triangle: a rectangle of length l on the base is h (1 - l / base) wide (similar triangles, Euclid, Elements VI.4), and the
  greatest has half the triangle's area. Its incircle has the radius area / half the perimeter (Elements IV.4).
- Circle: the sides of a rectangle on it satisfy l^2 + w^2 = d^2 (Thales, Elements III.31).
- Square of side s, beyond its side: a rectangle of length l along the diagonal is s sqrt 2 - l wide (similar triangles).
- Trapezium and L shape: their straight edges say it.

The distance transform is OpenCV's; the raster search of the axis-parallel case is the textbook stack algorithm for the
largest rectangle under a histogram, row by row.
"""

import cv2
import numpy as np
import pytest
import shapely
from shapely import affinity

from grainlog.fit import piece as pieces
from grainlog.fit.curved import lay_oval, lay_round
from grainlog.fit.laying import Sureness, lay
from grainlog.fit.rectangle import clear_strips, widest_strip
from grainlog.fit.region import Region, region_of
from tests.fit.made import slab_outline

WITHIN = 0.005
A, B = 1300.0, 420.0
CORNERS = np.linspace(0, 2 * np.pi, 4001)[:-1]
ELLIPSE = np.stack([A * np.cos(CORNERS), B * np.sin(CORNERS)], axis=1)
CIRCLE = 500.0 * np.stack([np.cos(CORNERS), np.sin(CORNERS)], axis=1)
TRIANGLE = np.array([[0.0, 0], [2400, 0], [700, 800]])
L_SHAPE = np.array([[0.0, 0], [2000, 0], [2000, 300], [500, 300], [500, 1200], [0, 1200]])
TRAPEZIUM = np.array([[0.0, 0], [2500, 120], [2500, 620], [0, 900]])
SQUARE = np.array([[0.0, 0], [1000, 0], [1000, 1000], [0, 1000]])

KNOWN = [
    *[
        ("ellipse", ELLIPSE, length, 2 * B * np.sqrt(1 - (length / 2 / A) ** 2))
        for length in (900, A * 2**0.5, 2200, 2500)
    ],
    *[("circle", CIRCLE, length, np.sqrt(1000**2 - length**2)) for length in (710, 800, 950)],
    *[("triangle", TRIANGLE, length, 800 * (1 - length / 2400)) for length in (1200, 1600, 2100)],
    *[("trapezium", TRAPEZIUM, length, 900 - length * (400 / 2500)) for length in (1000, 1800, 2400)],
    *[("square", SQUARE, length, 1000 * 2**0.5 - length) for length in (1200, 1300)],
    ("L, its foot", L_SHAPE, 2000, 300.0),
    ("L, its leg", L_SHAPE, 1200, 500.0),
]


@pytest.mark.parametrize("turn", [0.0, 0.37, 1.2])
@pytest.mark.parametrize(("name", "ring", "length", "width"), KNOWN, ids=[f"{one[0]}-{one[2]:.0f}" for one in KNOWN])
def test_widest_rectangle_of_known_shapes(name, ring, length, width, turn):
    region = Region(affinity.rotate(region_of(ring).whole, turn, origin=(0, 0), use_radians=True))
    # A shape that is exactly as long as asked is turned to floats that are not; a micrometre is no difference.
    strip = widest_strip(region, length - 1e-3)
    assert strip.width == pytest.approx(width, rel=WITHIN)
    assert region.holds(strip.polygon)


def test_the_greatest_rectangle_of_a_triangle_is_half_of_it():
    region = region_of(TRIANGLE)
    areas = [length * widest_strip(region, length).width for length in np.arange(900, 1500, 50.0)]
    assert max(areas) == pytest.approx(region.whole.area / 2, rel=WITHIN)


def test_inscribed_circle():
    sides = np.hypot(*(TRIANGLE - np.roll(TRIANGLE, 1, axis=0)).T)
    radius = 2 * shapely.Polygon(TRIANGLE).area / sides.sum()
    assert lay_round(region_of(TRIANGLE), 100.0).spare == pytest.approx(2 * radius - 100, rel=1e-3)


@pytest.mark.parametrize("seed", [1, 5, 9])
def test_inscribed_circle_by_distance_transform(seed):
    wood = slab_outline(seed)
    mask = np.zeros(np.ceil(np.ptp(wood, axis=0)[::-1]).astype(int) + 4, np.uint8)
    cv2.fillPoly(mask, [np.round(wood - wood.min(axis=0) + 2).astype(np.int32)], 1)
    diameter = 2 * cv2.distanceTransform(mask, cv2.DIST_L2, cv2.DIST_MASK_PRECISE).max()
    assert lay_round(region_of(wood), 1.0).spare + 1 == pytest.approx(diameter, abs=3)


@pytest.mark.parametrize("seed", [1, 5, 9])
def test_inscribed_circle_by_shapely(seed):
    region = region_of(slab_outline(seed))
    circle = shapely.maximum_inscribed_circle(region.whole, tolerance=0.01)
    assert lay_round(region, 1.0).spare + 1 == pytest.approx(2 * circle.length, rel=2e-3)


def test_an_oval_in_an_ellipse_and_in_a_rectangle():
    assert lay_oval(region_of(ELLIPSE), 2 * A * 0.9, 2 * B * 0.9).spare == pytest.approx(2 * B * 0.1, rel=0.02)
    board = region_of(np.array([[0.0, 0], [1800, 0], [1800, 600], [0, 600]]))
    assert lay_oval(board, 1500, 500).spare == pytest.approx(100, rel=0.01)


def test_live_edges_of_an_ellipse():
    """Between square ends l apart the narrowest places are the ends: 2 b sqrt(1 - (l / 2a)^2) again."""
    region = region_of(ELLIPSE)
    length = 1500.0
    laid = lay(region, pieces.with_live_edges(length, 100, 2), Sureness(np.zeros(1), np.zeros(1), 0.0))
    assert laid.spare.value + 100 == pytest.approx(2 * B * np.sqrt(1 - (length / 2 / A) ** 2), rel=0.003)
    assert laid.shape.area > length * (laid.spare.value + 100)


@pytest.mark.parametrize("seed", [2, 6])
def test_axis_parallel_case_against_the_histogram_algorithm(seed):
    """The largest axis-parallel rectangle by another algorithm, on a raster of 4 mm, is found by ours too at angle 0."""
    cell = 4.0
    wood = slab_outline(seed)
    rows, columns = (np.ptp(wood, axis=0)[::-1] / cell).astype(int) + 2
    y, x = np.mgrid[:rows, :columns]
    inside = shapely.contains_xy(
        shapely.Polygon(wood), (x + 0.5) * cell + wood[:, 0].min(), (y + 0.5) * cell + wood[:, 1].min()
    )
    area, length = _largest_under_histogram(inside)
    region, left = region_of(wood), wood[:, 0].min()
    ours = max(
        (gaps[:, 1] - gaps[:, 0]).max(initial=0.0) * length * cell
        for start in np.arange(left, wood[:, 0].max() - length * cell, cell)
        if len(gaps := clear_strips(region.edges, 0.0, start, length * cell))
    )
    assert ours == pytest.approx(area * cell**2, rel=0.02)


def _largest_under_histogram(inside: np.ndarray) -> tuple[int, int]:
    """Cells and length along the row of the largest rectangle of inside cells."""
    heights = np.zeros(inside.shape[1] + 1, int)
    best = (0, 0)
    for row in inside:
        heights[:-1] = (heights[:-1] + 1) * row
        stack: list[int] = []
        for at, height in enumerate(heights):
            while stack and heights[stack[-1]] >= height:
                tall = heights[stack.pop()]
                wide = at - (stack[-1] + 1 if stack else 0)
                best = max(best, (int(tall * wide), int(wide)))
            stack.append(at)
    return best


@pytest.mark.parametrize("seed", [2, 6, 11])
def test_axis_parallel_case_against_a_reference_library(seed, monkeypatch):
    """largestinteriorrectangle 0.2 (PyPI, MIT; numba, here as plain Python) on wood of whole cells, where it is exact."""
    monkeypatch.setenv("NUMBA_DISABLE_JIT", "1")
    lir = pytest.importorskip("largestinteriorrectangle", reason="the reference library is not installed")
    cell = 25.0
    wood = slab_outline(seed)
    wood = wood - wood.min(axis=0)
    rows, columns = (np.ptp(wood, axis=0)[::-1] / cell).astype(int) + 2
    y, x = np.mgrid[:rows, :columns]
    inside = shapely.contains_xy(shapely.Polygon(wood), (x + 0.5) * cell, (y + 0.5) * cell)
    _, _, length, width = lir.lir(inside)
    cells = shapely.union_all([shapely.box(i * cell, j * cell, (i + 1) * cell, (j + 1) * cell) for j, i in np.argwhere(inside)])
    region = region_of(shapely.get_coordinates(cells.exterior))
    ours = max(
        (gaps[:, 1] - gaps[:, 0]).max(initial=0.0) * long * cell
        for long in range(1, columns + 1)
        for start in np.arange(columns - long + 1) * cell
        if len(gaps := clear_strips(region.edges, 0.0, start, long * cell))
    )
    assert ours == pytest.approx(int(length) * int(width) * cell**2, rel=1e-6)
