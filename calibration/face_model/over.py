"""What stands or lies over a slab and hides part of it: people, hands, leaves, sheets, things."""

import cv2
import numpy as np

from .clutter import Canvas, blob, box, shadowed, thing
from .shape import Camera, Slab
from .tiles import cloud, read, speck, turned

#: Nearer to the lens than this share of its height nothing stands.
_HIGHEST = 0.75


def hide(rng, canvas: Canvas, camera: Camera, slab: Slab, deep: float, x, y, light, other: int, ground) -> None:
    """One thing over the slab's edge, its face's middle, or just beside it.

    deep : the floor's depth below the face plane, mm; ground : () -> (h, w, 3), a picture for sheets and leaves
    """
    at = (slab.edge_place(rng) if rng.random() < 0.8 else slab.places(rng)[3]) + rng.normal(0, 90, 2)
    kind = rng.choice(["person", "figure", "hand", "thing", "sheet", "leaves"], p=[0.4, 0.15, 0.12, 0.13, 0.1, 0.1])
    if kind == "person":
        person(rng, canvas, camera, at, deep, x, y, light, other)
    elif kind == "figure":
        figure(rng, canvas, at, x, y, light, other)
    elif kind == "hand":
        hand(rng, canvas, at, other)
    elif kind == "thing":
        thing(rng, canvas, at, light, other)
    elif kind == "sheet":
        size = rng.uniform(150, 1300, 2)
        ring = blob(rng, at, size, 0.1) if rng.random() < 0.6 else box(at, size, rng.uniform(0, 6.3))
        shadowed(canvas, (ring,), light, 30)
        canvas.lay(canvas.cover(ring), cloth(rng, x, y) if rng.random() < 0.5 else ground(), other)
    else:
        picture = ground()
        for _ in range(rng.integers(1, 6)):
            ring = blob(rng, at + rng.normal(0, 120, 2), rng.uniform(60, 500, 2), 0.3)
            canvas.lay(canvas.cover(ring), picture, other)


def cloth(rng, x, y) -> np.ndarray:
    """(h, w, 3) float32: any colour, folded, plain or with stripes, checks or specks."""
    light = rng.uniform(0.03, 0.9)
    colour = light * rng.normal(1, 0.05, 3) if rng.random() < 0.5 else rng.uniform(0.03, 0.9, 3)
    if rng.random() < 0.2:  # blue work clothes
        colour = rng.uniform(0.1, 0.6) * np.array([0.55, 0.7, 1.0]) * rng.normal(1, 0.06, 3)
    picture = np.broadcast_to(colour.astype(np.float32), (*x.shape, 3))
    if rng.random() < 0.35:
        second = rng.uniform(0.03, 0.95, 3).astype(np.float32)
        u, v = turned(x, y, rng.uniform(0, 6.3))
        period, share = rng.uniform(20, 160), rng.uniform(0.15, 0.6)
        bands = (np.mod(u / period, 1) < share).astype(np.float32)
        if rng.random() < 0.5:
            bands = 0.5 * bands + 0.5 * (np.mod(v / period, 1) < share)
        picture = picture + (second - picture) * bands[..., None]
    folds = rng.uniform(0.03, 0.25) * read(cloud(2.0), x, y, rng, rng.uniform(0.8, 4))
    weave = rng.uniform(0, 0.08) * read(speck(), x, y, rng, rng.uniform(1.5, 5))
    return (picture * (1 + folds + weave)[..., None]).astype(np.float32).clip(0.005, 1)


def person(rng, canvas: Canvas, camera: Camera, centre, deep: float, x, y, light, other: int) -> None:
    """Somebody who stands, bends over or kneels there, drawn as the camera sees a body that rises from the floor."""
    tall = rng.uniform(1450, 1950) * rng.choice([1.0, rng.uniform(0.6, 0.9)])
    most = deep + _HIGHEST * camera.height
    way = rng.uniform(0, 6.3)
    out = np.array([np.cos(way), np.sin(way)])
    aside = np.array([-out[1], out[0]])
    turn = np.linspace(0, 2 * np.pi, 20, endpoint=False)
    circle = np.column_stack([np.cos(turn), np.sin(turn)])

    def limb(low, low_z, low_r, high, high_z, high_r):
        rings = [
            camera.shown(at + circle * radius, deep - min(z, most))
            for at, z, radius in ((low, low_z, low_r), (high, high_z, high_r))
        ]
        return cv2.convexHull(np.vstack(rings).astype(np.float32))[:, 0].astype(float)

    feet = [centre + aside * side * rng.uniform(70, 230) + out * rng.normal(0, 110) for side in (-1, 1)]
    hips = [centre + aside * side * 95 for side in (-1, 1)]
    bent = out * rng.choice([rng.normal(0, 60), rng.uniform(100, 550)])
    neck = centre + bent
    shoulders = [neck + aside * side * rng.uniform(150, 210) for side in (-1, 1)]
    hip_z, neck_z = (0.5 * tall, 0.5 * tall + np.sqrt(max((0.33 * tall) ** 2 - bent @ bent, (0.08 * tall) ** 2)))
    hands = [
        at + out * rng.uniform(0, 480) + aside * side * rng.uniform(0, 200) for side, at in zip((-1, 1), shoulders)
    ]
    stout = rng.uniform(0.85, 1.3)
    shoes = [limb(foot - out * 90, 30, 48, foot + out * 90, 30, 52) for foot in feet]
    legs = [limb(foot, 80, 60 * stout, hip, hip_z, 95 * stout) for foot, hip in zip(feet, hips)]
    trunk = limb(centre, hip_z, 150 * stout, neck, neck_z, 130 * stout)
    chest = limb(shoulders[0], neck_z, 75 * stout, shoulders[1], neck_z, 75 * stout)
    arms = [
        limb(at, neck_z, 60 * stout, hand_, neck_z - rng.uniform(0.1, 0.35) * tall, 45)
        for at, hand_ in zip(shoulders, hands)
    ]
    head = limb(neck + bent * 0.2, neck_z + 60, 70, neck + bent * 0.35, neck_z + 0.12 * tall, 95)
    rings = [*shoes, *legs, trunk, chest, *arms, head]
    inner = canvas.window(np.vstack(rings))
    if min(inner.label.shape) < 8:
        return
    x, y = x[inner.part], y[inner.part]
    shadowed(inner, [*shoes, *legs], light, 150)
    skin = np.array([0.85, 0.62, 0.5]) * rng.uniform(0.3, 1.1)
    leather = (rng.uniform(0.02, 0.6) * rng.normal(1, 0.15, 3)).clip(0.01, 1)
    trousers, shirt = cloth(rng, x, y), cloth(rng, x, y)
    if rng.random() < 0.25:
        shirt = trousers
    bare_arms = rng.random() < 0.35
    for ring in shoes:
        inner.lay(inner.cover(ring), leather, other)
    for ring in legs:
        shadowed(inner, (ring,), light, 20)
        inner.lay(inner.cover(ring), trousers * rng.uniform(0.85, 1.1), other)
    if rng.random() < 0.1:  # legs only: the rest is out of the picture or behind something
        return
    inner.lay(inner.cover(trunk), shirt * rng.uniform(0.8, 1.0), other)
    inner.lay(inner.cover(chest), shirt, other)
    for ring, hand_ in zip(arms, hands):
        inner.lay(inner.cover(ring), skin if bare_arms else shirt * rng.uniform(0.8, 1.15), other)
    hair = (
        (rng.uniform(0.03, 0.6) * rng.normal(1, 0.2, 3)).clip(0.01, 1) if rng.random() < 0.7 else rng.uniform(0, 1, 3)
    )
    inner.lay(inner.cover(head), hair, other)


def figure(rng, canvas: Canvas, centre, x, y, light: np.ndarray, other: int) -> None:
    """Somebody from straight above: shoes or legs, and perhaps a trunk over them."""
    way = rng.uniform(0, 6.3)
    out = np.array([np.cos(way), np.sin(way)])
    aside = np.array([-out[1], out[0]])
    clothes, second = cloth(rng, x, y), cloth(rng, x, y)
    legs = [centre + aside * side * rng.uniform(70, 200) for side in (-1, 1)]
    rings = [box(leg + out * 300, (rng.uniform(400, 800), rng.uniform(110, 180)), way) for leg in legs]
    trunk = blob(rng, centre + out * rng.uniform(-100, 700), (rng.uniform(350, 650), rng.uniform(250, 450)), 0.06)
    shadowed(canvas, [*rings, trunk], light, 150)
    with_legs = rng.random() < 0.6
    for ring, leg in zip(rings, legs):
        canvas.lay(canvas.cover(blob(rng, leg - out * 80, (300, 110), 0.05)), rng.uniform(0.03, 0.6, 3), other)
        if with_legs:
            canvas.lay(canvas.cover(ring), clothes, other)
    if rng.random() < 0.75:
        canvas.lay(canvas.cover(trunk), second, other)


def hand(rng, canvas: Canvas, centre, other: int) -> None:
    """An arm that reaches in, ending in fingers."""
    skin = np.array([0.85, 0.62, 0.5]) * rng.uniform(0.3, 1.1)
    way = rng.uniform(0, 6.3)
    out = np.array([np.cos(way), np.sin(way)])
    sleeve = rng.uniform(0.05, 0.9, 3)
    rings = [blob(rng, centre, (100, 85), 0.05)]
    for spread in np.linspace(-0.7, 0.7, 5):
        turn = way + np.pi + spread
        rings.append(box(centre + 70 * np.array([np.cos(turn), np.sin(turn)]), (95, 20), turn))
    canvas.lay(canvas.cover(box(centre + out * 450, (800, 100), way)), sleeve, other)
    canvas.lay(canvas.cover(box(centre + out * 90, (130, 65), way)), skin, other)
    for ring in rings:
        canvas.lay(canvas.cover(ring), skin, other)
