"""All that can be said of a slab, and what stays not known."""

from datetime import date, timedelta

import pytest

from grainlog.drying import find_species
from grainlog.drying.assess import SlabInShed, assess
from grainlog.drying.climate import UNKNOWN_AIR, ShedAir
from grainlog.drying.finish import Allowances
from grainlog.drying.outcome import Measured, outcome
from grainlog.drying.progress import progress
from grainlog.drying.reading import Reading
from grainlog.drying.weighing import Weighing
from grainlog.units import Quantity

ELM = find_species("American elm")
SURVEY, TODAY = date(2026, 5, 3), date(2026, 11, 25)
AIR = ShedAir(Quantity(0.12, 0.012), True, "measured")
GUESSED = ShedAir(UNKNOWN_AIR, False, "guessed")
SIZES = Measured(
    length_mm=Quantity(2600.0, 2.0), width_mm=Quantity(600.0, 2.0), width_least_mm=Quantity(550.0, 2.0),
    thickness_mm=Quantity(63.5, 1.0), thickness_least_mm=Quantity(62.0, 1.0), volume_mm3=Quantity(1e8, 2e6),
    board_feet=Quantity(42.4, 0.8), area_mm2=Quantity(1.6e6, 5e3), bark_mm2=Quantity(8e4, 5e3),
)  # fmt: skip


def slab(**facts) -> SlabInShed:
    known = {"number": 1, "species": ELM, "species_why": "", "surveyed_on": SURVEY,
             "thickness_mm": Quantity(63.5, 1.0), "width_mm": Quantity(600.0, 2.0)}  # fmt: skip
    return SlabInShed(**known | facts)


def pins(*day_and_percent, depth=28.0):
    return tuple(Reading(day, percent / 100, "pin", depth_mm=depth, corrected=True) for day, percent in day_and_percent)


def test_without_a_word_the_moisture_is_not_known_and_no_size_is_given():
    seen = assess(slab(), 0.08, TODAY, AIR)
    assert seen.then.moisture is None and seen.factors is None and "nobody said" in seen.factors_why
    out = outcome(seen, SIZES, Allowances())
    assert out.width_mm is out.finished is out.dry_kg is out.now_kg is out.caution is None
    assert set(out.why) == {"size", "weight"}


@pytest.mark.parametrize("facts", [{"sawn_on": SURVEY - timedelta(2)}, {"felled_on": SURVEY - timedelta(2)}, {"sawn_on": SURVEY}])
def test_fresh_from_the_saw_is_green(facts):
    seen = assess(slab(**facts), 0.08, TODAY, AIR)
    assert seen.then.moisture.value == ELM.green_wood and seen.factors.across.value == pytest.approx(1 - 0.095 * 22 / 30)


@pytest.mark.parametrize("facts", [{"sawn_on": SURVEY - timedelta(30)}, {"sawn_on": SURVEY + timedelta(2)}])
def test_long_after_or_before_sawing_is_not(facts):
    assert assess(slab(**facts), 0.08, TODAY, AIR).then.moisture is None


def test_a_dry_survey_shrinks_only_the_rest():
    seen = assess(slab(readings=pins((SURVEY, 15))), 0.08, TODAY, AIR)
    shrunk = (1 - 0.095 * 22 / 30) / (1 - 0.095 * 15 / 30)
    assert seen.factors.across.value == pytest.approx(shrunk)
    late = assess(slab(readings=pins((SURVEY + timedelta(20), 15))), 0.08, TODAY, AIR)
    assert late.then.moisture.u > seen.then.moisture.u


def test_unknown_species_and_unknown_numbers():
    nameless = assess(slab(species=None, species_why="'driftwood' is not in the table", sawn_on=SURVEY), 0.08, TODAY, AIR)
    assert nameless.factors is None and nameless.factors_why == "'driftwood' is not in the table"
    apple = assess(slab(species=find_species("apple"), sawn_on=SURVEY), 0.08, TODAY, AIR)
    assert apple.factors is None and "shrinkage of Apple is not known" in apple.factors_why
    assert "specific gravity of Apple" in outcome(apple, SIZES, Allowances()).why["weight"]


def test_rings_as_seen_come_before_the_pith_and_both_before_nothing():
    assert not assess(slab(sawn_on=SURVEY), 0.08, TODAY, AIR).rings.known
    by_pith = assess(slab(sawn_on=SURVEY, pith_mm=0.0), 0.08, TODAY, AIR)
    assert by_pith.rings.across == 0 and by_pith.factors.across.value == pytest.approx(1 - 0.042 * 22 / 30)
    assert assess(slab(pith_mm=0.0, rings="flat"), 0.08, TODAY, AIR).rings.across == 0.95


def test_weights_now_green_and_dry():
    seen = assess(slab(sawn_on=SURVEY, readings=pins((TODAY, 15))), 0.08, TODAY, AIR)
    out = outcome(seen, SIZES, Allowances())
    oven_dry = 1e8 * 1e-6 * ELM.gravity_green
    assert out.dry_kg.value == pytest.approx(oven_dry * 1.08)
    assert out.now_kg.value == pytest.approx(oven_dry * 1.15 * 1.05), "5 % bark"
    assert out.green_kg.value > out.now_kg.value > out.dry_kg.value
    assert out.caution.level == 2


def test_a_weighing_comes_before_the_book():
    seen = assess(slab(sawn_on=SURVEY, readings=pins((TODAY, 15)), weighings=(Weighing(TODAY, 60.0),)), 0.08, TODAY, AIR)
    out = outcome(seen, SIZES, Allowances())
    assert out.now_kg.value == 60 and out.dry_kg.value == pytest.approx(60 / 1.15 * 1.08)
    assert out.dry_kg.u < 3
    alone = outcome(assess(slab(weighings=(Weighing(TODAY, 20.0),)), 0.08, TODAY, AIR), SIZES, Allowances())
    assert alone.now_kg.value == 20 and alone.dry_kg is None and alone.caution.level == 0


def test_without_thickness_no_rules_no_finish():
    bare = Measured(length_mm=Quantity(2600.0, 2.0), width_mm=Quantity(600.0, 2.0), width_least_mm=Quantity(550.0, 2.0))
    seen = assess(slab(thickness_mm=None, sawn_on=SURVEY), 0.08, TODAY, AIR)
    out = outcome(seen, bare, Allowances())
    assert seen.rules == () and out.finished is None and "thickness" in out.why["finished"] and out.width_mm is not None
    assert "thickness" in out.why["weight"]


def test_ready_needs_the_core():
    target = 0.12
    def at(*readings, **facts):
        return progress(assess(slab(readings=readings, **facts), target, TODAY, AIR))

    assert at(*pins((TODAY, 11))).ready
    shell = at(*pins((TODAY, 11), depth=5.0))
    assert not shell.ready and "only a reading in the core" in shell.why[0]
    old = at(*pins((SURVEY, 11)))
    assert not old.ready and "read it again" in old.why[0]
    assert not at(*pins((TODAY, 13))).ready
    assert at(Reading(TODAY, 0.12, "oven-dry")).ready


def test_due_and_behind():
    def at(*readings, target=0.12, due=60, **facts):
        return progress(assess(slab(readings=readings, **facts), target, TODAY, AIR), due)

    nothing = at()
    assert nothing.due and not nothing.behind and nothing.seen_on == SURVEY and any("no reading" in why for why in nothing.why)
    assert not at(*pins((TODAY - timedelta(59), 20))).due and at(*pins((TODAY - timedelta(60), 20))).due
    long_ago = SURVEY - timedelta(3 * 365)
    slow = at(*pins((TODAY, 28)), sawn_on=long_ago)
    assert slow.behind and "slow end of the published range" in slow.why[0]
    assert not at(*pins((TODAY, 28)), sawn_on=SURVEY).behind
    stuck = at(*pins((TODAY - timedelta(120), 25), (TODAY, 25)))
    assert stuck.behind and "no fall" in stuck.why[0]
    assert not at(*pins((TODAY - timedelta(120), 25), (TODAY, 15))).behind
    assert not at(*pins((TODAY - timedelta(120), 13), (TODAY, 13)), target=0.08).behind, "the air allows no less"


def test_guessed_air_raises_no_warning():
    dry = slab(readings=pins((TODAY, 3)))
    assert [note.code for note in assess(dry, 0.08, TODAY, AIR).notes] == ["below-emc"]
    assert assess(dry, 0.08, TODAY, GUESSED).notes == ()
