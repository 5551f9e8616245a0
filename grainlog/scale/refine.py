"""Corners from everything that is printed around them: each neighbourhood is registered with the card's own drawing.

A saddle point alone has four short edges to hold on to; its neighbourhood on the card has the edges of two squares and
of the markers, all of known shape. Registering a drawn neighbourhood takes the noise of a corner down to a quarter of
that of `cv2.cornerSubPix` (rendered photos: 0.03 px against 0.11 px RMS), and has no window that must keep clear of
the markers.
"""

from functools import cache

import cv2
import numpy as np

from grainlog.scale import card as scale_card

#: Neighbourhood of a corner, mm on the card: two thirds of the way to the next; beyond 34 the curl of a card is felt.
REACH_MM = 30.0
#: Standard deviation of the blur that is drawn, px: the pixel's own (1/12 of a square pixel's side, squared) and a lens's.
BLUR_PX = 0.7
#: Rounds of registration; in a third no corner moves by more than 0.005 px.
ROUNDS = 2
#: Resolution of the drawing that is laid into the photo; edges of the card lie on multiples of half a millimetre.
DRAWN_PX_PER_MM = 4
#: A corner that would move farther than this was not near enough to begin with, px.
FARTHEST_PX = 2.0
#: A neighbourhood with less difference between black and white than this is left alone, grey levels.
LEAST_CONTRAST = 8.0


def register_corners(grey: np.ndarray, card: int, corner_ids: np.ndarray, corners_px: np.ndarray) -> np.ndarray:
    """Sharpen corners of one card.

    Parameters
    ----------
    grey : (h, w) uint8
    card : int
    corner_ids : (n,) int, n >= 4 and not on one line
    corners_px : (n, 2) float64
        To within about a pixel.

    Returns
    -------
    (n, 2) float64 px

    Notes
    -----
    Linearised least squares for an affine change of place, gain, offset and a change of blur per corner (Lucas and
    Kanade, IJCAI 1981, with the template drawn through the card's homography). The affine change lets each
    neighbourhood of a curled card lie at its own angle; a change of blur is a multiple of the Laplacian to first order.
    """
    plane = scale_card.inner_corners()[corner_ids]
    current = corners_px.copy()
    for _ in range(ROUNDS):
        homography, _ = cv2.findHomography(plane, current)
        if homography is None:
            return corners_px
        predicted = cv2.perspectiveTransform(plane.reshape(-1, 1, 2), homography).reshape(-1, 2)
        spacing = px_per_mm(plane, predicted)
        half = int(np.clip(REACH_MM * spacing, 6, 60))
        left, top = np.maximum(np.floor(predicted.min(0)).astype(int) - half - 2, 0)
        right, bottom = np.ceil(predicted.max(0)).astype(int) + half + 3
        window = grey[top:bottom, left:right].astype(np.float32)
        drawn = _drawn(card, homography, spacing, left, top, window.shape)
        shifts = [_shift(window, drawn, point - [left, top], half) for point in predicted]
        current = predicted + np.array(shifts)
    moved = np.linalg.norm(current - corners_px, axis=1)
    return np.where((moved < FARTHEST_PX)[:, None], current, corners_px)


def _shift(window: np.ndarray, drawn: np.ndarray, point: np.ndarray, half: int) -> np.ndarray:
    """(2,) px: how far the printed neighbourhood of `point` lies from where it is drawn."""
    column, row = np.rint(point).astype(int)
    if min(column, row) < half or column + half >= drawn.shape[1] or row + half >= drawn.shape[0]:
        return np.zeros(2)
    around = np.s_[row - half : row + half + 1, column - half : column + half + 1]
    template, seen = drawn[around], window[around]
    across = cv2.Sobel(template, cv2.CV_32F, 1, 0, ksize=1, scale=0.5)
    down = cv2.Sobel(template, cv2.CV_32F, 0, 1, ksize=1, scale=0.5)
    sharper = cv2.Laplacian(template, cv2.CV_32F, ksize=1)
    inner = np.s_[1:-1, 1:-1]
    steps = np.arange(1 - half, half, dtype=np.float32)
    u = (steps + (column - point[0]))[None, :] / half
    v = (steps + (row - point[1]))[:, None] / half
    across, down = across[inner], down[inner]
    columns = (across, down, across * u, across * v, down * u, down * v, template[inner], sharper[inner])
    design = np.stack([*(part.ravel() for part in columns), np.ones(across.size, np.float32)], -1)
    target = seen[inner].ravel()
    normal = (design.T @ design).astype(float)
    try:
        solution = np.linalg.solve(normal, (design.T @ target).astype(float))
    except np.linalg.LinAlgError:
        return np.zeros(2)
    gain = solution[6]
    return -solution[:2] / gain if gain > LEAST_CONTRAST else np.zeros(2)


def misfit_px(plane: np.ndarray, px: np.ndarray) -> np.ndarray:
    """(n, 2) px: how far each corner lies from where the homography of all of them puts it; zeros without one."""
    homography, _ = cv2.findHomography(plane, px)
    if homography is None:
        return np.zeros_like(px)
    return cv2.perspectiveTransform(plane.reshape(-1, 1, 2), homography).reshape(-1, 2) - px


def px_per_mm(plane: np.ndarray, px: np.ndarray) -> float:
    """Mean size of a millimetre of the card in the photo, px, from an affine fit."""
    design = np.column_stack([plane, np.ones(len(plane))])
    return float(np.sqrt(abs(np.linalg.det(np.linalg.lstsq(design, px, rcond=None)[0][:2]))))


def _drawn(card: int, homography: np.ndarray, spacing: float, left: int, top: int, shape) -> np.ndarray:
    """`shape` float32, 0 black to 1 white: the card as the homography shows it, blurred by a pixel and a lens."""
    blurred = cv2.GaussianBlur(_pattern(card), (0, 0), BLUR_PX * DRAWN_PX_PER_MM / spacing)
    s = 1 / DRAWN_PX_PER_MM
    corner = scale_card.print_to_card(np.zeros((1, 2)))[0]
    to_card = np.array([[s, 0, corner[0] + s / 2], [0, -s, corner[1] - s / 2], [0, 0, 1]])
    to_window = np.array([[1, 0, -left], [0, 1, -top], [0, 0, 1.0]])
    full = to_window @ homography @ to_card
    size = (shape[1], shape[0])
    return cv2.warpPerspective(blurred, full, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=1.0)


@cache
def _pattern(card: int) -> np.ndarray:
    return (scale_card.raster(card, DRAWN_PX_PER_MM) > 127).astype(np.float32)
