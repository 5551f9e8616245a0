"""Weights and temperatures."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grainlog.units import Quantity, UnitsError
from grainlog.units.mass import (
    format_mass,
    format_temperature,
    parse_mass,
    parse_temperature,
)


@pytest.mark.parametrize(
    ("text", "kg"),
    [("1lb", 0.45359237), ("82 lb", 37.19457434), ("37,5 kg", 37.5), ("412g", 0.412), ("16 oz", 0.45359237), ("2 LBS", 0.90718474)],
)
def test_weights(text, kg):
    assert parse_mass(text) == pytest.approx(kg, rel=1e-12)


@pytest.mark.parametrize("text", ["82", "0kg", "-3kg", "heavy", "", "1 stone", "99999999kg"])
def test_weights_that_cannot_be(text):
    with pytest.raises(UnitsError):
        parse_mass(text)


@pytest.mark.parametrize(("text", "c"), [("21C", 21), ("-3 °C", -3), ("70F", 21 + 1 / 9), ("32 f", 0), ("−5C", -5), ("+4,5c", 4.5)])
def test_temperatures(text, c):
    assert parse_temperature(text) == pytest.approx(c)


@pytest.mark.parametrize("text", ["21", "warm", "", "21K", "1 2C"])
def test_temperatures_that_cannot_be(text):
    with pytest.raises(UnitsError):
        parse_temperature(text)


@given(st.floats(0.01, 5000))
def test_round_trip(kg):
    assert parse_mass(f"{kg!r}kg") == pytest.approx(kg)
    assert parse_mass(f"{kg / 0.45359237:.9f}lb") == pytest.approx(kg, rel=1e-6)


def test_written():
    assert format_mass(Quantity(92.2, 15.5), "mm") == "92 ± 31 kg"
    assert format_mass(Quantity(92.2, 15.5), "in") == "203 ± 69 lb"
    assert format_mass(Quantity(37.5, 0.0), "mm") == "37.5 kg"
    assert format_mass(Quantity(3.21, 0.05), "mm") == "3.2 ± 0.1 kg"
    assert format_temperature(20.0, "in") == "68 F" and format_temperature(20.0, "mm") == "20 C"
