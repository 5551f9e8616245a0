"""What a sawn face looks like: growth rings cut by the saw's plane, sap, knots, streaks, saw marks, weather."""

import numpy as np

from .tiles import cells, cloud, read, speck, step


def face(
    rng, u: np.ndarray, v: np.ndarray, mm_per_px: float, heart, sap, to_bark: np.ndarray | None, rough: bool
) -> np.ndarray:
    """(h, w, 3) float32 sRGB 0..1 of a face; u along the grain, v across, mm.

    to_bark : (h, w) float32, optional
        Distance from the live edge, mm: the sap follows it.
    rough : bool
        Sawn with a chain; else planed.

    The rings are the distance from a wandering pith cut by the plane: a pith far below gives straight rift and quarter
    grain at the side and cathedrals in the middle (as a saw's plane cuts cones).
    """
    late, phase = _rings(rng, u, v, mm_per_px)
    fibre = read(speck(), u, v, rng, rng.uniform(12, 60), rng.uniform(1.5, 5))
    broad = read(cloud(), u, v, rng, rng.uniform(4, 12), rng.uniform(0.8, 3))
    heart_share = _heart_share(rng, u, v, to_bark)
    colour = sap + (heart - sap) * heart_share[..., None]
    contrast = rng.uniform(0.02, 0.32)
    tone = 1 - contrast * (late - 0.4) + rng.uniform(0.01, 0.06) * fibre + rng.uniform(0.01, 0.09) * broad
    colour = colour * tone[..., None]
    warm = rng.uniform(-0.08, 0.12) * (late - 0.4) + rng.uniform(0, 0.05) * broad
    colour = colour * (1 + warm[..., None] * np.array([0.3, 0.0, -0.6], np.float32))
    if rng.random() < 0.4:  # dark heart streaks follow the rings
        dark = step(np.sin(phase * rng.uniform(0.05, 0.25)) + 0.5 * broad, rng.uniform(0.8, 1.6), 0.5) * heart_share
        colour = colour * (1 - rng.uniform(0.15, 0.6) * dark)[..., None]
    if rng.random() < 0.15:  # lines and stain of spalting
        stain = read(cloud(1.9), u, v, rng, 3, 1.5)
        colour = colour * (1 - 0.7 * np.exp(-(((stain - 0.3) / 0.04) ** 2)))[..., None]
        colour = colour + (np.float32(0.6) - colour) * (0.3 * step(stain, 0.3, 0.2))[..., None]
    if rng.random() < 0.2:  # dark or pale ends
        end = np.clip((np.abs(u) - np.float32(np.abs(u).max() * rng.uniform(0.4, 0.9))) / rng.uniform(30, 300), 0, 1)
        colour = colour * (1 + rng.uniform(-0.6, 0.2) * end * np.clip(1 + 0.4 * broad, 0, 1.5))[..., None]
    for _ in range(rng.poisson(1.3)):
        colour = _knot(rng, colour, u, v, to_bark)
    if rough:
        colour = _saw_marks(rng, colour, u, v)
    return _weather(rng, colour, u, v, fibre, broad).astype(np.float32).clip(0.01, 1.0)


def _rings(rng, u, v, mm_per_px):
    depth = rng.choice([rng.uniform(0, 40), rng.uniform(40, 200), rng.uniform(200, 500)])
    aside = rng.normal(0, 90) if rng.random() < 0.7 else rng.normal(0, 350)
    bow = read(cloud(2.2), u, v * 0 + 1, rng, rng.uniform(8, 30))
    y = v - aside - rng.normal(0, 0.04) * u - bow * rng.uniform(3, 40)
    z = (
        depth
        + bow * rng.uniform(0, 25)
        + rng.normal(0, 0.05) * u
        + read(cloud(2.0), u, v, rng, 10, 4) * rng.uniform(1, 12)
    )
    radius = np.sqrt(y * y + z * z) + read(cloud(1.8), u, v, rng, 6, 1.5) * rng.uniform(0.5, 4)
    phase = radius * np.float32(2 * np.pi / rng.uniform(3, 16)) + np.float32(rng.uniform(0, 6))
    down, right = np.gradient(phase)
    seen = np.clip(1.2 - np.hypot(down, right) / 2.2, 0, 1)  # rings finer than two pixels blur to their mean
    saw = np.mod(phase / (2 * np.pi), 1.0)
    late = (saw ** rng.uniform(1.2, 5)) if rng.random() < 0.6 else 0.5 + 0.5 * np.sin(phase)
    return (0.4 + (late - 0.4) * seen).astype(np.float32), phase


def _heart_share(rng, u, v, to_bark):
    if to_bark is None:
        stripe = v + 30 * read(cloud(2.0), u, v, rng, 10, 4)
        return step(stripe, rng.uniform(-400, 400), rng.uniform(4, 40)) if rng.random() < 0.35 else np.ones_like(u)
    if rng.random() < 0.5:  # a narrow clear band, the one that is most easily taken for a flank
        width, wavy, soft = rng.uniform(5, 38), rng.uniform(0.5, 6), rng.uniform(1, 6)
    else:
        width, wavy, soft = rng.uniform(0, 110), rng.uniform(2, 20), rng.uniform(2, 14)
    if rng.random() < 0.4:  # wider on one side, or gone there
        to_bark = to_bark - width * rng.uniform(-1, 1) * np.tanh(v / np.float32(60))
    return step(to_bark + read(cloud(2.0), u, v, rng, 8, 4) * wavy, width, soft)


def _knot(rng, colour, u, v, to_bark):
    at = rng.uniform(-1, 1, 2) * [0.48 * np.ptp(u), 0.25 * np.ptp(v)]
    size, longer = rng.uniform(8, 60), rng.uniform(1, 2.2)
    away = np.hypot((u - np.float32(at[0])) / longer, v - np.float32(at[1])) / size
    core = np.clip(1.3 - away, 0, 1) ** 0.7
    halo = np.exp(-(away**2) / 3)
    rings = 1 - 0.15 * np.sin(away * rng.uniform(8, 25)) * halo
    return colour * (rings * (1 - rng.uniform(0.1, 0.75) * core - rng.uniform(0, 0.3) * halo))[..., None]


def _saw_marks(rng, colour, u, v):
    lean, bow = rng.normal(0, 0.2), rng.normal(0, 0.0006)
    across = u + lean * v + bow * v * v
    patchy = np.clip(0.5 + read(cloud(1.6), u, v, rng, 4), 0, 1.6)
    period = rng.uniform(10, 60)
    waves = np.sin(across * np.float32(2 * np.pi / period) + 3 * read(cloud(2.0), u, v, rng, 20))
    lines = read(speck(), across, v, rng, rng.uniform(2, 5), rng.uniform(25, 120))
    tone = 1 + rng.uniform(0, 0.07) * patchy * waves + rng.uniform(0.0, 0.08) * patchy * lines
    if rng.random() < 0.35:  # dark rubbed strokes
        tone = tone - rng.uniform(0.1, 0.5) * np.clip(lines * patchy - rng.uniform(0.8, 1.6), 0, 1)
    if rng.random() < 0.3:  # steps where the saw was set again
        tone = tone * (1 + 0.08 * np.sign(np.sin(across / rng.uniform(60, 300) + rng.uniform(0, 6))) * rng.random())
    return colour * tone[..., None]


def _weather(rng, colour, u, v, fibre, broad):
    grey = colour.mean(-1, keepdims=True)
    patch = read(cloud(2.0), u, v, rng, rng.uniform(4, 14))
    state = rng.choice(["fresh", "dry", "wet", "dusty", "grey", "stained"], p=[0.25, 0.3, 0.13, 0.12, 0.12, 0.08])
    if state == "wet":
        share = step(patch, rng.uniform(-2.5, 1), 0.15)[..., None]
        dark = colour * rng.uniform(0.45, 0.75)
        dark = dark.mean(-1, keepdims=True) + (dark - dark.mean(-1, keepdims=True)) * 1.35
        colour = colour + (dark - colour) * share
    elif state == "dusty":
        dust = np.array([0.75, 0.66, 0.50], np.float32) * rng.uniform(0.8, 1.2)
        share = np.clip(rng.uniform(0.1, 0.6) + 0.25 * patch + 0.15 * fibre, 0, 0.9)[..., None]
        colour = colour + (dust - colour) * share
    elif state == "grey":
        silver = (
            (0.35 + 0.5 * grey + 0.05 * fibre[..., None])
            * np.array([1.0, 0.98, 0.94], np.float32)
            * rng.uniform(0.6, 1.1)
        )
        colour = colour + (silver - colour) * np.clip(rng.uniform(0.4, 1.0) + 0.3 * patch, 0, 1)[..., None]
    elif state == "stained":
        tint = rng.uniform(0.15, 0.5, 3).astype(np.float32)
        colour = colour + (tint - colour) * (0.7 * step(patch, rng.uniform(0.5, 1.5), 0.2))[..., None]
    elif state == "fresh":
        colour = colour * (1 + 0.04 * read(speck(), u, v, rng, 3))[..., None]
    return colour


def bark(rng, u: np.ndarray, v: np.ndarray) -> np.ndarray:
    """(h, w, 3) float32 sRGB 0..1: ridged, scaly, smooth, mossy, pale or dark; u along the slab."""
    base = np.array(rng.choice([0.16, 0.26, 0.38, 0.5, 0.66]), np.float32) * np.array(
        [1.0, rng.uniform(0.78, 1.0), rng.uniform(0.55, 0.98)]
    )
    kind = rng.choice(["ridged", "scaly", "smooth"])
    if kind == "scaly":
        rim, own = cells()
        size = rng.uniform(1.0, 3.0)
        state = rng.bit_generator.state
        lump = read(rim, u, v, rng, 2 * size, size)
        rng.bit_generator.state = state
        relief = 0.5 * (lump - 0.5) + 0.4 * (read(own, u, v, rng, 2 * size, size) - 0.5)
    else:
        relief = read(cloud(1.3), u, v, rng, rng.uniform(1.5, 6), rng.uniform(0.6, 3)) * (
            0.3 if kind == "ridged" else 0.08
        )
    colour = base * np.exp(relief)[..., None]
    if rng.random() < 0.3:
        growth = step(read(cloud(1.6), u, v, rng, 2.5), rng.uniform(0, 1.2), 0.2)[..., None]
        tint = np.array([[0.28, 0.34, 0.14], [0.6, 0.63, 0.55]][rng.integers(2)], np.float32)
        colour = colour + (tint - colour) * growth * rng.uniform(0.4, 1)
    return colour.astype(np.float32).clip(0.01, 1)


def laid(rng, x: np.ndarray, y: np.ndarray, mm_per_px: float):
    """Boards side by side: positions in the wood of each (along, across), mm; shade of boards and gaps, (h, w)."""
    wide = rng.uniform(45, 340)
    row = np.floor(y / wide)
    own = rng.uniform(0, 1, 4096)
    pick = own[(row.astype(int) + 2000) % 4096].astype(np.float32)
    long = rng.uniform(600, 4500)
    column = np.floor((x + pick * long) / long)
    pick2 = own[((row * 7 + column * 131).astype(int) + 2000) % 4096].astype(np.float32)
    inside = y - row * wide - wide / 2
    gap = rng.choice([rng.uniform(0.5, 3), rng.uniform(3, 12)])
    rim = np.minimum(wide / 2 - np.abs(inside), np.abs(x + pick * long - np.round((x + pick * long) / long) * long))
    share = np.clip((gap - rim) / mm_per_px + 0.5, 0, min(1.0, gap / mm_per_px + 0.2)) * rng.uniform(0.3, 1)
    shade = (1 + rng.uniform(0, 0.4) * (pick2 - 0.5)) * (1 - 0.85 * share)
    return (x + pick2 * 4000, inside + (pick2 - 0.5) * rng.uniform(0, 500)), shade.astype(np.float32)


def planks(rng, x: np.ndarray, y: np.ndarray, mm_per_px: float, colours) -> np.ndarray:
    """(h, w, 3) float32: a floor of boards of the same wood as slabs, side by side."""
    _, heart, sap = colours
    boards, shade = laid(rng, x, y, mm_per_px)
    return face(rng, *boards, mm_per_px, heart, sap, None, rng.random() < 0.2) * shade[..., None]
