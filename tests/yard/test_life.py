"""What happens to slabs after the survey: statuses, work, owners, and that every change is kept."""

import json
from datetime import date, timedelta
from pathlib import Path

import pytest

from grainlog.yard import NoSuchSlab, SlabQuery, Yard
from grainlog.yard.errors import LifeRefused
from grainlog.yard.life_state import Life
from tests.yard.filings import filing


def fill(yard: Yard, photos: Path) -> None:
    for seed in range(5):
        yard.add(filing(photos, seed))


def test_nobody_said_anything_yet(filled_yard):
    assert filled_yard.lives.of(1) == Life() and filled_yard.lives.of(1).present
    assert filled_yard.lives.history(1) == () and filled_yard.lives.of_all() == {}
    with pytest.raises(NoSuchSlab, match="no slab 9"):
        filled_yard.lives.of(9)


def test_every_change_is_dated_and_kept(filled_yard):
    until = date.today() + timedelta(days=30)
    filled_yard.lives.set_status([1, 2], "drying", day=date(2025, 4, 1))
    filled_yard.lives.set_status([1], "ready", day=date(2026, 4, 1), note="meter says 9")
    filled_yard.lives.set_status([1], "promised", until=until, for_whom=" Ann ")
    filled_yard.lives.tell([1], owner="Bob", price=9.5, figure="crotch, curl", note="a beauty")
    filled_yard.lives.worked([1], "debarked", day=date(2026, 5, 1))
    assert filled_yard.lives.of(1) == Life("promised", until, "Ann", owner="Bob", price=9.5, figure="crotch, curl")
    assert filled_yard.lives.of(2).status == "drying"
    history = filled_yard.lives.history(1)
    assert [change.what for change in history] == ["drying", "ready", "debarked", "promised", "noted"]
    assert [change.day for change in history][:3] == [date(2025, 4, 1), date(2026, 4, 1), date(2026, 5, 1)]
    assert history[1].note == "meter says 9" and all(change.entered_at.endswith("+00:00") for change in history)
    assert filled_yard.stocktake() == []


def test_a_change_told_late_does_not_undo_a_later_one(filled_yard):
    filled_yard.lives.set_status([1], "ready", day=date(2026, 4, 1))
    filled_yard.lives.set_status([1], "drying", day=date(2025, 4, 1))
    assert filled_yard.lives.of(1).status == "ready"


def test_turning_changes_the_face_that_is_up(filled_yard):
    filled_yard.lives.worked([1], "turned")
    assert filled_yard.lives.of(1).face_up is None  # nobody had said which was up
    filled_yard.lives.worked([1], "turned", face_up="bark")
    filled_yard.lives.worked([1], "turned")
    assert filled_yard.lives.of(1).face_up == "heart"


def test_words_of_every_kind_find_the_slab(filled_yard):
    filled_yard.lives.set_status([2], "promised", for_whom="Annabel")
    filled_yard.lives.tell([3], figure="Spalt", note="smells of plums")
    filled_yard.places.lay([4], "North Shed", "2")
    for text, numbers in (("annab", [2]), ("SPALT plums", [3]), ("north oak", [4]), ("promised", [2]), ("walnut", [])):
        assert [row.number for row in filled_yard.slabs(SlabQuery(text=text))] == numbers, text


@pytest.mark.parametrize(
    "act, says",
    [
        (lambda lives: lives.set_status([1], "mislaid"), "not a status here"),
        (lambda lives: lives.set_status([1], "cut up"), "not a status here"),
        (lambda lives: lives.set_status([1], "ready", until=date.today()), "Only a promise"),
        (lambda lives: lives.set_status([1], "promised", until=date(2020, 1, 1)), "over before"),
        (lambda lives: lives.set_status([1], "ready", day=date.today() + timedelta(days=1)), "still to come"),
        (lambda lives: lives.set_status([1, 9], "ready"), "no slab 9"),
        (lambda lives: lives.worked([1], "sung to"), "not a piece of work"),
        (lambda lives: lives.worked([1], "debarked", face_up="bark"), "goes with turning"),
        (lambda lives: lives.tell([1]), "Nothing was said"),
        (lambda lives: lives.tell([1], price=-1), "at least nothing"),
        (lambda lives: lives.tell([1], price=float("nan")), "at least nothing"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_kept(filled_yard, act, says):
    with pytest.raises((LifeRefused, NoSuchSlab), match=says) as told:
        act(filled_yard.lives)
    assert str(told.value).endswith(".") and "\n" not in str(told.value)
    assert filled_yard.lives.of_all() == {} and filled_yard.lives.history(1) == ()


def test_a_slab_that_is_gone_is_not_worked_or_laid_down(filled_yard):
    filled_yard.lives.set_status([1], "gone", for_whom="Ann")
    for act in (lambda: filled_yard.lives.worked([1], "turned"), lambda: filled_yard.places.lay([1], "shed")):
        with pytest.raises(LifeRefused, match="is gone"):
            act()
    filled_yard.lives.set_status([1], "drying", note="it came back")
    assert filled_yard.lives.of(1).present


def test_the_last_change_is_taken_back_by_another(filled_yard):
    lives = filled_yard.lives
    until = date.today() + timedelta(days=9)
    lives.set_status([1], "promised", until=until, for_whom="Ann", day=date(2026, 1, 5))
    lives.tell([1], owner="Bob", price=9.5, day=date(2026, 1, 6))
    before = lives.of(1)
    lives.set_status([1], "sold", for_whom="Eve", day=date(2026, 2, 1))
    lives.take_back([1], note="wrong slab")
    assert lives.of(1) == before
    history = lives.history(1)
    assert [change.what for change in history] == ["promised", "noted", "sold", "taken back"]
    assert history[-1].day == date.today() and history[-1].note == "sold of 2026-02-01; wrong slab"
    assert [row.number for row in filled_yard.slabs(SlabQuery(status="promised"))] == [1]
    with pytest.raises(LifeRefused, match="taken back already"):
        lives.take_back([1])
    lives.tell([1], owner="Cy")
    lives.take_back([1])
    assert lives.of(1) == before and filled_yard.stocktake() == []


def test_what_is_gone_comes_back_but_not_to_its_place(filled_yard):
    filled_yard.places.lay([1, 2], "barn", "A")
    with pytest.raises(LifeRefused, match="cannot be unsaid"):
        filled_yard.lives.take_back([1])
    filled_yard.lives.set_status([1], "gone")
    filled_yard.lives.take_back([1])
    life = filled_yard.lives.of(1)
    assert life.present and life.shed is None and filled_yard.lives.of(2).layer == 1
    assert "where it lies has to be said again" in filled_yard.lives.history(1)[-1].note
    with pytest.raises(LifeRefused, match="nothing to take back"):
        filled_yard.lives.take_back([1 + 2])
    filled_yard.lives.set_status([4], "ready", day=date(2026, 3, 3))
    with pytest.raises(LifeRefused, match="on that day or a later one"):
        filled_yard.lives.take_back([4], day=date(2026, 3, 2))
    assert filled_yard.stocktake() == []


def test_removal_takes_the_changes_along(filled_yard):
    filled_yard.lives.set_status([2], "ready", note="dry at last")
    kept = filled_yard.remove(2).kept_in
    told = json.loads((kept / "slab.json").read_text())
    assert told["changes"][0]["note"] == "dry at last" and told["slab_life"][0]["status"] == "ready"
    assert filled_yard.stocktake() == [] and filled_yard.lives.of_all() == {}


@pytest.mark.parametrize(
    "statement, what",
    [
        ("UPDATE slab_life SET status = 'gone'", "in slab life was changed"),
        ("UPDATE changes SET note = 'x'", "in changes was changed"),
        ("DELETE FROM changes", "does not follow from what happened"),
        ("DELETE FROM slab_life", "does not follow from what happened"),
        ("UPDATE slab_words SET text = 'x' WHERE rowid = 3", "words that find slab 3"),
    ],
)
def test_stock_taking_sees_what_was_changed_behind_its_back(filled_yard, statement, what):
    from tests.yard.test_stocktaking import edit

    filled_yard.lives.set_status([2], "ready")
    edit(filled_yard, statement)
    assert any(what in finding.what for finding in filled_yard.stocktake())
