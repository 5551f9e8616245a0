"""The picture of a card is exactly the card, and is found with no constant offset."""

import io
import json

import cv2
import numpy as np
import pytest
from PIL import Image

from grainlog.scale import card as scale_card
from grainlog.sheets import card_face
from grainlog.sheets.card_png import (
    PX_PER_MM,
    card_image,
    card_png,
    cards_geometry,
    geometry_json,
    print_corners,
)

CARD = 5
STEP = 4  # high-resolution pixels per pixel of the simulated photo


def photographed(degrees, shift_px, blur_px):
    """The card turned and shifted, each photo pixel the mean of 4 x 4 fine ones; with the true corners in it."""
    fine = card_image(CARD)
    height, width = fine.shape
    turn = cv2.getRotationMatrix2D((width / 2, height / 2), degrees, 1.0)
    turn[:, 2] += np.array(shift_px) * STEP + [500, 300]
    photo = cv2.warpAffine(fine, turn, (2600, 2760), flags=cv2.INTER_LINEAR, borderValue=200)
    if blur_px:
        photo = cv2.GaussianBlur(photo, (0, 0), blur_px * STEP)
    photo = cv2.resize(photo, (650, 690), interpolation=cv2.INTER_AREA)
    corners = (print_corners() * PX_PER_MM - 0.5) @ turn[:, :2].T + turn[:, 2]
    return photo, (corners + 0.5) / STEP - 0.5


def mean_offset(degrees, shift_px, blur_px):
    photo, truth = photographed(degrees, shift_px, blur_px)
    corners, ids, _, _ = cv2.aruco.CharucoDetector(scale_card.board(CARD)).detectBoard(photo)
    assert len(ids) == 12
    return (corners.reshape(-1, 2) - truth[ids.ravel()]).mean(axis=0)


PHASES = [(x, y) for x in (0.0, 0.25, 0.5, 0.75) for y in (0.1, 0.6)]


@pytest.mark.parametrize("degrees", [3, 33, 151])
def test_turned_card_has_no_offset_at_any_phase(degrees):
    offsets = np.array([mean_offset(degrees, phase, blur_px=0) for phase in PHASES])
    assert np.abs(offsets).max() < 0.03


@pytest.mark.parametrize("degrees", [0, 90])
def test_square_card_has_no_offset_once_a_lens_has_softened_it(degrees):
    offsets = np.array([mean_offset(degrees, phase, blur_px=0.7) for phase in PHASES])
    assert np.abs(offsets).max() < 0.03


@pytest.mark.parametrize("degrees", [0, 90])
def test_square_sharp_card_has_no_constant_offset(degrees):
    """Sharper than any lens and square to the pixels, every corner errs alike, up to 0.08 px, but either way: the
    error follows the phase and its mean over all phases is nothing. A constant half pixel would show here at once."""
    tenths = [((i + 0.5) / 10, (i * 3 % 10 + 0.5) / 10) for i in range(10)]
    offsets = np.array([mean_offset(degrees, phase, blur_px=0) for phase in tenths])
    assert np.abs(offsets.mean(axis=0)).max() < 0.01
    assert np.abs(offsets).max() < 0.1


def test_pattern_with_its_white_is_the_bare_raster():
    quiet = card_face.QUIET_MM
    left, top = scale_card.PATTERN_X_MM - quiet, scale_card.PATTERN_Y_MM - quiet
    right = left + scale_card.PATTERN_WIDTH_MM + 2 * quiet
    bottom = top + scale_card.PATTERN_HEIGHT_MM + 2 * quiet
    window = np.s_[round(top * 8) : round(bottom * 8), round(left * 8) : round(right * 8)]
    assert np.array_equal(card_image(CARD)[window], scale_card.raster(CARD)[window])
    white = card_image(CARD)[window].copy()
    white[80:-80, 80:-80] = 255
    assert (white == 255).all()


@pytest.mark.parametrize("px_per_mm", [2, 8])
def test_bars_measure_true_by_their_ink(px_per_mm):
    ink = 1 - card_image(CARD, px_per_mm) / 255.0
    for bar, length, axis in (
        (card_face.ACROSS_BAR, 100.0, 1),
        (card_face.INCH_BAR, 101.6, 1),
        (card_face.ALONG_BAR, 100.0, 0),
    ):
        middle = bar.y + bar.height / 2 if axis else bar.x + bar.width / 2
        line = ink[int(middle * px_per_mm)] if axis else ink[:, int(middle * px_per_mm)]
        start = bar.x if axis else bar.y
        part = line[int((start - 0.5) * px_per_mm) : int((start + length + 1.5) * px_per_mm)]
        assert part.sum() / px_per_mm == pytest.approx(length, abs=0.5 / 255 / px_per_mm)


def test_file_says_its_size_and_whose_it_is():
    png = card_png(3)
    image = Image.open(io.BytesIO(png))
    assert image.size == (1600, 2160)
    assert image.info["dpi"] == pytest.approx((203.2, 203.2), abs=0.01)
    assert b"grainlog scale card" in png


def test_geometry_states_what_the_detector_finds():
    geometry = json.loads(geometry_json([0, CARD]))
    assert geometry["width_mm"] == 200.0 and geometry["height_mm"] == 270.0
    entry = geometry["cards"][1]
    assert entry["file"] == "card-5.png" and entry["marker_ids"] == list(range(50, 60))
    image = card_image(entry["card"], entry["px_per_mm"])
    assert image.shape == (entry["height_mm"] * entry["px_per_mm"], entry["width_mm"] * entry["px_per_mm"])
    corners, ids, _, _ = cv2.aruco.CharucoDetector(scale_card.board(CARD)).detectBoard(image)
    found_mm = (corners.reshape(-1, 2) + 0.5) / entry["px_per_mm"]
    assert found_mm == pytest.approx(np.array(entry["corners_mm"])[ids.ravel()], abs=0.005)


def test_odd_resolution_is_refused():
    with pytest.raises(ValueError, match="even"):
        card_image(0, 3)


def test_geometry_of_all_cards_has_no_marker_twice():
    ids = [marker for entry in cards_geometry(range(10))["cards"] for marker in entry["marker_ids"]]
    assert sorted(ids) == list(range(100))
