"""Light and lens: cast shadows, dapple, gloss, colour casts, exposure, blur, noise, JPEG."""

import cv2
import numpy as np

from .clutter import Canvas
from .tiles import cloud, read, step, turned


def cast_shadow(rng, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """(h, w) float32 0..1: the hard or soft edged shadow of posts, walls or people."""
    shade = np.zeros(x.shape, np.float32)
    for _ in range(rng.integers(1, 4)):
        u, v = turned(x, y, rng.uniform(0, 6.3))
        u = u - rng.uniform(-1200, 1200)
        wide = rng.choice([rng.uniform(40, 300), rng.uniform(300, 2500)])
        edge = np.clip(
            (wide / 2 - np.abs(u + rng.uniform(0, 20) * read(cloud(2.0), x, y, rng, 6))) / rng.uniform(4, 60), 0, 1
        )
        shade = np.maximum(shade, edge)
    return shade


def dapple(rng, x, y) -> np.ndarray:
    """(h, w) float32 0..1: the shadow of leaves."""
    noise = read(cloud(1.5), x, y, rng, rng.uniform(0.8, 4))
    return step(noise, rng.uniform(-0.8, 0.8), rng.uniform(0.05, 0.4))


def illuminate(rng, canvas: Canvas, x, y, face: np.ndarray) -> None:
    """Shadows over everything (moved a little where the face is higher), light that falls off, gloss on the face."""
    tint = rng.uniform(0.25, 0.75) * np.array([1.0, 1.0, rng.uniform(1.0, 1.25)])
    if rng.random() < 0.35:
        state = rng.bit_generator.state
        dark = cast_shadow(rng, x, y)
        after = rng.bit_generator.state
        rng.bit_generator.state = state
        shift = rng.normal(0, 40, 2)
        rng.bit_generator.state = state
        high = cast_shadow(rng, x + np.float32(shift[0]), y + np.float32(shift[1]))
        rng.bit_generator.state = after
        canvas.shade(np.where(face, high, dark), tint)
    if rng.random() < 0.13:
        canvas.shade(dapple(rng, x, y), tint)
    u, _ = turned(x, y, rng.uniform(0, 6.3))
    canvas.rgb = canvas.rgb * (1 + rng.uniform(0, 0.45) * u / 2000)[..., None].clip(0.4, 1.8)
    if rng.random() < 0.3:
        cx, cy = rng.uniform(-700, 700, 2)
        spot = np.exp(-(((x - cx) / rng.uniform(100, 900)) ** 2) - ((y - cy) / rng.uniform(60, 500)) ** 2)
        where = face if rng.random() < 0.7 else np.ones_like(face)
        broken = np.clip(0.8 + 0.2 * read(cloud(1.5), x, y, rng, 1.5), 0, 1)
        strong = rng.uniform(0.1, 0.7) if rng.random() < 0.85 else rng.uniform(0.7, 1.5)  # burnt out, at times
        canvas.rgb = canvas.rgb + (strong * spot * broken * where)[..., None]


def photograph(rng, rgb: np.ndarray, oblique: float, far: np.ndarray) -> np.ndarray:
    """(h, w, 3) uint8 sRGB: the picture through lens, sensor and file.

    oblique : 0 (straight down) to 1; the far direction is then blurred more.
    far : (h, w) float32, distance from the foot of the camera over its height; what is far is coarse
    """
    h, w = rgb.shape[:2]
    metered = (rng.uniform(0.28, 0.55) / max(float(rgb.mean()), 0.02)) ** rng.uniform(0.4, 1.0)  # cameras set exposure
    rgb = rgb * (metered * rng.normal(1, 0.07, 3))
    dusk = rng.random() < 0.12  # a lamp, a flash that does not reach
    if dusk:
        rgb = rgb * rng.uniform(0.22, 0.7)
    if rng.random() < 0.25:  # strong cast
        rgb = rgb * rng.uniform(0.75, 1.25, 3)
    grey = rgb.mean(-1, keepdims=True)
    rgb = grey + (rgb - grey) * rng.uniform(0.5, 1.35)
    if rng.random() < 0.4:
        y, x = np.mgrid[:h, :w].astype(np.float32)
        away = ((x - w * rng.uniform(0.2, 0.8)) / w) ** 2 + ((y - h * rng.uniform(0.2, 0.8)) / h) ** 2
        rgb = rgb * (1 - rng.uniform(0, 0.6) * away)[..., None]
    rgb = np.clip(rgb, 0, 1.3).astype(np.float32) ** np.float32(rng.uniform(0.75, 1.35))
    sigma = np.array([1.0, 1.0]) * rng.choice([rng.uniform(0.25, 0.6), rng.uniform(0.6, 1.6)], p=[0.7, 0.3])
    sigma[rng.integers(2)] *= 1 + rng.uniform(0, 2.0) * oblique
    if dusk:  # a slow shutter
        sigma *= rng.uniform(1, 2.2, 2)
    rgb = cv2.GaussianBlur(rgb, (0, 0), float(sigma[0]), sigmaY=float(sigma[1]))
    coarse = np.clip((far - rng.uniform(0.5, 1.6)) / rng.uniform(0.3, 1.0), 0, 1)
    if coarse.any():
        smooth = cv2.GaussianBlur(rgb, (0, 0), rng.uniform(0.8, 2.6))
        rgb = rgb + (smooth - rgb) * coarse[..., None]
    if rng.random() < 0.4:
        rgb = rgb + rng.uniform(0.2, 1.0) * (rgb - cv2.GaussianBlur(rgb, (0, 0), 1.2))
    noise = rng.standard_normal((h, w, 3), np.float32)
    if rng.random() < 0.5:
        noise = cv2.GaussianBlur(noise, (0, 0), rng.uniform(0.5, 1.2)) * 2
    rgb = np.clip(rgb + rng.uniform(0, 0.07 if dusk else 0.035) * noise, 0, 1)
    out = (rgb * 255 + 0.5).astype(np.uint8)
    if rng.random() < 0.6:
        out = cv2.imdecode(
            cv2.imencode(".jpg", out, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(35, 96))])[1], cv2.IMREAD_COLOR
        )
    return out
