"""The band along a closed line, unrolled: one row for each place along the line, one column for each distance from it.

Distances are millimetres along the outward normal, negative inside.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from scipy.ndimage import gaussian_filter1d

from grainlog.scale.flat import FlatView


@dataclass(frozen=True)
class Strip:
    """An unrolled band.

    points, normals : (n, 2) float64
        Places along the line, mm, evenly spaced, anticlockwise; unit vectors outwards.
    offsets : (m,) float64, mm, evenly spaced
    rgb : (n, m, 3) float32, 0..255, or 0..1 where unrolled from linear light
    seen : (n, m) bool
    """

    points: np.ndarray
    normals: np.ndarray
    offsets: np.ndarray
    rgb: np.ndarray
    seen: np.ndarray

    @property
    def step(self) -> float:
        """Spacing of the places along the line, mm."""
        return float(np.linalg.norm(self.points[1] - self.points[0]))

    def at(self, offset: np.ndarray) -> np.ndarray:
        """(n, 2) mm: one point for each place, at `offset` (n,) mm from the line."""
        return self.points + np.asarray(offset)[:, None] * self.normals

    def sample(self, view: FlatView, values: np.ndarray) -> np.ndarray:
        """(n, m, k) float32: (h, w, k) values of the pixels of a view, at each sample, interpolated."""
        places = self.points[:, None] + self.offsets[None, :, None] * self.normals[:, None]
        px = view.to_px(places.reshape(-1, 2)).reshape(places.shape).astype(np.float32)
        return cv2.remap(values, px[..., 0], px[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)

    def cover(self, polygon_mm: np.ndarray) -> np.ndarray:
        """(n, m) bool, which samples lie inside a polygon."""
        places = self.points[:, None] + self.offsets[None, :, None] * self.normals[:, None]
        inside = np.zeros(places.shape[:2], bool)
        least, most = polygon_mm.min(0), polygon_mm.max(0)
        near = ((places > least) & (places < most)).all(-1)
        if near.any():
            x, y = places[near].T
            before = polygon_mm[:, 1][:, None] > y
            after = np.roll(before, -1, axis=0)
            end = np.roll(polygon_mm, -1, axis=0)
            rise = np.where(end[:, 1] == polygon_mm[:, 1], 1e-12, end[:, 1] - polygon_mm[:, 1])[:, None]
            cross = polygon_mm[:, 0][:, None] + (y - polygon_mm[:, 1][:, None]) / rise * (end - polygon_mm)[:, 0][:, None]
            inside[near] = ((before != after) & (x < cross)).sum(0) % 2 == 1
        return inside


def evenly(ring: np.ndarray, step: float) -> np.ndarray:
    """(n, 2) points at even spacing of about `step` along a closed ring, anticlockwise, open."""
    ring = np.asarray(ring, float)
    x, y = (ring - ring[0]).T
    if x @ np.roll(y, -1) < y @ np.roll(x, -1):
        ring = ring[::-1]
    closed = np.vstack([ring, ring[:1]])
    run = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    count = max(8, round(run[-1] / step))
    at = np.arange(count) * (run[-1] / count)
    return np.column_stack([np.interp(at, run, closed[:, 0]), np.interp(at, run, closed[:, 1])])


def smooth_ring(points: np.ndarray, sigma_mm: float, step: float) -> np.ndarray:
    """Evenly spaced closed points, smoothed along the ring."""
    return gaussian_filter1d(points, max(sigma_mm / step, 1e-3), axis=0, mode="wrap")


def linear_light(view: FlatView) -> FlatView:
    """The same view with `rgb` float32, linear light 0..1 (sRGB decoding of IEC 61966-2-1)."""
    value = np.arange(256) / 255
    table = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4).astype(np.float32)
    return replace(view, rgb=table[view.rgb])


def unroll(view: FlatView, ring: np.ndarray, step: float, offsets: np.ndarray, smooth_mm: float) -> Strip:
    """Unroll the band along `ring` (n, 2) mm; normals are taken from the ring smoothed over `smooth_mm`."""
    points = evenly(ring, step)
    spacing = float(np.linalg.norm(points[1] - points[0]))
    guide = smooth_ring(points, smooth_mm, spacing)
    along = np.roll(guide, -1, axis=0) - np.roll(guide, 1, axis=0)
    along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9)
    normals = np.column_stack([along[:, 1], -along[:, 0]])
    return _band(view, points, normals, offsets)


def unroll_open(view: FlatView, line: np.ndarray, offsets: np.ndarray) -> Strip:
    """Unroll the band along an open, smooth line of evenly spaced points (n, 2) mm; normals to the right of its direction."""
    along = np.gradient(gaussian_filter1d(line, 3, axis=0, mode="nearest"), axis=0)
    along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9)
    return _band(view, line, np.column_stack([along[:, 1], -along[:, 0]]), offsets)


def _band(view: FlatView, points: np.ndarray, normals: np.ndarray, offsets: np.ndarray) -> Strip:
    places = points[:, None] + offsets[None, :, None] * normals[:, None]
    px = view.to_px(places.reshape(-1, 2)).reshape(places.shape).astype(np.float32)
    # cv2.remap takes at most 32767 rows; a ring has a few thousand places.
    rgb = cv2.remap(view.rgb, px[..., 0], px[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    seen = cv2.remap(view.seen.astype(np.uint8), px[..., 0], px[..., 1], cv2.INTER_NEAREST, borderValue=0) > 0
    return Strip(points, normals, np.asarray(offsets, float), rgb.astype(np.float32), seen)
