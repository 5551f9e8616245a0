"""What lay next to a slab in its log, the two opened like a book, and the way along the stacks."""

from datetime import date

import pytest
import shapely

from grainlog.drying.reading import Reading
from grainlog.yard import SlabFacts
from grainlog.yard.life_cut_shape import cut_from
from grainlog.yard.readings import MoistureEntry
from grainlog.yard.walking import stops
from tests.yard.filings import filing


@pytest.fixture
def log(yard, scratch):
    """Slabs 1, 2 and 3 of a log at the places 1, 2 and 4, and slab 4 of another."""
    for seed, order in enumerate((1, 2, 4)):
        yard.add(filing(scratch, seed, SlabFacts(log="elm", order=order), width_mm=500.0 + 20 * seed))
    yard.add(filing(scratch, 9, SlabFacts(log="oak")))
    return yard


def test_neighbours_are_those_of_the_log(log):
    assert [(n.before, n.after, n.met_before, n.met_after) for n in map(log.logs.neighbours, (1, 2, 3, 4))] == [
        (None, 2, False, True), (1, 3, True, False), (2, None, False, False), (None, None, False, False),
    ]  # fmt: skip
    assert log.logs.neighbours(77).pieces == ()


def test_pieces_know_what_they_were_cut_from(log):
    log.cuts.cut(2, cut_from(log.slab(2).surveys[0].record, 1200.0, None, None, 3.0))
    assert log.logs.neighbours(2).pieces == (-1_000_002, -2_000_002)
    piece = log.logs.neighbours(-1_000_002)
    assert piece.cut_from == 2 and (piece.before, piece.after) == (1, 3)


def test_two_rectangles_opened_like_a_book_are_as_wide_as_both(log):
    opened = log.logs.open_book(1, 2)
    # Rectangles of 500 and 520 mm: nothing is lost at the joint.
    assert opened.width.value == pytest.approx(1020, abs=1.0) and opened.length_mm == pytest.approx(0.95 * 2700)
    assert opened.overlap == pytest.approx(500 / 520, abs=0.01) and not opened.faces_known
    assert opened.width.u > 0
    below, above = opened.parts
    assert below.bounds[3] == pytest.approx(0, abs=1e-6) and above.bounds[1] == pytest.approx(0, abs=1e-6)
    assert shapely.intersection(below, above).area == pytest.approx(0, abs=1e-3)


def test_faces_that_met_are_known_once_they_are_said(log, yard, scratch):
    for seed, (number, side) in enumerate(((1, "heart"), (2, "bark"))):
        yard.add(filing(scratch, 30 + seed, SlabFacts(number=number), side=side, taken="2025-04-04T10:20:30"))
    log.drying.wood.set_log("elm", date.today(), pith_order=4)
    assert log.logs.open_book(1, 2).faces_known


def test_the_way_goes_down_each_stack(log):
    log.places.lay((3, 1), "north", "B")
    log.places.lay((4,), "north")
    log.drying.readings.add([MoistureEntry(1, Reading(date(2025, 6, 1), 0.3)), MoistureEntry(1, Reading(date(2025, 7, 1), 0.2))], date.today())
    way = stops(log.slabs(), log.lives.of_all(), log.drying.readings.of_all())
    # Slab 1 lies on 3; 4 is in the shed without a stack; nobody said where 2 lies.
    assert [stop.row.number for stop in way] == [1, 3, 4, 2]
    assert way[0].last.reading.moisture == 0.2 and way[1].last is None


def test_what_is_gone_is_not_on_the_way(log):
    log.lives.set_status((3,), "gone")
    assert [stop.row.number for stop in stops(log.slabs(), log.lives.of_all(), {})] == [1, 2, 4]
