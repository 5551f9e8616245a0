"""Tags against the face: no hole, no dent, no check from them; where they lie; and which of two slabs they choose."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from grainlog.scale.tag import TagText
from grainlog.survey import measure_photo, record_of
from tests.samples import SLAB, sample, surveyed
from tests.tagged import YARD, laid, turned

TEXT = TagText(YARD, "128")


@pytest.fixture(scope="module")
def bare():
    """A sample as it is, with its photo in memory and no checks looked for."""
    survey = surveyed(SLAB)
    return survey, replace(sample(SLAB).request, checks=False)


def with_tag(survey, middle_mm, degrees=12.0, text=TEXT):
    """The survey's photo with a tag on the plane of its face, in its slab frame."""
    corners = survey.plane.to_px(survey.frame.to_plane(turned(middle_mm, degrees)))
    return replace(survey.photo, pixels=laid(survey.photo.pixels, text, corners))


def test_a_tag_on_the_wood_changes_nothing_but_that_it_is_told(bare):
    survey, request = bare
    found = measure_photo(with_tag(survey, (survey.frame.length * 0.35, 20.0)), request)
    one, other = (shapely.Polygon(each.face.wood).buffer(0) for each in (survey, found))
    assert one.intersection(other).area / one.union(other).area > 0.997
    assert len(found.face.holes) == len(survey.face.holes)
    assert found.measured.quantities["area_mm2"].value == pytest.approx(
        survey.measured.quantities["area_mm2"].value, rel=0.002
    )
    (tag,) = record_of(found)["tags"]
    assert (
        tag["marker"] == 128
        and tag["tag"] == "128"
        and tag["yard"] == YARD
        and tag["place"] == "on"
        and tag["apart_mm"] == 0
    )
    assert tag["middle_mm"] == pytest.approx(
        [survey.frame.length * 0.35, 20.0], abs=4.0
    )
    assert record_of(survey)["tags"] == []


def test_a_tag_over_the_edge_is_told_and_one_beside_the_slab_lies_apart(bare):
    survey, request = bare
    x = survey.frame.length * 0.5
    station = int(np.abs(survey.measured.station_x_mm - x).argmin())
    ends = survey.frame.to_slab(
        survey.plane.to_mm(survey.measured.station_ends_px[station])
    )
    photo = with_tag(survey, (x, ends[1, 1] - 5.0))
    away = survey.plane.to_px(survey.frame.to_plane(turned((x, ends[0, 1] - 200.0))))
    photo = replace(photo, pixels=laid(photo.pixels, TagText(YARD, "9"), away))
    found = measure_photo(photo, request)
    one, other = (shapely.Polygon(each.face.wood).buffer(0) for each in (survey, found))
    assert one.intersection(other).area / one.union(other).area > 0.995
    assert [(tag.seen.marker, tag.belongs) for tag in found.tags] == [
        (128, True),
        (9, False),
    ]
    assert found.tags[1].apart_mm == pytest.approx(160, abs=60)
    assert "tag-on-edge" in [notice.code for notice in found.notices]
