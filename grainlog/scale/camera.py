"""A camera: pinhole with two radial terms, in OpenCV's convention (x right, y down, z forward).

With normalised coordinates (x, y) = (X/Z, Y/Z) and r^2 = x^2 + y^2 the pixel is
    f * (1 + k1 r^2 + k2 r^4) * (x, y) + (cx, cy),
square pixels, centre of the first pixel at (0, 0). The same model as `cv2.projectPoints` with (k1, k2, 0, 0).
"""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Camera:
    """Intrinsics in pixels: focal length, principal point, radial terms (dimensionless)."""

    focal_px: float
    centre_px: tuple[float, float]
    k1: float = 0.0
    k2: float = 0.0

    @property
    def matrix(self) -> np.ndarray:
        """(3, 3) float64 camera matrix."""
        return np.array([[self.focal_px, 0, self.centre_px[0]], [0, self.focal_px, self.centre_px[1]], [0, 0, 1.0]])

    def project(self, points: np.ndarray) -> np.ndarray:
        """(..., 3) camera-frame mm to (..., 2) px."""
        flat = points[..., :2] / points[..., 2:]
        square = (flat * flat).sum(-1, keepdims=True)
        return flat * (self.focal_px * (1 + square * (self.k1 + square * self.k2))) + self.centre_px

    def rays(self, px: np.ndarray) -> np.ndarray:
        """(..., 2) px to (..., 3) directions with z = 1, camera frame; the inverse of `project`.

        Newton's method on the radius; converges wherever the distortion is monotone, which the solution enforces.
        """
        bent = (np.asarray(px, float) - self.centre_px) / self.focal_px
        seen = np.sqrt((bent * bent).sum(-1))
        radius = seen.copy()
        for _ in range(8):
            square = radius * radius
            value = radius * (1 + square * (self.k1 + square * self.k2)) - seen
            slope = 1 + square * (3 * self.k1 + 5 * square * self.k2)
            step = value / slope
            radius = radius - step
            if np.abs(step).max(initial=0.0) < 1e-13:
                break
        stretch = np.divide(radius, seen, out=np.ones_like(seen), where=seen > 0)
        return np.concatenate([bent * stretch[..., None], np.ones_like(seen)[..., None]], -1)
