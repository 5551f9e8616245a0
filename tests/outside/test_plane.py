"""The plane solution against OpenCV on exact data, and its uncertainty against a Monte Carlo of the whole solution.

Sources: `cv2.projectPoints`, `cv2.solvePnP`, `cv2.findHomography`, `cv2.undistortPoints` (OpenCV 5, reference
implementations); JCGM 101:2008, propagation of distributions using a Monte Carlo method; CIPA DCG-001 (35 mm
equivalence by the diagonal, 43.27 mm).
"""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from grainlog.scale.camera import Camera
from grainlog.scale.model import FULL_FRAME_DIAGONAL_MM, focal_px, turn
from grainlog.scale.plane import FacePlane
from grainlog.scale.priors import HARD, Lens
from grainlog.scale.solve import solve
from tests.scale.simulate import scene
from tests.scale.test_solve import measures


def test_camera_projects_as_opencv_does():
    rng = np.random.default_rng(0)
    camera = Camera(2900.0, (2010.3, 1498.7), 0.021, -0.008)
    points = np.column_stack([rng.uniform(-1200, 1200, (200, 2)), rng.uniform(1800, 2600, 200)])
    distortion = np.array([camera.k1, camera.k2, 0, 0])
    theirs = cv2.projectPoints(points, np.zeros(3), np.zeros(3), camera.matrix, distortion)[0].reshape(-1, 2)
    assert np.abs(camera.project(points) - theirs).max() < 1e-9
    assert np.abs(camera.rays(theirs)[:, :2] - points[:, :2] / points[:, 2:]).max() < 1e-12
    undistorted = cv2.undistortPoints(theirs.reshape(-1, 1, 2), camera.matrix, distortion).reshape(-1, 2)
    assert np.abs(camera.rays(theirs)[:, :2] - undistorted).max() < 1e-6


def test_rotations_are_opencvs():
    for vector in np.random.default_rng(1).normal(0, 1, (20, 3)):
        assert np.abs(turn(vector) - cv2.Rodrigues(vector)[0]).max() < 1e-12
    assert np.abs(turn(np.zeros(3)) - np.eye(3)).max() == 0


def exact(cards=4, cards_on="slab"):
    """A scene without any error, its lens known."""
    simulated = scene(21, cards, cards_on, HARD, imperfect=0.0, noise_px=0.0, lens=False)
    lens = Lens(simulated.view.lens.focal_35mm, focal_spread=1e-7, centre=1e-7, k1=1e-7, k2=1e-7)
    return replace(simulated, view=replace(simulated.view, lens=lens))


def test_pose_is_solvepnps_on_exact_data():
    """One card on exact data: camera height and plane as `cv2.solvePnP` (iterative) finds them."""
    simulated = exact(cards=1)
    plane = FacePlane(solve([simulated.view], simulated.setup))
    seen = simulated.view.cards[0]
    board = np.column_stack([seen.corners_mm, np.zeros(len(seen.corners_mm))])
    _, rotation, move = cv2.solvePnP(board, seen.corners_px, plane.camera.matrix, None)
    eye = (-cv2.Rodrigues(rotation)[0].T @ move).ravel()
    assert plane.camera_height_mm == pytest.approx(eye[2], rel=1e-6)


def test_plane_is_the_homography_on_exact_data():
    """The outline mapped by a homography fitted to all cards' corners at their true places agrees to 0.001 mm."""
    simulated = exact()
    plane = FacePlane(solve([simulated.view], simulated.setup))
    to_plane, _ = cv2.findHomography(simulated.outline_px, simulated.outline_mm)
    theirs = cv2.perspectiveTransform(simulated.outline_px.reshape(-1, 1, 2), to_plane).reshape(-1, 2)
    ours = plane.to_mm(simulated.outline_px)
    # The two frames differ by a turn and a shift, so distances are compared; the face lies 0.3 mm under the print.
    i, j = np.triu_indices(len(ours), 7)
    distance = lambda points: np.linalg.norm(points[i] - points[j], axis=1)  # noqa: E731
    assert np.abs(distance(ours) / distance(theirs) - 1).max() < 2e-6
    assert np.abs(measures(ours) / measures(simulated.outline_mm) - 1).max() < 2e-6


def test_35mm_equivalence_is_by_the_diagonal():
    """CIPA DCG-001: the ratio of the diagonals; the 36 x 24 mm frame's is 43.27 mm."""
    assert FULL_FRAME_DIAGONAL_MM == pytest.approx(43.27, abs=0.005)
    assert focal_px(FULL_FRAME_DIAGONAL_MM, (4032, 3024)) == pytest.approx(5040.0)
    assert focal_px(24.0, (4032, 3024)) == pytest.approx(focal_px(24.0, (3024, 4032)))


@pytest.mark.parametrize("cards, cards_on", [(3, "floor"), (2, "slab")])
def test_stated_uncertainty_against_monte_carlo(cards, cards_on):
    """JCGM 101: draw every input from its distribution, solve each draw whole, compare the spread with the stated u.

    60 draws: the spread of a standard deviation from 60 is 9 %; first order against Monte Carlo within 30 %.
    """
    values, stated = [], []
    for seed in range(60):
        simulated = scene(seed, cards, cards_on, HARD, same_scene=4)
        plane = FacePlane(solve([simulated.view], simulated.setup))
        values.append(measures(plane.to_mm(simulated.outline_px)) / measures(simulated.outline_mm))
        if seed % 10 == 0:
            u, _ = plane.spread(lambda other: measures(other.to_mm(simulated.outline_px)))
            stated.append(u / measures(simulated.outline_mm))
    ratio = np.std(values, 0, ddof=1) / np.median(stated, 0)
    assert (ratio > 0.7).all() and (ratio < 1.3).all(), ratio
    assert np.abs(np.mean(values, 0) - 1).max() < 3.5 * np.median(stated, 0).max() / np.sqrt(60)
