"""Readings that arrive twice, late, or after they were taken back."""

from datetime import date

import pytest

from grainlog.drying.reading import Reading
from grainlog.drying.weighing import Weighing
from grainlog.yard import NoSuchSlab
from grainlog.yard.readings import MoistureEntry, ReadingRefused, WeighingEntry
from tests.yard.filings import filing

TODAY = date(2025, 11, 25)
ID = "0123456789abcdef"


@pytest.fixture
def readings(yard, scratch):
    yard.add(filing(scratch, 1))
    return yard.drying.readings


def moist(moisture=0.3, slab=1):
    return MoistureEntry(slab, Reading(TODAY, moisture))


def test_the_same_act_sent_twice_is_kept_once(readings):
    assert readings.add([moist(), WeighingEntry(1, Weighing(TODAY, 60.0))], TODAY, once=ID).names == ("m1", "w1")
    # Whatever it says the second time: the id is what counts.
    again = readings.add([moist(0.4)], TODAY, once=ID)
    assert (again.new, again.already) == (0, 1) and len(readings.of(1)) == 2


def test_what_was_taken_back_does_not_come_back_when_it_is_sent_again(readings):
    readings.add([moist()], TODAY, once=ID)
    assert [entry.reading.moisture for entry in readings.take_back_sent(ID)] == [0.3]
    assert readings.take_back_sent(ID) == () and readings.of(1) == []
    assert readings.add([moist()], TODAY, once=ID).new == 0 and readings.of(1) == []
    # Entered anew it counts.
    assert readings.add([moist()], TODAY, once=ID + "-2").new == 1


def test_taken_back_before_it_arrives_it_is_never_kept(readings):
    assert readings.take_back_sent(ID) == ()
    assert readings.add([moist()], TODAY, once=ID).new == 0 and readings.of(1) == []


def test_what_was_taken_back_by_its_name_is_left_alone(readings):
    readings.add([moist(), WeighingEntry(1, Weighing(TODAY, 60.0))], TODAY, once=ID)
    readings.take_back("m1")
    assert [type(entry) for entry in readings.take_back_sent(ID)] == [WeighingEntry]


def test_a_reading_that_was_refused_may_be_sent_again_under_its_id(readings):
    with pytest.raises(NoSuchSlab):
        readings.add([moist(slab=7)], TODAY, once=ID)
    assert readings.add([moist()], TODAY, once=ID).new == 1


@pytest.mark.parametrize("once", ["", "short", "x" * 65, "with blanks in it", "0123456789abcde'"])
def test_what_is_no_id_is_refused(readings, once):
    with pytest.raises(ReadingRefused, match="without an id"):
        readings.add([moist()], TODAY, once=once)
    with pytest.raises(ReadingRefused, match="without an id"):
        readings.take_back_sent(once)


def test_a_removed_slab_takes_what_was_sent_along(yard, readings):
    readings.add([moist()], TODAY, once=ID)
    yard.remove(1)
    assert yard.stocktake() == []
