"""What an outline held before it shrank, against shapely: the parallelogram itself."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import affinity

from grainlog.fit.curve import bound_at, curve_of
from grainlog.fit.drying_outline import Change, most_to_spare
from grainlog.fit.laying import Sureness, lay
from grainlog.fit.live_edge import widest_stretch
from grainlog.fit.piece import straight
from grainlog.fit.region import region_of
from tests.fit.made import slab_outline

FACTORS = st.floats(0.85, 1.05)
SIZES = st.floats(50, 3000)
TURN = st.floats(-math.pi / 2, math.pi / 2)


@given(SIZES, SIZES, FACTORS, FACTORS, TURN)
def test_the_rectangle_said_to_have_been_there_lies_in_the_parallelogram(one, other, along, across, turn):
    length, width = max(one, other), min(one, other)
    dry = affinity.rotate(shapely.box(0, 0, length, width), turn, origin=(0, 0), use_radians=True)
    green = affinity.scale(dry, 1 / along, 1 / across, origin=(0, 0))
    long, wide = Change((along, along), (across, across)).least_before(length, width)
    # Along the long side of what the rectangle was: turned to lie level, it is a parallelogram on its long side.
    corners = shapely.get_coordinates(green)
    side = corners[3] - corners[0]
    side = side if np.hypot(*side) > np.hypot(*(corners[1] - corners[0])) else corners[1] - corners[0]
    level = affinity.rotate(green, -math.atan2(side[1], side[0]), origin=(0, 0), use_radians=True)
    level = affinity.translate(level, -level.centroid.x, -level.centroid.y)
    # A rectangle much like a square may have changed which of its sides is the longer.
    held = [
        level.buffer(1e-6 * length).covers(shapely.box(-a / 2, -b / 2, a / 2, b / 2))
        for a, b in ((long, wide), (wide, long))
    ]
    assert any(held)


@given(
    SIZES,
    SIZES,
    st.tuples(FACTORS, FACTORS),
    st.tuples(FACTORS, FACTORS),
    st.floats(0, 1),
    st.floats(0, 1),
)
def test_a_span_of_factors_asks_for_no_more_than_any_of_them(one, other, alongs, acrosses, at, also):
    length, width = max(one, other), min(one, other)
    along, across = sorted(alongs), sorted(acrosses)
    span = Change(tuple(along), tuple(across)).before(length, width)
    a, c = (
        along[0] + at * (along[1] - along[0]),
        across[0] + also * (across[1] - across[0]),
    )
    exact = Change((a, a), (c, c)).before(length, width)
    assert (span[0] <= exact[0] + 1e-6).all() and (span[1] <= exact[1] + 1e-6).all()


@pytest.mark.parametrize("seed", range(4))
def test_nothing_that_fits_the_dry_outline_is_ruled_out(seed):
    ring, scale = slab_outline(seed), np.array([0.999, 0.93])
    curve, dry = curve_of(ring), ring * scale
    region = region_of(dry)
    sure = Sureness(np.zeros(1), np.zeros(1), 0.0)
    change = Change((scale[0], scale[0]), (scale[1], scale[1]))
    for length in (500.0, 1200.0, 1700.0):
        laid = lay(region, straight(length, 200.0), sure)
        widest = 200.0 + laid.spare.value
        spare = most_to_spare(curve.straight, length, widest, change, tuple(np.ptp(dry, axis=0)))
        assert spare >= -1e-6
        # Not by being lenient: a long piece wider by a sixth is ruled out.
        assert (
            length < 1000
            or most_to_spare(
                curve.straight,
                length,
                widest * 1.17,
                change,
                tuple(np.ptp(dry, axis=0)),
            )
            < 0
        )


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("scale", [(0.999, 0.9), (1.0, 1.03)])
def test_no_stretch_with_live_edges_on_the_dry_outline_is_ruled_out(seed, scale):
    ring = slab_outline(seed)
    curve, region = curve_of(ring), region_of(ring * scale)
    change = Change((scale[0], scale[0]), (scale[1], scale[1]))
    for length in (400.0, 900.0, 1500.0):
        found = widest_stretch(region, length)
        assert found is not None
        long, wide = change.stretch_before(length, found.width)
        assert bound_at(curve.live, long) >= wide
        assert bound_at(curve.live, long) < 1.1 * wide
