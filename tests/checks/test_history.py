"""Looks over time: what runs, what end wax and cuts hide, bark, tape."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
import shapely

from grainlog.checks.follow import IDENTITY, CheckLook, follow
from grainlog.checks.history import (
    RUNNING_DAYS,
    FaceLook,
    HandLook,
    bark_of,
    running_of,
    tape_growth,
    waxed_on,
)
from grainlog.checks.telling import growth_text, notices_of
from tests.checks.test_follow import check

DAY = date(2026, 5, 1)


def face_looks(*looks: CheckLook) -> list[FaceLook]:
    return [
        FaceLook(place, DAY + timedelta(days=look.day), "bark", "laid" if place else "first", sightings=sightings, look=look)
        for place, (look, sightings) in enumerate(zip(looks, follow(looks)))
    ]


def states(looks, name):
    return [one.change.state for look in looks for one in look.sightings if one.name == name]


def test_wax_hides_end_checks_which_are_then_not_gone():
    looks = face_looks(
        CheckLook(0, (check(0, 80, 0, "end"), check(300, 400, 10)), IDENTITY),
        CheckLook(20, (), IDENTITY, waxed=frozenset({"butt"})),
        CheckLook(40, (), IDENTITY),
    )
    assert states(looks, "E1") == ["new", "hidden by end wax", "not visible"]
    assert states(looks, "S1") == ["new", "not visible", "not visible"]
    hidden = [note.message for note in notices_of(looks[:2], (), (), "mm") if note.code == "end-wax"]
    assert len(hidden) == 1 and "E1" in hidden[0] and "butt end is waxed" in hidden[0]


def test_a_waxed_end_claims_neither_shorter_nor_grown():
    long, short = check(0, 120, 0, "end"), check(0, 60, 0, "end")
    looks = face_looks(
        CheckLook(0, (long,), IDENTITY), CheckLook(20, (short,), IDENTITY, waxed=frozenset({"butt"})), CheckLook(40, (long,), IDENTITY)
    )
    assert states(looks, "E1") == ["new", "not compared", "not compared"]
    assert not running_of(looks[:3]), "the first and the last look agree, and what lies between cannot be compared"


def test_what_a_card_hides_is_not_compared():
    card = shapely.box(150, -30, 260, 30)
    face = shapely.box(-10, -100, 700, 100)
    bare, covered = CheckLook(0, (check(100, 300, 0),), IDENTITY), CheckLook(20, (check(100, 150, 0),), IDENTITY, face.difference(card))
    assert states(face_looks(bare, covered), "S1") == ["new", "not compared"]
    grown = face_looks(replace(covered, day=0), replace(bare, day=20))
    assert states(grown, "S1") == ["new", "not compared"], "what came out from under a card has not grown"


def test_a_cut_takes_checks_along_and_is_no_shrinking_of_checks():
    before = CheckLook(0, (check(0, 80, 0, "end"), check(10, 70, 40, "end"), check(300, 500, 10)), IDENTITY)
    left = shapely.box(75, -100, 700, 100)
    after = CheckLook(20, (check(75, 80.5, 0, "end", length_u=2.0), check(300, 500, 10)), IDENTITY, outline=left)
    looks = face_looks(before, after)
    assert states(looks, "E2") == ["new", "cut off"] and states(looks, "S1") == ["new", "unchanged"]
    assert "cut off" in states(looks, "E1") or "unchanged" in states(looks, "E1")


def test_running_looks_back_as_far_as_it_takes_and_no_farther():
    slow = [CheckLook(14 * k, (check(100, 200 + 4 * k, 0),), IDENTITY) for k in range(6)]
    looks = face_looks(*slow)
    assert all(state in ("new", "unchanged") for state in states(looks, "S1"))
    (one,) = running_of(looks)
    assert one.change.growth_mm == pytest.approx(8) and (one.until - one.since).days == 28
    assert one.change.per_week_mm == pytest.approx(2)
    ended = face_looks(slow[0], *(replace(slow[3], day=42 + 30 * k) for k in range(4)))
    assert not running_of(ended) and RUNNING_DAYS == 70


def test_fastest_first_and_said_in_plain_words():
    looks = face_looks(
        CheckLook(0, (check(0, 60, 0, "end", length_u=1.0), check(200, 240, 40, length_u=1.0)), IDENTITY),
        CheckLook(19, (check(0, 102, 0, "end", length_u=1.2), check(200, 250, 40, length_u=1.0)), IDENTITY),
    )
    running = running_of(looks)
    assert [one.name for one in running] == ["E1", "S1"]
    told = notices_of(looks, (), running, "mm")
    assert told[0].message.startswith("End check E1 on the butt end grew 42 ± 3 mm in 19 days (2026-05-01 to 2026-05-20)")
    assert "15.5 ± 1.2 mm a week" in told[0].message


def test_a_closed_check_is_not_called_healed():
    looks = face_looks(*(CheckLook(d, (check(0, 100, 0, width=w),), IDENTITY) for d, w in ((0, 1.0), (20, 3.0), (60, 1.2))))
    (note,) = [note for note in notices_of(looks, (), (), "mm") if note.code == "narrower"]
    assert "1.2" in note.message and "3.0" in note.message and "not healed" in note.message


@pytest.mark.parametrize(
    ("value", "u", "units", "text"),
    [(43.0, 14.2, "mm", "43 ± 28 mm"), (13.1, 4.3, "mm", "13 ± 9 mm"), (43.0, 14.2, "in", "1.7 ± 1.1 in"), (2.5, 0.75, "mm", "2.5 ± 1.5 mm")],
)  # fmt: skip
def test_growth_is_written_no_finer_than_it_is_known(value, u, units, text):
    assert growth_text(value, u, units) == text


def test_wax_lasts_until_it_is_said_to_be_off():
    hand = (
        HandLook(1, DAY, "butt", wax=True, id=1), HandLook(1, DAY + timedelta(9), "top", wax=True, id=2),
        HandLook(1, DAY + timedelta(30), "butt", wax=False, id=3),
    )  # fmt: skip
    assert waxed_on(hand, DAY - timedelta(1)) == frozenset()
    assert waxed_on(hand, DAY) == {"butt"} and waxed_on(hand, DAY + timedelta(10)) == {"butt", "top"}
    assert waxed_on(hand, DAY + timedelta(31)) == {"top"}


def test_tape_growth_needs_more_than_its_doubt():
    def read(day, length, end="butt"):
        return HandLook(1, DAY + timedelta(day), end, length_mm=length)

    assert not tape_growth((read(0, 100.0), read(20, 105.0), read(20, 300.0, "top")))
    ((before, now, growth, growth_u),) = tape_growth((read(0, 100.0), read(20, 142.0)))
    assert (before.length_mm, now.length_mm, growth) == (100.0, 142.0, 42.0) and growth_u == pytest.approx(4.24, abs=0.01)


def test_bark_of_each_edge_by_what_stands_outside_the_wood():
    x = np.linspace(0, 1000, 101)
    wood = np.vstack([np.column_stack([x, np.full(101, -100.0)]), np.column_stack([x[::-1], np.full(101, 100.0)])])
    thick = np.where(x < 500, 8.0, 0.0)  # on the left edge only, along half of it
    bark = np.vstack([np.column_stack([x, np.full(101, -108.0)]), np.column_stack([x[::-1], 100.0 + thick[::-1]])])
    assert bark_of(wood, bark) == {"right": "on", "left": "partly"}
    assert bark_of(wood, wood) == {"right": "off", "left": "off"} and bark_of(wood, None) == {}
