"""The profile of a photo's camera: used by itself, and said in the record and in the answer."""

from dataclasses import replace
from pathlib import Path

import pytest

from grainlog.cli.figures import print_survey
from grainlog.photo import read_photo
from grainlog.scale.shipped import shipped_cameras
from grainlog.survey import measure_photo, record_of
from tests.accuracy import samples

CHECKS = Path(__file__).parents[2] / "sample_images" / "checks"


@pytest.fixture(scope="module")
def plain():
    (sample,) = [one for one in samples([CHECKS]) if one.photo.stem == "plain-621"]
    return read_photo(sample.photo), replace(sample.request, checks=False)


def test_a_shipped_profile_is_used_and_the_answer_says_so(plain, capsys):
    photo, request = plain
    (shipped,) = shipped_cameras()
    taken = replace(photo, make=shipped.make, model=shipped.model, focal_35mm_mm=shipped.focal_35mm_mm)
    record = record_of(measure_photo(taken, request))
    assert record["scale"]["camera"]["profile"] == {
        "from": "shipped", "make": "rendered", "model": "example lens", "focal_35mm_mm": 26.0, "photos": 12, "day": "2026-11-26",
    }  # fmt: skip
    # The profile's lens is held to, whatever the cards would say of another one.
    assert record["scale"]["camera"]["k1"] == pytest.approx(shipped.k1, abs=0.015)
    print_survey(record, "mm")
    assert (
        "lens  by the profile of rendered example lens (comes with grainlog, from 12 photos, 2026-11-26)"
        in capsys.readouterr().out
    )


def test_without_a_profile_none_is_named(plain, capsys):
    photo, request = plain
    record = record_of(measure_photo(photo, request))
    assert record["scale"]["camera"]["profile"] is None
    print_survey(record, "mm")
    assert "lens" not in capsys.readouterr().out


def test_an_own_profile_is_said_to_be_ones_own(plain, capsys):
    photo, request = plain
    own = replace(
        shipped_cameras()[0], make=photo.make, model=photo.model, focal_35mm_mm=photo.focal_35mm_mm, focal_u_px=600.0, k1_u=0.1
    )  # fmt: skip
    record = record_of(measure_photo(photo, replace(request, cameras=(own,))))
    assert record["scale"]["camera"]["profile"]["from"] == "own"
    print_survey(record, "mm")
    assert "learned from 12 photos" in capsys.readouterr().out
