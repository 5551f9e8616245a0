"""Following: names for life, honest growth, nothing claimed beyond what is sure."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from grainlog.checks.follow import (
    IDENTITY,
    CheckLook,
    Known,
    change_of,
    follow,
    match_checks,
    out_of_sight,
)
from grainlog.checks.found import Check


def check(x0, x1, y, kind="surface", width=2.0, length_u=2.0, width_u=0.1, slope=0.0):
    """A straight check from x0 to x1 at height y."""
    x = np.linspace(x0, x1, 40)
    path = np.column_stack([x, y + slope * (x - x0)])
    length = float(np.linalg.norm(path[-1] - path[0]))
    end = None if kind == "surface" else "butt"
    return Check(path, np.full(40, width), kind, end, length, length_u, width, width_u, width, 0.9)


def states(history, name):
    return [next(s.change.state for s in look if s.name == name) for look in history if any(s.name == name for s in look)]


def test_names_stay_whatever_the_order_they_are_found_in():
    first = (check(0, 80, 10, "end"), check(200, 300, -40), check(400, 450, 60))
    later = (check(398, 470, 61), check(700, 760, 0), check(0, 130, 11, "end"), check(195, 310, -41))
    history = follow([CheckLook(0, first, IDENTITY), CheckLook(21, later, IDENTITY)])
    assert [s.name for s in history[0]] == ["E1", "S1", "S2"]
    now = {s.name: s.check for s in history[1]}
    assert now["E1"] is later[2] and now["S1"] is later[3] and now["S2"] is later[0] and now["S3"] is later[1]


def test_a_surface_check_that_reaches_the_end_keeps_its_name():
    looks = [CheckLook(0, (check(20, 90, 0),), IDENTITY), CheckLook(30, (check(0, 120, 0, "end"),), IDENTITY)]
    assert [s.name for s in follow(looks)[1]] == ["S1"]


def test_names_are_not_given_twice_after_one_has_gone():
    looks = [
        CheckLook(0, (check(100, 200, 0), check(100, 200, 50)), IDENTITY),
        CheckLook(10, (check(100, 200, 50),), IDENTITY),
        CheckLook(20, (check(100, 200, 50), check(400, 500, -50)), IDENTITY),
    ]
    history = follow(looks)
    assert [s.name for s in history[2]] == ["S1", "S2", "S3"]
    assert states(history, "S1") == ["new", "not visible", "not visible"]


def test_growth_per_week_with_its_uncertainty():
    change = change_of(0, check(0, 100, 0, length_u=3.0), 14, check(0, 142, 0, length_u=4.0))
    assert change.state == "grown"
    assert change.growth_mm == pytest.approx(42) and change.growth_u_mm == pytest.approx(5)
    assert change.per_week_mm == pytest.approx(21) and change.per_week_u_mm == pytest.approx(2.5)


@pytest.mark.parametrize(
    ("length", "width", "state"),
    [(104, 2.0, "unchanged"), (107, 2.0, "grown"), (96, 2.0, "unchanged"), (92, 2.0, "shorter"), (100, 1.5, "narrower"),
     (107, 1.5, "grown"), (100, 2.6, "unchanged")],
)  # fmt: skip
def test_nothing_is_claimed_within_two_u(length, width, state):
    assert change_of(0, check(0, 100, 0), 7, check(0, length, 0, width=width)).state == state


@given(st.floats(20, 300), st.floats(-60, 60), st.floats(0.5, 10), st.floats(0.5, 10))
@settings(max_examples=80, deadline=None)
def test_growth_is_claimed_exactly_when_it_exceeds_two_u(length, growth, u_before, u_now):
    if length + growth < 10:
        return
    change = change_of(0, check(0, length, 0, length_u=u_before), 7, check(0, length + growth, 0, length_u=u_now))
    assert (change.state == "grown") == (change.growth_mm > 2 * np.hypot(u_before, u_now))


def test_a_closed_check_keeps_the_greatest_width_it_was_seen_with():
    looks = [CheckLook(d, (check(0, 100, 0, width=w),), IDENTITY) for d, w in ((0, 1.0), (20, 3.0), (60, 1.2))]
    history = follow(looks)
    assert states(history, "S1") == ["new", "unchanged", "narrower"]
    assert history[2][0].widest_mm == 3.0 and history[2][0].check.max_width == 1.2


def test_shrinkage_and_shift_are_taken_out_before_matching():
    matrix = np.array([[1.0, 0.0, 5.0], [0.0, 1.08, 0.0]])
    first = (check(100, 200, 80), check(100, 200, 90))
    later = tuple(check(95, 200, y / 1.08) for y in (90, 80))
    history = follow([CheckLook(0, first, IDENTITY), CheckLook(40, later, matrix)])
    now = {s.name: s.check for s in history[1]}
    assert now["S1"] is later[1] and now["S2"] is later[0]


def test_two_checks_that_ran_together_are_said_to_have_joined():
    looks = [CheckLook(0, (check(0, 90, 0, "end"), check(110, 150, 1)), IDENTITY), CheckLook(30, (check(0, 170, 0, "end"),), IDENTITY)]
    history = follow(looks)
    assert states(history, "E1") == ["new", "grown"] and states(history, "S1") == ["new", "joined"]


def test_neighbours_side_by_side_do_not_swap():
    known = [Known("S1", check(100, 200, 0).path), Known("S2", check(120, 220, 5).path)]
    match = match_checks(known, [check(118, 230, 5.5), check(95, 205, -0.5)], IDENTITY)
    assert match.names == ("S2", "S1") and not match.missing


def test_far_away_is_another_check():
    match = match_checks([Known("S1", check(100, 200, 0).path)], [check(100, 200, 9)], IDENTITY)
    assert match.names == ("S2",) and match.missing == ("S1",)


def test_what_a_card_hides_is_out_of_sight():
    card = shapely.box(90, -50, 210, 50)
    shown = shapely.box(0, -100, 400, 100).difference(card)
    assert out_of_sight(check(100, 200, 0).path, shown)
    assert not out_of_sight(check(220, 300, 0).path, shown)
    assert not out_of_sight(check(100, 200, 0).path, None)


@given(st.permutations(range(6)), st.integers(0, 10**6))
@settings(max_examples=40, deadline=None)
def test_matching_does_not_depend_on_order(order, seed):
    rng = np.random.default_rng(seed)
    first = [check(x, x + 80, y) for x, y in zip(rng.uniform(0, 600, 6), np.arange(6) * 20.0)]
    later = [replace(c, path=c.path + rng.normal(0, 1, 2)) for c in first]
    known = [Known(f"S{k + 1}", c.path) for k, c in enumerate(first)]
    match = match_checks(known, [later[k] for k in order], IDENTITY)
    assert match.names == tuple(f"S{k + 1}" for k in order)
