"""The widest rectangle: on the wood always, bounded by the envelope always, the same however the wood is turned."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from grainlog.fit.curve import bound_at, curve_of, digits_for, entry_for
from grainlog.fit.envelope import envelope, fan
from grainlog.fit.errors import OutlineRefused
from grainlog.fit.rectangle import clear_strips, widest_strip
from grainlog.fit.region import Region, region_of
from tests.fit.made import slab_outline

SQUARE = np.array([[0.0, 0], [1000, 0], [1000, 1000], [0, 1000]])


def test_the_fan_leaves_no_angle_out():
    angles, half = fan()
    turned = np.concatenate([angles, angles + np.pi])
    reach = np.concatenate([half, half])
    for angle in np.linspace(-np.pi / 2, np.pi / 2, 5000):
        assert (np.abs(np.concatenate([turned, turned - 2 * np.pi]) - angle) <= np.tile(reach, 2) + 1e-9).any()


def test_clear_strips_of_a_square_with_a_hole():
    region = region_of(SQUARE, [np.array([[400.0, 300], [600, 300], [600, 500], [400, 500]])])
    assert clear_strips(region.edges, 0.0, 100, 800) == pytest.approx(np.array([[0, 300], [500, 1000]]))
    assert clear_strips(region.edges, 0.0, 0, 350) == pytest.approx(np.array([[0, 1000]]))
    assert len(clear_strips(region.edges, 0.0, 900, 200)) == 0


@settings(max_examples=25)
@given(seed=st.integers(0, 10_000), share=st.floats(0.3, 0.9), turn=st.floats(-3, 3))
def test_found_rectangles_lie_on_the_wood_and_below_every_bound(seed, share, turn):
    wood = slab_outline(seed)
    turned = shapely.get_coordinates(affinity.rotate(shapely.Polygon(wood), turn, use_radians=True))[:-1]
    length = share * float(np.ptp(wood[:, 0]))
    region = region_of(turned)
    strip = widest_strip(region, length)
    assert strip is not None and region.holds(strip.polygon)
    assert strip.polygon.area == pytest.approx(length * strip.width)
    assert strip.width <= envelope(region).bound(length) + 1e-6
    assert strip.width <= bound_at(curve_of(turned).straight, length) + 1e-6


@settings(max_examples=12)
@given(seed=st.integers(0, 10_000), turn=st.floats(0.05, 3))
def test_turning_the_wood_changes_nothing_that_matters(seed, turn):
    wood = shapely.Polygon(slab_outline(seed))
    length = 0.55 * wood.bounds[2]
    first = widest_strip(Region(wood), length)
    other = widest_strip(Region(affinity.rotate(wood, turn, use_radians=True)), length)
    assert other.width == pytest.approx(first.width, rel=0.005)


@settings(max_examples=10)
@given(seed=st.integers(0, 10_000))
def test_no_rectangle_of_a_dense_search_is_wider(seed):
    """Against brute force: every degree, every 2 % of the length."""
    region = region_of(slab_outline(seed, corners=40))
    length = 0.5 * region.whole.bounds[2]
    strip = widest_strip(region, length)
    for angle in np.radians(np.arange(0, 180, 1.0)):
        u = region.edges[:, 0] * np.cos(angle) + region.edges[:, 1] * np.sin(angle)
        for start in np.arange(u.min(), u.max() - length, 0.02 * length):
            gaps = clear_strips(region.edges, angle, start, length)
            assert not len(gaps) or (gaps[:, 1] - gaps[:, 0]).max() <= strip.width * 1.005


def test_a_void_is_gone_round():
    hole = np.array([[400.0, 400], [600, 400], [600, 600], [400, 600]])
    region = region_of(SQUARE, [hole])
    strip = widest_strip(region, 1000.0)
    assert strip.width == pytest.approx(400, rel=0.005)
    assert not strip.polygon.intersection(shapely.Polygon(hole)).area > 1e-6


def test_longer_than_the_wood_is_none():
    assert widest_strip(region_of(SQUARE), 1500.0) is None


def test_curves_fall_and_end():
    curve = curve_of(slab_outline(5))
    widths = [bound_at(curve.straight, length) for length in range(0, 6000, 10)]
    assert widths == sorted(widths, reverse=True) and widths[0] > 0 and widths[-1] == 0
    assert digits_for(12.34) == "007B" and digits_for(1e9) == "FFFF" and entry_for(49.9) == 1


@pytest.mark.parametrize(
    "wood",
    [
        np.empty((0, 2)),
        [[0, 0], [1, 1]],
        [[0, 0], [100, 0], [0, 0]],
        [[0, 0], [100, 100], [100, 0], [0, 100]],
        [[0, 0], [np.nan, 0], [1, 1]],
    ],
)
def test_what_is_no_outline_is_refused(wood):
    with pytest.raises(OutlineRefused):
        region_of(np.array(wood, float))


def test_nothing_left_is_refused():
    with pytest.raises(OutlineRefused, match="Nothing of the slab is left"):
        region_of(SQUARE, keep_out=shapely.box(-1, -1, 2000, 2000))
