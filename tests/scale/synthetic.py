"""A photo of scale cards on grey ground, drawn from the card's vectors through a known homography."""

import cv2
import numpy as np

from grainlog.scale import card as scale_card


def photo_of_cards(placed, size_px=(2016, 1512), ground=150, blur_px=0.6, noise=2.0, seed=0, supersample=4):
    """(h, w, 3) uint8 and {card: (12, 2) px true corners}.

    placed : list of (card, homography (3, 3) from card-frame mm to px, centre of the first pixel at (0, 0))
    """
    width, height = size_px
    s = supersample
    canvas = np.full((height * s, width * s), ground, np.uint8)
    to_fine = np.array([[s, 0, (s - 1) / 2], [0, s, (s - 1) / 2], [0, 0, 1.0]])
    truth = {}
    for number, homography in placed:
        pattern = scale_card.raster(number, 8)
        corners = scale_card.print_to_card(np.array([[0, 0], [scale_card.WIDTH_MM, 0], [0, scale_card.HEIGHT_MM]]))
        per_px = np.array(
            [
                [(corners[1, 0] - corners[0, 0]) / pattern.shape[1], 0, corners[0, 0]],
                [0, (corners[2, 1] - corners[0, 1]) / pattern.shape[0], corners[0, 1]],
                [0, 0, 1.0],
            ]
        ) @ np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1.0]])
        full = to_fine @ homography @ per_px
        flags = cv2.INTER_LINEAR
        cv2.warpPerspective(pattern, full, (width * s, height * s), canvas, flags, cv2.BORDER_TRANSPARENT)
        truth[number] = cv2.perspectiveTransform(scale_card.inner_corners().reshape(-1, 1, 2), homography).reshape(-1, 2)
    grey = cv2.resize(canvas, (width, height), interpolation=cv2.INTER_AREA).astype(np.float32)
    grey = cv2.GaussianBlur(grey, (0, 0), blur_px) if blur_px else grey
    grey = grey * 0.85 + 15 + np.random.default_rng(seed).normal(0, noise, grey.shape)
    return np.repeat(np.clip(grey + 0.5, 0, 255).astype(np.uint8)[..., None], 3, -1), truth


def placed_flat(x, y, px_per_mm, angle=0.0, keystone=(0.0, 0.0)):
    """Homography of a card centred at pixel (x, y), turned, with a little perspective (per mm)."""
    c, s = np.cos(angle) * px_per_mm, np.sin(angle) * px_per_mm
    perspective = np.array([[1, 0, 0], [0, 1, 0], [*keystone, 1.0]])
    return np.array([[c, s, x], [s, -c, y], [0, 0, 1.0]]) @ perspective
