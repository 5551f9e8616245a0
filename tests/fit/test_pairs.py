"""Two slabs as one top."""

import numpy as np
import pytest
import shapely
from shapely import affinity

from grainlog.fit.pairs import beside, book
from grainlog.fit.region import Region, region_of
from tests.fit.made import slab_outline

BOARD = region_of(np.array([[0.0, -350], [2000, -350], [2000, 350], [0, 350]]))


def mirrored(region: Region) -> Region:
    return Region(affinity.scale(region.whole, 1, -1, origin=(0, 0)))


def test_two_boards_make_twice_the_width():
    pair = book(BOARD, BOARD, 1500, straight=True)
    assert pair.width == pytest.approx(1400) and pair.overlap == pytest.approx(1)
    assert beside(BOARD, BOARD, 1500, 60).width == pytest.approx(1460)


@pytest.mark.parametrize("seed", [3, 8])
@pytest.mark.parametrize("straight", [True, False])
def test_a_slab_and_its_mirror_image_open_like_a_book(seed, straight):
    """The faces that met at the kerf are mirror images of each other, so both halves are alike and the cut is shared."""
    first = region_of(slab_outline(seed))
    second = mirrored(first)
    pair = book(first, second, 1200, straight)
    assert pair.overlap == pytest.approx(1, abs=1e-6)
    assert first.holds(pair.first.shape) and second.holds(pair.second.shape)
    assert affinity.scale(pair.first.shape, 1, -1, origin=(0, 0)).symmetric_difference(pair.second.shape).area < 20
    below, above = pair.drawn
    assert below.intersection(above).area < 1 and below.distance(above) < 1e-6
    assert shapely.union_all(pair.drawn).area == pytest.approx(pair.first.shape.area + pair.second.shape.area)


def test_live_edges_face_each_other_across_the_gap():
    first, second = region_of(slab_outline(11)), region_of(slab_outline(12))
    pair = beside(first, second, 1200, 80)
    assert first.holds(pair.first.shape) and second.holds(pair.second.shape)
    below, above = pair.drawn
    xs = np.linspace(1, 1199, 4000)
    gaps = []
    for x in xs:
        line = shapely.LineString([(x, -1e4), (x, 1e4)])
        gaps.append(above.intersection(line).bounds[1] - below.intersection(line).bounds[3])
    assert min(gaps) == pytest.approx(80, abs=0.5)
    assert below.bounds[1] == pytest.approx(0, abs=1e-6) and above.bounds[3] == pytest.approx(pair.width)


def test_too_short_is_none():
    assert book(BOARD, BOARD, 2100, straight=True) is None and beside(BOARD, BOARD, 2100, 10) is None
