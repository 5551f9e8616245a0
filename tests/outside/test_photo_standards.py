"""Photo metadata against the standards that define it.

- CIPA DCG-001 (guideline on digital camera specifications): 35 mm-equivalent focal length by the ratio of picture
  diagonals, the 35 mm frame being 36 mm x 24 mm with a diagonal of 43.27 mm.
- CIPA DC-008 / JEITA CP-3451 (Exif): tag Orientation, values 1 to 8, each defined by which side of what a person sees
  the 0th row and the 0th column are; tag 0xA405 FocalLengthIn35mmFilm, where 0 means unknown.
- ISO/IEC 23008-12 (HEIF): the picture's own transformations are what counts, an orientation in its EXIF is not applied
  on top.
- SMPTE EG 432-1 and IEC 61966-2-1 (sRGB): primaries and white, from memory, for what a wide-gamut photo's numbers
  mean.
"""

import math

import numpy as np
import pytest
from PIL import Image, ImageOps

from grainlog.photo import focal_px, read_photo
from grainlog.photo.focal import DIAGONAL_35MM_MM
from tests.photo.made_files import (
    DISPLAY_P3,
    STORED,
    corners,
    exif,
    matrix_profile,
    saved,
    scene,
)

# Orientation value: where the 0th row and the 0th column of the stored picture are (CIPA DC-008, Orientation).
DEFINED = {
    1: ("top", "left"),
    2: ("top", "right"),
    3: ("bottom", "right"),
    4: ("bottom", "left"),
    5: ("left", "top"),
    6: ("right", "top"),
    7: ("right", "bottom"),
    8: ("left", "bottom"),
}


def side(upright: np.ndarray, name: str) -> np.ndarray:
    """The outermost line of pixels on one side of the upright picture, as a set of colours can be compared."""
    line = {"top": upright[0], "bottom": upright[-1], "left": upright[:, 0], "right": upright[:, -1]}[name]
    return np.unique(line.reshape(-1, 3), axis=0)


def test_the_diagonal_is_that_of_the_35_mm_frame():
    assert DIAGONAL_35MM_MM == 43.27
    assert DIAGONAL_35MM_MM == pytest.approx(math.hypot(36, 24), abs=0.005)


@pytest.mark.parametrize(("width", "height"), [(4032, 3024), (6000, 4000), (4000, 2250)])
def test_equivalent_lenses_see_the_same_diagonal_angle(width, height):
    """An equivalent of f mm sees the diagonal angle 2 atan(43.27 / 2f), whatever the shape of the picture."""
    for focal in (13, 24, 28, 50):
        angle = 2 * math.atan(math.hypot(width, height) / 2 / focal_px(focal, width, height))
        assert angle == pytest.approx(2 * math.atan(43.27 / 2 / focal), rel=1e-12)


def test_a_3_to_2_picture_has_the_field_of_view_of_the_film_frame():
    """36 mm of film at 50 mm sees 39.6 degrees across: the same from the 36 x 24 frame directly."""
    across = 2 * math.atan(6000 / 2 / focal_px(50, 6000, 4000))
    assert math.degrees(across) == pytest.approx(math.degrees(2 * math.atan(18 / 50)), abs=0.01)


@pytest.mark.parametrize("orientation", DEFINED)
def test_the_test_files_store_what_the_standard_defines(orientation):
    stored = STORED[orientation](scene())
    row_0, column_0 = (np.unique(line.reshape(-1, 3), axis=0) for line in (stored[0], stored[:, 0]))
    assert np.array_equal(row_0, side(scene(), DEFINED[orientation][0]))
    assert np.array_equal(column_0, side(scene(), DEFINED[orientation][1]))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP"])
@pytest.mark.parametrize("orientation", DEFINED)
def test_the_eight_orientations_give_one_picture(tmp_path, kind, orientation):
    stored = STORED[orientation](scene())
    options = {"lossless": True} if kind == "WEBP" else {}
    photo = read_photo(saved(tmp_path / "slab", stored, kind, exif=exif(orientation), **options))
    assert (photo.width, photo.height) == (800, 600)
    assert np.abs(corners(photo.pixels) - corners(scene())).max() <= (6 if kind == "JPEG" else 0)
    if kind != "JPEG":
        assert np.array_equal(photo.pixels, scene())


@pytest.mark.parametrize("orientation", DEFINED)
def test_orientation_agrees_with_the_reference_library(tmp_path, orientation):
    """Pillow's own exif_transpose on the same file, with noise for a picture so that no pixel can go astray."""
    noise = np.random.default_rng(orientation).integers(0, 255, (300, 700, 3), dtype=np.uint8)
    path = saved(tmp_path / "slab.png", noise, "PNG", exif=exif(orientation))
    with Image.open(path) as image:
        reference = np.asarray(ImageOps.exif_transpose(image))
    assert np.array_equal(read_photo(path).pixels, reference)


@pytest.mark.parametrize("orientation", DEFINED)
def test_a_heic_is_turned_once(tmp_path, orientation):
    """Written with the orientation as HEIF transformations, which decoding applies: never again by the EXIF."""
    path = saved(tmp_path / "slab.heic", STORED[orientation](scene()), "HEIF", exif=exif(orientation, focal=26))
    photo = read_photo(path)
    assert (photo.width, photo.height) == (800, 600)
    assert np.abs(corners(photo.pixels) - corners(scene())).max() <= 6
    assert photo.focal_35mm_mm == 26


def test_a_heic_is_turned_by_its_own_property_and_not_by_its_exif(tmp_path):
    """The file says both, as phones write it: `irot` 3 (times 90 degrees anticlockwise) and EXIF orientation 6.

    With the property set to 0 in place, the picture has to come out as stored although the EXIF still says 6.
    """
    path = saved(tmp_path / "slab.heic", STORED[6](scene()), "HEIF", exif=exif(6))
    data = bytearray(path.read_bytes())
    turn = data.index(b"irot") + 4
    assert data[turn] == 3 and b"\x01\x12\x00\x03\x00\x00\x00\x01\x00\x06" in data
    data[turn] = 0
    path.write_bytes(bytes(data))
    photo = read_photo(path)
    assert (photo.width, photo.height) == (600, 800)
    assert np.abs(corners(photo.pixels) - corners(STORED[6](scene()))).max() <= 6


@pytest.mark.parametrize("colour", [(200, 100, 60), (90, 140, 70), (180, 175, 160)])
def test_wide_colours_become_srgb(tmp_path, colour):
    """By hand from the primaries: linear wide numbers to XYZ to linear sRGB, both with white D65, then its curve."""

    def to_xyz(primaries, white=(0.3127, 0.3290)):
        columns = np.array([[x / y, 1, (1 - x - y) / y] for x, y in primaries]).T
        return columns * np.linalg.solve(columns, [white[0] / white[1], 1, (1 - sum(white)) / white[1]])

    wide = to_xyz([(0.680, 0.320), (0.265, 0.690), (0.150, 0.060)])
    srgb = to_xyz([(0.64, 0.33), (0.30, 0.60), (0.15, 0.06)])
    linear = np.linalg.solve(srgb, wide @ (np.array(colour) / 255) ** 2.2)
    expected = 255 * np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear.clip(1e-9) ** (1 / 2.4) - 0.055)
    picture = Image.new("RGB", (800, 600), colour)
    photo = read_photo(saved(tmp_path / "a.png", picture, "PNG", icc_profile=matrix_profile(*DISPLAY_P3, gamma=2.2)))
    assert photo.pixels[0, 0] == pytest.approx(expected, abs=1.5)
    assert np.abs(expected - colour).max() > 2
