"""Tags against the face: no hole, no dent, no check from them; where they lie; and which of two slabs they choose."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
import shapely

from grainlog.face.dabs import Dabs
from grainlog.scale.tag import TagText
from grainlog.survey import measure_photo, record_of
from tests.samples import FLOOR, SLAB, sample, surveyed
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


def with_a_smaller_slab(survey, share=0.6, gap_mm=150.0):
    """The photo with a smaller copy of its slab below, and the middle of that copy, slab frame."""
    length, half = (
        survey.frame.length,
        survey.measured.quantities["width_mean_mm"].value / 2,
    )
    move = np.array([0.2 * length, -(half + gap_mm + share * half)])
    square = np.array([[0, -half], [length, -half], [length, half], [0, half]])
    there, here = (
        np.float32(survey.plane.to_px(survey.frame.to_plane(at)))
        for at in (square * share + move, square)
    )
    onto = cv2.getPerspectiveTransform(here, there)
    rgb = survey.photo.pixels
    outline = np.zeros(rgb.shape[:2], np.float32)
    cv2.fillPoly(
        outline,
        [np.round(survey.plane.to_px(survey.face.silhouette)).astype(np.int32)],
        1,
    )
    copy, cover = (
        cv2.warpPerspective(part, onto, rgb.shape[1::-1]) for part in (rgb, outline)
    )
    both = rgb * (1 - cover[..., None]) + copy * cover[..., None]
    return replace(survey.photo, pixels=both.astype(np.uint8)), move + [
        share * length / 2,
        0,
    ]


def test_of_two_slabs_the_one_with_the_tag_is_measured():
    survey = surveyed(FLOOR)
    photo, middle = with_a_smaller_slab(survey)
    request = replace(sample(FLOOR).request, checks=False)
    corners = survey.plane.to_px(survey.frame.to_plane(turned(middle, 5.0)))
    found = measure_photo(
        replace(photo, pixels=laid(photo.pixels, TEXT, corners)), request
    )
    assert found.frame.length == pytest.approx(0.6 * survey.frame.length, rel=0.02)
    assert [tag.place for tag in found.tags] == ["on"]
    codes = [notice.code for notice in found.notices]
    assert "chosen-by-tag" in codes and "dabbed" not in codes
    # A person who points at the other slab has the last word.
    pointed = replace(request, dabs=Dabs((survey.plane.to_px(survey.middle_mm[None]),)))
    other = measure_photo(
        replace(photo, pixels=laid(photo.pixels, TEXT, corners)), pointed
    )
    assert other.frame.length == pytest.approx(survey.frame.length, rel=0.01)
    assert [tag.belongs for tag in other.tags] == [False]
