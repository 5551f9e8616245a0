"""Drawing cased lines into pixels, anti-aliased and to a fraction of a pixel."""

import cv2
import numpy as np

from grainlog.picture.palette import CASING, Style

_SHIFT = 4  # OpenCV draws at sixteenths of a pixel
_CASING_SHARE = 0.5  # of the width of the core, on each side of it


def draw_line(image: np.ndarray, points: np.ndarray, style: Style, closed: bool = False) -> None:
    """Draw one line with its casing into `image` ((h, w, 3) uint8, changed in place).

    points : (n, 2) float, pixels, centre of the first pixel at (0, 0); fewer than two points draw nothing
    closed : the line returns to its first point
    """
    points = np.asarray(points, float).reshape(-1, 2)
    if len(points) < 2:
        return
    if closed:
        points = np.vstack([points, points[:1]])
    unit = unit_px(image)
    strokes = dashes(points, style.dash * unit, style.gap * unit) if style.gap else [points]
    core = max(1, round(style.width * unit))
    casing = core + 2 * max(1, round(_CASING_SHARE * style.width * unit))
    for colour, width in ((CASING, casing), (style.colour, core)):
        paths = [np.rint(stroke * (1 << _SHIFT)).astype(np.int32) for stroke in strokes]
        cv2.polylines(image, paths, False, colour, width, cv2.LINE_AA, _SHIFT)


def draw_arrow_heads(image: np.ndarray, start: np.ndarray, end: np.ndarray, style: Style) -> None:
    """Draw the two heads of an arrow whose tips are `start` and `end`; its shaft is a line of its own."""
    start, end = np.asarray(start, float), np.asarray(end, float)
    length = np.linalg.norm(end - start)
    if length == 0:
        return
    head = min(12 * unit_px(image), length / 3)
    along = (end - start) / length
    across = np.array([-along[1], along[0]])
    for tip, back in ((start, along), (end, -along)):
        barbs = [tip + head * (back + side * across) for side in (0.4, -0.4)]
        draw_line(image, np.array([barbs[0], tip, barbs[1]]), style)


def dashes(points: np.ndarray, dash: float, gap: float) -> list[np.ndarray]:
    """Cut a line into strokes of length `dash` with `gap` between them; corners within a stroke are kept.

    points : (n, 2) float; lengths in the same unit. Returns a list of (m, 2) arrays, the first starting at points[0].
    """
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    points = points[np.concatenate([[True], steps > 0])]
    along = np.concatenate([[0.0], np.cumsum(steps[steps > 0])])
    strokes = []
    for start in np.arange(0.0, along[-1], dash + gap):
        stop = min(start + dash, along[-1])
        inside = points[(along > start) & (along < stop)]
        strokes.append(np.vstack([_at(points, along, start), inside, _at(points, along, stop)]))
    return strokes


def unit_px(image: np.ndarray) -> float:
    """A thousandth of the longer side of the picture, px: what widths and text sizes are counted in."""
    return max(image.shape[:2]) / 1000


def _at(points: np.ndarray, along: np.ndarray, where: float) -> np.ndarray:
    return np.array([np.interp(where, along, points[:, 0]), np.interp(where, along, points[:, 1])])
