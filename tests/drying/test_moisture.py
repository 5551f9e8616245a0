"""Moisture as people write it, and the oven-dry arithmetic."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grainlog.drying import DryingError, format_moisture, parse_moisture
from grainlog.drying.moisture import oven_dry_moisture
from grainlog.units import Quantity


@pytest.mark.parametrize(
    ("text", "value"), [("12", 0.12), ("12%", 0.12), ("12,5 %", 0.125), (" 8.5 percent", 0.085), ("0.5%", 0.005), ("0", 0)]
)
def test_what_people_write(text, value):
    assert parse_moisture(text) == pytest.approx(value)


@pytest.mark.parametrize(
    ("text", "said"),
    [("0.12", "write 12% if that was meant"), ("-3", "negative"), ("260", "wetter than any wood"), ("dry", "not a moisture"),
     ("", "not a moisture"), ("nan", "not a moisture"), ("12 14", "not a moisture")],
)  # fmt: skip
def test_what_cannot_be_meant_is_explained(text, said):
    with pytest.raises(DryingError, match=said):
        parse_moisture(text)


@given(st.floats(0.01, 2.5))
def test_round_trip(moisture):
    assert parse_moisture(f"{100 * moisture!r}%") == pytest.approx(moisture, rel=1e-12)
    assert parse_moisture(f"{100 * moisture:.6f}".replace(".", ",") + "%") == pytest.approx(moisture, abs=1e-8)


@given(st.floats(0.01, 1000), st.floats(0, 2.4))
def test_oven_dry_gives_back_what_went_in(dry, moisture):
    assert oven_dry_moisture(dry * (1 + moisture), dry) == pytest.approx(moisture, abs=1e-9)


@pytest.mark.parametrize(("wet", "dry"), [(10, 11), (0, 1), (1, 0), (-1, -2), (float("nan"), 1), (100, 10)])
def test_samples_that_cannot_be(wet, dry):
    with pytest.raises(DryingError):
        oven_dry_moisture(wet, dry)


def test_written_with_two_standard_uncertainties_rounded_up():
    assert format_moisture(Quantity(0.123, 0.011)) == "12 ± 3 %"
    assert format_moisture(0.123, 1) == "12.3 %"
