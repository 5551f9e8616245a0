"""The face seen square-on: pixels at a known size on the plane of the slab's upper face.

The *plane frame*: millimetres on the upper face, x to the right and y up as the photo shows them roughly, z towards
the camera. It is only a working frame; the slab frame (x along the slab) is laid into it once the outline is known.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np


@dataclass(frozen=True)
class FlatView:
    """A square-on view of the face plane.

    rgb : (h, w, 3) uint8, sRGB
    seen : (h, w) bool
        False where the photo shows nothing of the plane (outside the frame).
    mm_per_px : float
    origin_mm : (2,) float64
        Plane-frame position of the CENTRE of pixel (column 0, row 0). Rows run down, y runs up.
    cards : tuple of (n, 2) float64
        Outline of each scale card as it appears in this view, plane frame, mm (a card that lies lower than the face
        is shown where the photo sees it, not where it lies).
    cards_on_face : tuple of bool
        For each of `cards`, whether it lies on the slab (its pixels then count as wood).
    camera_mm : (3,) float64
        The camera in the plane frame: foot point x, y and height above the face, mm.
    shown_by : callable or None
        Where several photos are joined: (..., 2) plane-frame mm to (..., 3) the camera that shows each point.
    """

    rgb: np.ndarray
    seen: np.ndarray
    mm_per_px: float
    origin_mm: np.ndarray
    cards: tuple[np.ndarray, ...]
    cards_on_face: tuple[bool, ...]
    camera_mm: np.ndarray
    shown_by: Callable[[np.ndarray], np.ndarray] | None = None

    def cameras_over(self, mm: np.ndarray) -> np.ndarray:
        """(..., 3) or (3,) where it is one for all: the camera that shows each plane-frame point (..., 2)."""
        return self.camera_mm if self.shown_by is None else self.shown_by(mm)

    def to_mm(self, px: np.ndarray) -> np.ndarray:
        """(n, 2) pixels (column, row; centre of the first pixel is (0, 0)) to plane-frame mm."""
        return self.origin_mm + np.asarray(px, float) * [self.mm_per_px, -self.mm_per_px]

    def to_px(self, mm: np.ndarray) -> np.ndarray:
        """(n, 2) plane-frame mm to pixels (column, row) of this view."""
        return (np.asarray(mm, float) - self.origin_mm) / [self.mm_per_px, -self.mm_per_px]


class Viewer(Protocol):
    """Whatever can show the face square-on; the solved plane with its photo is one."""

    def flat_view(self, mm_per_px: float, bounds_mm: tuple[float, float, float, float] | None = None) -> FlatView:
        """The view at `mm_per_px` of `bounds_mm` (least x, least y, greatest x, greatest y); None: all that is seen."""
