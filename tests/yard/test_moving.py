"""A survey under the wrong slab is moved: nothing is lost, both slabs' figures follow, both histories tell."""

import pytest

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
    with pytest.raises(FilingRefused, match="only one of slab 2"):
        yard.move_survey(yard.slab(2).surveys[0].id, 1)
    assert [survey.id for survey in yard.slab(1).surveys] == [
        newest,
        first,
    ] and yard.lives.history(1) == ()
