"""What lies under and around the slab: grounds drawn in any colour, and photographed ones where a folder is given."""

from functools import cache
from pathlib import Path

import cv2
import numpy as np

from . import palettes, wood
from .tiles import cells, cloud, place, read, speck, step, turned

#: Grounds that only the held-out set shows: photographed ones (file stems) and a drawn one.
HELD_OUT_TEXTURES = ("gravel_grey", "wood_floor", "leaves")
HELD_OUT_DRAWN = ("pavers",)
DRAWN = ("concrete", "gravel", "sawdust", "grass", "planks", "tarpaulin", "even", "pavers", "litter", "rug", "asphalt")


@cache
def photographs(folder: str | None) -> dict[str, np.ndarray]:
    """Every JPEG of a folder, (h, w, 3) float32 sRGB 0..1 at most 512 px and 1024 px."""
    found = {}
    for path in sorted(Path(folder).glob("*.jpg")) if folder else ():
        rgb = cv2.imread(str(path))[..., ::-1]
        found[path.stem] = (rgb / 255).astype(np.float32)
    return found


def ground(
    rng, x: np.ndarray, y: np.ndarray, mm_per_px: float, held_out: bool, textures: str | None, kin
) -> tuple[str, np.ndarray]:
    """The name of a ground and its picture, (h, w, 3) float32 sRGB 0..1; x, y in mm on the ground.

    kin : (name, heart, sap), optional
        The slab's own colours: a drawn ground then takes them, so that colour alone decides nothing.
    """
    name, picture = _one(rng, x, y, mm_per_px, held_out, textures, kin)
    if rng.random() < 0.15:  # two grounds meet
        _, other = _one(rng, x, y, mm_per_px, held_out, textures, None)
        u, _ = turned(x, y, rng.uniform(0, 6.3))
        line = u - rng.uniform(-900, 900) + rng.choice([3, 60]) * read(cloud(1.8), x, y, rng, 5)
        picture = np.where((line > 0)[..., None], picture, other)
    if rng.random() < 0.12:
        picture = _road(rng, picture, x, y)
    if rng.random() < 0.3:  # stains, wet places
        patch = step(read(cloud(1.8), x, y, rng, rng.uniform(3, 12)), rng.uniform(0.3, 1.8), rng.uniform(0.03, 0.4))
        tint = rng.uniform(0.3, 1.1) * rng.normal(1, 0.1, 3)
        picture = picture * (1 + (tint - 1) * patch[..., None])
    if rng.random() < 0.25:
        picture = strew(rng, picture, x, y)
    return name, picture.astype(np.float32).clip(0.005, 1)


def _road(rng, picture, x, y):
    """A road, a drive or a path through the picture: grey and even, straight or bent, with or without kerbs and lines."""
    u, v = turned(x, y, rng.uniform(0, 6.3))
    bend = rng.choice([0.0, rng.normal(0, 0.00012)])
    across = v - rng.uniform(-1200, 1200) + bend * u * u + rng.choice([2, 25]) * read(cloud(1.8), x, y, rng, 5)
    wide = rng.choice([rng.uniform(250, 900), rng.uniform(900, 4000)]) * (1 + rng.normal(0, 0.1) * u / 2000)
    inside = np.clip((wide / 2 - np.abs(across)) / rng.uniform(3, 30), 0, 1)[..., None]
    surface = _DRAW[str(rng.choice(["asphalt", "asphalt", "concrete", "even", "gravel"]))](rng, u, v)
    if rng.random() < 0.6:
        surface = surface.mean(-1, keepdims=True) * rng.normal(1, 0.03, 3)
    if rng.random() < 0.3:  # wheels' tracks
        surface = (
            surface * (1 + rng.uniform(-0.25, 0.25) * np.cos(across * 2 * np.pi / rng.uniform(300, 1500)))[..., None]
        )
    if rng.random() < 0.4:  # kerbs
        rim = np.abs(np.abs(across) - wide / 2) < rng.uniform(20, 80)
        surface = np.where(rim[..., None], _tint(rng, 0.8), surface)
    return picture + (surface - picture) * inside


def strew(rng, picture, x, y):
    """Shavings and sawdust blown about."""
    heap = read(cloud(1.8), x, y, rng, rng.uniform(3, 10))
    grain = read(speck(), x, y, rng, rng.uniform(2, 7), rng.uniform(2, 7))
    share = np.clip((grain + 0.8 * heap - rng.uniform(0.8, 2.2)) / rng.uniform(0.2, 1.0), 0, 1)
    colour = np.array([0.85, 0.72, 0.5], np.float32) * rng.uniform(0.6, 1.1) * rng.normal(1, 0.06, 3)
    return picture + (colour - picture) * share[..., None]


def _one(rng, x, y, mm_per_px, held_out, textures, kin):
    photos = {k: v for k, v in photographs(textures).items() if (k in HELD_OUT_TEXTURES) == held_out}
    if photos and rng.random() < (0.6 if held_out else 0.5):
        name = str(rng.choice(sorted(photos)))
        if name.startswith("wood") and rng.random() < 0.6:  # the picture sawn into boards
            u, v = turned(x, y, rng.uniform(0, 2 * np.pi))
            boards, shade = wood.laid(rng, u, v, mm_per_px)
            return name, _photographed(rng, photos[name], *boards, mm_per_px, held_out, angle=0.0) * shade[..., None]
        return name, _photographed(rng, photos[name], x, y, mm_per_px, held_out)
    often = np.array([2, 1.5, 1, 1.5, 4.5, 1.5, 1, 1, 1, 1, 1])
    often[np.isin(DRAWN, HELD_OUT_DRAWN)] = 4.0 if held_out else 0.0
    name = str(rng.choice(DRAWN, p=often / often.sum()))
    u, v = turned(x, y, rng.uniform(0, 2 * np.pi))
    if name == "planks":
        return name, wood.planks(rng, u, v, mm_per_px, kin or palettes.pick(rng, held_out))
    picture = _DRAW[name](rng, u, v)
    if kin is not None:
        picture = picture * (kin[1 + rng.integers(2)] / picture.mean((0, 1)))
    return name, picture


def _photographed(rng, photo, x, y, mm_per_px, held_out, angle=None):
    across = rng.uniform(700, 3500)  # mm that the picture covers
    scale = mm_per_px * photo.shape[1] / across
    if scale > 1.3:
        photo = cv2.resize(photo, None, fx=1 / scale, fy=1 / scale, interpolation=cv2.INTER_AREA)
    u, v = turned(x, y, rng.uniform(0, 2 * np.pi) if angle is None else angle)
    k = np.float32(photo.shape[1] / across)
    at = rng.uniform(0, photo.shape[1], 2)
    xs = np.mod(u * k + at[0], photo.shape[1]).astype(np.float32)
    ys = np.mod((v if rng.random() < 0.5 else -v) * k + at[1], photo.shape[0]).astype(np.float32)
    picture = cv2.remap(photo, xs, ys, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)
    if held_out:
        return picture
    if rng.random() < 0.35:
        grey = picture.mean(-1, keepdims=True)
        picture = grey + (picture - grey) * rng.uniform(0, 1.3)
    if rng.random() < 0.35:
        picture = picture * rng.uniform(0.5, 1.5, 3)
    level = picture.mean()
    return level + (picture - level) * rng.uniform(0.5, 1.2) + rng.choice([0, 0, rng.uniform(-0.15, 0.35)])


def _tint(rng, grey=0.5):
    """Any colour: grey, the range of wood, or anything."""
    light = rng.uniform(0.08, 0.92)
    kind = rng.random()
    if kind < grey:
        return (light * rng.normal(1, 0.04, 3)).astype(np.float32)
    if kind < grey + 0.3:
        return (light * np.array([1.0, rng.uniform(0.65, 0.95), rng.uniform(0.35, 0.85)])).astype(np.float32)
    return rng.uniform(0.03, 0.9, 3).astype(np.float32)


def _concrete(rng, u, v):
    tone = (
        1
        + rng.uniform(0.02, 0.15) * read(cloud(1.6), u, v, rng, rng.uniform(3, 12))
        + rng.uniform(0, 0.08) * read(speck(), u, v, rng, rng.uniform(1.5, 5))
    )
    picture = _tint(rng, 0.6) * tone[..., None]
    if rng.random() < 0.4:
        line = np.abs(read(cloud(1.8), u, v, rng, rng.uniform(4, 12)))
        picture = picture * (1 - rng.uniform(0.2, 0.6) * np.exp(-((line / 0.02) ** 2)))[..., None]
    if rng.random() < 0.3:
        period = rng.uniform(900, 2500)
        joint = np.abs(np.mod(u, period) - period / 2)
        picture = picture * (1 - 0.4 * np.clip(1.5 - joint / rng.uniform(3, 9), 0, 1))[..., None]
    return picture


def _gravel(rng, u, v):
    rim, own = cells()
    size = rng.uniform(0.5, 3.5)
    xs, ys = place(u, v, rng, size)
    lump, shade = (cv2.remap(tile, xs, ys, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP) for tile in (rim, own))
    tone = (0.35 + 0.65 * np.sqrt(lump)) * (1 + rng.uniform(0.2, 1.0) * (shade - 0.5))
    tint = _tint(rng, 0.5) + (_tint(rng, 0.5) - 0.5) * 0.3 * np.clip(2 * shade[..., None] - 1, 0, 1)
    return tint * tone[..., None]


def _sawdust(rng, u, v):
    base = np.array([0.82, 0.68, 0.46], np.float32) * rng.uniform(0.6, 1.1) * rng.normal(1, 0.07, 3)
    tone = (
        1
        + rng.uniform(0.05, 0.16) * read(speck(), u, v, rng, rng.uniform(1.5, 5))
        + rng.uniform(0.05, 0.15) * read(cloud(1.5), u, v, rng, rng.uniform(2, 8))
    )
    return base * tone[..., None]


def _grass(rng, u, v):
    blades = np.zeros_like(u)
    for angle in rng.uniform(0, 3.2, 4):
        a, b = turned(u, v, angle)
        blades = np.maximum(blades, read(speck(), a, b, rng, rng.uniform(10, 35), rng.uniform(1.5, 4)))
    patch = read(cloud(1.7), u, v, rng, rng.uniform(3, 12))
    green = np.array([rng.uniform(0.25, 0.6), rng.uniform(0.35, 0.6), rng.uniform(0.1, 0.3)], np.float32)
    dry = np.array([0.62, 0.55, 0.36], np.float32) * rng.uniform(0.6, 1.1)
    share = np.clip(rng.uniform(0, 1) + rng.uniform(0.1, 0.5) * patch, 0, 1)[..., None]
    return (green + (dry - green) * share) * (0.35 + rng.uniform(0.3, 0.5) * blades)[..., None].clip(0.2, 1.7)


def _tarpaulin(rng, u, v):
    folds = read(cloud(2.2), u, v, rng, rng.uniform(1.5, 6))
    ridge = np.abs(read(cloud(1.9), u, v, rng, rng.uniform(1.5, 6)))
    tone = 1 + rng.uniform(0.03, 0.25) * folds + rng.uniform(0, 0.4) * np.exp(-((ridge / 0.05) ** 2))
    weave = 1 + rng.uniform(0, 0.06) * read(speck(), u, v, rng, 2)
    sheen = rng.uniform(0, 0.35) * np.clip(folds - rng.uniform(0.3, 1.5), 0, 1)
    return _tint(rng, 0.25) * (tone * weave)[..., None] + sheen[..., None]


def _even(rng, u, v):
    slope = rng.uniform(0, 0.3) * (u / max(float(np.ptp(u)), 1.0))
    return _tint(rng, 0.5) * (1 + slope + rng.uniform(0, 0.03) * read(speck(), u, v, rng, rng.uniform(2, 8)))[..., None]


def _pavers(rng, u, v):
    long, wide = rng.uniform(100, 620), rng.uniform(60, 420)
    row = np.floor(v / wide)
    u = u + np.mod(row, 2) * long * rng.choice([0, 0.5])
    column = np.floor(u / long)
    own = rng.uniform(0, 1, 4096)
    shade = own[((row * 61 + column * 17).astype(int) + 2000) % 4096].astype(np.float32)
    rim = np.minimum(
        np.abs(np.mod(u, long) - long / 2) * -1 + long / 2, np.abs(np.mod(v, wide) - wide / 2) * -1 + wide / 2
    )
    tone = (1 + rng.uniform(0, 0.5) * (shade - 0.5)) * (1 + rng.uniform(0.02, 0.12) * read(cloud(1.5), u, v, rng, 3))
    joint = np.clip((rng.uniform(2, 14) - rim) / 4 + 0.5, 0, 1)[..., None]
    return _tint(rng, 0.4) * tone[..., None] * (1 - joint) + _tint(rng, 0.8) * joint


def _litter(rng, u, v):
    rim, own = cells()
    picture = _tint(rng, 0.2) * 0.4 + np.zeros((*u.shape, 3), np.float32)
    for size in rng.uniform(1.0, 5.0, 3):
        xs, ys = place(*turned(u, v, rng.uniform(0, 3)), rng, size, size * rng.uniform(0.4, 1))
        lump, shade = (cv2.remap(tile, xs, ys, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP) for tile in (rim, own))
        leaf = (
            np.array([rng.uniform(0.4, 0.8), rng.uniform(0.3, 0.6), rng.uniform(0.15, 0.5)], np.float32)
            * (0.5 + shade)[..., None]
        )
        picture = np.where(((shade > 0.45) & (lump > 0.25))[..., None], leaf * (0.6 + 0.4 * lump)[..., None], picture)
    return picture


def _rug(rng, u, v):
    period = rng.uniform(60, 500)
    a = np.abs(np.mod(u, period) - period / 2)
    b = np.abs(np.mod(v, period) - period / 2)
    figure = read(cloud(1.4), a, b, rng, rng.uniform(0.5, 3))
    steps = np.digitize(figure, np.sort(rng.normal(0, 0.8, 4)))
    colours = np.stack([_tint(rng, 0.3) for _ in range(5)])
    return colours[steps] * (1 + 0.06 * read(speck(), u, v, rng, 3))[..., None]


def _asphalt(rng, u, v):
    tone = (
        1
        + rng.uniform(0.1, 0.35) * read(speck(), u, v, rng, rng.uniform(1.5, 5))
        + 0.08 * read(cloud(1.5), u, v, rng, 8)
    )
    return (rng.uniform(0.15, 0.6) * rng.normal(1, 0.03, 3)).astype(np.float32) * tone[..., None]


_DRAW = {
    "concrete": _concrete, "gravel": _gravel, "sawdust": _sawdust, "grass": _grass, "tarpaulin": _tarpaulin,
    "even": _even, "pavers": _pavers, "litter": _litter, "rug": _rug, "asphalt": _asphalt,
}  # fmt: skip
