"""A survey under the wrong slab is moved: nothing is lost, both slabs' figures follow, both histories tell."""

import json
from datetime import date

import pytest

from grainlog.checks.history import HandLook
from grainlog.yard import FilingRefused, NoSuchSlab, SlabFacts
from tests.yard.filings import filing


def fill(yard, photos):
    yard.add(
        filing(photos, 1, side="bark", taken="2025-03-04T10:00:00", length_mm=2700.0)
    )
    yard.add(
        filing(photos, 2, side="bark", taken="2025-03-04T11:00:00", length_mm=2500.0)
    )
    yard.add(
        filing(
            photos,
            3,
            SlabFacts(number=1),
            side="heart",
            taken="2025-09-01T10:00:00",
            length_mm=2490.0,
        )
    )


def test_figures_files_marks_and_histories_follow(filled_yard):
    yard = filled_yard
    wrong = yard.slab(1).surveys[0]
    assert yard.slab(1).figures["length_mm"].value == 2490.0
    moved = yard.move_survey(wrong.id, 2, "mixed up in the shed")
    assert (moved.was, moved.now, moved.survey) == (1, 2, wrong.id)
    one, two = yard.slab(1), yard.slab(2)
    assert (
        one.figures["length_mm"].value == 2700.0
        and one.faces == ("bark",)
        and one.one_face_only
    )
    assert (
        two.figures["length_mm"].value == 2490.0
        and two.faces == ("bark", "heart")
        and not two.one_face_only
    )
    assert (
        two.surveys[0].record == wrong.record
        and two.surveys[0].original.read_bytes() == wrong.original.read_bytes()
    )
    for number, other in ((1, "slab 2"), (2, "slab 1")):
        (change,) = yard.lives.history(number)
        assert (
            change.what == "survey moved"
            and other in change.note
            and "mixed up" in change.note
        )
    assert yard.stocktake() == []
    # And back again.
    yard.move_survey(wrong.id, 1)
    assert (
        yard.slab(1).figures["length_mm"].value == 2490.0
        and len(yard.lives.history(1)) == 2
    )
    assert yard.stocktake() == []


def test_the_outline_is_searched_under_the_right_slab(filled_yard):
    from sqlalchemy import select

    from grainlog.yard.fit_tables import outline_curves

    wrong = filled_yard.slab(1).surveys[0].id
    filled_yard.move_survey(wrong, 2)
    with filled_yard._database.reading() as connection:
        query = select(outline_curves.c.slab_number).where(
            outline_curves.c.survey_id == wrong
        )
        assert connection.execute(query).scalar() == 2


def test_what_cannot_be_moved_is_said_and_stays(filled_yard):
    yard = filled_yard
    newest, first = (survey.id for survey in yard.slab(1).surveys)
    with pytest.raises(FilingRefused, match="no survey 99"):
        yard.move_survey(99, 2)
    with pytest.raises(NoSuchSlab):
        yard.move_survey(newest, 77)
    with pytest.raises(FilingRefused, match="already"):
        yard.move_survey(newest, 1)
    with pytest.raises(FilingRefused, match="only one of slab 2.*--take-out"):
        yard.move_survey(yard.slab(2).surveys[0].id, 1)
    assert [survey.id for survey in yard.slab(1).surveys] == [
        newest,
        first,
    ] and yard.lives.history(1) == ()


def test_a_slab_that_is_left_without_any_survey_is_taken_out_where_that_is_said(filled_yard, scratch):
    """Its entry is kept, its number is never given again, no photo is lost, and the right slab's history tells."""
    yard = filled_yard
    yard.checks.hand.add([HandLook(2, date(2025, 5, 1), "butt", length_mm=90.0)])
    only = yard.slab(2).surveys[0]
    moved = yard.move_survey(only.id, 1, "same wood twice", take_out=True)
    assert moved.kept_in is not None and not yard.holds(2)
    with pytest.raises(NoSuchSlab, match="was removed"):
        yard.slab(2)
    kept = json.loads((moved.kept_in / "slab.json").read_text())
    assert kept["slab"]["number"] == 2 and "surveys" not in kept
    assert any("taken out" in change["note"] and "same wood twice" in change["note"] for change in kept["changes"])
    assert [look["length_mm"] for look in kept["hand_looks"]] == [90.0]
    one = yard.slab(1)
    assert only.id in [survey.id for survey in one.surveys] and only.original.exists()
    (change,) = yard.lives.history(1)
    assert "had no other and was taken out" in change.note
    assert yard.stocktake() == []
    assert yard.add(filing(scratch, 7, SlabFacts(log="another log"))).slab == 3, "number 2 is on some wood, so it is not given again"


def test_taking_out_is_only_for_a_slab_left_without_any(filled_yard):
    newest = filled_yard.slab(1).surveys[0].id
    moved = filled_yard.move_survey(newest, 2, take_out=True)
    assert moved.kept_in is None and filled_yard.holds(1)
