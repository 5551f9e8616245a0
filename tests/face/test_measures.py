"""What an outline measures, on shapes whose measures are known by hand."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grainlog.errors import GrainlogError, WrongUse
from grainlog.face.measures import (
    Thickness,
    board_feet_exact,
    board_feet_three_width,
    measure_outline,
)

# A busy machine is no failure: the clock has no say in these tests.
UNHURRIED = settings(deadline=None)


def box(length=2000.0, width=600.0):
    return np.array([[0, -width / 2], [length, -width / 2], [length, width / 2], [0, width / 2]])


def test_a_square_ended_board():
    found = measure_outline(box())
    assert found.length_mm == found.length_square_mm == 2000
    assert found.width_min_mm == found.width_mean_mm == found.width_max_mm == found.width_three_mm == 600
    assert found.area_mm2 == 1_200_000
    assert found.bark_area_mm2 is None
    assert found.stations[:, 0] == pytest.approx(np.arange(0, 2000, 25))
    assert found.stations[:, 1:3] == pytest.approx(np.tile([-300, 300], (80, 1)))
    assert found.three_stations[:, 0] == pytest.approx([200, 1000, 1800])
    assert "bark_area_mm2" not in found.scalars() and found.scalars()["length_mm"] == 2000


@UNHURRIED
@given(st.booleans(), st.booleans(), st.integers(0, 3))
def test_neither_direction_nor_start_nor_closing_matters(backwards, closed, start):
    wood = np.roll(box() + [[0, 0], [100, 0], [0, 20], [0, 0]], start, axis=0)
    wood = wood[::-1] if backwards else wood
    wood = np.vstack([wood, wood[:1]]) if closed else wood
    reference = measure_outline(box() + [[0, 0], [100, 0], [0, 20], [0, 0]])
    assert measure_outline(wood).scalars() == pytest.approx(reference.scalars())


def test_a_taper_is_measured_station_by_station():
    """Edges y = +-(300 - x / 20): width 600 - x / 10."""
    found = measure_outline(np.array([[0, -300], [2000, -200], [2000, 200], [0, 300.0]]))
    assert found.stations[:, 3] == pytest.approx(600 - found.stations[:, 0] / 10)
    assert found.width_three_mm == pytest.approx(500)
    assert found.area_mm2 == pytest.approx(500 * 2000)


def test_a_skewed_end_is_wholly_an_end():
    wood = np.array([[0, -300], [2000, -300], [1800, 300], [150, 300.0]])
    found = measure_outline(wood)
    assert found.length_mm == pytest.approx(2000)
    assert found.length_square_mm == pytest.approx(1650)
    assert found.stations[[0, -1], 0] == pytest.approx([150, 1775])
    assert found.width_min_mm == found.width_max_mm == pytest.approx(600)


def test_a_rounded_end_stops_where_it_has_turned_half_way():
    turn = np.linspace(-math.pi / 2, math.pi / 2, 721)
    round_end = np.column_stack([1700 + 300 * np.cos(turn), 300 * np.sin(turn)])
    found = measure_outline(np.vstack([[[0, -300.0]], round_end, [[0, 300.0]]]))
    assert found.length_mm == pytest.approx(2000)
    assert found.length_square_mm == pytest.approx(1700 + 300 * math.sqrt(0.5), abs=0.01)


@pytest.mark.parametrize(("depth", "square"), [(100, 1900), (900, 2000)])
def test_a_step_counts_where_it_is_longer_than_the_width_it_costs(depth, square):
    wood = np.array([[0, -300], [2000, -300], [2000, 300], [depth, 300], [depth, -100], [0, -100.0]])
    found = measure_outline(wood)
    assert found.length_square_mm == pytest.approx(square)
    assert found.width_min_mm == pytest.approx(600 if depth == 100 else 200)


def test_the_gap_of_a_fork_is_not_wood_and_a_void_is_bridged():
    """Two prongs of 250 mm round a gap of 300 mm that is 500 mm deep."""
    wood = np.array(
        [[0, -400], [2500, -400], [2500, -150], [2000, -150], [2000, 150], [2500, 150], [2500, 400], [0, 400.0]]
    )
    found = measure_outline(wood)
    assert found.length_square_mm == pytest.approx(2500)
    forked = found.stations[found.stations[:, 0] > 2000]
    assert len(forked) == 19
    assert forked[:, 3] == pytest.approx(500) and forked[:, 2] - forked[:, 1] == pytest.approx(800)
    void = np.array([[900, -50], [1100, -50], [1100, 50], [900, 50.0]])
    pierced = measure_outline(wood, [void])
    assert found.area_mm2 - pierced.area_mm2 == pytest.approx(200 * 100)
    assert np.array_equal(pierced.stations, found.stations)


def test_ragged_edges_are_not_ends():
    generator = np.random.default_rng(3)
    x = np.linspace(0, 2400, 300)
    ragged = np.vstack([
        np.column_stack([x, -300 + generator.uniform(-6, 6, 300)]),
        np.column_stack([x, 300 + generator.uniform(-6, 6, 300)])[::-1],
    ])
    found = measure_outline(ragged)
    assert found.length_square_mm > 2400 - 25
    assert found.width_mean_mm == pytest.approx(600, abs=1)


def test_bark_is_what_lies_between_the_two_edges():
    assert measure_outline(box(), bark=box(2000, 640)).bark_area_mm2 == pytest.approx(2000 * 40)
    assert measure_outline(box(), bark=box(2000, 590)).bark_area_mm2 == 0


def test_a_disc_still_has_a_width():
    turn = np.linspace(0, 2 * math.pi, 400, endpoint=False)
    found = measure_outline(400 * np.column_stack([1 + np.cos(turn), np.sin(turn)]))
    assert found.length_square_mm == pytest.approx(800 * math.sqrt(0.5), rel=1e-3)
    assert found.width_max_mm == pytest.approx(800, abs=1)
    assert found.area_mm2 == pytest.approx(math.pi * 400**2, rel=1e-3)


def test_a_diamond_whose_ends_meet_has_one_station():
    found = measure_outline(np.array([[0, 0], [50, -55], [100, 0], [50, 55.0]]))
    assert found.length_square_mm == 0
    assert len(found.stations) == 1
    assert found.width_min_mm == found.width_max_mm == pytest.approx(110)


def test_a_sliver_whose_ends_meet_at_its_tip_has_a_width():
    found = measure_outline(np.array([[0, 0], [0, 1], [-1, 0.0]]))
    assert found.length_square_mm == pytest.approx(0) and 0 <= found.width_max_mm <= 1


@UNHURRIED
@given(st.floats(0.2, 5), st.floats(-0.3, 0.3))
def test_measures_follow_the_size_of_the_slab(scale, taper):
    wood = np.array([[0, -300], [2000, -300 + 200 * taper], [2100, 0], [2000, 300], [0, 280.0]])
    small, large = measure_outline(wood), measure_outline(wood * scale)
    assert large.length_mm == pytest.approx(small.length_mm * scale)
    assert large.length_square_mm == pytest.approx(small.length_square_mm * scale)
    assert large.width_three_mm == pytest.approx(small.width_three_mm * scale)
    assert large.area_mm2 == pytest.approx(small.area_mm2 * scale**2)


@UNHURRIED
@given(st.lists(st.tuples(st.floats(-3000, 3000), st.floats(-500, 500)), min_size=3, max_size=30))
def test_any_ring_is_measured_or_refused(points):
    """Even one that crosses itself: nothing crashes, nothing is infinite, no width is wider than the ring."""
    try:
        found = measure_outline(np.array(points))
    except GrainlogError:
        return
    values = found.scalars()
    assert all(math.isfinite(value) for value in values.values())
    assert -1e-9 <= found.width_min_mm <= found.width_mean_mm + 1e-9 <= found.width_max_mm + 2e-9
    assert found.width_max_mm <= np.ptp(np.array(points)[:, 1]) + 1e-9


def test_board_feet_of_the_two_kinds():
    assert board_feet_exact(144 * 25.4**2, 25.4) == pytest.approx(1)
    assert board_feet_three_width(8 * 304.8, 6 * 25.4, 2 * 25.4) == pytest.approx(8)
    assert board_feet_three_width(8 * 304.8, 6 * 25.4, 0.75 * 25.4) == pytest.approx(4)
    assert board_feet_exact(8 * 304.8 * 6 * 25.4, 0.75 * 25.4) == pytest.approx(3)


def test_one_thickness_reading():
    found = Thickness.from_readings([63.5])
    assert (found.mean_mm, found.least_mm, found.greatest_mm, found.spread_mm) == (63.5, 63.5, 63.5, 0.0)
    assert found.u_mm == pytest.approx(1.0)
    assert Thickness.from_readings([63.5], u_reading_mm=0.2).u_mm == pytest.approx(0.2)
    assert found.quantity.value == 63.5 and found.quantity.budget == {"thickness": found.u_mm}


def test_several_thickness_readings():
    """By hand: mean 62.5, squared deviations 6.25 + 0.25 + 0.25 + 6.25 = 13, u2 = (0.75 + 13) / 16 + 0.25."""
    found = Thickness.from_readings([60, 63, 62, 65])
    assert found.mean_mm == 62.5 and (found.least_mm, found.greatest_mm) == (60, 65)
    assert found.spread_mm == pytest.approx(math.sqrt(13 / 3))
    assert found.u_mm == pytest.approx(math.sqrt(13.75 / 16 + 0.25))


def test_equal_readings_help_and_scattered_ones_do_not():
    assert 0.5 < Thickness.from_readings([63.5] * 4).u_mm < 1.0
    assert Thickness.from_readings([55.0, 72.0]).u_mm > 5


@pytest.mark.parametrize("readings", [[], [0.0], [-3.0], [math.nan], [math.inf, 60.0]])
def test_thickness_that_is_none_is_refused(readings):
    with pytest.raises(WrongUse):
        Thickness.from_readings(readings)
