"""From traced light to a photo: lens, sensor, tone, JPEG, metadata. No path tracer here."""

from pathlib import Path

import cv2
import numpy as np
from PIL import Image

from .optics import View
from .scene import Scene

#: Made-up names; the maker field says what it is.
MAKE, MODEL = "rendered", "pinhole with radial lens"

#: Blur of lens and sensor together, standard deviation, px: common practice, no source.
LENS_BLUR_PX = 0.7


def through_lens(light: np.ndarray, seen: View) -> np.ndarray:
    """(h, w, 3) float32: the wide pinhole picture as the lens of `seen` draws it, Lanczos sampled.

    `light` is centred on the optical axis with the same focal length; centre of the first pixel is (0, 0) in both.
    """
    width, height = seen.size_px
    middle = np.array([(light.shape[1] - 1) / 2, (light.shape[0] - 1) / 2], np.float32)
    # The radial part as a table over the radius: 1e-6 px from `seen.undistort`, and quick.
    radius = np.linspace(0, 1.05 * np.hypot(width, height) / seen.f, 5000)
    straight = seen.undistort(np.column_stack([radius * seen.f + seen.cx, np.full(5000, seen.cy)]))[:, 0]
    scale = np.append(1.0, straight[1:] / radius[1:])
    x = np.arange(width) - seen.cx
    out = np.empty((height, width, 3), np.float32)
    for top in range(0, height, 128):
        y = (np.arange(top, min(top + 128, height)) - seen.cy)[:, None]
        factor = np.interp(np.hypot(x, y) / seen.f, radius, scale)
        from_x, from_y = (x * factor + middle[0]).astype(np.float32), (y * factor + middle[1]).astype(np.float32)
        out[top : top + len(y)] = cv2.remap(light, from_x, from_y, cv2.INTER_LANCZOS4, borderMode=cv2.BORDER_REPLICATE)
    return np.clip(out, 0, None)


def overscan(seen: View) -> float:
    """How much wider than the photo the pinhole picture must be to fill the lens's corners."""
    width, height = seen.size_px
    edge = np.array([[x, y] for x in (0, width / 2, width - 1) for y in (0, height / 2, height - 1)])
    reach = np.abs(seen.undistort(edge) * seen.f).max(axis=0)
    return float(max(2 * reach[0] / width, 2 * reach[1] / height) + 0.006)


def expose(light: np.ndarray, seed: int, noise: float) -> np.ndarray:
    """(h, w, 3) uint8 sRGB from linear light.

    Exposure, white balance, vignette, shot and read noise, shoulder, gamma (IEC 61966-2-1), mild sharpening.
    """
    rng = np.random.default_rng(seed)
    # No phone is sharper than this at full size.
    light = cv2.GaussianBlur(light, (0, 0), LENS_BLUR_PX)
    grey = light.mean(axis=2)[::8, ::8]
    level = float(
        np.clip(0.22 / max(np.exp(np.log(grey + 1e-4).mean()), 1e-4), 0, 1.0 / max(np.quantile(grey, 0.997), 1e-4))
    )
    height, width = light.shape[:2]
    balance = rng.normal(1, 0.025, 3).astype(np.float32)
    neutral = light[::16, ::16].reshape(-1, 3).mean(axis=0)
    balance *= ((neutral.mean() / neutral) ** 0.15).astype(np.float32)
    x = (np.arange(width, dtype=np.float32) / width - 0.5)[None, :]
    y = (np.arange(height, dtype=np.float32) / width - 0.5 * height / width)[:, None]
    fall = 1 / (1 + 0.55 * (x**2 + y**2)) ** 2
    out = np.empty((height, width, 3), np.uint8)
    for top in range(0, height, 512):
        rows = slice(top, min(top + 512, height))
        signal = light[rows] * (level * balance) * fall[rows, :, None]
        grain = rng.standard_normal(signal.shape, np.float32)
        signal = signal + grain * noise * np.sqrt(signal * 0.02 + 0.00003)
        signal = np.clip(signal, 0, None)
        signal = np.where(signal < 0.7, signal, 0.7 + 0.3 * np.tanh((signal - 0.7) / 0.3))
        coded = np.where(
            signal <= 0.0031308, 12.92 * signal, 1.055 * np.power(np.maximum(signal, 1e-6), 1 / 2.4) - 0.055
        )
        out[rows] = np.clip(np.rint(coded * 255), 0, 255)
    blurred = cv2.GaussianBlur(out, (0, 0), 1.1)
    return cv2.addWeighted(out, 1.15, blurred, -0.15, 0)


def write_jpeg(photo: np.ndarray, scene: Scene, path: Path, quality: int, most_bytes: int) -> int:
    """Write the photo with its metadata, turned as the EXIF orientation says; lower the quality to fit `most_bytes`.

    Returns the quality used. 35 mm figure: rounded integer, tag 0xA405 (Exif 3.0, CIPA DC-008).
    """
    # Orientation 6: row 0 is the right side of the scene, so a viewer turns the file clockwise to see it upright.
    stored = np.rot90(photo, 1) if scene.orientation == 6 else photo
    picture = Image.fromarray(np.ascontiguousarray(stored))
    extra = {}
    if scene.exif:
        exif = picture.getexif()
        exif[0x010F], exif[0x0110], exif[0x0112] = MAKE, MODEL, scene.orientation
        exif[0x0132] = scene.taken
        details = exif.get_ifd(0x8769)
        details[0x9003] = scene.taken
        details[0x920A] = round(scene.camera.focal_35mm / 3.6, 2)
        details[0xA405] = int(round(scene.camera.focal_35mm))
        extra["exif"] = exif.tobytes()
    while True:
        picture.save(path, "JPEG", quality=quality, subsampling=2, optimize=True, progressive=True, **extra)
        if path.stat().st_size <= most_bytes or quality <= 50:
            return quality
        quality -= 3
