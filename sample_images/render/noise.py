"""Smooth random lines and fields: the stuff that bark, grain and ground are made of."""

import cv2
import numpy as np
from scipy.interpolate import CubicSpline


def line(position: np.ndarray, wavelength: float, rng: np.random.Generator, period: float | None = None) -> np.ndarray:
    """Smooth noise of about unit deviation along `position`; closed where `period` is given."""
    position = np.asarray(position, float)
    if period:
        count = max(4, round(period / wavelength))
        values = rng.standard_normal(count)
        knots = np.arange(count + 1) * period / count
        return CubicSpline(knots, np.append(values, values[0]), bc_type="periodic")(position % period)
    start, stop = position.min() - wavelength, position.max() + wavelength
    knots = np.arange(start, stop + 2 * wavelength, wavelength)
    return CubicSpline(knots, rng.standard_normal(len(knots)))(position)


def field(shape: tuple[int, int], wavelength: tuple[float, float], rng: np.random.Generator) -> np.ndarray:
    """(h, w) float32 noise of about unit deviation; `wavelength` down and across, in pixels."""
    height, width = shape
    rows = max(2, int(np.ceil(height / wavelength[0])) + 3)
    columns = max(2, int(np.ceil(width / wavelength[1])) + 3)
    coarse = rng.standard_normal((rows, columns)).astype(np.float32)
    if wavelength[0] <= 1 and wavelength[1] <= 1:
        return coarse[:height, :width]
    size = (max(width, round(columns * wavelength[1])), max(height, round(rows * wavelength[0])))
    whole = cv2.resize(coarse, size, interpolation=cv2.INTER_CUBIC)[:height, :width]
    return whole / max(float(whole.std()), 1e-6)


def tile(size: int, wavelength: float, rng: np.random.Generator, sharp: float = 2.0) -> np.ndarray:
    """(size, size) float32 noise of unit deviation that repeats without a seam; `wavelength` in pixels."""
    frequency = np.hypot(*np.meshgrid(np.fft.rfftfreq(size), np.fft.fftfreq(size)))
    keep = np.exp(-((frequency * wavelength) ** sharp))
    keep[0, 0] = 0
    made = np.fft.irfft2(np.fft.rfft2(rng.standard_normal((size, size))) * keep, s=(size, size))
    return (made / made.std()).astype(np.float32)


def smoothstep(value: np.ndarray, low: float, high: float) -> np.ndarray:
    """0 below `low`, 1 above `high`, smooth between."""
    t = np.clip((value - low) / (high - low), 0, 1)
    return t * t * (3 - 2 * t)
