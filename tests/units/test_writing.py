"""What people read."""

import math
import re
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grainlog.units import (
    Quantity,
    UnitsError,
    format_area,
    format_board_feet,
    format_length,
    format_quantity,
    format_size,
    parse_length,
)

# A busy machine is no failure: the clock has no say in these tests.
UNHURRIED = settings(deadline=None)


@pytest.mark.parametrize(
    ("value", "u", "millimetres", "inches"),
    [
        (2412.0, 2.0, "2412 ± 4 mm", "7 ft 10 15/16 in ± 3/16 in"),
        (2412.0, 0.1, "2412 ± 1 mm", "7 ft 10 15/16 in ± 1/16 in"),
        (2412.4, 7.0, "2412 ± 14 mm", "7 ft 11 in ± 3/4 in"),
        (560.3, 0.8, "560 ± 2 mm", "22 1/16 in ± 1/16 in"),
        (1.3, 0.2, "1.3 ± 0.4 mm", "1/16 in ± 1/32 in"),
        (2743.2, 1.6, "2743 ± 4 mm", "9 ft ± 1/8 in"),
        (2412.0, 400.0, "2400 ± 800 mm", "7 ft 11 in ± 32 in"),
        (762.0, 0.0, "762 mm", "30 in"),
    ],
)
def test_a_length_with_its_interval(value, u, millimetres, inches):
    assert format_quantity(Quantity(value, u), "mm") == millimetres
    assert format_quantity(Quantity(value, u), "in") == inches


def test_the_other_kinds():
    assert format_quantity(Quantity(1.33e6, 5e3), "in", "area") == "14.3 ± 0.1 sq ft"
    assert format_quantity(Quantity(1.33e6, 5e3), "mm", "area") == "1.330 ± 0.010 m²"
    assert format_quantity(Quantity(24.63, 0.4), "mm", "board_feet") == "24.6 ± 0.8 BF"
    assert format_quantity(Quantity(8.4e7, 1.4e6), "mm", "volume") == "0.084 ± 0.003 m³"
    assert format_quantity(Quantity(8.4e7, 1.4e6), "in", "volume") == "2.97 ± 0.10 cu ft"
    assert format_area(1.33e6, "in") == "14.3 sq ft"
    assert format_board_feet(24.63) == "24.6 BF"
    assert format_length(63.5, "mm") == "63.5 mm" and format_length(60.0, "mm") == "60 mm"
    assert format_size(1828.8, 812.8, "in") == "72 x 32 in"
    assert format_size(1828.8, 812.8, "mm") == "1829 x 813 mm"


def test_inches_carry_into_feet():
    assert format_length(12 * 25.4 * 5 - 0.1, "in") == "5 ft"
    assert format_length(47.99 * 25.4, "in") == "4 ft"
    assert format_length(47 * 25.4, "in") == "47 in"


def test_halves_go_away_from_zero():
    assert format_length(Fraction(1, 16) * 25.4, "in", denominator=8) == "1/8 in"
    assert format_length(-Fraction(1, 16) * 25.4, "in", denominator=8) == "-1/8 in"
    assert format_length(2.05, "mm") == "2.1 mm"


def test_an_unknown_system_or_kind_is_refused():
    with pytest.raises(UnitsError):
        format_length(1.0, "cubits")
    with pytest.raises(UnitsError):
        format_quantity(Quantity(1.0, 0.1), "mm", "weight")
    for value, u in ((math.nan, 1.0), (1.0, math.inf), (1.0, -1.0)):
        with pytest.raises(ValueError):
            format_quantity(Quantity(value, u), "mm")


@UNHURRIED
@given(st.floats(min_value=1, max_value=20_000), st.floats(min_value=0.05, max_value=200))
def test_the_written_interval_is_honest(value, u):
    """Rounded value within its interval's last place; interval never under 90 % nor over about double the true one."""
    shown = format_quantity(Quantity(value, u), "mm")
    value_mm, interval_mm = map(float, re.fullmatch(r"([\d.]+) ± ([\d.]+) mm", shown).groups())
    assert interval_mm >= 0.9 * 2 * u
    assert interval_mm <= max(1.0, 2 * 2 * u)
    assert abs(value_mm - value) <= interval_mm / 2 + 1e-6


@UNHURRIED
@given(st.floats(min_value=1, max_value=20_000), st.floats(min_value=0.05, max_value=200))
def test_the_written_interval_in_inches_is_honest(value, u):
    shown, interval = format_quantity(Quantity(value, u), "in").split(" ± ")
    interval_mm = parse_length(interval)
    assert interval_mm >= 0.9 * 2 * u
    assert interval_mm <= max(25.4 / 16, 2 * 2 * u) + 1e-9
    assert abs(parse_length(shown, allow_zero=True) - value) <= interval_mm / 2 + 1e-6
