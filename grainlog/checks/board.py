"""The face laid along the slab: the wood alone, level, evenly lit, ready to look for checks in.

Rows run across the grain (row 0 at the greatest y), columns along the slab. Light is linear, because what a narrow check
takes from a pixel is a share of light, not of code values.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from grainlog.face.frame import SlabFrame
from grainlog.scale.flat import FlatView

#: The background is the light of the wood around, over about this far across and along the grain, mm.
AROUND_MM = (14.0, 30.0)
#: Wood this near its edge, mm, is left out: the edge is found to about this.
RIM_MM = 1.0
#: Around a card, mm: its rim and shadow are no wood.
CARD_RIM_MM = 6.0
#: sRGB code values to linear light (IEC 61966-2-1).
_CODES = np.arange(256) / 255
LINEAR = np.where(_CODES <= 0.04045, _CODES / 12.92, ((_CODES + 0.055) / 1.055) ** 2.4).astype(np.float32)


@dataclass(frozen=True)
class Board:
    """A raster of the face in the slab frame.

    light : (h, w) float32
        Linear light over that of the wood around: 1 is even wood, a deep check is near 0. 1 where `wood` is False.
    warmth : (h, w) float32
        How much redder than the wood around, -1 to 1; 0 where `wood` is False.
    wood : (h, w) bool
        Wood that shows: inside the outline, no hole, no card, seen by the photo.
    mm_per_px : float
    corner_mm : (2,) float64
        Slab-frame position of the centre of pixel (column 0, row 0), mm.
    """

    light: np.ndarray
    warmth: np.ndarray
    wood: np.ndarray
    mm_per_px: float
    corner_mm: np.ndarray

    def to_mm(self, px: np.ndarray) -> np.ndarray:
        """(n, 2) pixels (column, row) to slab-frame mm."""
        return self.corner_mm + np.asarray(px, float) * [self.mm_per_px, -self.mm_per_px]

    def to_px(self, mm: np.ndarray) -> np.ndarray:
        """(n, 2) slab-frame mm to pixels (column, row)."""
        return (np.asarray(mm, float) - self.corner_mm) / [self.mm_per_px, -self.mm_per_px]


def lay_board(view: FlatView, wood: np.ndarray, holes: tuple[np.ndarray, ...], frame: SlabFrame) -> Board:
    """Lay the wood of a flat view along its slab frame, at the view's own resolution.

    wood, holes : (n, 2) float64
        Outlines in the plane frame, mm.
    """
    ring = frame.to_slab(wood)
    mm = view.mm_per_px
    low, high = ring.min(0) - 3 * mm, ring.max(0) + 3 * mm
    w, h = (int(np.ceil(side / mm)) + 1 for side in high - low)
    corner = np.array([low[0], high[1]])
    # The affine map from board pixels to view pixels, through three points.
    three = np.array([[0.0, 0], [1000, 0], [0, 1000]])
    at = view.to_px(frame.to_plane(corner + three * [mm, -mm]))
    map_ = cv2.getAffineTransform(three.astype(np.float32), at.astype(np.float32))
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    rgb = cv2.warpAffine(LINEAR[view.rgb], map_, (w, h), flags=flags, borderMode=cv2.BORDER_REPLICATE)
    shown = np.zeros((h, w), np.uint8)
    board = Board(shown, shown, shown, mm, corner)
    _fill(shown, board.to_px(ring), 1)
    for hole in holes:
        _fill(shown, board.to_px(frame.to_slab(hole)), 0)
    for card in view.cards:
        _fill(shown, board.to_px(_grown(frame.to_slab(card), CARD_RIM_MM)), 0)
    if not view.seen.all():
        seen = cv2.warpAffine(view.seen.astype(np.uint8), map_, (w, h), flags=cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP)
        shown &= seen
    inner = _eroded(shown, RIM_MM / mm)
    light, warmth = _levelled(rgb, inner, mm)
    return Board(light, warmth, inner > 0, mm, corner)


def _levelled(rgb: np.ndarray, wood: np.ndarray, mm: float) -> tuple[np.ndarray, np.ndarray]:
    grey = rgb @ np.array([0.2126, 0.7152, 0.0722], np.float32)
    warmth = (rgb[..., 0] - rgb[..., 2]) / (rgb[..., 0] + rgb[..., 2] + 0.02)
    around, _ = _around((grey, warmth), wood, mm)
    light = np.clip(grey / np.maximum(around, 0.004), 0, 2.5)
    # Once more without what is far darker or lighter: a wide check must not darken its own background.
    even = wood * (np.abs(light - 1) < 0.35).astype(np.uint8)
    again, again_warmth = _around((grey, warmth), np.maximum(even, wood // 20), mm)
    light = np.clip(grey / np.maximum(again, 0.004), 0, 2.5)
    light[wood == 0] = 1
    return light.astype(np.float32), np.where(wood > 0, warmth - again_warmth, 0).astype(np.float32)


def _around(planes, weight: np.ndarray, mm: float) -> list[np.ndarray]:
    """Weighted means over the neighbourhood, computed on a coarse raster and brought back."""
    h, w = weight.shape
    step = max(1, round(3.0 / mm))
    small = (-(-w // step), -(-h // step))
    sigma = AROUND_MM[1] / (mm * step), AROUND_MM[0] / (mm * step)
    share = cv2.resize(weight.astype(np.float32), small, interpolation=cv2.INTER_AREA)
    total = cv2.GaussianBlur(share, (0, 0), sigmaX=sigma[0], sigmaY=sigma[1], borderType=cv2.BORDER_CONSTANT)
    means = []
    for plane in planes:
        part = cv2.resize(plane * weight, small, interpolation=cv2.INTER_AREA)
        part = cv2.GaussianBlur(part, (0, 0), sigmaX=sigma[0], sigmaY=sigma[1], borderType=cv2.BORDER_CONSTANT)
        mean = part / np.maximum(total, 1e-6)
        means.append(cv2.resize(mean, (w, h), interpolation=cv2.INTER_LINEAR))
    return means


def _fill(mask: np.ndarray, ring: np.ndarray, value: int) -> None:
    cv2.fillPoly(mask, [np.round(np.clip(ring, -30000, 30000) * 64).astype(np.int32)], value, shift=6)


def _grown(ring: np.ndarray, by: float) -> np.ndarray:
    """A convex ring moved outwards from its middle so that each side moves by about `by`."""
    middle = ring.mean(0)
    away = ring - middle
    return middle + away * (1 + by / np.maximum(np.linalg.norm(away, axis=1, keepdims=True) * 0.7, 1))


def _eroded(mask: np.ndarray, px: float) -> np.ndarray:
    size = 2 * max(1, round(px)) + 1
    return cv2.erode(mask, np.ones((size, size), np.uint8))
