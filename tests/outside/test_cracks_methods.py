"""Checks against methods that are not ours.

- Width: a slot drawn and averaged by Pillow, seen through a Gaussian blur by SciPy; its width is known.
- Registration: the enhanced correlation coefficient (Evangelidis and Psarakis 2008) of OpenCV, started from the outlines.
- Length: shapely's length of the same path.
- Growth: standard uncertainties of independent lengths add in quadrature (JCGM 100:2008, 5.1.2; from memory).
- Kinds: an end check is on an end, a surface check on a face (Wood Handbook wording as restated in glossaries, verified there).
"""

import cv2
import numpy as np
import pytest
import shapely
from PIL import Image, ImageDraw
from scipy.ndimage import gaussian_filter

from grainlog.checks.board import Board
from grainlog.checks.find import find_checks
from grainlog.checks.follow import change_of
from grainlog.checks.found import Check
from grainlog.checks.profile import measure_profile
from grainlog.checks.register import LOOK_MM, look_at, register
from tests.checks.made_series import look, whole


@pytest.mark.parametrize("width_px", [1.0, 2.5, 6.0])
def test_width_of_a_slot_drawn_by_pillow(width_px):
    over, mm = 16, 0.7
    picture = Image.new("L", (240 * over, 60 * over), 200)
    middle, half = 30.3 * over, width_px * over / 2
    ImageDraw.Draw(picture).rectangle([30 * over, round(middle - half), 210 * over, round(middle + half) - 1], fill=16)
    light = np.asarray(picture.resize((240, 60), Image.Resampling.BOX), np.float32) / 200
    board = Board(gaussian_filter(light, 0.9), 0 * light, np.ones(light.shape, bool), mm, np.zeros(2))
    path = board.to_mm(np.array([[50.0, 30.0], [190.0, 30.0]]))
    profile = measure_profile(board, path, 0.0)
    assert np.median(profile.width[15:-15]) == pytest.approx(width_px * mm, rel=0.05, abs=0.08)


def test_registration_agrees_with_the_correlation_method_of_opencv():
    looks = []
    for shrunk, photo in ((0.0, 0), (0.05, 3)):
        made, _ = look(4, whole(4, shrunk), photo)
        looks.append(look_at(made.view, made.outline, made.holes, made.frame))
    earlier, later = looks
    ours = register(earlier, later)
    # From earlier pixels to later pixels, begun from the outlines' own extents alone.
    ratio = np.ptp(later.outline, axis=0) / np.ptp(earlier.outline, axis=0)
    shift = later.outline.mean(0) - earlier.outline.mean(0) * ratio
    start = np.diag([*ratio, 1.0])[:2].astype(np.float32)
    px = (earlier.corner_mm * ratio + shift - later.corner_mm) / [LOOK_MM, -LOOK_MM]
    start[:, 2] = px
    smooth = [cv2.GaussianBlur(one.light, (0, 0), 1.5).astype(np.float32) for one in looks]
    criteria = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 300, 1e-7)
    _, theirs = cv2.findTransformECC(smooth[0], smooth[1], start, cv2.MOTION_AFFINE, criteria, None, 5)
    across = 1 / np.linalg.norm(theirs[:, 1])
    assert ours.across == pytest.approx(across, abs=0.003)
    assert ours.across == pytest.approx(1 / 0.95, abs=0.004)


def test_length_is_that_of_shapely_and_kinds_lie_where_glossaries_say():
    made, _ = look(11, whole(11), 0)
    outline = shapely.Polygon(made.frame.to_slab(made.outline))
    low, _, high, _ = outline.bounds
    found = find_checks(made.view, made.outline, made.holes, made.frame)
    assert {check.kind for check in found.checks} == {"end", "surface"}
    for check in found.checks:
        line = shapely.LineString(check.path)
        assert check.length == pytest.approx(line.length, rel=0.03)
        to_end = min(check.path[:, 0].min() - low, high - check.path[:, 0].max())
        assert (to_end < 25) if check.kind == "end" else (line.distance(outline.exterior) > 0)


def test_uncertainties_add_in_quadrature():
    path = np.column_stack([np.linspace(0, 60, 20), np.zeros(20)])
    one = Check(path, np.ones(20), "surface", None, 60.0, 3.0, 1.0, 0.3, 1.0, 0.9)
    two = Check(path, np.ones(20), "surface", None, 75.0, 4.0, 1.0, 0.4, 1.0, 0.9)
    change = change_of(0, one, 70, two)
    assert (change.growth_u_mm, change.widening_u_mm) == (pytest.approx(5.0), pytest.approx(0.5))
    assert (change.per_week_mm, change.per_week_u_mm) == (pytest.approx(1.5), pytest.approx(0.5))
