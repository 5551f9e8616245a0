"""Weight, cautions, finishing, weighing."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grainlog.drying import DryingError, Species, find_species, scale_factors
from grainlog.drying.finish import Allowances, Warp, finish
from grainlog.drying.reading import Reading
from grainlog.drying.weighing import Weighing, oven_dry_from, readings_by_weight
from grainlog.drying.weight import (
    caution,
    density,
    gravity,
    green_moisture,
    mass_at,
    oven_dry_mass,
    with_bark,
)
from grainlog.units import Quantity
from grainlog.units.factors import MM3_PER_BOARD_FOOT

OAK = find_species("white oak")
VOLUME = Quantity(1e8, 1e6)
DAY = date(2026, 5, 1)


@given(st.floats(0, 2.4), st.floats(0, 2.4))
def test_wetter_is_heavier_and_nothing_weighs_less_than_nothing(a, b):
    low, high = sorted((a, b))
    dry = oven_dry_mass(VOLUME, Quantity(0.8, 0.1), OAK)
    assert 0 < mass_at(dry, Quantity(low, 0.0)).value <= mass_at(dry, Quantity(high, 0.0)).value


@given(st.floats(0, 0.5), st.floats(0, 0.5))
def test_drying_does_not_change_the_oven_dry_mass(then, later):
    """The volume shrinks and the gravity rises by the same: the wood itself stays."""
    total = OAK.volumetric
    def share(m):
        return 1 - total * max(0.30 - m, 0) / 0.30

    volume_later = Quantity(VOLUME.value * share(later) / share(then), 0.0)
    before, after = oven_dry_mass(VOLUME, Quantity(then, 0.0), OAK), oven_dry_mass(volume_later, Quantity(later, 0.0), OAK)
    assert before.value == pytest.approx(after.value, rel=1e-9)


def test_gravity_rises_as_wood_shrinks_to_about_the_tables_value_at_12():
    assert gravity(OAK, 0.8) == OAK.gravity_green
    assert gravity(OAK, 0.12) == pytest.approx(OAK.gravity_12, rel=0.05)


def test_green_moisture_reaches_over_heartwood_and_sapwood():
    green = green_moisture(find_species("western redcedar"))
    assert green.u > 0.7, "sapwood 249 %, heartwood 58 %"
    assert green_moisture(Species("driftwood")) is None


def test_no_gravity_no_weight():
    with pytest.raises(DryingError, match="weigh the slab"):
        density(Species("driftwood"), 0.2)


@pytest.mark.parametrize(("kg", "u", "level"), [(15, 2, 0), (22, 1, 1), (40, 3, 1), (40, 4, 2), (80, 5, 2)])
def test_caution_goes_by_what_it_may_weigh(kg, u, level):
    said = caution(Quantity(kg, u))
    assert said.level == level and "NIOSH" in said.message and "Local rules" in said.message
    assert "safe" not in said.message


def test_bark_is_lifted_too():
    bare = Quantity(50.0, 4.0)
    both = with_bark(bare, 1e6, 1e5)
    assert both.value == pytest.approx(55) and both.u == pytest.approx((4.4**2 + 1.5**2) ** 0.5)
    with pytest.raises(DryingError):
        with_bark(bare, 0, 1)


def test_weighings_follow_moisture():
    readings = [Reading(DAY, 0.20, "oven-dry")]
    weighings = [Weighing(DAY, 60.0), Weighing(DAY + timedelta(100), 55.0), Weighing(DAY + timedelta(101), 40.0)]
    dry = oven_dry_from(weighings, readings)
    assert dry.value == pytest.approx(50)
    found = readings_by_weight(weighings, dry)
    assert [one.moisture for one in found] == pytest.approx([0.20, 0.10]), "lighter than oven-dry is left out"
    assert found[1].u > 0.01
    assert oven_dry_from(weighings, [Reading(DAY, 0.6, "pin")]) is None, "a meter above fibre saturation is no anchor"
    assert oven_dry_from(weighings, [Reading(DAY - timedelta(30), 0.2, "pin")]) is None
    for wrong in (0, -1, float("nan"), 1e9):
        with pytest.raises(DryingError):
            Weighing(DAY, wrong)


def test_finishing_is_thickness_less_shrinkage_less_warp_less_skim():
    factors = scale_factors(OAK, Quantity(0.8, 0.1), 0.08)
    done = finish(
        Quantity(2500.0, 2.0), Quantity(500.0, 2.0), Quantity(60.0, 1.0), factors, Warp(3.0, 2.0, 1.0), Allowances(50, 5, 1.5, 9)
    )
    assert done.thickness_mm.value == pytest.approx(60 * factors.thickness.value - 6 - 3)
    assert done.length_mm.value == pytest.approx(2500 * factors.along.value - 100)
    assert done.width_mm.value == pytest.approx(500 * factors.across.value - 10)
    volume = done.length_mm.value * done.width_mm.value * done.thickness_mm.value
    assert done.board_feet.value == pytest.approx(volume / MM3_PER_BOARD_FOOT)
    assert done.assumed == ()


def test_warp_nobody_read_is_allowed_for_and_said():
    factors = scale_factors(OAK, Quantity(0.8, 0.1), 0.08)
    sizes = Quantity(2500.0, 2.0), Quantity(500.0, 2.0), Quantity(60.0, 1.0)
    unread = finish(*sizes, factors, Warp(), Allowances())
    read = finish(*sizes, factors, Warp(0.0, 0.0, 0.0), Allowances())
    assert "were not read" in unread.assumed[0]
    assert read.thickness_mm.value - unread.thickness_mm.value == pytest.approx(6.0)
    assert unread.thickness_mm.u > read.thickness_mm.u
    assert "bow and twist not read" in finish(*sizes, factors, Warp(cup_mm=3.0), Allowances()).assumed[0]
    gone = finish(*sizes[:2], Quantity(8.0, 1.0), factors, Warp(6.0, 1.0, 1.0), Allowances())
    assert gone.thickness_mm is None and gone.board_feet is None


@pytest.mark.parametrize("value", [-1, float("nan"), 5000])
def test_allowances_that_cannot_be(value):
    with pytest.raises(DryingError):
        Allowances().changed(skim_each_face_mm=value)
