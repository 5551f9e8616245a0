"""Board feet against their published definition and worked examples.

Sources, as printed in them:

- NHLA rules as restated by a hardwood trade association: a board foot is 1 ft x 1 ft x 1 in or its equivalent in
  volume; board feet = width (in) x length (ft) x thickness (in) / 12; a board 2 in x 6 1/4 in x 8 ft holds 8 board
  feet after its surface measure of 4 1/6 is rounded to 4; surface measures of 6 1/2 in x 8 ft, 8 in x 12 ft and
  10 in x 13 ft are 4, 8 and 11.
- A printed trade example: 4/4 x 8 in x 8 ft is 5.33 board feet.
- Plain arithmetic, restated in print: 72 x 8 x 2 in is 1152 cubic inches, 8 board feet.
- Glossaries in the wording of the Wood Handbook (FPL-GTR-282): lumber of nominal thickness under 1 in counts as 1 in.
- The international yard and pound agreement (1959): 1 in is 25.4 mm exactly.
"""

import math

import numpy as np
import pytest

from grainlog.face.measures import (
    board_feet_exact,
    board_feet_three_width,
    measure_outline,
)
from grainlog.units import (
    board_feet,
    cubic_metres,
    parse_length,
    parse_thickness,
    parse_volume,
)


def board(width: str, length: str) -> np.ndarray:
    long, wide = parse_length(length), parse_length(width)
    return np.array([[0, -wide / 2], [long, -wide / 2], [long, wide / 2], [0, wide / 2]])


def test_the_definition():
    foot, inch = parse_length("1ft"), parse_length("1in")
    assert inch == 25.4
    assert board_feet(foot * foot * inch) == pytest.approx(1, rel=1e-15)
    assert board_feet(144 * inch**3) == pytest.approx(1, rel=1e-15)


def test_cubic_metres_in_a_board_foot():
    """1/12 ft3 with the foot of 0.3048 m: 0.3048**3 / 12 m3, 0.002359737216 by hand."""
    assert cubic_metres(parse_volume("1 BF")) == pytest.approx(0.002359737216, rel=1e-15)
    assert cubic_metres(parse_volume("1 BF")) == pytest.approx(0.3048**3 / 12, rel=1e-15)


@pytest.mark.parametrize(
    ("thickness", "width", "length", "exact", "printed", "rounding"),
    [
        ("8/4", "6 1/4in", "8ft", 25 / 3, 8, 0.5),
        ("2in", "8in", "72in", 8, 8, 1e-9),
        ("4/4", "8in", "8ft", 16 / 3, 5.33, 0.005),
        ("4/4", "6 1/2in", "8ft", 13 / 3, 4, 0.5),
        ("4/4", "8in", "12ft", 8, 8, 1e-9),
        ("4/4", "10in", "13ft", 65 / 6, 11, 0.5),
    ],
)
def test_published_boards(thickness, width, length, exact, printed, rounding):
    """An edged board comes out as printed, to the rounding of the print; by outline and by three widths alike."""
    outline, thick = board(width, length), parse_thickness(thickness)
    found = measure_outline(outline)
    by_outline = board_feet_exact(found.area_mm2, thick)
    by_widths = board_feet_three_width(found.length_mm, found.width_three_mm, thick)
    assert by_outline == pytest.approx(exact, rel=1e-12)
    assert by_widths == pytest.approx(exact, rel=1e-12)
    assert abs(by_outline - printed) <= rounding


def test_surface_measure_of_the_first_board_rounds_as_printed():
    """4 1/6 square feet, rounded to 4, times 2 in: the 8 board feet of the rule."""
    surface = measure_outline(board("6 1/4in", "8ft")).area_mm2 / 304.8**2
    assert surface == pytest.approx(4 + 1 / 6)
    assert math.floor(surface + 0.5) * 2 == 8


def test_thin_lumber_counts_as_an_inch_by_the_convention_only():
    found = measure_outline(board("12in", "12ft"))
    thin, inch = parse_length("3/4in"), parse_length("1in")
    assert board_feet_three_width(found.length_mm, found.width_three_mm, thin) == pytest.approx(12)
    assert board_feet_three_width(found.length_mm, found.width_three_mm, inch) == pytest.approx(12)
    assert board_feet_exact(found.area_mm2, thin) == pytest.approx(9)
