"""Generated flat views with exact truth, quick and varied: no path tracer, every pixel from a seed.

A slab with sapwood, rings, streaks, saw marks, knots and checks, bark in stretches, a visible flank on one side, a
contact shadow, a hard shadow across everything, ground of six kinds, cards, a second slab and boots at the frame.
Colours are made up from the seed within wide bounds, so no figure can be tuned to one species.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from shapely.geometry import Polygon

from grainlog.scale.flat import FlatView

GROUNDS = ("concrete", "gravel", "grass", "sawdust", "plank", "tarpaulin")
FINE = 1.0


@dataclass(frozen=True)
class MadeView:
    """A picture at 1 mm a pixel that shows itself at any resolution; `wood`, `bark`, `flank` are its true polygons, mm."""

    rgb: np.ndarray
    wood: np.ndarray
    bark: np.ndarray
    flank: np.ndarray
    cards: tuple[np.ndarray, ...]
    on_face: tuple[bool, ...]
    camera_mm: np.ndarray
    kind: str

    def flat_view(self, mm_per_px, bounds_mm=None) -> FlatView:
        h, w = self.rgb.shape[:2]
        left, low, right, high = bounds_mm or (0.0, 0.0, w * FINE, h * FINE)
        size = int(np.ceil((right - left) / mm_per_px)), int(np.ceil((high - low) / mm_per_px))
        shrink = max(1, int(mm_per_px / FINE))
        source = self.rgb if shrink < 2 else cv2.resize(
            self.rgb[: h // shrink * shrink, : w // shrink * shrink], (w // shrink, h // shrink), interpolation=cv2.INTER_AREA)
        x = (left + (np.arange(size[0]) + 0.5) * mm_per_px) / FINE - 0.5
        y = (h * FINE - high + (np.arange(size[1]) + 0.5) * mm_per_px) / FINE - 0.5
        at_x, at_y = np.meshgrid(((x + 0.5) / shrink - 0.5).astype(np.float32), ((y + 0.5) / shrink - 0.5).astype(np.float32))
        rgb = cv2.remap(source, at_x, at_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        seen = ((y >= -0.5) & (y <= h - 0.5))[:, None] & ((x >= -0.5) & (x <= w - 0.5))[None, :]
        origin = np.array([left + mm_per_px / 2, high - mm_per_px / 2])
        return FlatView(rgb, seen, mm_per_px, origin, self.cards, self.on_face, self.camera_mm)


def make(seed: int, ground: str | None = None) -> MadeView:
    """The view of this seed."""
    rng = np.random.default_rng(seed)
    length, width = rng.uniform(1300, 3000), rng.uniform(260, 720)
    size = np.array([length * rng.uniform(1.12, 1.35) + 300, max(length * 0.62, width + 900)]).astype(int)
    turn = rng.uniform(-0.25, 0.25)
    wood, log = _slab_outline(length, width, turn, np.zeros(2), rng)
    size = np.maximum(size, np.ptp(wood, axis=0).astype(int) + 260)
    shape = (int(size[1]), int(size[0]))
    place = size / 2 - (wood.min(0) + wood.max(0)) / 2 + rng.uniform(-60, 60, 2)
    wood, log = wood + place, log + place
    inside = _signed(wood, shape)  # mm, positive inside the wood
    bark_mm = rng.uniform(0, 22) if rng.random() < 0.85 else 0.0
    bark_field = np.clip(bark_mm * (1 + 0.35 * _noise(shape, 40, rng)), 0, None)
    if rng.random() < 0.5:
        bark_field = bark_field * (_noise(shape, 220, rng) > rng.uniform(-1.2, 0.2))
    along, across = _slab_axes(turn, place, shape)
    bark_field = bark_field * (np.abs(along) < length / 2 - 25)
    lean = np.where(across > 0, 1, -1) * rng.choice([-1, 1])
    flank_mm = rng.uniform(10, 55) * (rng.random() < 0.6)
    flank_field = np.clip(bark_field + flank_mm * np.clip(lean, 0, 1) * (np.abs(along) < length / 2 - 10), bark_field, None)
    ground = ground or GROUNDS[rng.integers(len(GROUNDS))]
    picture = _ground(ground, shape, rng)
    if rng.random() < 0.35:
        _clutter(picture, rng)
    bark_rgb = rng.uniform(50, 120) * np.array([1, rng.uniform(0.86, 0.97), rng.uniform(0.72, 0.92)])
    shade = np.clip(1 + (inside + flank_field - 2) / rng.uniform(8, 40), 0.35, 1) if rng.random() < 0.7 else 1.0
    if np.ndim(shade):
        picture *= np.where(inside + flank_field < 0, shade, 1.0)[..., None].astype(np.float32)
    rough = 1 + 0.28 * _noise(shape, 5, rng) + 0.15 * _noise(shape, 14, rng)
    _lay(picture, inside + flank_field, bark_rgb * rng.uniform(0.6, 0.95) * rough[..., None])
    _lay(picture, inside + bark_field, bark_rgb * rng.uniform(0.5, 1.0) * rough[..., None])
    _lay(picture, inside, _wood(_signed(log, shape), along, across, shape, rng))
    if rng.random() < 0.4:
        edge = _noise(shape, 300, rng) * 15 + across * np.cos(1.0) + along * np.sin(1.0) - rng.uniform(-400, 400)
        picture *= (1 - rng.uniform(0.4, 0.65) / (1 + np.exp(-edge / 4)))[..., None].astype(np.float32) * np.array([1, 1.02, 1.08], np.float32)
    cards, on_face = _cards(picture, wood, size, rng)
    picture = cv2.GaussianBlur(picture, (0, 0), 0.8) + 3 * rng.standard_normal(picture.shape, np.float32)
    rgb = np.clip(picture, 0, 255).astype(np.uint8)
    foot = size / 2 + rng.uniform(-1, 1, 2) * [300, 700]
    return MadeView(rgb, wood, _level(inside + bark_field), _level(inside + flank_field), cards, on_face,
                    np.array([*foot, rng.uniform(1800, 3200)]), ground)


def plain(polygon: np.ndarray, size: tuple[int, int], inside=(200, 160, 110), outside=(90, 95, 100)) -> MadeView:
    """An ideal picture: a polygon of one stuff on another, each pixel by the light of the area that is covered (sRGB).

    Inside runs a faint grain along x, outside lie faint speckles: nothing that light falls on is of one flat colour.
    """
    shape = (size[1], size[0])
    cover = _cover(polygon, shape)
    rng = np.random.default_rng(0)
    one, other = (((np.array(colour) / 255 + 0.055) / 1.055) ** 2.4 for colour in (inside, outside))
    grain = 1 + 0.05 * cv2.GaussianBlur(_noise(shape, 6, rng), (0, 0), sigmaX=60, sigmaY=0.1) * 6
    speckle = 1 + 0.10 * _noise(shape, 5, rng) + 0.06 * _noise(shape, 60, rng)
    light = other * speckle[..., None] * (1 - cover[..., None]) + cover[..., None] * one * grain[..., None]
    light = np.clip(light, 0, 1)
    rgb = np.round(255 * (1.055 * light ** (1 / 2.4) - 0.055)).astype(np.uint8)
    return MadeView(rgb, polygon, polygon, polygon, (), (), np.array([size[0] / 2, size[1] / 2, 2500.0]), "plain")


def _cover(polygon, shape, parts=4):
    big = np.zeros((shape[0] * 4, shape[1] * 4), np.uint8)
    px = np.column_stack([polygon[:, 0], shape[0] - polygon[:, 1]])
    total = np.zeros(shape, np.float32)
    frame = np.array([[-2, -2], [shape[1] + 2, -2], [shape[1] + 2, shape[0] + 2], [-2, shape[0] + 2]]) * 4 * 256
    shifts = ((np.arange(parts) + 0.5) / parts - 0.5).tolist()
    for dx in shifts:
        for dy in shifts:
            # cv2.fillPoly paints the border of what it fills, so the mean of the shape and of what lies around it is taken.
            ring = np.round((px * 4 - 0.5 + [dx, dy]) * 256).astype(np.int32)
            for rings, sign in (([ring], 1), ([frame, ring], -1)):
                big[:] = 0
                cv2.fillPoly(big, rings, 255, shift=8)
                part = cv2.resize(big, (shape[1], shape[0]), interpolation=cv2.INTER_AREA).astype(np.float32) / 255
                total += (sign * part + (sign < 0)) / (2 * parts**2)
    return total


def _noise(shape, scale, rng):
    small = rng.standard_normal((int(shape[0] / scale) + 4, int(shape[1] / scale) + 4), np.float32)
    return cv2.resize(small, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)


def _streaky(shape, across, along, rng):
    small = rng.standard_normal((int(shape[0] / across) + 4, int(shape[1] / along) + 4)).astype(np.float32)
    return cv2.resize(small, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)


def _slab_outline(length, width, turn, centre, rng):
    """The outline, and that of the log it was cut from: sapwood follows the long edges only."""
    x = np.linspace(-length / 2, length / 2, 240)

    def edge():
        wave = sum(rng.normal(0, width * 0.05 / k) * np.sin(k * np.pi * x / length * 2 + rng.uniform(0, 6)) for k in (1, 2, 3, 5))
        return width / 2 * (1 + rng.uniform(-0.15, 0.15) * x / length) + wave + rng.normal(0, 0.7, len(x)).cumsum() * 0.8

    flare = width * rng.uniform(0, 0.9) * np.exp(-((x - length / 2) / (length * 0.15)) ** 2) if rng.random() < 0.35 else 0
    top, bottom = edge() + flare, -edge() - flare * rng.uniform(0, 1)
    skew = rng.uniform(-0.06, 0.06, 2)
    upper = np.column_stack([x, top])[::-1]
    ring = np.vstack([np.column_stack([x, bottom]), upper])
    ring[:, 0] += np.where(ring[:, 0] < 0, skew[0], skew[1]) * ring[:, 1] * np.clip(np.abs(ring[:, 0]) / (length / 2), 0, 1) ** 8
    c, s = np.cos(turn), np.sin(turn)
    longer = ring + np.column_stack([np.where(np.abs(ring[:, 0]) > 0.49 * length, np.sign(ring[:, 0]) * 500, 0), np.zeros(len(ring))])
    return tuple(part @ np.array([[c, s], [-s, c]]) + centre for part in (ring, longer))


def _slab_axes(turn, centre, shape):
    x, y = np.meshgrid(np.arange(shape[1]) + 0.5 - centre[0], shape[0] - np.arange(shape[0]) - 0.5 - centre[1])
    return (np.cos(turn) * x + np.sin(turn) * y).astype(np.float32), (np.cos(turn) * y - np.sin(turn) * x).astype(np.float32)


def _signed(polygon, shape):
    cover = _cover(polygon, shape, parts=1)
    hard = (cover > 0.5).astype(np.uint8)
    inside, outside = (cv2.distanceTransform(part, cv2.DIST_L2, 5) for part in (hard, 1 - hard))
    far = np.where(hard > 0, inside - 0.5, 0.5 - outside)
    return np.where((cover > 0) & (cover < 1), cover - 0.5, far).astype(np.float32)


def _lay(picture, depth, colour):
    share = np.clip(depth + 0.5, 0, 1)[..., None]
    picture += share * (colour.astype(np.float32) - picture)


def _level(depth):
    hard = (depth > 0).astype(np.uint8)
    rings, _ = cv2.findContours(hard, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    ring = max(rings, key=len)[:, 0].astype(float)
    poly = Polygon(np.column_stack([ring[:, 0] + 0.5, len(depth) - ring[:, 1] - 0.5])).buffer(0.5)
    poly = max(poly.geoms, key=lambda g: g.area) if poly.geom_type != "Polygon" else poly
    return np.asarray(poly.exterior.coords)[:-1]


def _wood(inside, along, across, shape, rng):
    heart = rng.uniform(75, 210) * np.array([1, rng.uniform(0.66, 0.86), rng.uniform(0.42, 0.72)])
    sap = np.minimum(heart * rng.uniform(1.05, 1.9) + 20, rng.uniform(190, 235) * np.array([1, 0.87, 0.70]))
    sap_mm = rng.uniform(0, 90)
    share = 1 / (1 + np.exp(np.clip((inside - sap_mm * (1 + 0.2 * _noise(shape, 150, rng))) / 2.5, -30, 30)))
    tone = 1 + 0.10 * np.sin(across / rng.uniform(2, 7) + 2 * _streaky(shape, 60, 500, rng)) * rng.uniform(0.3, 1.4)
    tone += 0.05 * _streaky(shape, 1.5, 40, rng) + 0.05 * _noise(shape, 80, rng)
    tone += rng.uniform(0, 0.06) * np.sin((along + 20 * np.sin(across / 200)) / rng.uniform(2, 5))
    if rng.random() < 0.5:
        tone *= 1 - 0.4 * (_streaky(shape, 14, 500, rng) > 1.7)
    for _ in range(rng.integers(0, 4)):
        at, radius = (rng.uniform(along.min(), along.max()) * 0.6, rng.uniform(-100, 100)), rng.uniform(8, 28)
        tone *= 1 - 0.5 * np.exp(-(((along - at[0]) / (1.4 * radius)) ** 2) - ((across - at[1]) / radius) ** 2)
    for _ in range(rng.integers(0, 4)):
        y, start, reach = rng.uniform(-120, 120), rng.uniform(-900, 900), rng.uniform(100, 400)
        crack = np.clip(rng.uniform(1, 5) - np.abs(across - y - 4 * np.sin(along / 60)), 0, 1) * (np.abs(along - start) < reach)
        tone *= 1 - 0.8 * crack
    colour = heart + share[..., None] * (sap - heart)
    return colour * np.clip(tone, 0.1, 1.4)[..., None]


def _ground(kind, shape, rng):
    tone = 1 + 0.08 * _noise(shape, 160, rng)
    if kind == "concrete":
        base = rng.uniform(110, 185) * np.array([1, rng.uniform(0.96, 1), rng.uniform(0.88, 1)])
        tone = tone + 0.05 * _noise(shape, 3, rng) - 0.15 * np.clip(_noise(shape, 120, rng) - 0.8, 0, 1)
    elif kind == "gravel":
        base = rng.uniform(80, 150) * np.array([1, rng.uniform(0.92, 1), rng.uniform(0.82, 0.98)])
        tone = tone * np.clip(1 + 0.30 * _noise(shape, 9, rng) + 0.2 * _noise(shape, 18, rng), 0.2, 2)
    elif kind == "grass":
        base = np.array([rng.uniform(55, 130), rng.uniform(85, 130), rng.uniform(30, 75)])
        tone = tone * np.clip(1 + 0.3 * _noise(shape, 3, rng) + 0.25 * _noise(shape, 12, rng), 0.1, 2)
    elif kind == "sawdust":
        base = rng.uniform(150, 215) * np.array([1, rng.uniform(0.78, 0.88), rng.uniform(0.52, 0.7)])
        tone = tone + 0.10 * _noise(shape, 2, rng) + 0.08 * _noise(shape, 6, rng)
    elif kind == "plank":
        base = rng.uniform(90, 175) * np.array([1, rng.uniform(0.76, 0.9), rng.uniform(0.52, 0.78)])
        board = rng.uniform(90, 160)
        rows = np.arange(shape[0])
        step = (rows / board).astype(int)
        tone = tone * rng.uniform(0.78, 1.2, step.max() + 1)[step][:, None] + 0.09 * _streaky(shape, 3, 200, rng)
        tone = np.where((rows % board < 4)[:, None], 0.25, tone)
        if rng.random() < 0.4:
            tone = np.ascontiguousarray(cv2.resize(tone.T.astype(np.float32), (shape[1], shape[0])))
    else:
        base = np.array([[38, 84, 140], [46, 96, 66], [140, 142, 140], [120, 60, 40]][rng.integers(4)], float)
        tone = tone + 0.06 * np.sin(np.arange(shape[1]) * 1.5)[None, :] + 0.12 * np.abs(_noise(shape, 200, rng))
    return np.clip(base * tone[..., None], 0, 255).astype(np.float32)


def _clutter(picture, rng):
    h, w = picture.shape[:2]
    for _ in range(rng.integers(1, 3)):
        colour = rng.uniform(40, 210) * np.array([1, 0.85, 0.65]) if rng.random() < 0.6 else rng.uniform(20, 90, 3)
        if rng.random() < 0.5:
            y = 0 if rng.random() < 0.5 else h - 1
            cv2.rectangle(picture, (int(rng.uniform(0, w * 0.5)), y - 70), (int(rng.uniform(w * 0.5, w)), y + 70), colour.tolist(), -1)
        else:
            cv2.ellipse(picture, (int(rng.uniform(0, w)), h - 1), (60, 140), 0, 0, 360, colour.tolist(), -1)


def _cards(picture, wood, size, rng):
    poly = Polygon(wood)
    found, on_face = [], []
    for _ in range(60):
        if len(found) == 3:
            break
        centre, turn = rng.uniform([150, 180], size - [150, 180]), rng.uniform(-0.6, 0.6)
        ring = np.array([[-100, -135], [100, -135], [100, 135], [-100, 135]]) @ np.array(
            [[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]) + centre
        card = Polygon(ring)
        on = poly.buffer(-15).contains(card)
        if (not on and card.distance(poly) < 40) or any(card.distance(Polygon(other)) < 30 for other in found):
            continue
        px = np.column_stack([ring[:, 0], size[1] - ring[:, 1]])
        cv2.fillPoly(picture, [np.round(px).astype(np.int32)], (235, 235, 232))
        for i in range(4):
            for j in range(5):
                if (i + j) % 2:
                    corner = px[0] + (px[1] - px[0]) * (0.06 + 0.22 * i) + (px[3] - px[0]) * (0.06 + 0.163 * j)
                    quad = corner + np.array([[0, 0], [0.22, 0], [0.22, 0.163], [0, 0.163]]) @ np.array([px[1] - px[0], px[3] - px[0]])
                    cv2.fillPoly(picture, [np.round(quad).astype(np.int32)], (22, 22, 24))
        found.append(ring)
        on_face.append(bool(on))
    return tuple(found), tuple(on_face)
