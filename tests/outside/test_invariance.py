"""The same slab, told or shown in another way, gives the same numbers.

The eight orientations are those of the Exif standard (CIPA DC-008, tag 0x0112), written here with Pillow and turned by
hand; what another lift or another place of the cards must do follows from similar triangles.
"""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from PIL import Image

from grainlog.face.frame import slab_frame
from grainlog.face.measures import measure_outline
from grainlog.scale import FacePlane, View, find_cards, solve
from grainlog.scale.priors import HARD, Lens
from grainlog.survey import measure_photo
from tests.samples import FLOOR, SLAB, sample, surveyed

#: How the pixels of an upright photo must be turned before they are stored under each orientation.
STORED_AS = {
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}
NAMES = ("length_mm", "width_mean_mm", "area_mm2", "board_feet")


def numbers(survey):
    return np.array([survey.measured.quantities[name].value for name in NAMES])


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    """The floor sample at half size, without loss, and its numbers."""
    pixels = surveyed(FLOOR).photo.pixels
    half = cv2.resize(pixels, (pixels.shape[1] // 2, pixels.shape[0] // 2), interpolation=cv2.INTER_AREA)
    return Image.fromarray(half), tmp_path_factory.mktemp("turned")


def saved(image, folder, orientation):
    stored = image if STORED_AS[orientation] is None else image.transpose(STORED_AS[orientation])
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif.get_ifd(0x8769)[0xA405] = round(sample(FLOOR).truth["camera"]["focal_35mm"])
    path = folder / f"turned-{orientation}.png"
    stored.save(path, exif=exif, compress_level=1)
    return path


def test_eight_orientations(small):
    image, folder = small
    upright = numbers(measure_photo(saved(image, folder, 1), sample(FLOOR).request))
    for orientation in range(2, 9):
        turned = numbers(measure_photo(saved(image, folder, orientation), sample(FLOOR).request))
        assert np.abs(turned / upright - 1).max() < 1e-9, orientation


def test_a_photo_held_sideways(small):
    """Not told by metadata but truly turned: other pixels, same slab."""
    image, folder = small
    path = folder / "sideways.png"
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA405] = round(sample(FLOOR).truth["camera"]["focal_35mm"])
    image.transpose(Image.Transpose.ROTATE_90).save(path, exif=exif, compress_level=1)
    sideways = measure_photo(path, sample(FLOOR).request)
    upright = measure_photo(saved(image, folder, 1), sample(FLOOR).request)
    for name in NAMES:
        both = upright.measured.quantities[name], sideways.measured.quantities[name]
        assert abs(both[0].value - both[1].value) < both[0].u, name


def test_a_crop_keeps_the_numbers():
    """4 % off the left and top: the principal point is no longer in the middle, and the focal length no longer the
    metadata's; the interval knows."""
    survey = surveyed(FLOOR)
    h, w = survey.photo.pixels.shape[:2]
    cut = replace(survey.photo, pixels=np.ascontiguousarray(survey.photo.pixels[h // 25 :, w // 25 :]))
    cut = replace(cut, width=cut.pixels.shape[1], height=cut.pixels.shape[0])
    cropped = measure_photo(cut, sample(FLOOR).request)
    for name in NAMES:
        both = survey.measured.quantities[name], cropped.measured.quantities[name]
        assert abs(both[0].value - both[1].value) < 2 * both[0].u, name


def plane(name, **told):
    """The solved plane of a sample with something told otherwise."""
    photo = surveyed(name).photo
    view = View(find_cards(photo.pixels).cards, (photo.width, photo.height), Lens.from_metadata(photo.focal_35mm_mm))
    return FacePlane(solve([view], replace(sample(name).request.setup(), ground=HARD, **told)))


def size(plane, name):
    wood = plane.to_mm(np.array(sample(name).truth["outline"]["wood_px"]))
    measured = measure_outline(slab_frame(wood).to_slab(wood))
    return measured.length_mm, measured.area_mm2


def test_another_lift_scales_by_similar_triangles():
    """A face 20 mm nearer to a camera H above it is (H - 20) / H as large."""
    told = sample(FLOOR).request.lift_mm
    low, high = plane(FLOOR), plane(FLOOR, lift_mm=told + 20)
    factor = (low.camera_mm[2] - 20) / low.camera_mm[2]
    assert size(high, FLOOR)[0] / size(low, FLOOR)[0] == pytest.approx(factor, rel=2e-5)
    assert size(high, FLOOR)[1] / size(low, FLOOR)[1] == pytest.approx(factor**2, rel=4e-5)


def test_cards_on_the_slab_or_on_the_floor_differ_by_the_height_of_the_face():
    floor = plane(FLOOR)
    slab = plane(FLOOR, cards_on="slab")
    setup = floor.solution.problem.setup
    nearer = setup.thickness_mm + setup.lift_mm
    factor = slab.camera_mm[2] / (slab.camera_mm[2] - nearer)
    assert size(slab, FLOOR)[0] / size(floor, FLOOR)[0] == pytest.approx(factor, rel=1e-3)
    # And the sample whose cards do lie on the slab agrees with its truth without any height told.
    length = measure_outline(slab_frame(np.array(sample(SLAB).truth["outline"]["wood_mm"])).to_slab(
        np.array(sample(SLAB).truth["outline"]["wood_mm"]))).length_mm  # fmt: skip
    assert size(plane(SLAB), SLAB)[0] == pytest.approx(length, rel=2e-3)


@pytest.mark.parametrize("name", [FLOOR, SLAB])
def test_a_mirrored_outline_measures_the_same(name):
    wood = surveyed(name).face.wood
    plain = measure_outline(slab_frame(wood).to_slab(wood))
    for mirror in ([1, -1], [-1, 1]):
        mirrored = wood * mirror
        other = measure_outline(slab_frame(mirrored).to_slab(mirrored))
        assert other.length_mm == pytest.approx(plain.length_mm, rel=1e-9)
        assert other.area_mm2 == pytest.approx(plain.area_mm2, rel=1e-9)
        assert other.width_mean_mm == pytest.approx(plain.width_mean_mm, rel=2e-3)
