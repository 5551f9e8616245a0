"""Growth by both looks together: the grain's own line past a tip is alike on both days, so it is no growth."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter1d

from grainlog.checks.beyond import Beyond, beyond
from grainlog.checks.board import Board
from grainlog.checks.change import CheckLook, change_of, compared
from grainlog.checks.follow import IDENTITY
from grainlog.checks.found import Check, FoundChecks
from grainlog.checks.profile import inside_of, measure_profile
from grainlog.checks.record import checks_of_record, record_of_checks
from grainlog.checks.tips import Line, line_of, tip_moved

AT = np.arange(0.0, 140.0, 2.0)


def grain(seed: int, dark: float) -> np.ndarray:
    """The width of a line of the grain, the same on all days."""
    return dark + gaussian_filter1d(np.random.default_rng(seed).normal(0, 0.6, len(AT)), 5)


def line(tip: float, found: float, seed: int, day: int, dark: float = 0.8, taper: float = 0.06) -> Line:
    """A check that counts as far as `tip`, on a dark line of the grain, whose tip was found at `found`."""
    chance = gaussian_filter1d(np.random.default_rng([seed, day]).normal(0, 0.15, len(AT)), 2)
    width = taper * np.maximum(tip + 0.5 / taper - AT, 0) + grain(seed, dark) + chance
    return Line(AT, np.maximum(width, 0), found)


@given(st.integers(0, 10**6), st.floats(30, 45), st.floats(0, 30), st.floats(-8, 8), st.floats(-8, 8), st.floats(0.1, 1.2))
@settings(max_examples=40, deadline=None)
def test_growth_is_found_within_its_interval_though_both_tips_were_found_wrong(seed, tip, growth, off_before, off_now, dark):
    before, now = line(tip, tip + off_before, seed, 0, dark), line(tip + growth, tip + growth + off_now, seed, 1, dark)
    found, u = tip_moved(before, now)
    assert abs(found - growth) < max(3 * u, 6.0) and u < 25


def test_it_is_nearer_than_the_found_tips():
    """Over many: by the median at most half of what the tips that were found are off."""
    rng = np.random.default_rng(5)
    together, apart = [], []
    for seed in range(40):
        growth, off = rng.uniform(0, 30), rng.normal(0, 8, 2)
        found, _ = tip_moved(line(40, 40 + off[0], seed, 0), line(40 + growth, 40 + growth + off[1], seed, 1))
        together.append(abs(found - growth))
        apart.append(abs(off[1] - off[0]))
    assert np.median(together) < 0.5 * np.median(apart)


def test_the_same_look_twice_has_not_grown():
    one = line(40, 43, 3, 0)
    found, u = tip_moved(one, one)
    assert abs(found) < 0.5 and u > 0.9


def test_too_little_of_a_line_says_nothing():
    short = Line(AT[:4], np.ones(4), 5.0)
    assert tip_moved(short, line(40, 40, 1, 0)) is None


def end_check(tip: float, end: str = "butt", length: float = 900.0) -> Check:
    """An end check 1 mm wide at the tip's taper, with the line past it."""
    x = np.arange(0.0, tip + 0.1, 2.0)
    past = np.arange(tip + 2, tip + 50, 2.0)
    width = 0.06 * np.maximum(tip + 0.5 / 0.06 - np.concatenate([x, past]), 0) + 0.2
    points = np.column_stack([np.concatenate([x, past]), np.full(len(x) + len(past), 7.0)])
    if end == "top":
        points[:, 0] = length - points[:, 0]
    n = len(x)
    return Check(points[:n], width[:n], "end", end, tip, 9.0, float(width.max()), 0.2, float(width[:n].mean()), 0.9, points[n:], width[n:])


@pytest.mark.parametrize("end", ["butt", "top"])
def test_an_end_check_of_either_end_is_compared_by_its_line(end):
    looks = [CheckLook(day, (end_check(tip, end),), IDENTITY) for day, tip in ((0, 40.0), (21, 60.0))]
    one = line_of(looks[0].checks[0], IDENTITY)
    assert (np.diff(one.at) >= 0).all() and one.tip == pytest.approx(40 if end == "butt" else -860)
    change = compared(looks[0], looks[0].checks[0], looks[1], looks[1].checks[0])
    apart = change_of(0, looks[0].checks[0], 21, looks[1].checks[0])
    assert change.state == "grown" and change.growth_mm == pytest.approx(20, abs=2)
    assert change.growth_u_mm < apart.growth_u_mm == pytest.approx(9.0 * 2**0.5)


def test_a_record_without_the_line_is_compared_by_lengths():
    old = replace(end_check(40.0), beyond=None, beyond_width=None)
    looks = [CheckLook(0, (old,), IDENTITY), CheckLook(21, (end_check(60.0),), IDENTITY)]
    assert line_of(old, IDENTITY) is None
    assert compared(looks[0], old, looks[1], looks[1].checks[0]) == change_of(0, old, 21, looks[1].checks[0])


def test_what_two_answers_disagree_by_stays_in_doubt():
    one, two = end_check(40.0), end_check(60.0)
    agree, differ = (change_of(0, one, 21, two, (growth, 2.0)) for growth in (20.0, 0.0))
    assert agree.growth_mm == pytest.approx(20) and agree.growth_u_mm == pytest.approx(2.0)
    assert 0 < differ.growth_mm < 10 and differ.growth_u_mm > 10 and differ.state == "unchanged"


def test_the_line_is_kept_in_the_record():
    check = end_check(40.0)
    plain = replace(check, beyond=None, beyond_width=None)
    again = checks_of_record(record_of_checks(FoundChecks((check, plain), 0.7, 0.8), 900.0, lambda mm: mm))
    assert again[0].beyond == pytest.approx(check.beyond) and again[0].beyond_width == pytest.approx(check.beyond_width, abs=0.01)
    assert again[1].beyond is None and again[1].beyond_width is None


def board(width, inside: float = 0.03, dark: float = 0.0, size: int = 400, mm: float = 0.8) -> Board:
    """Even wood with a check along y = 0 whose width at x mm is `width(x)`, on a band of grain that is darker by `dark`."""
    fine = 8
    x, y = np.arange(size) * mm, (100 - (np.arange(200 * fine) + 0.5) / fine + 0.5) * mm
    light = 1 - dark * np.exp(-0.5 * (y[:, None] / 0.9) ** 2) * np.ones(size)[None, :]
    light = np.where(np.abs(y[:, None]) < width(x)[None, :] / 2, inside, light)
    light = gaussian_filter1d(light, fine, axis=0).reshape(200, fine, size).mean(1)
    rng = np.random.default_rng(1)
    light = light + rng.normal(0, 0.01, light.shape)
    return Board(light.astype(np.float32), np.zeros_like(light, np.float32), np.ones(light.shape, bool), mm, np.array([0.0, 100 * mm]))


def test_a_dark_line_past_a_tip_is_told_from_plain_wood():
    def tapering(x):
        return np.maximum(3.0 - 0.03 * x, 0)

    path = np.column_stack([np.arange(5.0, 95.0, 2.0), np.zeros(45)])
    plain, grained = (beyond(board(tapering, dark=dark), path, None) for dark in (0.0, 0.4))
    assert plain.dark == 0 and grained.dark > 0.3
    assert len(grained.path) == len(grained.width) == 48 and np.ptp(grained.path[:, 1]) < 2
    assert Beyond(grained.path[:9], grained.width[:9]).dark == 0, "too little to say"


def test_wide_checks_say_how_dark_the_narrow_ones_are():
    """A wet face shines in its checks: with what its wide check shows, a narrow one is as wide as in a dry face."""
    path = np.column_stack([np.arange(20.0, 300.0, 3.0), np.zeros(94)])
    for inside in (0.03, 0.30):
        wide, narrow = (board(lambda x, w=w: np.full(len(x), w), inside) for w in (4.2, 1.2))
        told = inside_of([measure_profile(one, path, 0.0) for one in (wide, narrow)])
        assert told[0] == pytest.approx(inside, abs=0.08)
        assert np.median(measure_profile(narrow, path, 0.0, told).width) == pytest.approx(1.2, abs=0.2)
    alone = measure_profile(narrow, path, 0.0)
    assert np.median(alone.width) < 1.0, "taken for dark inside, it seems narrower"
    assert inside_of([alone]) is None, "no wide check, nothing known"
