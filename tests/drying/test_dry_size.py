"""Scale factors from one moisture to another: what shrinkage must and must not do."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from grainlog.drying import (
    DryingError,
    Species,
    dry_outline,
    find_species,
    scale_factors,
)
from grainlog.drying.dry_size import of_volume, shrinkage
from grainlog.drying.emc import emc
from grainlog.drying.grain import from_pith, from_rings, pith_distance, tangential_share
from grainlog.drying.moisture import FIBRE_SATURATION
from grainlog.units import Quantity

WALNUT = find_species("black walnut")
GREEN = Quantity(0.85, 0.1)
moistures = st.floats(0, 2.4)
below = st.floats(0.001, FIBRE_SATURATION)


@given(st.floats(0, 0.25), st.floats(FIBRE_SATURATION, 2.5))
def test_nothing_shrinks_above_fibre_saturation(total, moisture):
    assert shrinkage(total, moisture) == 0


@given(st.floats(0, 0.25), below, below)
def test_drier_is_smaller(total, a, b):
    low, high = sorted((a, b))
    assert shrinkage(total, low) >= shrinkage(total, high) >= 0


@given(moistures, below)
def test_dry_is_never_larger_than_green(then, target):
    factors = scale_factors(WALNUT, Quantity(then, 0.01), target)
    if target <= then:
        assert max(factors.across.value, factors.thickness.value, factors.along.value, factors.volume.value) <= 1 + 1e-12


@given(below, below, below)
def test_by_way_of_a_third_moisture_is_the_same(a, b, c):
    """No shrinkage counts twice: green to b to c is green to c."""
    def across(then, target):
        return scale_factors(WALNUT, Quantity(then, 0.0), target).across.value

    assert across(a, b) * across(b, c) == pytest.approx(across(a, c), rel=1e-12)


def test_a_survey_of_dry_wood_does_not_shrink_again():
    factors = scale_factors(WALNUT, Quantity(0.08, 0.0), 0.08)
    assert factors.across.value == factors.thickness.value == factors.volume.value == 1
    assert factors.across.u == pytest.approx(0, abs=1e-12)


def test_published_way_by_hand():
    """Tangential 7.8 %, green to 8 %: 7.8 x 22/30 = 5.72 % of the green width."""
    factors = scale_factors(WALNUT, GREEN, 0.08)
    assert factors.across.value == pytest.approx(1 - 0.078 * 22 / 30)
    assert factors.across.budget["spread between trees"] == pytest.approx(0.15 * 0.078 * 22 / 30)
    assert factors.volume.value == pytest.approx((1 - 0.078 * 22 / 30) * (1 - 0.055 * 22 / 30) * (1 - 0.0015 * 22 / 30))


def test_uncertainty_is_what_the_budget_says_and_matches_simulation():
    random = np.random.default_rng(5)
    factors = scale_factors(WALNUT, Quantity(0.2, 0.02), 0.08, from_rings("flat"))
    assert factors.across.u == pytest.approx(np.sqrt(sum(u**2 for u in factors.across.budget.values())))
    tree, saturation = 1 + 0.15 * random.normal(size=20000), 0.30 + 0.02 * random.normal(size=20000)
    then, share = 0.2 + 0.02 * random.normal(size=20000), 0.95 + 0.12 * random.normal(size=20000)
    total = tree * (0.055 + 0.023 * share)
    drawn = [(1 - shrinkage(t, 0.08, f)) / (1 - shrinkage(t, m, f)) for t, m, f in zip(total, then, saturation, strict=True)]
    assert factors.across.u == pytest.approx(np.std(drawn), rel=0.06)
    assert factors.across.value == pytest.approx(np.mean(drawn), abs=0.001)


def test_rings_say_which_direction_shrinks_more():
    flat, quarter, unknown = (scale_factors(WALNUT, GREEN, 0.08, rings) for rings in (from_rings("flat"), from_rings("quarter"), None))
    assert flat.across.value < quarter.across.value and flat.thickness.value > quarter.thickness.value
    assert unknown.across.value < flat.across.value and unknown.thickness.value < quarter.thickness.value
    assert unknown.across.u > flat.across.u and not unknown.rings.known
    assert unknown.volume.value == pytest.approx(flat.volume.value), "the volume does not care how the rings stand"


@given(st.floats(0.01, 2000), st.floats(50, 1500))
def test_tangential_share_is_the_mean_over_the_width(distance, width):
    y = (np.arange(4000) + 0.5) / 4000 * width - width / 2
    mean = np.mean(distance**2 / (distance**2 + y**2))
    share = tangential_share(distance, width)
    assert 0 <= share <= 1
    assert share == pytest.approx(mean, abs=2e-3 + width / 4000 / distance * 0.3 if distance < width / 4000 * 20 else 2e-3)


def test_through_the_pith_is_quarter_sawn_and_far_from_it_flat():
    assert from_pith(0, 600).across == 0
    assert from_pith(5000, 600).across == pytest.approx(1, abs=0.002)
    assert pith_distance(4, 4, [60]) == 0
    assert pith_distance(2, 4, [50, 60, 70], kerf_mm=10) == 25 + 10 + 60 + 10 + 35
    for wrong in ((-1, 600), (10, 0), (float("nan"), 600)):
        with pytest.raises(DryingError):
            from_pith(*wrong)
    with pytest.raises(DryingError):
        pith_distance(2, 4, [50, 60])
    with pytest.raises(DryingError):
        from_rings("upright")


def test_outline_scales_along_and_across_and_keeps_its_shape():
    outline = np.array([[0, -300], [2700, -280], [2700, 290], [0, 310.0]])
    dry = dry_outline(outline, WALNUT, GREEN, 0.08, from_rings("flat"))
    assert dry.points_mm[:, 0] == pytest.approx(outline[:, 0] * dry.factors.along.value)
    assert dry.points_mm[:, 1] == pytest.approx(outline[:, 1] * dry.factors.across.value)
    assert dry.u_mm[1, 1] == pytest.approx(280 * dry.factors.across.u)
    for wrong in ([1, 2], [[1, 2, 3]], [[float("nan"), 1]]):
        with pytest.raises(DryingError):
            dry_outline(np.array(wrong, float), WALNUT, GREEN, 0.08)


def test_measured_uncertainty_and_that_of_shrinkage_go_together():
    factors = scale_factors(WALNUT, GREEN, 0.08)
    dry = factors.of_length(Quantity(600.0, 3.0, {"outline": 3.0}), "across")
    assert dry.u == pytest.approx(np.hypot(3 * factors.across.value, 600 * factors.across.u))
    assert dry.u == pytest.approx(np.sqrt(sum(u**2 for u in dry.budget.values())))
    assert of_volume(Quantity(40.0, 0.0), factors).u == pytest.approx(40 * factors.volume.u)


def test_a_wood_without_shrinkage_is_not_known():
    with pytest.raises(DryingError, match="not known here"):
        scale_factors(Species("driftwood"), GREEN, 0.08)
    with pytest.raises(DryingError):
        shrinkage(-0.1, 0.1)


@given(st.floats(0, 80), st.floats(0.05, 0.94), st.floats(0.001, 0.01))
def test_more_humid_is_wetter(temperature, humidity, more):
    assert emc(temperature, humidity + more) > emc(temperature, humidity) > 0


@given(st.floats(10, 80), st.floats(0.05, 0.95))
def test_warmer_is_drier(temperature, humidity):
    assert emc(temperature + 5, humidity) < emc(temperature, humidity) + 1e-4


@pytest.mark.parametrize(("temperature", "humidity"), [(-10, 0.5), (120, 0.5), (20, 0.97), (20, 0.02), (20, float("nan"))])
def test_emc_is_refused_outside_its_range(temperature, humidity):
    with pytest.raises(DryingError, match="outside the handbook's table"):
        emc(temperature, humidity)
