"""Ground to lay a slab on: a repeating picture (photographed where given, else drawn), and what stands up from it.

Colours by eye, no source.
"""

from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np

from . import noise

SIZE = 1024
#: ground -> (file in the folder of photographed surfaces, mm that one tile covers, tint)
PHOTOGRAPHED = {
    "grass": (("grass.jpg", 900, (0.95, 1.0, 0.9)), ("leaves.jpg", 1100, (1, 1, 1))),
    "gravel": (("ground.jpg", 1300, (1, 1, 1)), ("burned_ground.jpg", 1500, (1, 1, 1))),
    "sawdust": (("sand.jpg", 700, (1.25, 1.0, 0.72)), ("coast_sand.jpg", 900, (1.15, 1.0, 0.8))),
    "plank": (("wood_floor.jpg", 1500, (1, 1, 1)),),
    "concrete": (("rock.jpg", 1600, (1, 1, 1)), ("stone_slab.jpg", 1500, (1, 1, 1))),
}


@dataclass(frozen=True)
class GroundPicture:
    """rgb : (h, w, 3) float32 sRGB 0..1, repeating; height : (h, w) float32 about -1..1; tile_mm : (width, height)."""

    rgb: np.ndarray
    height: np.ndarray
    tile_mm: tuple[float, float]
    bump_mm: float
    roughness: float


def picture(ground: str, seed: int, textures: Path | None) -> GroundPicture:
    """The picture of `ground`; photographed two times in three where `textures` has one."""
    rng = np.random.default_rng(seed)
    drawn = DRAWN[ground](rng)
    choices = PHOTOGRAPHED.get(ground, ())
    if textures is None or not choices or (rng.random() < 0.33 and ground not in ("grass", "gravel")):
        return drawn
    name, size_mm, tint = choices[rng.integers(len(choices))]
    found = cv2.imread(str(Path(textures) / name))
    if found is None:
        return drawn
    rgb = found[..., ::-1].astype(np.float32) / 255
    grey = rgb.mean(axis=2)
    if ground == "concrete":
        rgb = np.clip(0.45 * rgb + 0.55 * grey[..., None] + 0.12, 0, 1)
    rgb = np.clip(rgb * np.array(tint, np.float32), 0, 1)
    high = grey - cv2.GaussianBlur(grey, (0, 0), 40)
    return replace(
        drawn,
        rgb=rgb,
        height=high / max(high.std(), 1e-3) / 2,
        tile_mm=(size_mm, size_mm * rgb.shape[0] / rgb.shape[1]),
    )


def _coloured(base, tone) -> np.ndarray:
    return np.clip(np.array(base, np.float32) / 255 * tone[..., None], 0, 1).astype(np.float32)


def _concrete(rng) -> GroundPicture:
    fine, grit, cloud = noise.tile(SIZE, 2, rng), noise.tile(SIZE, 5, rng), noise.tile(SIZE, 160, rng)
    stain = noise.smoothstep(noise.tile(SIZE, 60, rng), 0.9, 2.2)
    tone = 1 + 0.05 * fine + 0.04 * grit + 0.06 * cloud - 0.22 * stain
    rgb = _coloured(rng.choice([(150, 147, 140), (172, 168, 160), (126, 124, 120)]), tone)
    pits = noise.smoothstep(noise.tile(SIZE, 5, rng), 2.3, 2.8)
    return GroundPicture(rgb * (1 - 0.4 * pits[..., None]), 0.3 * fine + 0.4 * grit - pits, (1900.0, 1900.0), 0.5, 0.9)


def _gravel(rng) -> GroundPicture:
    high, tone = np.zeros((SIZE, SIZE), np.float32), np.full((SIZE, SIZE), 0.45, np.float32)
    hue = np.zeros((SIZE, SIZE), np.float32)
    for _ in range(5200):
        centre, size = rng.integers(0, SIZE, 2), rng.uniform(5, 15)
        angle, shade, warm = rng.uniform(0, 180), rng.uniform(0.55, 1.25), rng.normal()
        for dx in (-SIZE, 0, SIZE):
            for dy in (-SIZE, 0, SIZE):
                at = (int(centre[0] + dx), int(centre[1] + dy))
                if -20 < at[0] < SIZE + 20 and -20 < at[1] < SIZE + 20:
                    for grow in (1.0, 0.75, 0.45):
                        axes = (int(size * grow), int(size * 0.72 * grow))
                        cv2.ellipse(high, at, axes, angle, 0, 360, float(1 - grow**2), -1)
                    axes = (int(size), int(size * 0.72))
                    cv2.ellipse(tone, at, axes, angle, 0, 360, float(shade), -1)
                    cv2.ellipse(hue, at, axes, angle, 0, 360, float(warm), -1)
    rgb = _coloured((138, 132, 124), tone + 0.06 * noise.tile(SIZE, 2, rng))
    rgb *= 1 + hue[..., None] * np.array([0.05, 0.02, -0.04], np.float32)
    return GroundPicture(np.clip(rgb, 0, 1), cv2.GaussianBlur(high, (0, 0), 1.2), (1100.0, 1100.0), 6.0, 0.9)


def _grass(rng) -> GroundPicture:
    blades, cloud = noise.tile(SIZE, 3, rng), noise.tile(SIZE, 90, rng)
    dry = noise.smoothstep(noise.tile(SIZE, 30, rng), 0.6, 2.0)[..., None]
    green = _coloured((74, 96, 42), 0.8 + 0.28 * blades + 0.15 * cloud)
    straw = _coloured((150, 134, 88), 0.9 + 0.22 * blades)
    return GroundPicture(green + dry * (straw - green), blades, (1000.0, 1000.0), 6.0, 0.95)


def _sawdust(rng) -> GroundPicture:
    fine, chip, cloud = noise.tile(SIZE, 2, rng), noise.tile(SIZE, 6, rng), noise.tile(SIZE, 120, rng)
    rgb = _coloured((196, 160, 112), 0.92 + 0.10 * fine + 0.07 * chip + 0.09 * cloud)
    return GroundPicture(rgb, 0.5 * fine + 0.7 * chip + 0.3 * cloud, (900.0, 900.0), 2.5, 1.0)


def _plank(rng) -> GroundPicture:
    rgb, high = np.zeros((SIZE, SIZE, 3), np.float32), np.zeros((SIZE, SIZE), np.float32)
    count = 8
    width = SIZE // count
    base = np.array(rng.choice([(150, 120, 88), (128, 116, 100), (112, 84, 58)]), np.float32)
    for index in range(count):
        rows = slice(index * width, (index + 1) * width)
        grain = noise.field((width, SIZE), (3, 240), rng) + 0.5 * noise.field((width, SIZE), (1.2, 60), rng)
        rgb[rows] = _coloured(base * rng.uniform(0.82, 1.15), 1 + 0.09 * grain)
        high[rows] = 0.15 * grain
        rgb[index * width : index * width + 3] *= 0.25
        high[index * width : index * width + 3] = -2
    return GroundPicture(rgb, high, (1120.0, 1120.0), 1.2, 0.75)


def _tarpaulin(rng) -> GroundPicture:
    rows, columns = np.indices((SIZE, SIZE))
    weave = np.sin(rows * 2 * np.pi / 8) * np.sin(columns * 2 * np.pi / 8)
    dirt = noise.smoothstep(noise.tile(SIZE, 8, rng) + noise.tile(SIZE, 60, rng), 1.6, 4.2)[..., None] * np.float32(
        0.5
    )
    base = rng.choice([(38, 84, 140), (46, 96, 66), (30, 70, 118)])
    rgb = _coloured(base, 1 + 0.06 * weave.astype(np.float32) + 0.03 * noise.tile(SIZE, 140, rng))
    rgb += dirt * (np.array([0.55, 0.48, 0.38], np.float32) - rgb)
    return GroundPicture(rgb, weave.astype(np.float32) * 0.4, (800.0, 800.0), 0.5, 0.34)


DRAWN = {
    "concrete": _concrete,
    "gravel": _gravel,
    "grass": _grass,
    "sawdust": _sawdust,
    "plank": _plank,
    "tarpaulin": _tarpaulin,
}


def wrinkles(points: np.ndarray, clearance: np.ndarray, rng) -> np.ndarray:
    """(n,) mm, rise of a tarpaulin at world points (n, 2); flat under what lies on it (`clearance` mm away)."""
    rise = np.zeros(len(points))
    for _ in range(26):
        turn, wave = rng.uniform(0, np.pi), rng.uniform(220, 800)
        across = points @ [np.cos(turn), np.sin(turn)] + rng.uniform(0, 5000)
        along = points @ [-np.sin(turn), np.cos(turn)]
        bend = 70 * np.sin(along / rng.uniform(250, 700) + rng.uniform(0, 6))
        ridge = 1 - np.abs(np.sin(np.pi * (across + bend) / wave))
        rise += (
            rng.uniform(3, 11) * ridge**4 * np.clip(np.sin(along / rng.uniform(200, 700) + rng.uniform(0, 6)), 0, 1)
        )
    # Folding lines of the packed sheet, a metre or so apart.
    fold = np.minimum(*(np.abs((points[:, i] + 37 * i) % 900 - 450) for i in (0, 1)))
    return (np.clip(rise, 0, 30) + 4.0 * np.exp(-((fold / 14) ** 2))) * noise.smoothstep(clearance, 15, 120)


def blades(places: np.ndarray, rng, tall=(18.0, 42.0)) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Grass at (n, 2) mm: vertices (5 n, 3), triangles (3 n, 3), colours (5 n, 3) linear."""
    count = len(places)
    height, width = rng.uniform(*tall, count), rng.uniform(1.2, 2.6, count)
    turn, lean = rng.uniform(0, 2 * np.pi, count), rng.uniform(0.3, 1.3, count)
    way = np.column_stack([np.cos(turn), np.sin(turn)])
    side = np.column_stack([-way[:, 1], way[:, 0]]) * width[:, None]
    levels = [(0.0, 0.0, 1.0), (0.55, 0.35, 0.8), (1.0, 1.0, 0.0)]
    points = []
    for up, out, wide in levels:
        base = np.column_stack(
            [places + way * (out * lean * height * 0.8)[:, None], up * height * (1 - 0.25 * lean * up)]
        )
        if wide:
            points += [
                base + np.column_stack([side * wide, np.zeros(count)]),
                base - np.column_stack([side * wide, np.zeros(count)]),
            ]
        else:
            points.append(base)
    vertices = np.stack(points, axis=1).reshape(-1, 3)
    start = np.arange(count)[:, None] * 5
    triangles = np.concatenate([start + [0, 1, 2], start + [1, 3, 2], start + [2, 3, 4]])
    green = np.array([0.085, 0.135, 0.03]) * rng.uniform(0.55, 1.5, (count, 1)) * rng.normal(1, 0.1, (count, 3))
    straw = np.array([0.30, 0.24, 0.11]) * rng.uniform(0.6, 1.2, (count, 1))
    dry = (rng.random(count) < 0.16)[:, None]
    return vertices, triangles, np.repeat(np.clip(np.where(dry, straw, green), 0.005, 0.8), 5, axis=0)


def pebbles(places: np.ndarray, rng, size=(5.0, 16.0)) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Stones at (n, 2) mm, half sunk: vertices (12 n, 3), triangles (20 n, 3), colours (12 n, 3) linear."""
    golden = (1 + 5**0.5) / 2
    unit = np.array(
        [
            (-1, golden, 0),
            (1, golden, 0),
            (-1, -golden, 0),
            (1, -golden, 0),
            (0, -1, golden),
            (0, 1, golden),
            (0, -1, -golden),
            (0, 1, -golden),
            (golden, 0, -1),
            (golden, 0, 1),
            (-golden, 0, -1),
            (-golden, 0, 1),
        ]
    )
    unit /= np.linalg.norm(unit[0])
    faces = np.array(
        [
            (0, 11, 5),
            (0, 5, 1),
            (0, 1, 7),
            (0, 7, 10),
            (0, 10, 11),
            (1, 5, 9),
            (5, 11, 4),
            (11, 10, 2),
            (10, 7, 6),
            (7, 1, 8),
            (3, 9, 4),
            (3, 4, 2),
            (3, 2, 6),
            (3, 6, 8),
            (3, 8, 9),
            (4, 9, 5),
            (2, 4, 11),
            (6, 2, 10),
            (8, 6, 7),
            (9, 8, 1),
        ]
    )
    count = len(places)
    radius = rng.uniform(*size, count) * rng.uniform(0.5, 1, count)
    shape = unit[None] * (1 + 0.22 * rng.standard_normal((count, 12, 1))) * rng.uniform(0.65, 1.15, (count, 1, 3))
    turn = rng.uniform(0, 2 * np.pi, count)[:, None]
    x, y = (
        shape[..., 0] * np.cos(turn) - shape[..., 1] * np.sin(turn),
        shape[..., 0] * np.sin(turn) + shape[..., 1] * np.cos(turn),
    )
    points = np.stack([x, y, 0.7 * shape[..., 2]], axis=2) * radius[:, None, None]
    points[..., :2] += places[:, None]
    points[..., 2] += 0.15 * radius[:, None]
    grey = np.array([0.25, 0.235, 0.215]) * rng.uniform(0.4, 1.5, (count, 1)) * rng.normal(1, 0.06, (count, 3))
    triangles = (np.arange(count)[:, None, None] * 12 + faces[None]).reshape(-1, 3)
    return points.reshape(-1, 3), triangles, np.repeat(np.clip(grey, 0.02, 0.8), 12, axis=0)
