"""The calibration core against OpenCV's own chessboard photos and the camera that OpenCV publishes for them.

Source: OpenCV 4.6 `samples/data/left01.jpg` ... `left14.jpg` (13 photos of 640 x 480, 9 x 6 inner corners, 25 mm
squares) and `samples/data/left_intrinsics.yml`, which lies beside them: focal length 535.916 px, centre (342.283,
235.571), five distortion terms. In Debian they are in the package opencv-doc; without it this check is skipped.
"""

import gzip
from pathlib import Path

import cv2
import numpy as np
import pytest

from grainlog.scale.calibration import PatternView, fit_camera

FOLDER = Path("/usr/share/doc/opencv-doc/examples/data")
PUBLISHED_FOCAL, PUBLISHED_CENTRE = 535.91573396163199, (342.28315473308373, 235.57082909788173)
COLUMNS, ROWS, SQUARE_MM = 9, 6, 25.0
#: Half of the window of `cornerSubPix` in OpenCV's `samples/cpp/calibration.cpp`, which made the published figures.
SAMPLE_WINDOW = 11

pytestmark = pytest.mark.skipif(
    not list(FOLDER.glob("left0*.jpg")), reason="OpenCV's chessboard photos are not here (Debian package opencv-doc)"
)


def views(window):
    grid = np.stack(np.meshgrid(np.arange(COLUMNS), np.arange(ROWS)), -1).reshape(-1, 2) * SQUARE_MM
    found = []
    for file in sorted(FOLDER.glob("left[01][0-9].jpg")):
        grey = cv2.imread(str(file), cv2.IMREAD_GRAYSCALE)
        assert grey.shape == (480, 640)
        seen, corners = cv2.findChessboardCorners(grey, (COLUMNS, ROWS))
        assert seen, file.name
        criteria = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_COUNT, 30, 1e-4)
        corners = cv2.cornerSubPix(grey, corners.astype(np.float32), (window, window), (-1, -1), criteria)
        found.append(PatternView(grid, corners.reshape(-1, 2).astype(float)))
    return found


def test_published_figures_are_in_the_file_beside_the_photos():
    plain, packed = FOLDER / "left_intrinsics.yml", FOLDER / "left_intrinsics.yml.gz"
    text = plain.read_text() if plain.is_file() else gzip.decompress(packed.read_bytes()).decode()
    assert "5.3591573396163199e+02" in text and "3.4228315473308373e+02" in text


def test_focal_length_and_centre_are_the_published_ones():
    """With the sample's own corners: focal length within 2 u and 0.3 %, centre within 2 u of both and 2 px.

    The published model has three more terms (k3 and two tangential), which on these photos move the focal length by
    0.2 px.
    """
    camera = fit_camera(views(SAMPLE_WINDOW), (640, 480))
    assert abs(camera.focal_px - PUBLISHED_FOCAL) < min(2 * camera.focal_u_px, 0.003 * PUBLISHED_FOCAL)
    off = np.abs(np.array(camera.centre_px) - PUBLISHED_CENTRE)
    assert (off < np.minimum(2 * np.array(camera.centre_u_px), 2.0)).all()


def test_sharper_corners_fit_better_and_stay_within_one_percent():
    """The sample's wide window runs into the next square on small boards (one photo fits to 1.2 px); 5 px does not."""
    wide, narrow = fit_camera(views(SAMPLE_WINDOW), (640, 480)), fit_camera(views(5), (640, 480))
    assert narrow.rms_px < 0.6 * wide.rms_px
    assert narrow.focal_px == pytest.approx(PUBLISHED_FOCAL, rel=0.01)
