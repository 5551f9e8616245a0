"""What to do next with a slab."""

from datetime import date, timedelta

import pytest

from grainlog.drying.reading import Reading
from grainlog.yard import SlabFacts
from grainlog.yard.next_steps import next_steps
from grainlog.yard.readings import MoistureEntry
from tests.yard.filings import filing

TODAY = date(2025, 11, 25)


@pytest.fixture
def codes(yard):
    def found(number=1, today=TODAY, advice=()):
        steps = next_steps(yard.slab(number), yard.lives.of(number), yard.drying.slab(number, today=today), advice, today)
        assert all(step.message.endswith((".", "?")) for step in steps) or steps == ()
        return [step.code for step in steps]

    return found


def test_a_new_slab_wants_much(yard, scratch, codes):
    yard.add(filing(scratch, 1, SlabFacts(log="elm"), thickness_mm=None, side="bark"))
    assert codes() == ["thickness", "other-face", "reading", "species", "sawn", "place"]


def test_a_reading_is_due_after_thirty_days(yard, scratch, codes):
    yard.add(filing(scratch, 1))
    readings = yard.drying.readings
    readings.add([MoistureEntry(1, Reading(TODAY - timedelta(days=29), 0.3))], TODAY)
    assert "reading" not in codes()
    assert "reading" in codes(today=TODAY + timedelta(days=1))


def test_a_dry_core_is_ready(yard, scratch, codes):
    yard.add(filing(scratch, 1))
    yard.drying.readings.add([MoistureEntry(1, Reading(TODAY, 0.07, depth_mm=30.0, core=True))], TODAY)
    assert codes()[1:2] == ["ready"] and "reading" not in codes()


def test_a_promise_that_is_over_comes_first(yard, scratch, codes):
    yard.add(filing(scratch, 1))
    yard.lives.set_status((1,), "promised", TODAY - timedelta(days=40), TODAY - timedelta(days=1), "Ann")
    assert codes()[0] == "promise-over"
    assert "promise-over" not in codes(today=TODAY - timedelta(days=1))


def test_running_checks_bring_their_advice(yard, scratch, codes):
    yard.add(filing(scratch, 1))
    assert codes(advice=("Coat the ends.",)).count("checks") == 1


def test_nothing_is_to_be_done_with_what_is_gone(yard, scratch, codes):
    yard.add(filing(scratch, 1))
    yard.lives.set_status((1,), "gone", TODAY)
    assert codes() == []


def test_an_unsure_outline_is_to_be_looked_at(yard, scratch, codes):
    for seed, confidence in ((1, 0.3), (2, 0.7), (3, 0.95)):
        made = filing(scratch, seed)
        made.record["face"]["confidence"] = confidence
        yard.add(made)
    assert codes(1)[0] == "outline" and codes(2)[0] == "outline" and "outline" not in codes(3)
