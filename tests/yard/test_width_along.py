"""The width anywhere along a slab: against shapes whose width is known, and against GEOS."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from grainlog.face.frame import OutlineError
from grainlog.yard.width_along import width_at, widths_along


def of(wood, **face) -> dict:
    return {"outline": {"wood_mm": [list(map(float, point)) for point in wood]}, "face": face}


def test_a_taper_is_as_wide_as_it_is_drawn():
    record = of([(0, 0), (1000, 0), (1000, 300), (0, 500)], widths={"x_mm": [100, 900], "u_mm": [1.0, 3.0]})
    for x in (100.0, 250.0, 500.0, 900.0):
        found = width_at(record, x)
        assert found.width.value == pytest.approx(500 - 0.2 * x)
        assert found.width.u == pytest.approx(1 + 2 * (x - 100) / 800)
        assert (found.low_mm, found.high_mm) == pytest.approx((0, 500 - 0.2 * x)) and not found.on_end


def test_an_end_that_is_cut_askew_is_said_to_be_an_end():
    record = of([(0, 0), (1000, 0), (1000, 300), (100, 300)], width_min_mm={"value": 280, "u": 2.5})
    assert width_at(record, 50.0).on_end and not width_at(record, 500.0).on_end
    # Without stations the least width's uncertainty stands for all.
    assert width_at(record, 500.0).width.u == 2.5


def test_an_open_fork_is_not_wood():
    fork = of([(0, 0), (1000, 0), (1000, 100), (600, 150), (1000, 200), (1000, 300), (0, 300)])
    at = width_at(fork, 900.0)
    assert at.width.value == pytest.approx(300 - 75) and (at.low_mm, at.high_mm) == (0, 300)


def test_beyond_the_wood_there_is_no_width():
    record = of([(0, 0), (1000, 0), (1000, 300), (0, 300)])
    assert width_at(record, -1.0) is None and width_at(record, 1000.1) is None
    assert len(widths_along(record, 10.0)) == 100


def test_no_outline_is_said():
    with pytest.raises(OutlineError):
        width_at({"outline": {"wood_mm": []}, "face": {}}, 3.0)


@given(
    st.lists(st.tuples(st.floats(50, 400), st.floats(50, 400)), min_size=3, max_size=30),
    st.floats(0.02, 0.98),
)
def test_any_slab_is_as_wide_as_geos_finds(edges, share):
    """Outside check: length of the intersection with a line, by GEOS (shapely)."""
    x = np.linspace(0, 2000, len(edges))
    wood = [*zip(x, (-low for low, _ in edges)), *reversed(list(zip(x, (high for _, high in edges))))]
    at = share * 2000
    cut = shapely.intersection(shapely.Polygon(wood), shapely.LineString([(at, -1000), (at, 1000)]))
    assert math.isclose(width_at(of(wood), at).width.value, cut.length, rel_tol=1e-9, abs_tol=1e-6)
