"""Made views with what goes wrong with photos: glare, dusk, blur, a ground of the wood's own colour, a person, a touching slab.

Each seed is one view of `made_view` and at most two such faults; the truth stays that of the made view.
"""

from dataclasses import replace

import cv2
import numpy as np

from tests.face.made_view import MadeView, make

FAULTS = ("glare", "dusk", "blur", "same colour", "person", "touching", "flat light")


def worn(seed: int) -> tuple[MadeView, tuple[str, ...]]:
    """The view of a seed and the faults in it; about a third have none."""
    view = make(seed)
    rng = np.random.default_rng([seed, 77])
    count = rng.choice([0, 1, 2], p=[0.35, 0.45, 0.20])
    faults = tuple(str(name) for name in rng.choice(FAULTS, count, replace=False))
    for fault in faults:
        view = replace(view, rgb=WEAR[fault](rng, view))
    return view, faults


def inside(view: MadeView, ring: np.ndarray) -> np.ndarray:
    """(h, w) uint8 0 or 1."""
    mask = np.zeros(view.rgb.shape[:2], np.uint8)
    return cv2.fillPoly(mask, [np.round(np.column_stack([ring[:, 0], mask.shape[0] - ring[:, 1]]) - 0.5).astype(np.int32)], 1)


def glare(rng, view: MadeView) -> np.ndarray:
    """Light so strong on part of the face, and a little beyond, that nothing is left of it."""
    wood = inside(view, view.wood).astype(np.float32)
    h, w = wood.shape
    y, x = np.mgrid[:h, :w].astype(np.float32)
    middle = view.wood[rng.integers(len(view.wood))] * 0.5 + view.wood.mean(0) * 0.5
    away = np.hypot((x - middle[0]) / rng.uniform(150, 900), (y - (h - middle[1])) / rng.uniform(80, 350))
    light = rng.uniform(0.5, 2.2) * np.exp(-(away**2)) * (0.25 + 0.75 * cv2.GaussianBlur(wood, (0, 0), 4))
    return np.clip(view.rgb + 255 * light[..., None], 0, 255).astype(np.uint8)


def dusk(rng, view: MadeView) -> np.ndarray:
    """Too little light: dark, noisy, coarse."""
    grain = cv2.GaussianBlur(rng.standard_normal(view.rgb.shape, np.float32), (0, 0), 1.2) * 2
    rgb = view.rgb * rng.uniform(0.03, 0.3) + rng.uniform(2, 8) * grain
    return np.clip(np.round(rgb / 2) * 2, 0, 255).astype(np.uint8)


def blur(rng, view: MadeView) -> np.ndarray:
    """Shaken or out of focus."""
    return cv2.GaussianBlur(view.rgb, (0, 0), rng.uniform(2, 9), sigmaY=rng.uniform(2, 9))


def same_colour(rng, view: MadeView) -> np.ndarray:
    """Everything else takes on the colour of the wood."""
    wood = inside(view, view.wood) > 0
    rgb = view.rgb.astype(np.float32)
    share = rng.uniform(0.4, 1.0)
    shift = (rgb[wood].mean(0) - rgb[~wood].mean(0)) * share
    return np.where(wood[..., None], rgb, np.clip(rgb + shift, 0, 255)).astype(np.uint8)


def person(rng, view: MadeView) -> np.ndarray:
    """Somebody in one colour stands over the edge."""
    h = view.rgb.shape[0]
    at = view.wood[rng.integers(len(view.wood))]
    size = rng.uniform(150, 450), rng.uniform(300, 800)
    rgb = view.rgb.copy()
    colour = tuple(int(v) for v in rng.integers(5, 220, 3))
    box = cv2.boxPoints(((float(at[0]), float(h - at[1])), size, float(rng.uniform(0, 180))))
    cv2.fillPoly(rgb, [np.round(box).astype(np.int32)], colour)
    return rgb


def touching(rng, view: MadeView) -> np.ndarray:
    """The same wood once more, side by side with this slab."""
    box = cv2.minAreaRect(view.wood.astype(np.float32))
    angle = np.radians(box[2] if box[1][0] < box[1][1] else box[2] + 90)
    aside = np.array([np.cos(angle), np.sin(angle)]) * (min(box[1]) + rng.uniform(-20, 25)) * rng.choice([-1, 1])
    move = np.array([[1, 0, aside[0]], [0, 1, -aside[1]]], np.float32)
    h, w = view.rgb.shape[:2]
    flank = inside(view, view.wood)
    moved = cv2.warpAffine(view.rgb, move, (w, h))
    there = cv2.warpAffine(flank, move, (w, h)) * (1 - inside(view, view.wood))
    return np.where(there[..., None] > 0, moved, view.rgb)


def flat_light(rng, view: MadeView) -> np.ndarray:
    """Fog, a fogged lens: little contrast is left."""
    rgb = view.rgb.astype(np.float32)
    return np.clip(rgb.mean() + (rgb - rgb.mean()) * rng.uniform(0.08, 0.4) + rng.normal(0, 1.5, rgb.shape), 0, 255).astype(np.uint8)


WEAR = dict(zip(FAULTS, (glare, dusk, blur, same_colour, person, touching, flat_light)))
