"""The sample photos' truth holds together, by means other than those that made it.

Projection and its inverse are checked against OpenCV's camera model (calib3d: projectPoints, undistortImagePoints),
lengths and areas against OpenCV's minAreaRect and contourArea, card corners against OpenCV's ChArUco detector in the
photo itself. The photos are rendered (see sample_images/README.md); nothing here renders.
"""

import json
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image
from shapely.geometry import Polygon

from grainlog.scale import card as scale_card
from sample_images.render import compose, lay, named, optics, prove, solid

FOLDER = Path(__file__).parent.parent / "sample_images"
NAMES = sorted(path.stem for path in FOLDER.glob("*.json"))
PAPER_MM = 0.3


@cache
def truth_of(name: str) -> dict:
    return json.loads((FOLDER / f"{name}.json").read_text())


def photo_of(name: str) -> np.ndarray:
    return prove.upright(FOLDER / f"{name}.jpg")


def project(truth: dict, world: np.ndarray) -> np.ndarray:
    matrix, distortion, rotation, translation = prove.camera_of(truth)
    return cv2.projectPoints(np.asarray(world, float), cv2.Rodrigues(rotation)[0], translation, matrix, distortion)[0][
        :, 0
    ]


def face_to_world(truth: dict, points: np.ndarray) -> np.ndarray:
    face = truth["face"]["slab_to_world"]
    points = np.asarray(points, float)
    height = truth["face"]["cup_mm"] * (points[:, 1] / (face["width_mm"] / 2)) ** 2
    return np.column_stack([points, height]) @ np.array(face["rotation"]).T + face["translation_mm"]


def test_there_are_enough_and_half_are_imperfect():
    assert len(NAMES) >= 10
    perfect = sum(truth_of(name)["perfect"] for name in NAMES)
    assert abs(perfect - len(NAMES) / 2) <= 1
    assert len({truth_of(name)["species"] for name in NAMES}) >= 6
    assert len({truth_of(name)["ground"] for name in NAMES}) >= 6
    assert {truth_of(name)["light"] for name in NAMES} == {"overcast", "sun", "shed"}
    assert {len(truth_of(name)["cards"]) for name in NAMES} == {1, 2, 3, 4}


def test_all_together_stay_small():
    sizes = [path.stat().st_size for path in FOLDER.glob("*.*")]
    assert sum(sizes) < 22_000_000


def test_every_committed_scene_is_named_in_code():
    assert set(NAMES) <= {brief.name for brief in named.COMMITTED}


@pytest.mark.parametrize("name", NAMES)
def test_the_code_still_gives_the_committed_scene(name):
    truth = truth_of(name)
    scene = compose.compose(next(brief for brief in named.COMMITTED if brief.name == name))
    built = solid.build(scene.slab, scene.wood)
    seen = optics.view(scene.camera, truth["size_px"][0])
    ring = np.asarray(built.wood.exterior.coords)[:-1]
    px = seen.project(lay.slab_to_world(ring, scene.lie, scene.slab))
    assert np.abs(px - truth["outline"]["wood_px"]).max() < 0.01
    assert [card.id for card in scene.cards] == [card["id"] for card in truth["cards"]]
    for card, true in zip(scene.cards, truth["cards"], strict=True):
        world = lay.card_to_world(card, scale_card.inner_corners(), scene.lie, scene.slab)
        assert np.abs(seen.project(world) - true["corners_px"]).max() < 0.01


@pytest.mark.parametrize("name", NAMES)
def test_photo_and_metadata(name):
    truth, path = truth_of(name), FOLDER / f"{name}.jpg"
    assert path.stat().st_size <= 1_700_000
    width, height = truth["size_px"]
    assert 11.5e6 < width * height < 12.5e6
    with Image.open(path) as image:
        exif = image.getexif()
        details = exif.get_ifd(0x8769)
        assert image.size == ((height, width) if truth["orientation"] == 6 else (width, height))
    if not truth["exif"]:
        assert not exif
        return
    assert exif[0x0112] == truth["orientation"]
    assert exif[0x010F] == "rendered"
    assert details[0x9003] == truth["taken"]
    assert details[0xA405] == round(truth["camera"]["focal_35mm"])


@pytest.mark.parametrize("name", NAMES)
def test_focal_length_is_by_the_diagonal(name):
    """CIPA DCG-001: 35 mm equivalence by the diagonal of the frame, 43.27 mm."""
    camera, size = truth_of(name)["camera"], truth_of(name)["size_px"]
    assert camera["f_px"] == pytest.approx(camera["focal_35mm"] / np.hypot(36, 24) * np.hypot(*size), rel=1e-4)


@pytest.mark.parametrize("name", NAMES)
def test_outline_goes_to_pixels_and_back(name):
    truth = truth_of(name)
    for key in ("wood", "bark"):
        there = project(truth, face_to_world(truth, truth["outline"][f"{key}_mm"]))
        assert np.abs(there - truth["outline"][f"{key}_px"]).max() < 0.02
    back = prove.face_from_px(truth, np.array(truth["outline"]["wood_px"]))
    assert np.abs(back - truth["outline"]["wood_mm"]).max() < 0.05
    steps = np.linalg.norm(np.diff(truth["outline"]["wood_mm"], axis=0), axis=1)
    assert steps.max() <= 10


@pytest.mark.parametrize("name", NAMES)
def test_measures_against_opencv(name):
    truth = truth_of(name)
    ring = np.array(truth["outline"]["wood_mm"], np.float32)
    assert max(cv2.minAreaRect(ring)[1]) == pytest.approx(truth["measures"]["length_mm"], rel=1e-4)
    holes = sum(cv2.contourArea(np.array(hole, np.float32)) for hole in truth["outline"]["wood_holes_mm"])
    assert cv2.contourArea(ring) - holes == pytest.approx(truth["measures"]["area_mm2"], rel=1e-4)
    low, mean, high = (truth["measures"][f"width_{key}_mm"] for key in ("min", "mean", "max"))
    assert 100 < low < mean < high <= truth["measures"]["rectangle_width_mm"] * 1.001


@pytest.mark.parametrize("name", NAMES)
def test_outlines_nest_and_stay_in_the_frame(name):
    truth = truth_of(name)
    wood, bark, whole = (Polygon(truth["outline"][key]) for key in ("wood_px", "bark_px", "silhouette_px"))
    assert wood.is_valid and bark.is_valid and whole.is_valid
    assert bark.buffer(0.1).contains(wood) and whole.buffer(0.3).contains(bark)
    left, top, right, bottom = whole.bounds
    width, height = truth["size_px"]
    assert left > 0.01 * width and top > 0.01 * width and right < 0.99 * width and bottom < height - 0.01 * width


@pytest.mark.parametrize("name", NAMES)
def test_cards_are_clear_large_and_where_they_say(name):
    truth = truth_of(name)
    wood, whole = Polygon(truth["outline"]["wood_px"]), Polygon(truth["outline"]["silhouette_px"])
    for card in truth["cards"]:
        paper = Polygon(card["outline_px"])
        assert wood.contains(paper.buffer(3)) if card["on"] == "slab" else paper.disjoint(whole.buffer(3))
        corners = np.array(card["corners_px"])
        assert np.abs(project(truth, card["corners_world_mm"]) - corners).max() < 0.001
        square = np.linalg.norm(corners[1:] - corners[:-1], axis=1)[[0, 1, 3, 4, 6, 7, 9, 10]].min()
        assert square * scale_card.MARKER_MM / scale_card.SQUARE_MM >= 18
    assert len({card["id"] for card in truth["cards"]}) == len(truth["cards"])


@pytest.mark.parametrize("name", NAMES)
def test_cards_have_the_true_size_of_the_card(name):
    """Distances between inner corners in the world are those of the card (and of its wrong print)."""
    for card in truth_of(name)["cards"]:
        true = scale_card.inner_corners() * card["print_scale"]
        flat = np.linalg.norm(true[0] - true[-1])
        world = np.linalg.norm(np.subtract(card["corners_world_mm"][0], card["corners_world_mm"][-1]))
        assert world == pytest.approx(flat, abs=0.01 + 0.003 * card["curl_mm"] ** 2)


@pytest.mark.parametrize("name", NAMES)
def test_a_perfect_world_is_perfect_and_an_imperfect_one_is_not(name):
    truth = truth_of(name)
    given = truth["given"]
    on_slab = all(card["on"] == "slab" for card in truth["cards"])
    assert given["cards_on"] == ("slab" if on_slab else "floor")
    if truth["perfect"]:
        assert (given["thickness_mm"], given["lift_mm"]) == (truth["thickness_mm"], truth["lift_mm"])
        assert truth["face"]["tilt_deg"] == [0, 0] and truth["face"]["cup_mm"] == 0
        for card in truth["cards"]:
            assert card["tilt_deg"] == 0 and card["curl_mm"] == 0 and card["print_scale"] == [1, 1]
            assert card["pose"]["print_height_mm"] == PAPER_MM
    else:
        assert given["thickness_mm"] != truth["thickness_mm"]
        assert truth["face"]["cup_mm"] != 0
        assert all(card["print_scale"] != [1, 1] and card["tilt_deg"] > 0 for card in truth["cards"])


@pytest.mark.parametrize("name", NAMES)
def test_checks_lie_on_the_wood(name):
    truth = truth_of(name)
    wood = Polygon(truth["outline"]["wood_mm"])
    for check in truth["checks"]:
        path = np.array(check["path_mm"])
        assert wood.buffer(6).contains(Polygon(np.vstack([path, path[::-1] + [0, 0.01]])))
        assert np.linalg.norm(np.diff(path, axis=0), axis=1).sum() == pytest.approx(check["length_mm"], abs=0.2)
        assert check["max_width_mm"] == pytest.approx(max(check["width_mm"]), abs=0.01)
        assert 0.5 < check["max_width_mm"] < 12
        to_end = min(abs(path[0, 0] - wood.bounds[0]), abs(path[0, 0] - wood.bounds[2]))
        assert check["kind"] == "surface" or to_end < 0.12 * (wood.bounds[3] - wood.bounds[1]) + 5


@pytest.mark.parametrize("name", NAMES)
def test_cards_found_in_the_photo_agree_with_the_truth(name):
    """OpenCV's ChArUco detector in the photo: no constant offset, small scatter."""
    truth = truth_of(name)
    errors = prove.corner_errors(truth, cv2.cvtColor(photo_of(name), cv2.COLOR_RGB2GRAY))
    assert len(errors) >= 0.75 * 12 * len(truth["cards"])
    assert np.abs(np.median(errors, axis=0)).max() < 0.08
    assert np.sqrt(np.median(np.sum(errors**2, axis=1))) < 0.25


@pytest.mark.parametrize("name", NAMES)
def test_the_visible_edge_of_the_wood_is_the_true_one(name):
    """The strongest step of colour across the outline, over all its vertices, lies within a pixel of it."""
    distance, step = prove.edge_offsets(truth_of(name), photo_of(name))
    assert abs(distance[np.argmax(step)]) <= 1.0
