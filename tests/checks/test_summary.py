"""Sums over the checks of a face, and the record they are kept as."""

import json
import math

import numpy as np
import pytest

from grainlog.checks.found import Check, FoundChecks
from grainlog.checks.record import checks_of_record, record_of_checks, record_of_summary
from grainlog.checks.summary import BEHIND_MM, sound_lengths, summarise


def end_check(end, depth, u=2.0, y=0.0, slab=2000.0):
    x = np.linspace(0, depth, 30)
    path = np.column_stack([x if end == "butt" else slab - x, np.full(30, y)])
    return Check(path, np.linspace(4, 0.5, 30), "end", end, float(depth), u, 4.0, 0.2, 2.2, 0.95)


def surface_check(x, length, width=1.0):
    path = np.column_stack([np.linspace(x, x + length, 30), np.linspace(0, length * math.tan(0.1), 30)])
    return Check(path, np.full(30, width), "surface", None, length / math.cos(0.1), 3.0, width, 0.1, width, 0.8)


FOUND = FoundChecks(
    (end_check("butt", 200), end_check("butt", 90, y=40), end_check("top", 120, u=4.0), surface_check(800, 300, 6.0)), 0.7, 0.7
)


def test_numbers_and_totals_by_kind():
    summary = summarise(FOUND, 2000.0, 1.0e6)
    assert summary.number == {"end": 3, "surface": 1}
    assert summary.total_mm["end"] == pytest.approx(410)
    assert summary.total_u_mm["end"] == pytest.approx(math.hypot(2, 2, 4))
    assert summary.longest is FOUND.checks[3] and summary.widest is FOUND.checks[3]
    # 410 mm + 301.5 mm on one square metre.
    assert summary.per_m2 == pytest.approx(0.410 + 0.3 / math.cos(0.1))


def test_sound_length_trims_the_worse_end_first():
    none, one, both = sound_lengths(FOUND.checks, 2000.0)
    assert none.length == 2000.0 and none.cut_butt == none.cut_top == 0
    assert one.length == pytest.approx(2000 - 200 - BEHIND_MM) and one.cut_top == 0 and one.u == pytest.approx(2.0)
    assert both.length == pytest.approx(2000 - 200 - 120 - 2 * BEHIND_MM) and both.u == pytest.approx(math.hypot(2, 4))


def test_a_face_without_checks_is_sound_from_end_to_end():
    summary = summarise(FoundChecks((), 0.7, 0.7), 1500.0, 5e5)
    assert [s.length for s in summary.sound] == [1500.0] * 3
    assert summary.longest is None and summary.per_m2 == 0.0


def test_checks_that_meet_leave_no_sound_length():
    checks = (end_check("butt", 900, slab=1000.0), end_check("top", 500, slab=1000.0))
    assert sound_lengths(checks, 1000.0)[2].length == 0.0


def test_the_record_is_plain_and_comes_back():
    record = record_of_checks(FOUND, 2000.0, lambda mm: mm * 2 + 1)
    assert json.loads(json.dumps(record)) == record
    first = record[0]
    assert first["kind"] == "end" and first["end"] == "butt" and first["from_butt_mm"] == 0 and first["from_top_mm"] == 1800
    assert first["path_px"][3] == pytest.approx([2 * v + 1 for v in first["path_mm"][3]], abs=0.03)
    assert record[3]["angle_deg"] == pytest.approx(math.degrees(0.1), abs=0.01)
    again = checks_of_record(record)
    assert [c.kind for c in again] == [c.kind for c in FOUND.checks]
    for one, two in zip(again, FOUND.checks, strict=True):
        assert np.abs(one.path - two.path).max() <= 0.005 and np.abs(one.width - two.width).max() <= 0.005
        assert (one.length, one.length_u, one.max_width, one.end) == (two.length, two.length_u, two.max_width, two.end)
    sums = record_of_summary(summarise(FOUND, 2000.0, 1e6), FOUND)
    assert json.loads(json.dumps(sums)) == sums and [s["trims"] for s in sums["sound_length"]] == [0, 1, 2]
