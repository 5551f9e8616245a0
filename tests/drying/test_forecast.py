"""Readings, what they say against physics, and where they lead."""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from grainlog.drying import DryingError, find_species
from grainlog.drying.air_drying import published, year_an_inch
from grainlog.drying.forecast import comparable, fit_curve
from grainlog.drying.photo_check import check_shrinkage, width_scale
from grainlog.drying.reading import Reading, at_least, reading_u, warnings, wettest
from grainlog.units import Quantity

START = date(2026, 5, 1)
AIR = Quantity(0.12, 0.012)
STILL = Quantity(0.12, 0.01)


def dried(days, start=0.28, air=0.12, tau=150.0, noise=0.0, seed=0, **facts):
    """Readings of a slab whose truth is known."""
    random = np.random.default_rng(seed)
    return [
        Reading(START + timedelta(day), max(air + (start - air) * np.exp(-day / tau) + noise * random.normal(), 0.01),
                facts.get("method", "pin"), depth_mm=25.0, corrected=True)
        for day in days
    ]  # fmt: skip


def test_a_curve_finds_the_truth_it_was_made_from():
    curve = fit_curve(dried(range(0, 420, 30)), AIR)
    assert curve.tau_days.value == pytest.approx(150, rel=0.05)
    assert curve.at(START + timedelta(200)).value == pytest.approx(0.12 + 0.16 * np.exp(-200 / 150), abs=0.004)
    truth = START + timedelta(150 * np.log(0.16 / 0.02))
    found = fit_curve(dried(range(0, 300, 30)), AIR).reaches(0.14)
    assert found.early < truth and (found.late is None or truth < found.late)
    assert abs((found.day - truth).days) < 30


def test_intervals_hold_the_truth_about_as_often_as_they_say():
    """Air, start, pace and noise drawn anew each time: 95 % intervals of the day 16 % is reached."""
    random = np.random.default_rng(7)
    inside, count = 0, 60
    for i in range(count):
        air, tau = 0.12 + 0.012 * random.normal(), 150 * np.exp(0.4 * random.normal())
        days = range(0, 200, 40)
        curve = fit_curve(dried(days, 0.27, air, tau, 0.012, seed=i), AIR)
        found = curve.reaches(0.16)
        pace = np.exp(0.3 * random.normal())
        truth = tau * np.log((0.27 - air) / (0.16 - air))
        if truth > 160:
            truth = 160 + (truth - 160) / pace
        early = (found.early - START).days if found.early else np.inf
        late = (found.late - START).days if found.late else np.inf
        inside += early <= truth <= late
    assert 0.85 <= inside / count <= 1.0


def test_the_interval_widens_the_further_the_target():
    curve = fit_curve(dried(range(0, 200, 40), noise=0.005), AIR)
    spans = []
    for target in (0.20, 0.17, 0.15, 0.14):
        found = curve.reaches(target)
        spans.append((found.late or date.max) - found.early)
    assert spans == sorted(spans) and spans[0] < spans[-1]
    assert curve.reaches(0.05).day is None and curve.reaches(0.05).never > 0.99
    assert "Not down to 5 %" in curve.reaches(0.05).sentence
    low, middle, high = curve.band([START + timedelta(days) for days in (160, 250, 400)])
    assert (low < middle).all() and (middle < high).all()
    width = high - low
    assert width[1] > width[0]


def test_one_wild_reading_does_not_pull_the_curve():
    calm = dried(range(0, 300, 30))
    wild = [*calm, Reading(START + timedelta(200), 0.28, "pin", depth_mm=25.0, corrected=True)]
    day = START + timedelta(300)
    assert abs(fit_curve(wild, AIR).at(day).value - fit_curve(calm, AIR).at(day).value) < 0.01


def test_fewer_than_three_days_are_no_curve():
    two = dried([0, 50])
    assert fit_curve(two, AIR) is None
    assert fit_curve([*two, *two, *two], AIR) is None
    assert fit_curve(dried([0, 50, 100]), AIR) is not None


def test_core_readings_come_first_and_kinds_are_not_mixed():
    core = [Reading(START + timedelta(day), 0.3 - day / 1000, "pin", depth_mm=30.0) for day in (0, 50, 100)]
    shell = [Reading(START + timedelta(day), 0.2 - day / 1000, "pin", depth_mm=5.0) for day in (0, 20, 50, 100)]
    assert comparable([*core, *shell], thickness_mm=60.0) == core
    assert comparable([*core[:2], *shell], thickness_mm=60.0) == shell
    assert comparable([core[0], *shell[:2]], thickness_mm=60.0) is None


def test_already_dry_and_targets_that_cannot_be():
    curve = fit_curve(dried(range(0, 600, 60)), AIR)
    assert curve.reaches(0.45).day == START
    assert curve.reaches(0.45).sentence == "Down to 45 % by 2026-05-01."
    for wrong in (0, -0.1, 1.2):
        with pytest.raises(DryingError):
            curve.reaches(wrong)


def test_a_reading_is_as_sure_as_its_way():
    pin, uncorrected, wet = (
        Reading(START, 0.15, "pin", corrected=True), Reading(START, 0.15, "pin"), Reading(START, 0.6, "pin", corrected=True)
    )  # fmt: skip
    oven = Reading(START, 0.6, "oven-dry")
    assert reading_u(oven) < reading_u(pin) < reading_u(uncorrected) < reading_u(wet)
    assert reading_u(wet) >= 0.15, "above fibre saturation a meter only says wet"


def test_a_meter_beyond_its_range_still_says_wet():
    assert at_least(Reading(START, 0.6, corrected=True)) > 0.25
    assert at_least(Reading(START, 0.15, corrected=True)) == pytest.approx(0.15 - 2 * 0.012)
    assert at_least(Reading(START, 0.6, "oven-dry")) == pytest.approx(0.59)
    assert at_least(Reading(START, 0.01)) == 0


def test_what_a_core_is():
    assert Reading(START, 0.1, "oven-dry").of_core(None)
    assert Reading(START, 0.1, "pin", depth_mm=25.0).of_core(60.0)
    assert not Reading(START, 0.1, "pin", depth_mm=10.0).of_core(60.0)
    assert Reading(START, 0.1, "pin", depth_mm=25.4).of_core(63.5), "an inch in a 2 1/2 in slab"
    assert not Reading(START, 0.1, "pin", depth_mm=25.0).of_core(None)
    assert Reading(START, 0.1, "pin", core=True).of_core(None)


@pytest.mark.parametrize("wrong", [{"moisture": -0.1}, {"moisture": 3.0}, {"method": "guess"}, {"depth_mm": -1.0},
                                   {"depth_mm": float("nan")}])  # fmt: skip
def test_readings_that_cannot_be(wrong):
    with pytest.raises(DryingError):
        Reading(**{"day": START, "moisture": 0.1} | wrong)


def test_readings_against_physics():
    elm = find_species("American elm")
    later = START + timedelta(60)

    def codes(*readings, air=STILL, species=elm):
        return {note.code for note in warnings(readings, air, species)}

    assert codes(Reading(START, 0.2), Reading(later, 0.18)) == set()
    assert codes(Reading(START, 0.05, corrected=True)) == {"below-emc"}
    assert codes(Reading(START, 0.05, corrected=True), air=None) == set()
    assert "rising" in codes(Reading(START, 0.14), Reading(later, 0.24))
    assert "rising" not in codes(Reading(START, 0.14, depth_mm=5.0), Reading(later, 0.24, depth_mm=25.0)), "another depth"
    assert "above-full" in codes(Reading(START, 1.9, "oven-dry")) and wettest(elm) < 1.9
    assert "above-green" in codes(Reading(START, 1.5, "oven-dry"))
    assert codes(Reading(START, 0.5)) == {"beyond-meter"}
    for note in warnings([Reading(START, 0.05, corrected=True), Reading(START, 1.9)], Quantity(0.12, 0.01), elm):
        assert note.message.endswith(".") and "%" in note.message


def test_rules_of_thumb_say_what_they_are():
    oak, elm = published(find_species("northern red oak"), 25.4), published(find_species("elm"), 25.4)
    assert (oak.least_days, oak.most_days) == (70, 200) and "from memory" in oak.standing
    assert (elm.least_days, elm.most_days) == (50, 150), "one of the elms is in the list"
    thick = published(find_species("northern red oak"), 50.8)
    assert thick.least_days == pytest.approx(70 * 2**1.5) and thick.most_days == pytest.approx(200 * 4)
    assert "any species" in published(None, 25.4).standing
    year = year_an_inch(63.5)
    assert year.least_days == year.most_days == pytest.approx(912.5) and "no source" in year.standing
    with pytest.raises(DryingError):
        year_an_inch(0)


@given(st.floats(0.9, 1.0), st.floats(0.001, 0.02), st.floats(0.9, 1.0), st.floats(0.001, 0.02))
def test_photo_check_agrees_exactly_where_two_sigmas_overlap(measured, u1, predicted, u2):
    check = check_shrinkage(Quantity(measured, u1), Quantity(predicted, u2))
    assert check.agree == (abs(measured - predicted) <= 2 * (u1**2 + u2**2) ** 0.5)
    assert check_shrinkage(Quantity(predicted, u1), Quantity(predicted, u2)).apart == 0


def test_photo_check_says_what_it_can_tell():
    scale = width_scale(Quantity(600.0, 1.0), Quantity(570.0, 1.0))
    assert scale.value == pytest.approx(0.95) and scale.u == pytest.approx(0.95 * np.hypot(1 / 600, 1 / 570))
    assert "they agree." in check_shrinkage(scale, Quantity(0.948, 0.008)).message
    apart = check_shrinkage(scale, Quantity(0.99, 0.003))
    assert not apart.agree and "species setting" in apart.message
    assert "says little yet" in check_shrinkage(Quantity(0.99, 0.02), Quantity(0.99, 0.01)).message
    with pytest.raises(DryingError):
        width_scale(Quantity(0.0, 1.0), Quantity(1.0, 1.0))
