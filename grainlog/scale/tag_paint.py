"""A photo with its tags painted over by what lies beside them, so that a white tag is neither a void nor an edge in the wood.

What is under a tag nobody sees. The best guess is that wood, ground and the edge between them go on as beside the tag: so
the piece of the photo whose surroundings agree best with those of the tag, a little way along the grain or the edge, is
copied over it. Only the search for the face and its checks looks at the result; pictures show the photo as it is.
"""

from collections.abc import Sequence

import cv2
import numpy as np

#: Painted this far beyond the tag (a shadow, a bent corner), and compared this far beyond that, shares of its longer side.
RIM, COMPARED = 0.05, 0.15
#: A copy is sought this far away, shares of the tag's longer side, at this many px for that side.
SOUGHT, SEARCH_PX = 2.0, 48.0


def paint_over(rgb: np.ndarray, outlines_px: Sequence[np.ndarray]) -> np.ndarray:
    """A copy of a photo (h, w, 3) uint8 without the tags whose outlines (4, 2) px are given; itself where there are none."""
    if not len(outlines_px):
        return rgb
    painted = rgb.copy()
    for outline in outlines_px:
        _paint_one(painted, np.asarray(outline, float))
    return painted


def _paint_one(rgb: np.ndarray, outline: np.ndarray) -> None:
    side = float(np.linalg.norm(np.roll(outline, -1, 0) - outline, axis=1).max())
    reach = (RIM + COMPARED + SOUGHT) * side
    low = np.maximum(np.floor(outline.min(0) - reach).astype(int), 0)
    high = np.minimum(np.ceil(outline.max(0) + reach).astype(int) + 1, rgb.shape[1::-1])
    if (high - low < 8).any():
        return
    window = rgb[low[1] : high[1], low[0] : high[0]]
    hidden = _filled(window.shape[:2], outline - low, RIM * side)
    if not hidden.any():
        return
    around = _filled(window.shape[:2], outline - low, (RIM + COMPARED) * side) & ~hidden
    shift = _best_shift(window, hidden, around, min(1.0, SEARCH_PX / side))
    if shift is None:
        window[:] = cv2.inpaint(
            np.ascontiguousarray(window), hidden.astype(np.uint8), 5, cv2.INPAINT_TELEA
        )
        return
    copied = _shifted(window, shift)
    # Light changes along a slab: the copy takes the mean of what lies around, and fades in over a few pixels.
    step = window[around].mean(0) - copied[around].mean(0)
    share = (
        2
        * cv2.GaussianBlur(
            hidden.astype(np.float32), (0, 0), max(1.0, 0.3 * RIM * side)
        )
    ).clip(0, 1)[..., None]
    mixed = window * (1 - share) + (copied + step) * share
    window[:] = np.clip(mixed + 0.5, 0, 255).astype(np.uint8)


def _filled(shape: tuple[int, int], outline: np.ndarray, wider: float) -> np.ndarray:
    """(h, w) bool: a polygon and what lies within `wider` px of it."""
    mask = np.zeros(shape, np.uint8)
    corners = np.round(outline * 16).astype(np.int32)
    cv2.fillPoly(mask, [corners], 1, shift=4)
    cv2.polylines(mask, [corners], True, 1, max(1, round(2 * wider)), shift=4)
    return mask > 0


def _best_shift(
    window: np.ndarray, hidden: np.ndarray, around: np.ndarray, scale: float
) -> tuple[int, int] | None:
    """(right, down) px: where the surroundings of the hidden part come again best; None where nothing can be copied."""
    small = cv2.resize(
        window, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA
    ).astype(np.float32)
    size = small.shape[1::-1]
    ring = (
        cv2.resize(around.astype(np.float32), size, interpolation=cv2.INTER_AREA) > 0.5
    )
    gone = (
        cv2.resize(hidden.astype(np.float32), size, interpolation=cv2.INTER_AREA) > 0.01
    )
    rows, columns = np.nonzero(ring | gone)
    if not ring.any():
        return None
    top, bottom, left, right = (
        rows.min(),
        rows.max() + 1,
        columns.min(),
        columns.max() + 1,
    )
    mask = ring[top:bottom, left:right].astype(np.float32)
    cut = gone[top:bottom, left:right].astype(np.float32)
    # Zeros where nothing is to be compared; the mask of OpenCV's own search does the same and takes longer.
    template = small[top:bottom, left:right] * mask[..., None]
    product = sum(
        cv2.matchTemplate(small[..., k], template[..., k], cv2.TM_CCORR)
        for k in range(3)
    )
    squares = cv2.matchTemplate((small**2).sum(-1), mask, cv2.TM_CCORR)
    off = squares - 2 * product + float((template**2).sum())
    # Neither what is copied nor what it is compared with may lie on the tag itself.
    used = cv2.matchTemplate(
        gone.astype(np.float32), np.maximum(mask, cut), cv2.TM_CCORR
    )
    off[used > 0.5] = np.inf
    if not np.isfinite(off).any():
        return None
    row, column = np.unravel_index(np.argmin(off), off.shape)
    return round((column - left) / scale), round((row - top) / scale)


def _shifted(window: np.ndarray, shift: tuple[int, int]) -> np.ndarray:
    """(h, w, 3) float32: at each pixel what lies `shift` px to the right and down of it."""
    move = np.float32([[1, 0, -shift[0]], [0, 1, -shift[1]]])
    return cv2.warpAffine(
        window, move, window.shape[1::-1], borderMode=cv2.BORDER_REFLECT
    ).astype(np.float32)
