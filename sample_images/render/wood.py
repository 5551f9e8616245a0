"""The upper face as a picture: rings of a log cut by the saw plane, sap and heart, knots, streaks, saw marks, checks.

Colours are sRGB by eye, no source. The picture covers the bounding box of the face, row 0 at the greatest y.
"""

from dataclasses import dataclass

import cv2
import numpy as np
import shapely

from . import noise
from .scene import Wood
from .solid import Check, Solid

MM_PER_PX = 0.5


@dataclass(frozen=True)
class Look:
    """Colours and habit of one species, sRGB 0..255: heart, sap, late wood, bark outside, bark cut."""

    heart: tuple[int, int, int]
    sap: tuple[int, int, int]
    late: float
    sap_mm: float
    ring_mm: float
    bark: tuple[int, int, int]
    bark_cut: tuple[int, int, int]
    figure: float


LOOKS = {
    "walnut": Look((130, 96, 62), (196, 168, 130), 0.25, 34, 5.0, (74, 60, 48), (62, 42, 30), 0.10),
    "white oak": Look((172, 137, 98), (202, 176, 138), 0.28, 26, 3.6, (122, 108, 90), (96, 70, 48), 0.05),
    "sugar maple": Look((206, 174, 134), (226, 202, 164), 0.12, 90, 3.2, (106, 94, 78), (110, 80, 56), 0.08),
    "cherry": Look((172, 108, 72), (220, 186, 142), 0.16, 24, 3.8, (70, 54, 46), (84, 50, 38), 0.08),
    "elm": Look((150, 112, 80), (204, 176, 136), 0.30, 30, 4.4, (98, 84, 68), (92, 66, 44), 0.06),
    "ash": Look((196, 166, 126), (222, 200, 164), 0.32, 70, 4.0, (118, 106, 88), (104, 78, 56), 0.04),
}


@dataclass(frozen=True)
class FacePicture:
    """wood and bark_cut: (h, w, 3) float32 sRGB 0..1; relief: (h, w) float32 mm; gloss: (h, w) float32 roughness.

    `origin_mm` is the slab-frame position of the top left corner of the picture, `size_mm` its width and height.
    """

    wood: np.ndarray
    bark_cut: np.ndarray
    relief: np.ndarray
    gloss: np.ndarray
    origin_mm: tuple[float, float]
    size_mm: tuple[float, float]


def paint(solid: Solid, wood: Wood, mm_per_px: float = MM_PER_PX) -> FacePicture:
    """Paint the face of `solid` at `mm_per_px`."""
    rng = np.random.default_rng(wood.seed)
    look = LOOKS[wood.species]
    left, low, right, high = solid.bark.bounds
    left, low, right, high = left - 6, low - 6, right + 6, high + 6
    shape = (int(np.ceil((high - low) / mm_per_px)), int(np.ceil((right - left) / mm_per_px)))
    origin = (left, high)
    x = (left + (np.arange(shape[1], dtype=np.float32) + 0.5) * mm_per_px)[None, :]
    y = (high - (np.arange(shape[0], dtype=np.float32) + 0.5) * mm_per_px)[:, None]
    depth, outside = _distance(solid, shape, origin, mm_per_px)

    def grainy(across_mm, along_mm):
        return noise.field(shape, (across_mm / mm_per_px, along_mm / mm_per_px), rng)

    radius, knotty = _rings(solid, wood, depth, x, y, grainy, rng)
    late = _late_wood(radius / look.ring_mm + 0.12 * grainy(2.5, 160))
    fibre = 0.6 * grainy(0.8, 26) + 0.4 * grainy(2.0, 60)
    cloud = grainy(60, 400)
    sap = noise.smoothstep(look.sap_mm - depth + 5 * grainy(25, 220), -3, 3)
    heart_rgb, sap_rgb = (np.array(c, np.float32) / 255 for c in (look.heart, look.sap))
    colour = heart_rgb + sap[..., None] * (sap_rgb - heart_rgb)
    tone = 1 - look.late * late * (1 - 0.3 * sap) + 0.045 * fibre + 0.05 * cloud + look.figure * 0.22 * grainy(22, 9)
    if wood.streaks:
        streak = noise.smoothstep(grainy(9, 320) + 0.6 * grainy(30, 500), 1.5, 2.3) * (1 - 0.7 * sap)
        tone *= 1 - wood.streaks * 0.45 * streak
    tone *= 1 - 0.42 * knotty
    saw = _saw_marks(x, y, grainy, rng)
    tone *= 1 + (0.042 if not wood.wet else 0.03) * saw
    if wood.wet:
        tone *= 0.84
        colour = colour ** np.float32(1.08)
    else:
        dust = noise.smoothstep(grainy(90, 160) + 0.4 * grainy(8, 12), -0.2, 1.8)[..., None] * np.float32(0.16)
        colour = colour + dust * (np.array([0.80, 0.70, 0.55], np.float32) - colour)
    # Drying darkens the last millimetres beside the saw cut of the bark unevenly; dirt gathers there too.
    tone *= 1 - 0.10 * np.exp(-depth / 5) * (1 + 0.6 * grainy(4, 12)).clip(0, 2)
    colour = np.clip(colour * tone[..., None], 0.015, 0.95)
    cracks = crack_cover(solid.checks, shape, origin, mm_per_px)
    colour += cracks[..., None] * (np.array([0.055, 0.045, 0.04], np.float32) - colour)
    relief = (0.22 * saw + 0.05 * fibre - 0.10 * late).astype(np.float32) - 1.2 * cracks
    gloss = np.clip((0.30 if wood.wet else 0.72) + 0.06 * cloud + 0.08 * late + 0.5 * cracks, 0.12, 1).astype(
        np.float32
    )
    return FacePicture(
        colour.astype(np.float32),
        _bark_cut(look, outside, grainy),
        relief,
        gloss,
        origin,
        (shape[1] * mm_per_px, shape[0] * mm_per_px),
    )


def crack_cover(checks: tuple[Check, ...], shape, origin, mm_per_px: float) -> np.ndarray:
    """(h, w) float32, how much of each pixel lies in a check: exact to first order, no rasteriser's bias."""
    cover = np.zeros(shape, np.float32)
    for check in checks:
        path, width = check.path, check.width
        if path[0, 0] > path[-1, 0]:
            path, width = path[::-1], width[::-1]
        first = max(0, int(np.ceil((path[0, 0] - origin[0]) / mm_per_px - 0.5)))
        last = min(shape[1] - 1, int(np.floor((path[-1, 0] - origin[0]) / mm_per_px - 0.5)))
        if last < first:
            continue
        x = origin[0] + (np.arange(first, last + 1) + 0.5) * mm_per_px
        middle = np.interp(x, path[:, 0], path[:, 1])
        slope = np.gradient(middle, x) if len(x) > 1 else np.zeros(1)
        half = np.interp(x, path[:, 0], width) / 2 * np.sqrt(1 + slope**2)
        top = max(0, int((origin[1] - (middle + half).max()) / mm_per_px) - 2)
        bottom = min(shape[0], int((origin[1] - (middle - half).min()) / mm_per_px) + 3)
        y = (origin[1] - (np.arange(top, bottom) + 0.5) * mm_per_px)[:, None]
        upper, lower = np.minimum(y + mm_per_px / 2, middle + half), np.maximum(y - mm_per_px / 2, middle - half)
        part = np.clip((upper - lower) / mm_per_px, 0, 1)
        block = cover[top:bottom, first : last + 1]
        np.maximum(block, part, out=block)
    return cover


def _distance(solid, shape, origin, mm_per_px):
    """Distance inside the grown wood to its live edge, and outside to the wood, mm, on the picture's grid."""
    coarse, pad = 4, 100
    small = (-(-shape[0] // coarse), -(-shape[1] // coarse))
    # Sawn ends are not live edges: the distance is taken on the wood as it grew, past the cuts.
    mask = np.zeros((small[0] + 2 * pad, small[1] + 2 * pad), np.uint8)
    ring = np.asarray(solid.grown.exterior.coords)
    px = np.column_stack([ring[:, 0] - origin[0], origin[1] - ring[:, 1]]) / mm_per_px / coarse - 0.5 + pad
    cv2.fillPoly(mask, [np.round(px * 256).astype(np.int32)], 1, shift=8)
    found = []
    for part in (mask, 1 - mask):
        part = cv2.distanceTransform(part, cv2.DIST_L2, 5)[pad:-pad, pad:-pad] * mm_per_px * coarse
        found.append(cv2.resize(part, (shape[1], shape[0]), interpolation=cv2.INTER_LINEAR))
    return found


def _rings(solid, wood, depth, x, y, grainy, rng):
    """Radius in the log of every point of the face, mm, and how much of it is knot."""
    shape = depth.shape
    smooth = cv2.GaussianBlur(cv2.resize(depth, None, fx=0.125, fy=0.125, interpolation=cv2.INTER_AREA), (0, 0), 4)
    smooth = cv2.resize(smooth, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)
    reach = cv2.GaussianBlur(depth.max(axis=0)[None, :], (0, 0), 240)
    pith = rng.uniform(12, 0.4 * float(depth.max()))
    below = pith + 22 * grainy(500, 900) + 8 * grainy(160, 420)
    radius = np.sqrt(np.clip(reach - smooth, 0, None) ** 2 + below**2) + 2.2 * grainy(30, 300) + 0.5 * grainy(6, 70)
    knotty = np.zeros(shape, np.float32)
    inner = solid.wood.buffer(-50)
    left, low, right, high = inner.bounds
    placed = 0
    for _ in range(400):
        if placed == wood.knots:
            break
        at = rng.uniform(left, right), rng.uniform(low, high)
        if not inner.contains(shapely.Point(at)):
            continue
        placed += 1
        size = rng.uniform(9, 32)
        turn = rng.uniform(0, np.pi)
        dx, dy = (x - at[0]) / 1.25, y - at[1]
        away = np.hypot(dx * np.cos(turn) + dy * np.sin(turn), 1.2 * (dy * np.cos(turn) - dx * np.sin(turn)))
        away = away + 1.2 * grainy(14, 14)
        radius = radius + 1.1 * size * np.exp(-((away / (2.2 * size)) ** 2)) * np.sign(dy + 1e-6) * np.tanh(
            np.abs(dy) / size
        )
        core = noise.smoothstep(-away, -size, -0.75 * size)
        radius = radius * (1 - core) + core * away * 2.2
        knotty = np.maximum(knotty, core * (0.65 + 0.35 * noise.smoothstep(-away, -0.3 * size, 0)))
        knotty = np.maximum(knotty, noise.smoothstep(-np.abs(away - size), -1.6, -0.4))
    return radius, knotty


def _late_wood(phase):
    """0 in early wood, 1 in late wood; slow rise, sharp end, each year of its own strength."""
    year = np.floor(phase)
    part = phase - year
    strength = 0.65 + 0.35 * np.sin(year * 12.9898) * np.cos(year * 4.1414)
    return (noise.smoothstep(part, 0.25, 0.92) * (1 - noise.smoothstep(part, 0.94, 1.0)) * strength).astype(np.float32)


def _saw_marks(x, y, grainy, rng):
    """Fine, nearly straight lines across the grain, as a chain on a bar leaves them: groups, skips, a slight skew."""
    skew = rng.normal(0, 0.05)
    wander = x + skew * y + rng.normal(0, 1.2e-5) * y**2
    start = float(wander.min())
    position = np.arange(start - 5, float(wander.max()) + 5, 0.25)
    stroke = sum(noise.line(position, wave, rng) * share for wave, share in ((1.6, 0.35), (4.5, 0.5), (19, 0.35)))
    lines = np.interp(wander.ravel(), position, stroke).reshape(wander.shape).astype(np.float32)
    return lines * np.clip(0.45 + 0.6 * grainy(90, 120) + 0.3 * grainy(400, 500), 0, 1.6)


def _bark_cut(look, outside, grainy):
    """Bark as the saw left it at the level of the face: inner bark by the wood, cork outside, dusty."""
    cork, inner = (
        np.array(look.bark_cut, np.float32) / 255,
        np.array(look.bark_cut, np.float32) / 255 * [1.35, 1.15, 0.95],
    )
    share = noise.smoothstep(outside + 0.8 * grainy(3, 8), 1.5, 4.0)[..., None]
    colour = inner + share * (cork - inner)
    tone = 1 + 0.22 * grainy(2.2, 4.5) + 0.15 * grainy(9, 25)
    dust = noise.smoothstep(grainy(3, 5) + 0.5 * grainy(30, 30), 0.7, 2.0)[..., None] * np.float32(0.4)
    colour = colour * tone[..., None]
    return np.clip(colour + dust * (np.array([0.72, 0.6, 0.45], np.float32) - colour), 0.02, 0.9).astype(np.float32)
