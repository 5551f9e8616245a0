"""A camera's profile against simulated views (OpenCV's projection, known truth), drawn photos, and wrong use."""

import json
from dataclasses import replace
from datetime import date

import cv2
import numpy as np
import pytest

from grainlog.photo import Photo
from grainlog.scale import card as scale_card
from grainlog.scale.calibration import PatternView, Sheet, fit_camera
from grainlog.scale.detect import SeenCard
from grainlog.scale.errors import ScaleError
from grainlog.scale.model import Placing, Problem, View
from grainlog.scale.plane import FacePlane
from grainlog.scale.priors import FULL_FRAME_DIAGONAL_MM, HARD, Lens, Print, Setup
from grainlog.scale.profile import CameraProfile, calibrate, matching
from grainlog.scale.solve import solve
from tests.scale.simulate import _curl, scene
from tests.scale.synthetic import photo_of_cards

SIZE = (4032, 3024)
PROFILE = CameraProfile(
    "Maker", "One", 26.0, *SIZE, 3030.0, 6.0, (2035.5, 1491.5), (4.0, 4.0),
    0.02, 0.002, -0.01, 0.004, 0.1, 10, "2026-03-01",
)  # fmt: skip


def poses(rng, count, distance_mm=(330, 480), lean_deg=(20, 45)):
    """Rotation and translation of a card that is seen from all sides: leaning, turned, near the picture's corners."""
    for number in range(count):
        lean = np.radians(rng.uniform(*lean_deg)) * (number % 4 != 0)
        around = rng.uniform(0, 2 * np.pi)
        turn = cv2.Rodrigues(np.array([np.cos(around), np.sin(around), 0]) * lean)[0]
        turn = turn @ cv2.Rodrigues(np.array([0, 0, rng.uniform(-np.pi, np.pi)]))[0] @ np.diag([1.0, -1, -1])
        distance = rng.uniform(*distance_mm)
        yield turn, np.array([*rng.uniform(-0.12, 0.12, 2) * distance, distance])


def simulated(rng, count=10, noise_px=0.06, lopsided=0.0, curl_mm=0.0):
    """Views of a card by a camera drawn at random: (views, truth as focal, x, y, k1, k2)."""
    truth = np.array(
        [rng.uniform(2800, 3300), *(np.array(SIZE) / 2 + rng.normal(0, 30, 2)), *rng.normal(0, [0.03, 0.02])]
    )
    matrix = np.array([[truth[0], 0, truth[1]], [0, truth[0], truth[2]], [0, 0, 1.0]])
    stretched = scale_card.inner_corners() * (1 + np.array([rng.normal(0, 1) * lopsided, 0]))
    paper = _curl(np.column_stack([stretched, np.zeros(12)]), rng.normal(0, 1, 2) * curl_mm)
    views = []
    for turn, move in poses(rng, count):
        px = cv2.projectPoints(paper, cv2.Rodrigues(turn)[0], move, matrix, np.array([*truth[3:], 0, 0]))[0].reshape(
            -1, 2
        )
        views.append(PatternView(scale_card.inner_corners(), px + rng.normal(0, noise_px, px.shape)))
    return views, truth


def scores(fitted, truth):
    got = np.array([fitted.focal_px, *fitted.centre_px, fitted.k1, fitted.k2])
    return (got - truth) / np.array([fitted.focal_u_px, *fitted.centre_u_px, fitted.k1_u, fitted.k2_u])


def spread_of_scores(draws, paper, seed, **paper_truth):
    """(5,) RMS of (value - truth) / u over cameras and cards drawn at random."""
    rng = np.random.default_rng(seed)
    drawn = [simulated(rng, **paper_truth) for _ in range(draws)]
    return np.sqrt(np.mean([scores(fit_camera(views, SIZE, paper), truth) ** 2 for views, truth in drawn], 0))


def test_the_camera_is_recovered_within_its_uncertainty():
    rms = spread_of_scores(24, Sheet(), 4)
    assert (rms > 0.6).all() and (rms < 1.4).all(), rms


def test_stretch_and_curl_of_the_paper_are_found_or_stand_in_the_uncertainty():
    """Cards stretched one way by 0.4 % and curled by 0.7 mm (standard deviations): taken as true and flat, they make
    the focal length boast."""
    believed = Sheet(0.0042, 0.7)
    rms = spread_of_scores(24, believed, 5, lopsided=0.0042, curl_mm=0.7)
    assert (rms > 0.6).all() and (rms < 1.4).all(), rms
    assert spread_of_scores(12, Sheet(), 5, lopsided=0.0042, curl_mm=0.7)[0] > 2


def test_measured_bars_are_the_size_of_the_print():
    views, truth = simulated(np.random.default_rng(6))
    wrong = [replace(view, mm=view.mm / [0.99, 1.005]) for view in views]
    right = [replace(view, mm=view.mm * [0.99, 1.005]) for view in wrong]
    assert np.abs(scores(fit_camera(right, SIZE), truth)).max() < 3.5
    assert np.abs(scores(fit_camera(wrong, SIZE), truth)).max() > 5
    larger = fit_camera([replace(view, mm=view.mm * 1.03) for view in views], SIZE)
    assert larger.focal_px == pytest.approx(fit_camera(views, SIZE).focal_px, rel=1e-5)


# From photos -------------------------------------------------------------------------------------------------------

SMALL, FOCAL = (1200, 900), 950.0


def photo(pixels, name="p.jpg", make="Maker", model="One", focal=27.0):
    height, width = pixels.shape[:2]
    return Photo(pixels, width, height, "0" * 64, name, None, make, model, focal, ())


@pytest.fixture(scope="module")
def photos():
    return drawn_photos()


def drawn_photos():
    """Nine drawn photos of card 3 by a camera without distortion."""
    matrix = np.array([[FOCAL, 0, (SMALL[0] - 1) / 2 + 12], [0, FOCAL, (SMALL[1] - 1) / 2 - 7], [0, 0, 1.0]])
    drawn = []
    for seed, (turn, move) in enumerate(poses(np.random.default_rng(1), 9, (430, 600))):
        homography = matrix @ np.column_stack([turn[:, 0], turn[:, 1], move])
        drawn.append(photo(photo_of_cards([(3, homography)], SMALL, seed=seed, supersample=3)[0], f"{seed}.jpg"))
    return drawn


def test_a_camera_is_learned_from_photos(photos):
    profile = calibrate(iter(photos), Print(u_mm=0.0), date(2026, 3, 1))
    assert (profile.make, profile.model, profile.focal_35mm_mm, profile.photos) == ("Maker", "One", 27.0, 9)
    assert (profile.width_px, profile.height_px) == SMALL and profile.day == "2026-03-01"
    assert profile.rms_px < 0.15
    assert abs(profile.focal_px - FOCAL) < 3 * profile.focal_u_px and profile.focal_u_px < 0.005 * FOCAL
    assert abs(profile.centre_px[0] - 611.5) < 3 * profile.centre_u_px[0]
    assert abs(profile.centre_px[1] - 442.5) < 3 * profile.centre_u_px[1]
    assert abs(profile.k1) < 3 * profile.k1_u and abs(profile.k2) < 3 * profile.k2_u
    assert CameraProfile.from_dict(json.loads(json.dumps(profile.as_dict()))) == profile
    assert matching([profile], photos[0]) == profile


def test_too_few_usable_photos_are_refused_and_named(photos):
    blank = photo(np.full((*SMALL[::-1], 3), 120, np.uint8), "blank.jpg")
    with pytest.raises(ScaleError, match=r"Only 7 of 8 .*blank\.jpg"):
        calibrate([*photos[:7], blank])
    turned = replace(photos[0], pixels=np.rot90(photos[0].pixels).copy(), width=900, height=1200, name="turned.jpg")
    with pytest.raises(ScaleError, match=r"turned\.jpg.*same way round"):
        calibrate([*photos[:7], turned])
    with pytest.raises(ScaleError, match="needs"):
        calibrate([])


def test_views_that_are_too_alike_are_refused(photos):
    with pytest.raises(ScaleError, match="too alike"):
        calibrate([photos[0]] * 8)


def test_other_cameras_lenses_and_sizes_are_refused(photos):
    with pytest.raises(ScaleError, match="different cameras .One and Two."):
        calibrate([*photos[:8], replace(photos[8], model="Two")])
    with pytest.raises(ScaleError, match="focal lengths"):
        calibrate([*photos[:8], replace(photos[8], focal_35mm_mm=52.0)])
    with pytest.raises(ScaleError, match="focal lengths"):
        calibrate([*photos[:8], replace(photos[8], focal_35mm_mm=None)])
    small = photo(cv2.resize(photos[8].pixels, (600, 450), interpolation=cv2.INTER_AREA))
    with pytest.raises(ScaleError, match="sizes"):
        calibrate([*photos[:8], small])


def test_a_damaged_profile_is_refused():
    for damage in ({"focal_px": -1}, {"k1": None}, {"centre_px": [1]}, {"focal_u_px": float("nan")}):
        with pytest.raises(ScaleError, match="damaged"):
            CameraProfile.from_dict(PROFILE.as_dict() | damage)
    with pytest.raises(ScaleError, match="damaged"):
        CameraProfile.from_dict({})


# Found again, and used ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("size", "make", "model", "focal", "found"),
    [
        (SIZE, "Maker", "One", 26.0, True),
        (SIZE[::-1], "Maker", "One", 26.4, True),
        ((2016, 1512), "Maker", "One", 26.0, True),
        ((1000, 750), "Maker", "One", 26.0, True),
        ((4032, 2268), "Maker", "One", 26.0, False),
        ((8064, 6048), "Maker", "One", 26.0, False),
        (SIZE, "Maker", "One", 52.0, False),
        (SIZE, "Maker", "One", None, False),
        (SIZE, "Maker", "Two", 26.0, False),
        (SIZE, None, None, 26.0, False),
    ],
)
def test_a_profile_is_found_by_metadata(size, make, model, focal, found):
    taken = replace(
        photo(np.zeros((1, 1, 3), np.uint8), make=make, model=model, focal=focal), width=size[0], height=size[1]
    )
    assert (matching([PROFILE], taken) is PROFILE) == found
    newer = replace(PROFILE, day="2026-04-01")
    assert not found or matching([newer, PROFILE], taken) is newer


def test_a_photo_without_a_camera_name_never_matches():
    nameless = replace(PROFILE, make=None, model=None)
    assert matching([nameless], photo(np.zeros((3024, 4032, 3), np.uint8), make=None, model=None, focal=26.0)) is None


def camera_of(lens, size):
    """The camera that the joint problem believes in before it has seen a corner."""
    seen = SeenCard(0, np.arange(12), np.zeros((12, 2)), 40.0)
    focal = lens.focal_35mm / FULL_FRAME_DIAGONAL_MM * np.hypot(*size)
    placing = Placing(((np.zeros(3), np.array([0, 0, 1000.0])),), (focal,), {0: (0.0, 0.0, 0.0)})
    problem = Problem([View((seen,), size, lens)], Setup("slab"), placing, 0.1)
    return problem.camera(problem.start, 0)


@pytest.mark.parametrize("turns", range(4))
def test_a_turned_photo_has_the_same_camera_with_its_centre_turned(turns):
    """Checked by turning pixels with `numpy.rot90`: where the one at the principal point goes."""
    marked = np.zeros(SIZE[::-1], bool)
    marked[1491, 2035] = True
    turned = np.rot90(marked, -turns)
    size = turned.shape[::-1]
    camera = camera_of(Lens.from_profile(PROFILE, size, turns), size)
    row, column = np.argwhere(turned)[0]
    assert camera.focal_px == pytest.approx(3030.0)
    assert np.abs(np.array(camera.centre_px) - [column, row]).max() <= 0.51
    assert (camera.k1, camera.k2) == (0.02, -0.01)


def test_a_reduced_photo_has_the_same_camera_made_smaller_and_less_sure():
    small, whole = Lens.from_profile(PROFILE, (2016, 1512)), Lens.from_profile(PROFILE, SIZE)
    assert camera_of(small, (2016, 1512)).focal_px == pytest.approx(1515.0)
    assert small.focal_spread > Lens.focal_spread > 0.011 > whole.focal_spread
    # Which way round the camera was held is not known: the departure of its centre from the middle is then a spread.
    assert whole.centre_at == (0.0, 0.0) and whole.centre * 4032 > np.hypot(20, 20)
    known = Lens.from_profile(PROFILE, SIZE, 0)
    assert known.centre < whole.centre


def test_with_a_profile_one_card_says_more():
    """The same photos solved with the metadata's focal length and with a profile of the true camera."""
    better = []
    for seed in range(6):
        made = scene(seed, 1, "slab", HARD, imperfect=0.0, lens=False)
        focal = made.view.lens.focal_35mm / FULL_FRAME_DIAGONAL_MM * np.hypot(*SIZE)
        profile = replace(PROFILE, focal_px=focal, centre_px=(2015.5, 1511.5), k1=0.0, k2=0.0)
        u, off = [], []
        for lens in (made.view.lens, Lens.from_profile(profile, SIZE)):
            plane = FacePlane(solve([replace(made.view, lens=lens)], made.setup))
            ends = made.outline_px[[0, 159]]
            true = np.linalg.norm(made.outline_mm[159] - made.outline_mm[0])
            length = lambda other: np.array([np.linalg.norm(np.diff(other.to_mm(ends), axis=0))])  # noqa: B023, E731
            u.append(plane.spread(length)[0][0])
            off.append(abs(length(plane)[0] - true))
        assert off[1] < 3 * u[1]
        better.append(u[1] / u[0])
    assert np.median(better) < 0.8
