"""A thickness that is read after the photo was filed."""

import pytest

from grainlog.yard import SlabFacts
from grainlog.yard.errors import LifeRefused
from tests.yard.filings import MM3_PER_BOARD_FOOT, filing


def test_board_feet_follow_and_the_survey_as_filed_stays(yard, scratch):
    yard.add(filing(scratch, 1, thickness_mm=None, side="bark"))
    assert yard.slab(1).figures["board_feet"] is None
    yard.cuts.thickness(1, (50.0, 54.0), "at the ends")
    entry = yard.slab(1)
    assert entry.figures["thickness_mm"].value == pytest.approx(52.0)
    assert entry.figures["board_feet"].value == pytest.approx(2700 * 600 * 52 / MM3_PER_BOARD_FOOT)
    assert len(entry.surveys) == 1 and entry.surveys[0].cut_from is None and "cut" not in entry.surveys[0].record
    assert yard.versions.earlier(1)[0].record["face"]["thickness"] is None
    assert [change.what for change in yard.lives.history(1)] == ["thickness read"]
    assert yard.stocktake() == []


def test_both_faces_get_it(yard, scratch):
    yard.add(filing(scratch, 1, thickness_mm=None, side="bark"))
    yard.add(filing(scratch, 2, SlabFacts(number=1), thickness_mm=None, side="heart", width_mm=560.0))
    yard.cuts.thickness(1, (50.0,))
    assert not yard.slab(1).one_face_only
    assert yard.slab(1).figures["board_feet"].value == pytest.approx(2700 * 580 * 50 / MM3_PER_BOARD_FOOT)


def test_where_the_thickness_is_part_of_the_scale_it_is_refused(yard, scratch):
    made = filing(scratch, 1)
    made.record["scale"]["cards_on"] = "floor"
    yard.add(made)
    with pytest.raises(LifeRefused, match="lay on the floor"):
        yard.cuts.thickness(1, (50.0,))
    assert yard.slab(1).figures["thickness_mm"].value == 63.5 and yard.lives.history(1) == ()


def test_lost_pictures_are_said(yard, scratch):
    yard.add(filing(scratch, 1))
    yard.slab(1).surveys[0].overlay.unlink()
    with pytest.raises(LifeRefused, match="pictures of the photo of 2025-03-04 are not there"):
        yard.cuts.thickness(1, (50.0,))
