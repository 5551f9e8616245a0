"""Profiles that come with grainlog: sound, where they are looked for, and used only after a yard's own."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from grainlog.photo import Photo
from grainlog.scale.profile import Matched
from grainlog.scale.shipped import camera_of, shipped_cameras

ROOT = Path(__file__).parents[2]
LISTED = sorted((ROOT / "calibration" / "cameras").glob("*.json"))


def photo_by(profile, **other) -> Photo:
    pixels = np.zeros((profile.height_px, profile.width_px, 3), np.uint8)
    named = Photo(
        pixels, profile.width_px, profile.height_px, "0" * 64, "p.jpg", None, profile.make, profile.model, profile.focal_35mm_mm, ()
    )  # fmt: skip
    return replace(named, **other)


def test_the_listed_profiles_are_those_of_the_package():
    assert LISTED and len(LISTED) == len(shipped_cameras())
    for file, profile in zip(LISTED, shipped_cameras()):
        assert json.loads(file.read_text()).items() >= profile.as_dict().items()


@pytest.mark.parametrize("file", LISTED, ids=lambda file: file.stem)
def test_a_made_profile_says_so_and_holds_the_lens_that_it_was_drawn_with(file):
    data = json.loads(file.read_text())
    assert "not a real camera" in data["about"]
    for name, u in (("focal_px", "focal_u_px"), ("k1", "k1_u"), ("k2", "k2_u"), ("centre_px", "centre_u_px")):
        off = np.array(data[name]) - np.array(data["drawn_with"][name])
        assert (np.abs(off) < 3 * np.array(data[u])).all(), name
    assert data["photos"] >= 8 and data["rms_px"] < 0.1


def test_the_own_profile_comes_first_then_the_shipped_one_then_none():
    shipped = shipped_cameras()[0]
    own = replace(shipped, day="2001-01-01")
    assert camera_of(photo_by(shipped), (own,)) == Matched(own, True)
    assert camera_of(photo_by(shipped), ()) == Matched(shipped, False)
    assert camera_of(photo_by(shipped), (replace(own, model="another"),)) == Matched(shipped, False)
    assert camera_of(photo_by(shipped, focal_35mm_mm=35.0), (own,)) is None
    assert camera_of(photo_by(shipped, make=None, model=None), ()) is None


def test_no_sample_photo_is_measured_by_a_shipped_profile():
    """The published figures are those of a camera that nobody has learned."""
    known = {(profile.make, profile.model) for profile in shipped_cameras()}
    photos = [
        file for folder in ("", "several", "checks") for file in sorted((ROOT / "sample_images" / folder).glob("*.jpg"))
    ]
    assert len(photos) > 12
    for file in photos:
        with Image.open(file) as picture:
            exif = picture.getexif()
        assert (exif.get(0x010F), exif.get(0x0110)) not in known, file
