"""What no layout of several pieces can exceed."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from grainlog.fit.piece import round_top, straight
from grainlog.fit.region import Region, region_of
from grainlog.fit.several import at_most, pack
from tests.fit.made import slab_outline

BOARD = Region(shapely.box(0, 0, 2000, 600))


@pytest.mark.parametrize(
    ("pieces", "most"),
    [
        ([straight(1000, 600), straight(990, 600)], 2),
        ([straight(1000, 600), straight(1001, 600)], 1),
        ([straight(2100, 100), straight(500, 500)], 1),
        ([round_top(900), round_top(590)], 1),
        ([straight(400, 300)] * 10, 9),
    ],
)
def test_known_bounds_on_a_board(pieces, most):
    """Areas by hand, kerf 5 mm: ten of 405 x 305 (corners rounded) need more than 2005 x 605."""
    assert at_most(BOARD, pieces, kerf=5.0) == most


@settings(max_examples=12)
@given(st.lists(st.tuples(st.floats(150, 1500), st.floats(100, 500)), min_size=2, max_size=4), st.integers(0, 5))
def test_what_was_placed_never_exceeds_the_bound(sizes, seed):
    region = region_of(slab_outline(seed, corners=40))
    pieces = [straight(*size) for size in sizes]
    assert len(pack(region, pieces, 5.0, 3.0).placed) <= at_most(region, pieces, 5.0, 3.0)


def test_a_bound_reached_is_exact():
    pieces = [straight(650, 590)] * 3
    assert len(pack(BOARD, pieces, 0.0, 3.0).placed) == at_most(BOARD, pieces, 0.0, 3.0) == 3
    assert np.isclose(BOARD.whole.area, 1.2e6)
