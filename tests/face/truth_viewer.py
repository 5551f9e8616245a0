"""A Viewer from the exact truth of a rendered photo: the true camera, the true plane of the face."""

import json
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from grainlog.photo import read_photo
from grainlog.scale.flat import FlatView


@dataclass(frozen=True)
class TruthViewer:
    """Shows the face of a rendered photo square-on; plane frame = slab frame of the truth (x, y on the face)."""

    rgb: np.ndarray
    truth: dict

    @classmethod
    def read(cls, photo: Path) -> "TruthViewer":
        return cls(read_photo(photo).pixels, json.loads(photo.with_suffix(".json").read_text()))

    def _axes(self):
        lie = self.truth["face"]["slab_to_world"]
        return np.array(lie["rotation"]), np.array(lie["translation_mm"])

    def to_photo(self, mm: np.ndarray) -> np.ndarray:
        """(n, 2) plane-frame mm to photo pixels."""
        camera = self.truth["camera"]
        turn, shift = self._axes()
        world = np.column_stack([mm, np.zeros(len(mm))]) @ turn.T + shift
        seen = world @ np.array(camera["rotation"]).T + camera["translation_mm"]
        flat = seen[:, :2] / seen[:, 2:]
        squared = (flat**2).sum(1, keepdims=True)
        return flat * (1 + camera["k1"] * squared + camera["k2"] * squared**2) * camera["f_px"] + [camera["cx"], camera["cy"]]

    def to_plane(self, px: np.ndarray) -> np.ndarray:
        """(n, 2) photo pixels to plane-frame mm."""
        camera = self.truth["camera"]
        turn, shift = self._axes()
        distorted = (np.asarray(px, float) - [camera["cx"], camera["cy"]]) / camera["f_px"]
        flat = distorted.copy()
        for _ in range(20):
            squared = (flat**2).sum(1, keepdims=True)
            flat = distorted / (1 + camera["k1"] * squared + camera["k2"] * squared**2)
        rays = np.column_stack([flat, np.ones(len(flat))]) @ np.array(camera["rotation"]) @ turn
        eye = self.camera_mm()
        return eye[:2] - rays[:, :2] * (eye[2] / rays[:, 2:])

    def camera_mm(self) -> np.ndarray:
        camera = self.truth["camera"]
        turn, shift = self._axes()
        return (-np.array(camera["rotation"]).T @ np.array(camera["translation_mm"]) - shift) @ turn

    def flat_view(self, mm_per_px, bounds_mm=None) -> FlatView:
        h, w = self.rgb.shape[:2]
        if bounds_mm is None:
            t = np.linspace(0, 1, 20)[:, None]
            corners = np.array([[0, 0], [w - 1, 0], [w - 1, h - 1], [0, h - 1], [0, 0]], float)
            rim = self.to_plane(np.vstack([a + t * (b - a) for a, b in zip(corners, corners[1:])]))
            bounds_mm = (*rim.min(0), *rim.max(0))
        left, low, right, high = bounds_mm
        size = int(np.ceil((right - left) / mm_per_px)), int(np.ceil((high - low) / mm_per_px))
        origin = np.array([left + mm_per_px / 2, high - mm_per_px / 2])
        step = 16
        columns, rows = np.arange(0, size[0] + step, step), np.arange(0, size[1] + step, step)
        grid = np.stack(np.meshgrid(origin[0] + columns * mm_per_px, origin[1] - rows * mm_per_px), -1)
        px = self.to_photo(grid.reshape(-1, 2)).reshape(grid.shape).astype(np.float32)
        x, y = np.meshgrid(np.arange(size[0], dtype=np.float32) / step, np.arange(size[1], dtype=np.float32) / step)
        fine = cv2.remap(px, x, y, cv2.INTER_LINEAR)
        middle = self.to_photo(np.array([[left + right, low + high]]) / 2 + [[0, 0], [mm_per_px, 0]])
        shrink = max(1, int(np.linalg.norm(middle[1] - middle[0])))
        source = self.rgb if shrink < 2 else cv2.resize(
            self.rgb[: h // shrink * shrink, : w // shrink * shrink], (w // shrink, h // shrink), interpolation=cv2.INTER_AREA)
        at = (fine + np.float32(0.5)) / np.float32(shrink) - np.float32(0.5)
        rgb = cv2.remap(source, at, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        seen = (fine >= -0.5).all(-1) & (fine[..., 0] <= w - 0.5) & (fine[..., 1] <= h - 0.5)
        cards = tuple(self.to_plane(np.array(card["outline_px"])) for card in self.truth["cards"])
        on_face = tuple(card["on"] == "slab" for card in self.truth["cards"])
        return FlatView(rgb, seen, mm_per_px, origin, cards, on_face, self.camera_mm())

    def outline_mm(self, name: str) -> np.ndarray:
        """True `wood_px`, `bark_px` or `silhouette_px` as it appears on the plane, mm."""
        return self.to_plane(np.array(self.truth["outline"][name]))
