"""The camera as exact numbers: world points to pixels, pixels back to a surface.

Pixel convention: the centre of the first pixel is (0, 0). Distortion is the radial part of the model that OpenCV
documents (calib3d, "Camera Calibration and 3D Reconstruction"): x_d = x (1 + k1 r^2 + k2 r^4).
"""

from dataclasses import dataclass

import numpy as np

from .scene import Camera

#: Diagonal of the 36 x 24 mm frame, mm: the 35 mm equivalent goes by the diagonal (CIPA DCG-001).
FULL_FRAME_DIAGONAL_MM = 43.2666


@dataclass(frozen=True)
class View:
    """A pinhole with radial distortion at a place in the world.

    size_px : (width, height); f, cx, cy in pixels.
    rotation : (3, 3) float64, world to camera axes (x right, y down, z forward).
    translation : (3,) float64, mm: camera point = rotation @ world + translation.
    """

    size_px: tuple[int, int]
    f: float
    cx: float
    cy: float
    k1: float
    k2: float
    rotation: np.ndarray
    translation: np.ndarray

    @property
    def position(self) -> np.ndarray:
        """(3,) mm, the camera in the world."""
        return -self.rotation.T @ self.translation

    def project(self, points: np.ndarray) -> np.ndarray:
        """(n, 3) mm, world, to (n, 2) px."""
        seen = np.asarray(points, float) @ self.rotation.T + self.translation
        normal = seen[:, :2] / seen[:, 2:]
        squared = np.sum(normal**2, axis=1, keepdims=True)
        return normal * (1 + self.k1 * squared + self.k2 * squared**2) * self.f + [self.cx, self.cy]

    def undistort(self, px: np.ndarray) -> np.ndarray:
        """(n, 2) px to (n, 2) pinhole coordinates (x / z, y / z); Newton on the radius."""
        distorted = (np.asarray(px, float) - [self.cx, self.cy]) / self.f
        target = np.sqrt(np.sum(distorted**2, axis=1))
        radius = target.copy()
        for _ in range(5):
            error = radius * (1 + self.k1 * radius**2 + self.k2 * radius**4) - target
            radius -= error / (1 + 3 * self.k1 * radius**2 + 5 * self.k2 * radius**4)
        scale = np.divide(radius, target, out=np.ones_like(radius), where=target > 0)
        return distorted * scale[:, None]

    def rays(self, px: np.ndarray) -> np.ndarray:
        """(n, 2) px to (n, 3) directions in the world, not of unit length."""
        flat = self.undistort(px)
        return np.column_stack([flat, np.ones(len(flat))]) @ self.rotation


def view(camera: Camera, width_px: int) -> View:
    """The exact view of a 4:3 photo `width_px` wide."""
    size = (width_px, width_px * 3 // 4)
    f = camera.focal_35mm / FULL_FRAME_DIAGONAL_MM * float(np.hypot(*size))
    tilt, roll = camera.oblique_rad, camera.roll_rad
    forward = np.array([0.0, np.sin(tilt), -np.cos(tilt)])
    right = np.array([1.0, 0.0, 0.0])
    down = np.cross(forward, right)
    axes = np.array([np.cos(roll) * right + np.sin(roll) * down, np.cos(roll) * down - np.sin(roll) * right, forward])
    place = np.array([camera.aim_x_mm, camera.aim_y_mm - camera.height_mm * np.tan(tilt), camera.height_mm])
    return View(
        size_px=size,
        f=f,
        cx=(size[0] - 1) / 2 + camera.centre_shift[0] * size[0],
        cy=(size[1] - 1) / 2 + camera.centre_shift[1] * size[0],
        k1=camera.k1,
        k2=camera.k2,
        rotation=axes,
        translation=-axes @ place,
    )
