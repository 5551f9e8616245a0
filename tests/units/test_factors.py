"""The factors follow from the inch alone."""

import pytest

from grainlog.units import board_feet, cubic_metres, factors, square_feet, square_metres


def test_every_factor_is_the_inch_raised_to_its_power():
    inch = factors.MM_PER_INCH
    assert factors.MM_PER_FOOT == pytest.approx(12 * inch, rel=1e-15)
    assert factors.MM2_PER_SQUARE_INCH == pytest.approx(inch**2, rel=1e-15)
    assert factors.MM2_PER_SQUARE_FOOT == pytest.approx(144 * inch**2, rel=1e-15)
    assert factors.MM3_PER_CUBIC_INCH == pytest.approx(inch**3, rel=1e-15)
    assert factors.MM3_PER_CUBIC_FOOT == pytest.approx(1728 * inch**3, rel=1e-15)
    assert factors.MM3_PER_BOARD_FOOT == pytest.approx(144 * inch**3, rel=1e-15)


def test_a_cubic_foot_is_twelve_board_feet():
    assert board_feet(factors.MM3_PER_CUBIC_FOOT) == pytest.approx(12, rel=1e-15)
    assert cubic_metres(1e9) == 1.0
    assert square_feet(304.8**2) == pytest.approx(1.0, rel=1e-15)
    assert square_metres(2e6) == 2.0
