"""What the EXIF says, and what it says wrongly."""

import math
from datetime import datetime, timedelta, timezone

import numpy as np
import pytest

from grainlog.photo import focal_px, read_photo
from grainlog.photo.focal import plausible_focal_35mm
from tests.photo.made_files import exif, saved, scene


def read(tmp_path, kind="JPEG", **fields):
    return read_photo(saved(tmp_path / "slab", scene(), kind, exif=exif(**fields)))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "HEIF", "TIFF"])
def test_camera_time_and_lens(tmp_path, kind):
    photo = read(tmp_path, kind, make="Some Maker\0", model=" Model  One ", moment="2025:10:04 16:20:11",
                 offset="-05:00", focal=26)
    assert photo.taken == datetime(2025, 10, 4, 16, 20, 11, tzinfo=timezone(timedelta(hours=-5)))
    assert (photo.make, photo.model, photo.focal_35mm_mm, photo.notes) == ("Some Maker", "Model One", 26.0, ())


@pytest.mark.parametrize(
    ("fields", "taken"),
    [
        ({"moment": "2025:10:04 16:20:11"}, datetime(2025, 10, 4, 16, 20, 11)),
        ({"changed": "2025:10:05 08:00:00"}, datetime(2025, 10, 5, 8)),
        ({"moment": "0000:00:00 00:00:00", "changed": "2025:10:05 08:00:00"}, datetime(2025, 10, 5, 8)),
        ({"moment": "2025:13:41 16:20:11"}, None),
        ({"moment": "last autumn"}, None),
        ({"moment": "    :  :     :  :  "}, None),
        ({"moment": "2025:10:04 16:20:11", "offset": "nowhere"}, datetime(2025, 10, 4, 16, 20, 11)),
        ({"moment": "2025:10:04 16:20:11", "offset": "+99:00"}, datetime(2025, 10, 4, 16, 20, 11)),
    ],
)
def test_times(tmp_path, fields, taken):
    photo = read(tmp_path, **fields)
    assert photo.taken == taken and (taken is None or photo.taken.tzinfo is None)


@pytest.mark.parametrize(("stated", "noted"), [(0, False), (1, True), (65535, True)])
def test_a_focal_length_that_makes_no_sense_is_not_used(tmp_path, stated, noted):
    photo = read(tmp_path, focal=stated)
    assert photo.focal_35mm_mm is None
    assert [note.code for note in photo.notes] == (["focal-ignored"] if noted else [])


@pytest.mark.parametrize("value", [None, "26 mm", b"x", math.nan, math.inf, -26, (26, 1)])
def test_what_is_no_focal_length(value):
    assert plausible_focal_35mm(value) is None


def test_an_orientation_that_is_none_is_taken_as_upright(tmp_path):
    for orientation in (0, 9, 4711):
        photo = read(tmp_path, orientation=orientation)
        assert (photo.width, photo.height) == (800, 600)


def test_broken_metadata_never_stops_the_photo(tmp_path):
    good = exif(6, make="Some Maker", moment="2025:10:04 16:20:11", offset="-05:00", focal=26)
    generator = np.random.default_rng(5)
    read_all = 0
    for _ in range(60):
        broken = bytearray(good)
        for place in generator.integers(6, len(broken), 6):
            broken[place] = generator.integers(0, 256)
        photo = read_photo(saved(tmp_path / "slab.jpg", scene(), "JPEG", exif=bytes(broken)))
        assert photo.pixels.size == 3 * 800 * 600
        assert photo.make is None or photo.make.isprintable()
        read_all += 1
    assert read_all == 60
    for rubbish in (b"Exif\0\0", b"Exif\0\0II*\0\xff\xff\xff\xff", b"Exif\0\0" + b"\xff" * 300):
        photo = read_photo(saved(tmp_path / "slab.jpg", scene(), "JPEG", exif=rubbish))
        assert photo.taken is None and photo.width == 800


def test_unprintable_names_are_cleaned(tmp_path):
    photo = read(tmp_path, make="\x1b[31mMaker\n", model="m" * 300)
    assert photo.make == "[31mMaker" and len(photo.model) == 64


def test_focal_length_in_pixels_follows_the_diagonal():
    assert focal_px(43.27, 3000, 4000) == pytest.approx(5000)
    assert focal_px(26, 4032, 3024) == focal_px(26, 3024, 4032) == pytest.approx(26 / 43.27 * 5040)
