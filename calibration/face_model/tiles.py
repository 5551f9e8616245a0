"""Endless random fields: a few tiles that repeat without a seam, read at any scale, stretch and place."""

from functools import cache

import cv2
import numpy as np
from scipy.ndimage import gaussian_filter1d
from scipy.spatial import cKDTree

SIDE = 512


@cache
def cloud(power: float = 1.6) -> np.ndarray:
    """(512, 512) float32, zero mean, unit spread: noise whose amplitude falls with frequency to `power`."""
    spectrum = np.fft.rfft2(np.random.default_rng(7).standard_normal((SIDE, SIDE)))
    away = np.hypot(np.fft.fftfreq(SIDE)[:, None], np.fft.rfftfreq(SIDE)[None, :])
    away[0, 0] = np.inf
    noise = np.fft.irfft2(spectrum / away**power, (SIDE, SIDE))
    return (noise / noise.std()).astype(np.float32)


@cache
def speck() -> np.ndarray:
    """(512, 512) float32, zero mean, unit spread: grains of about two tile pixels."""
    noise = np.random.default_rng(8).standard_normal((SIDE, SIDE)).astype(np.float32)
    noise = cv2.GaussianBlur(np.tile(noise, (3, 3)), (0, 0), 0.9)[SIDE : 2 * SIDE, SIDE : 2 * SIDE]
    return np.ascontiguousarray(noise / noise.std())


@cache
def cells() -> tuple[np.ndarray, np.ndarray]:
    """Pebbles of about 16 tile pixels: distance from the rim and each one's number, (512, 512) float32, 0..1."""
    rng = np.random.default_rng(9)
    points = rng.uniform(0, SIDE, ((SIDE // 16) ** 2, 2))
    y, x = np.mgrid[:SIDE, :SIDE]
    away, which = cKDTree(points, boxsize=SIDE).query(np.stack([x, y], -1).reshape(-1, 2), k=2)
    rim = ((away[:, 1] - away[:, 0]) / 12).clip(0, 1).reshape(SIDE, SIDE)
    own = rng.uniform(0, 1, len(points))[which[:, 0]].reshape(SIDE, SIDE)
    return rim.astype(np.float32), own.astype(np.float32)


def read(tile: np.ndarray, u: np.ndarray, v: np.ndarray, rng, wide: float, high: float | None = None) -> np.ndarray:
    """A tile read at plan positions u, v (mm); one tile pixel covers `wide` x `high` mm; a random place in it."""
    x, y = place(u, v, rng, wide, high)
    return cv2.remap(tile, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)


def place(u, v, rng, wide: float, high: float | None = None) -> tuple[np.ndarray, np.ndarray]:
    """Positions in a tile for `read`, to read several tiles at the same places."""
    shift = rng.uniform(0, SIDE, 2)
    return _wrapped(u * np.float32(1 / wide) + np.float32(shift[0])), _wrapped(
        v * np.float32(1 / (high or wide)) + np.float32(shift[1])
    )


def _wrapped(at: np.ndarray) -> np.ndarray:
    """Into 0..SIDE; np.mod does the same at a fifth of the speed."""
    return (at - np.float32(SIDE) * np.floor(at * np.float32(1 / SIDE))).astype(np.float32, copy=False)


def wander(rng, count: int, waves: float, octaves: int = 3) -> np.ndarray:
    """(count,) float64: a smooth random line of about `waves` waves, spread about 1, finer waves at half the size."""
    line = np.zeros(count)
    for octave in range(octaves):
        knots = max(2, int(round(waves * 2**octave)) + 2)
        rough = np.interp(np.linspace(0, knots - 1, count), np.arange(knots), rng.standard_normal(knots))
        line += gaussian_filter1d(rough, max(0.5, 0.35 * count / knots), mode="nearest") * 0.5**octave
    return line * 1.3


def turned(x: np.ndarray, y: np.ndarray, angle: float) -> tuple[np.ndarray, np.ndarray]:
    """Coordinates along and across a direction."""
    c, s = np.float32(np.cos(angle)), np.float32(np.sin(angle))
    return x * c + y * s, y * c - x * s


def step(values: np.ndarray, at: float, soft: float) -> np.ndarray:
    """A soft step from 0 to 1 at `at`."""
    return 1 / (1 + np.exp(np.clip((np.float32(at) - values) / np.float32(soft), -30, 30)))
