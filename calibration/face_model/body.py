"""The slab in the picture: stickers and shadow under it, its flank with and without bark, its face, checks and holes."""

import cv2
import numpy as np

from . import wood
from .classes import FLANK, OTHER, VOID, WOOD
from .clutter import Canvas, batten
from .shape import Camera, Slab
from .tiles import cloud, read, speck, step, turned, wander

LEVELS = 9


def lay_slab(rng, canvas: Canvas, slab: Slab, camera: Camera, x, y, light, colours, below: float):
    """Draw a slab with its stickers, shadow, flank, bark, face, checks and holes.

    colours : (name, heart, sap)
    below : depth of its face under the face plane, mm (a second slab that is thinner or lies on the floor).

    Returns where a face shows, (h, w) bool.
    """
    _, heart, sap = colours
    shown = lambda ring, depth: camera.shown(ring, below + depth)  # noqa: E731
    t = slab.thickness
    if slab.lift > 8:
        for k in range(rng.integers(2, 5)):
            s = (k + rng.uniform(0.2, 0.8)) / 4 - 0.5
            middle = slab.centre + s * slab.length * np.array([np.cos(slab.angle), np.sin(slab.angle)])
            at = shown(middle[None], t)[0]
            batten(
                rng,
                canvas,
                at,
                slab.angle + np.pi / 2 + rng.normal(0, 0.06),
                slab.width * rng.uniform(0.8, 2.4),
                light * 0.6,
                OTHER,
            )
    outer = shown(slab.low, t)
    ground_shadow = canvas.cover(
        shown(slab.low + light * (slab.lift + 0.5 * t), t + slab.lift),
        shown(slab.bark + light * (slab.lift + t), t + slab.lift),
    )
    soft = 0.6 + slab.lift / 60 + rng.uniform(0, 2)
    canvas.shade(
        cv2.GaussianBlur(ground_shadow, (0, 0), soft),
        rng.uniform(0.25, 0.7) if np.hypot(*light) > 0 else rng.uniform(0.7, 1.0),
    )
    contact = cv2.GaussianBlur(canvas.cover(outer), (0, 0), rng.uniform(6, 45) / canvas.mm_per_px)
    canvas.shade(contact, rng.uniform(0.3, 0.9))
    reach = np.vstack([slab.low, shown(slab.low, t), slab.bark, shown(slab.bark, 0)])
    whole, canvas = canvas, canvas.window(reach)
    if min(canvas.label.shape) < 16:  # out of the picture but for its margin
        return whole.label == WOOD
    x, y = (part[canvas.part] for part in (x, y))
    u, v = turned(x - np.float32(slab.centre[0]), y - np.float32(slab.centre[1]), slab.angle)
    under = canvas.rgb.copy()
    edge = shown(slab.edge, 0)
    cover = canvas.cover(edge)
    wood_picture = wood.face(
        rng,
        u,
        v,
        canvas.mm_per_px,
        heart,
        sap,
        _to_live(canvas, slab, edge),
        slab.form != "planed" or rng.random() < 0.3,
    )
    _flank(rng, canvas, slab, shown, u, v, light, heart, sap, wood_picture)
    if rng.random() < 0.4:  # the rim darker or paler: torn bark, wane, dirt
        rim = np.exp(-_to_edge(cover, canvas.mm_per_px) / rng.uniform(4, 20))
        wood_picture = wood_picture * (1 - rng.uniform(-0.25, 0.45) * rim)[..., None]
    canvas.lay(cover, wood_picture, WOOD)
    _holes(rng, canvas, slab, shown, under, u, v, heart)
    _checks(rng, canvas, slab, shown)
    return whole.label == WOOD


def _flank(rng, canvas, slab, shown, u, v, light, heart, sap, wood_picture):
    """The flank from its lower outline up to the bark at the face, level over level, lit by its slope."""
    barked = wood.bark(rng, u, v) * (rng.uniform(0.4, 1) if rng.random() < 0.3 else 1)
    t, bulge = slab.thickness, rng.uniform(0.6, 1.6)
    level = np.zeros(canvas.label.shape, np.float32)
    cover = np.zeros(canvas.label.shape, np.float32)
    for k in np.linspace(1, 0, LEVELS):
        ring = shown(slab.bark + (slab.low - slab.bark) * k**bulge, t * k)
        part = canvas.cover(ring)
        level += (np.float32(k) - level) * part
        cover = np.maximum(cover, part)
    naked = np.zeros(canvas.label.shape, np.float32)
    runs = [np.flatnonzero(slab.bare | ~slab.live)]
    edge, low = shown(slab.edge, 0), shown(slab.low, t)
    if len(runs[0]):
        runs = np.split(runs[0], np.flatnonzero(np.diff(runs[0]) > 1) + 1)
        strips = [np.vstack([edge[r[0] : r[-1] + 2], low[r[0] : r[-1] + 2][::-1]]) for r in runs]
        naked = np.maximum.reduce([canvas.cover(strip) for strip in strips])
    body = cv2.GaussianBlur(cover, (0, 0), 3)
    gx, gy = cv2.Sobel(body, cv2.CV_32F, 1, 0), -cv2.Sobel(body, cv2.CV_32F, 0, 1)
    size = np.hypot(gx, gy) + 1e-3
    facing = (
        -(gx * light[0] * -1 + gy * light[1] * -1) / size
    )  # light is where shadows go; a flank that looks away is dark
    tone = 1 + rng.uniform(0.1, 0.5) * facing * (np.hypot(*light) > 0) - rng.uniform(0, 0.5) * level
    inner = _bare(rng, u, v, heart, sap, wood_picture)
    if rng.random() < 0.6:  # it looks at less of the sky than the face does, and a crease parts the two
        away = np.minimum(cv2.distanceTransform((canvas.cover(edge) < 0.5).astype(np.uint8), cv2.DIST_L2, 3), 5000) * canvas.mm_per_px
        crease = 1 + rng.uniform(-0.4, 0.35) * np.exp(-away / rng.uniform(2, 9))
        inner = inner * ((1 - rng.uniform(-0.1, 0.35)) * crease)[..., None]
    if rng.random() < 0.4:  # patches of old bark
        naked = naked * (
            1 - rng.uniform(0, 1) * step(read(cloud(1.4), u, v, rng, rng.uniform(1.5, 5)), rng.uniform(0.5, 2), 0.1)
        )
    picture = barked + (inner - barked) * naked[..., None]
    canvas.lay(cover, picture * np.clip(tone, 0.25, 1.4)[..., None], FLANK)


def _bare(rng, u, v, heart, sap, wood_picture):
    """(h, w, 3): the flank without bark. Often it has the colour that the face has beside it, with no saw marks."""
    if rng.random() < 0.5:
        inner = cv2.GaussianBlur(wood_picture, (0, 0), rng.uniform(1.5, 6)) * rng.uniform(0.8, 1.15)
        inner = inner * rng.normal(1, rng.choice([0.01, 0.05]), 3)
    else:
        inner = (heart if rng.random() < 0.3 else sap) * rng.uniform(0.6, 1.2) * rng.normal(1, 0.04, 3)
    if rng.random() < 0.2:  # weathered silver
        silver = inner.mean(-1, keepdims=True) * np.array([1.0, 0.98, 0.94]) * rng.uniform(0.8, 1.2)
        inner = inner + (silver - inner) * rng.uniform(0.4, 1.0)
    mottled = rng.uniform(0.02, 0.2) * read(cloud(1.3), u, v, rng, rng.uniform(3, 12), rng.uniform(0.6, 2))
    inner = inner * (1 + mottled)[..., None]
    if rng.random() < 0.5:  # fibre along it
        fibre = rng.uniform(0.02, 0.12) * read(speck(), u, v, rng, rng.uniform(15, 80), rng.uniform(1.5, 6))
        inner = inner * (1 + fibre)[..., None]
    if rng.random() < 0.35:  # ribs down it
        inner = inner * (1 + rng.uniform(0.05, 0.3) * read(speck(), u, v, rng, rng.uniform(3, 14), 60))[..., None]
    return inner.astype(np.float32)


def _to_edge(cover, mm_per_px):
    return cv2.distanceTransform((cover > 0.5).astype(np.uint8), cv2.DIST_L2, 3) * np.float32(mm_per_px)


def _to_live(canvas, slab, edge):
    """(h, w) float32: mm from the live edges; None where there are none."""
    if not slab.live.any():
        return None
    line = np.full(canvas.label.shape, 255, np.uint8)
    at = np.round(np.clip(canvas.px(edge), -5000, 5000)).astype(np.int32)
    for k in np.flatnonzero(slab.live):
        cv2.line(line, at[k].tolist(), at[(k + 1) % len(at)].tolist(), 0)
    return np.minimum(cv2.distanceTransform(line, cv2.DIST_L2, 3), 5000) * np.float32(canvas.mm_per_px)


def _holes(rng, canvas, slab, shown, before, u, v, heart):
    """Through holes: the ground or the dark under the face, with the wall that the camera sees."""
    for _ in range(rng.choice([0, 1, 2], p=[0.65, 0.25, 0.1])):
        centre = slab.places(rng)[rng.integers(4)]
        n = 36
        turn = np.linspace(0, 2 * np.pi, n, endpoint=False)
        size = np.array([rng.uniform(12, 130), rng.uniform(8, 50)])
        ring = (
            np.column_stack([np.cos(turn), np.sin(turn)])
            * size
            * (1 + 0.25 * wander(rng, n, 4, 2) * np.sin(turn / 2) ** 0.5)[:, None]
        )
        c, s = np.cos(slab.angle), np.sin(slab.angle)
        ring = ring @ np.array([[c, s], [-s, c]]) + centre
        mouth = canvas.cover(shown(ring, 0)) * (canvas.label == WOOD)
        bottom = canvas.cover(shown(ring * 1.0, slab.thickness))
        wall = heart * rng.uniform(0.15, 0.6)
        deep = before * rng.uniform(0.1, 0.8) if rng.random() < 0.6 else np.float32(rng.uniform(0.01, 0.08))
        canvas.lay(mouth, wall + (deep - wall) * bottom[..., None], VOID)


def _checks(rng, canvas, slab, shown):
    """Thin dark clefts along the grain: from the ends, and on the face."""
    axis = np.array([np.cos(slab.angle), np.sin(slab.angle)])
    side = np.array([-axis[1], axis[0]])
    wood = canvas.label == WOOD
    for _ in range(rng.poisson(rng.choice([0.5, 4.0]))):
        from_end = rng.random() < 0.6
        long = rng.uniform(40, 500)
        wide = rng.choice([rng.uniform(1, 4), rng.uniform(4, 16)])
        start = rng.choice([-0.5, 0.5]) * slab.length if from_end else rng.uniform(-0.45, 0.45) * slab.length
        n = 24
        s = np.linspace(0, 1, n)
        mid = (
            rng.uniform(-0.4, 0.4) * slab.width + wander(rng, n, 3) * rng.uniform(1, 8) + s * rng.normal(0, 0.04) * long
        )
        half = (
            wide
            / 2
            * ((1 - s) ** 0.6 if from_end else np.sin(np.pi * s) ** 0.7)
            * np.clip(1 + 0.3 * wander(rng, n, 6, 1), 0.3, 2)
        )
        along = start - np.sign(start) * (s * long - 15) if from_end else start + s * long
        line = slab.centre + along[:, None] * axis + mid[:, None] * side
        ring = np.vstack([line + half[:, None] * side, (line - half[:, None] * side)[::-1]])
        canvas.lay(canvas.cover(shown(ring, 0)) * wood, rng.uniform(0.02, 0.2) * np.array([1, 0.9, 0.8]), VOID)
