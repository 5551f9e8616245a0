"""Every kind of file: used correctly, or refused in one sentence."""

import hashlib
import os
import struct
import threading
import zlib

import numpy as np
import pillow_heif
import pytest
from PIL import Image

from grainlog.photo import PhotoError, read_photo, reading
from tests.photo.made_files import (
    DISPLAY_P3,
    SIZE,
    corners,
    deep_png,
    exif,
    matrix_profile,
    png_bytes,
    saved,
    scene,
)

KINDS = {"JPEG": "jpg", "PNG": "png", "TIFF": "tif", "WEBP": "webp", "HEIF": "heic"}


def codes(photo):
    return [note.code for note in photo.notes]


def refusal(path) -> str:
    with pytest.raises(PhotoError) as caught:
        read_photo(path)
    sentence = str(caught.value)
    assert sentence.endswith(".") and sentence.count(". ") == 0 and "\n" not in sentence
    assert str(path.parent) not in sentence
    return sentence


@pytest.mark.parametrize("kind", KINDS)
def test_each_format_gives_the_same_picture(tmp_path, kind):
    path = saved(tmp_path / f"slab.{KINDS[kind]}", scene(), kind)
    photo = read_photo(path)
    assert (photo.width, photo.height) == SIZE and photo.pixels.shape == (600, 800, 3)
    assert photo.pixels.dtype == np.uint8 and not photo.pixels.flags.writeable and photo.pixels.flags.c_contiguous
    assert np.abs(corners(photo.pixels) - corners(scene())).max() <= 6
    assert photo.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert photo.name == path.name and photo.notes == ()
    assert (photo.taken, photo.make, photo.model, photo.focal_35mm_mm) == (None, None, None, None)


def test_the_content_decides_and_not_the_name(tmp_path):
    photo = read_photo(saved(tmp_path / "slab.jpg", scene(), "PNG"))
    assert np.array_equal(photo.pixels, scene())


def test_a_path_may_be_text(tmp_path):
    assert read_photo(str(saved(tmp_path / "slab.png", scene(), "PNG"))).width == 800


@pytest.mark.parametrize(
    ("name", "content"),
    [("note.jpg", b"not a photo at all\n" * 99), ("none.gif", b""), ("zeros.jpg", bytes(5000)), ("a.svg", b"<svg/>")],
)
def test_what_is_no_photo_is_refused(tmp_path, name, content):
    (tmp_path / name).write_bytes(content)
    assert name in refusal(tmp_path / name)


def test_a_format_that_no_camera_writes_is_refused(tmp_path):
    for kind, name in (("GIF", "a.gif"), ("BMP", "a.jpg"), ("PPM", "a.ppm")):
        Image.fromarray(scene()).save(tmp_path / name, kind)
        assert "JPEG, PNG, TIFF, WebP or HEIC" in refusal(tmp_path / name)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("share", [0.01, 0.3, 0.9])
def test_a_file_cut_short_is_refused(tmp_path, kind, share):
    noise = np.random.default_rng(0).integers(0, 255, (600, 800, 3), dtype=np.uint8)
    path = saved(tmp_path / f"slab.{KINDS[kind]}", noise, kind)
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * share)])
    assert "damaged" in refusal(path)


@pytest.mark.parametrize("kind", KINDS)
def test_damaged_bytes_never_crash(tmp_path, kind):
    path = saved(tmp_path / f"slab.{KINDS[kind]}", scene(), kind)
    whole = bytearray(path.read_bytes())
    generator = np.random.default_rng(7)
    outcomes = set()
    for _ in range(30):
        data = bytearray(whole)
        for place in generator.integers(0, min(len(data), 2000), 8):
            data[place] = generator.integers(0, 256)
        path.write_bytes(bytes(data))
        try:
            outcomes.add(read_photo(path).pixels.ndim)
        except PhotoError as error:
            outcomes.add(str(error)[-1])
    assert outcomes <= {3, "."} and "." in outcomes


def test_places_that_hold_no_photo(tmp_path):
    assert "folder" in refusal(tmp_path)
    assert "no file" in refusal(tmp_path / "gone.jpg")
    (tmp_path / "empty.jpg").touch()
    assert "empty" in refusal(tmp_path / "empty.jpg")
    os.mkfifo(tmp_path / "pipe.jpg")
    assert "ordinary" in refusal(tmp_path / "pipe.jpg")
    assert "cannot be read" in refusal(tmp_path / ("n" * 300 + ".jpg"))
    with pytest.raises(PhotoError, match="cannot be read"):
        read_photo("slab\0.jpg")


def test_a_locked_file_is_refused(tmp_path, monkeypatch):
    path = saved(tmp_path / "locked.png", scene(), "PNG")

    def locked(_path):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(reading.Path, "read_bytes", locked)  # the tests may run as a user who may read everything
    assert "permissions" in refusal(path)


def test_limits_are_kept_before_decoding(tmp_path, monkeypatch):
    def decode(*_):
        raise AssertionError("decoded")

    monkeypatch.setattr(reading, "_loaded", decode)
    small = saved(tmp_path / "small.png", scene(639, 400), "PNG")
    assert "639 x 400" in refusal(small)
    strip = saved(tmp_path / "strip.png", scene(900, 100), "PNG")
    assert "900 x 100" in refusal(strip)
    header = bytearray(png_bytes(Image.new("RGB", (8, 8))))
    for name, side in (("bomb.png", 60_000), ("large.png", 14_200), ("huge.png", 2**31 - 1)):
        header[16:24] = struct.pack(">II", side, side)
        header[29:33] = struct.pack(">I", zlib.crc32(bytes(header[12:29])))
        (tmp_path / name).write_bytes(bytes(header))
        assert "200 megapixels" in refusal(tmp_path / name)
    heavy = tmp_path / "heavy.jpg"
    with heavy.open("wb") as file:
        file.truncate(100_000_001)
    assert "100 MB" in refusal(heavy)
    exactly_enough = saved(tmp_path / "enough.png", scene(640, 400), "PNG")
    with pytest.raises(AssertionError, match="decoded"):
        read_photo(exactly_enough)


def test_grey_palette_and_printing_colours(tmp_path):
    grey = read_photo(saved(tmp_path / "grey.jpg", Image.fromarray(scene()).convert("L"), "JPEG"))
    assert codes(grey) == ["grey"] and np.ptp(corners(grey.pixels), axis=1).max() == 0
    line = read_photo(saved(tmp_path / "line.png", Image.fromarray(scene()).convert("1"), "PNG"))
    assert codes(line) == ["grey"]
    palette = read_photo(saved(tmp_path / "palette.png", Image.fromarray(scene()).quantize(8), "PNG"))
    assert codes(palette) == [] and np.abs(corners(palette.pixels) - corners(scene())).max() <= 6
    for kind, name in (("JPEG", "print.jpg"), ("TIFF", "print.tif")):
        printed = read_photo(saved(tmp_path / name, Image.fromarray(scene()).convert("CMYK"), kind))
        assert codes(printed) == ["cmyk"] and np.abs(corners(printed.pixels) - corners(scene())).max() <= 12


@pytest.mark.parametrize(
    ("kind", "name"), [("PNG", "a.png"), ("WEBP", "a.webp"), ("TIFF", "a.tif"), ("HEIF", "a.heic")]
)
def test_see_through_parts_are_laid_on_white(tmp_path, kind, name):
    rgba = np.dstack([scene(), np.full((600, 800), 255, np.uint8)])
    opaque = read_photo(saved(tmp_path / f"opaque-{name}", rgba, kind))
    assert codes(opaque) == [] and np.abs(corners(opaque.pixels) - corners(scene())).max() <= 6
    rgba[:300, :400, 3] = 0
    clear = read_photo(saved(tmp_path / name, rgba, kind))
    assert codes(clear) == ["alpha"]
    assert np.abs(corners(clear.pixels) - [[255] * 3, *corners(scene())[1:]]).max() <= 6


def test_see_through_grey_and_palette(tmp_path):
    grey = Image.fromarray(scene()).convert("LA")
    grey.putalpha(Image.new("L", SIZE, 0))
    photo = read_photo(saved(tmp_path / "grey.png", grey, "PNG"))
    assert codes(photo) == ["grey", "alpha"] and (photo.pixels == 255).all()
    palette = Image.fromarray(scene()).quantize(4)
    clear = palette.getpixel((0, 0))
    photo = read_photo(saved(tmp_path / "palette.png", palette, "PNG", transparency=clear))
    assert codes(photo) == ["alpha"] and (photo.pixels[0, 0] == 255).all()


def test_sixteen_bits_become_eight(tmp_path):
    (tmp_path / "colour.png").write_bytes(deep_png(700, 500, 0x80FF))
    colour = read_photo(tmp_path / "colour.png")
    assert codes(colour) == ["sixteen-bit"] and (colour.pixels == 0x80).all()
    grey = Image.fromarray(np.full((500, 700), 0x40FF, np.uint16))
    for kind, name in (("PNG", "grey.png"), ("TIFF", "grey.tif")):
        photo = read_photo(saved(tmp_path / name, grey, kind))
        assert codes(photo) == ["sixteen-bit", "grey"] and (photo.pixels == 0x40).all()


def test_a_ten_bit_heic_becomes_eight(tmp_path):
    deep = np.full((500, 700, 3), 0x8000, np.uint16)
    picture = pillow_heif.from_bytes("RGB;16", (700, 500), deep.tobytes())
    picture.save(tmp_path / "deep.heic", quality=95)
    photo = read_photo(tmp_path / "deep.heic")
    assert codes(photo) == ["sixteen-bit"] and np.abs(photo.pixels.astype(int) - 128).max() <= 2


def test_pixel_values_of_another_kind_are_refused(tmp_path):
    for mode in ("F", "I"):
        path = saved(tmp_path / f"{mode}.tif", Image.new(mode, SIZE), "TIFF")
        assert "kind that cameras do not write" in refusal(path)


@pytest.mark.parametrize(("kind", "name"), [("PNG", "a.png"), ("WEBP", "a.webp"), ("TIFF", "a.tif")])
def test_the_first_of_several_pictures_is_used(tmp_path, kind, name):
    first, second = Image.fromarray(scene()), Image.new("RGB", SIZE, (9, 9, 9))
    path = saved(tmp_path / name, first, kind, save_all=True, append_images=[second])
    photo = read_photo(path)
    assert codes(photo) == ["several-pictures"] and np.abs(corners(photo.pixels) - corners(scene())).max() <= 6


def test_the_second_picture_of_a_phone_is_no_matter(tmp_path):
    first, second = Image.fromarray(scene()), Image.new("RGB", (200, 150), (9, 9, 9))
    path = saved(tmp_path / "a.jpg", first, "MPO", save_all=True, append_images=[second])
    photo = read_photo(path)
    assert codes(photo) == [] and np.abs(corners(photo.pixels) - corners(scene())).max() <= 6


@pytest.mark.parametrize(("kind", "name"), [("JPEG", "a.jpg"), ("HEIF", "a.heic"), ("PNG", "a.png")])
def test_a_wide_colour_profile_is_converted(tmp_path, kind, name):
    """In the profile's wider colours the same numbers mean stronger red: sRGB needs more red and less green for it."""
    path = saved(tmp_path / name, Image.new("RGB", SIZE, (200, 100, 60)), kind, exif=exif(6),
                 icc_profile=matrix_profile(*DISPLAY_P3, gamma=2.2))
    red, green, blue = read_photo(path).pixels[300, 300].astype(int)
    assert red > 207 and 85 < green < 99 and blue < 60
    assert codes(read_photo(path)) == []


def test_a_profile_that_is_none_is_ignored_with_a_note(tmp_path):
    for profile in (b"rubbish" * 40, matrix_profile(*DISPLAY_P3, gamma=2.2)[:200]):
        photo = read_photo(saved(tmp_path / "a.png", scene(), "PNG", icc_profile=profile))
        assert codes(photo) == ["profile-ignored"] and np.array_equal(photo.pixels, scene())


def test_an_srgb_profile_changes_nothing(tmp_path):
    profile = matrix_profile(*DISPLAY_P3, gamma=2.2, name=b"sRGB by another name")
    photo = read_photo(saved(tmp_path / "a.png", scene(), "PNG", icc_profile=profile))
    assert photo.notes == () and np.array_equal(photo.pixels, scene())


def test_photos_can_be_read_side_by_side(tmp_path):
    paths = [saved(tmp_path / f"{index}.jpg", scene(), "JPEG") for index in range(4)]
    found = [None] * 4

    def read(index):
        found[index] = read_photo(paths[index]).sha256

    threads = [threading.Thread(target=read, args=(index,)) for index in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(set(found)) == 1 and found[0]
