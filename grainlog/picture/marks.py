"""Which lines and labels of a survey go on its photo, and where: geometry only, in pixels of the upright photo."""

from collections.abc import Mapping
from dataclasses import dataclass

import cv2
import numpy as np

_MOST_PLAIN_STATIONS = 24


@dataclass(frozen=True)
class Station:
    """One width across the slab: its two ends on the wood edge, and its name and width where it has one."""

    ends: np.ndarray
    name: str = ""
    width_mm: float = 0.0
    u_mm: float = 0.0


@dataclass(frozen=True)
class Arrow:
    """The overall length beside the slab: two tips, and from each a witness point on the end of the wood."""

    tips: np.ndarray
    witnesses: np.ndarray


def stations(face: Mapping) -> tuple[Station, ...]:
    """The stations to draw: an even few for their shape, then least, greatest and middle by name."""
    widths = face.get("widths") or {}
    width_mm = widths.get("width_mm") or ()
    sureness = widths.get("u_mm") or [_largest_u(face)] * len(width_mm)
    taken = [
        (ends, width, u)
        for ends, width, u in zip(widths.get("ends_px") or (), width_mm, sureness, strict=True)
        if ends is not None and width is not None
    ]
    if not taken:
        return ()
    values = np.array([width for _, width, _ in taken])
    # Insertion order settles a tie: a slab of even width shows one line with the first name.
    named = {int(np.argmin(values)): "least", int(np.argmax(values)): "greatest"}
    middle = len(taken) // 2
    if all(abs(middle - index) > 2 for index in named):
        named[middle] = "middle"
    step = -(-len(taken) // _MOST_PLAIN_STATIONS)
    plain = [Station(np.array(taken[i][0], float)) for i in range(0, len(taken), step) if i not in named]
    return (*plain, *(Station(np.array(taken[i][0], float), name, *taken[i][1:]) for i, name in named.items()))


def length_arrows(outline: Mapping) -> tuple[Arrow, ...]:
    """The two places for the length arrow, one on each side of the slab; empty without a wood outline.

    The arrow runs along the slab's own axis (`wood_mm`, slab frame), seen in perspective as the photo sees it. Without
    millimetres it follows the smallest rectangle around the wood in the photo.
    """
    wood = _points(outline, "wood_px")
    if len(wood) < 4:
        return ()
    to_px = _slab_to_photo(wood, _points(outline, "wood_mm"))
    to_mm = np.linalg.inv(to_px)
    wood_mm = _mapped(to_mm, wood)
    everything = np.vstack([wood_mm, *(_mapped(to_mm, _points(outline, key)) for key in ("bark_px", "silhouette_px"))])
    first, last = wood_mm[np.argmin(wood_mm[:, 0])], wood_mm[np.argmax(wood_mm[:, 0])]
    gap = 0.035 * (last[0] - first[0])
    return tuple(
        Arrow(_mapped(to_px, np.array([[first[0], y], [last[0], y]])), _mapped(to_px, np.array([first, last])))
        for y in (everything[:, 1].min() - gap, everything[:, 1].max() + gap)
    )


def _largest_u(face: Mapping) -> float:
    """How sure one width is where the stations do not say: no surer than the least or the greatest."""
    return max((face[key]["u"] for key in ("width_min_mm", "width_max_mm") if face.get(key)), default=0.0)


def _slab_to_photo(wood_px: np.ndarray, wood_mm: np.ndarray) -> np.ndarray:
    """(3, 3) homography from the slab frame to the photo: a drawing aid, so the lens is left out."""
    if len(wood_mm) == len(wood_px):
        return cv2.findHomography(wood_mm, wood_px)[0]
    corners = cv2.boxPoints(cv2.minAreaRect(wood_px.astype(np.float32)))
    sides = np.linalg.norm(corners[1] - corners[0]), np.linalg.norm(corners[2] - corners[1])
    if sides[0] < sides[1]:
        corners, sides = np.roll(corners, -1, axis=0), sides[::-1]
    length, width = sides
    plain = np.array([[0, 0], [length, 0], [length, width], [0, width]], np.float32)
    return cv2.getPerspectiveTransform(plain, corners.astype(np.float32))


def _mapped(homography: np.ndarray, points: np.ndarray) -> np.ndarray:
    if not len(points):
        return np.empty((0, 2))
    return cv2.perspectiveTransform(points.reshape(-1, 1, 2).astype(float), homography).reshape(-1, 2)


def _points(outline: Mapping, key: str) -> np.ndarray:
    return np.array(outline.get(key) or [], float).reshape(-1, 2)
