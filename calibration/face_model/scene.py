"""One generated flat view with its exact labels, from one seed."""

from dataclasses import dataclass

import cv2
import numpy as np

from grainlog.scale.flat import FlatView

from . import palettes, wood
from .clutter import Canvas, batten, blob, box, card, hand, paper, person, thing
from .grounds import ground, strew
from .light import illuminate, photograph
from .shape import Camera, Slab, grow
from .tiles import cloud, read, speck, step, turned, wander

WOOD, FLANK, VOID, CARD, OTHER, IGNORE = range(6)
CLASSES = ("wood face", "bark or flank", "check or hole", "card or tag", "everything else")
LEVELS = 9


@dataclass(frozen=True)
class Sample:
    """A view and its truth.

    rgb : (n, n, 3) uint8; cards, seen : (n, n) bool
    label : (n, n) uint8, index into CLASSES, IGNORE where nothing is seen
    camera : (3,) float32, foot (column, row) and height, all in pixels
    outlines : tuple of (4, 2) float64, the cards as seen, mm, y up, the first pixel's centre at (-n/2, n/2) pixels
    on_face : tuple of bool, which of them lie on the slab
    """

    rgb: np.ndarray
    cards: np.ndarray
    seen: np.ndarray
    label: np.ndarray
    camera: np.ndarray
    mm_per_px: float
    ground: str
    palette: str
    form: str
    outlines: tuple[np.ndarray, ...]
    on_face: tuple[bool, ...]

    def view(self) -> FlatView:
        """The same as the package sees it."""
        n = len(self.rgb)
        origin = np.array([-n, n]) * self.mm_per_px / 2
        foot = origin + self.camera[:2] * [self.mm_per_px, -self.mm_per_px]
        camera = np.array([*foot, self.camera[2] * self.mm_per_px])
        return FlatView(self.rgb, self.seen, self.mm_per_px, origin, self.outlines, self.on_face, camera)


def make(seed: int, held_out: bool = False, side: int = 448, textures: str | None = None) -> Sample:
    """The view of a seed: the same every time.

    held_out : bool
        Only palettes and photographed grounds that training never shows.
    textures : str, optional
        Folder of photographed grounds; without it all grounds are drawn.
    """
    rng = np.random.default_rng([seed, int(held_out), 20251])
    mm = float(np.exp(rng.uniform(np.log(3.2), np.log(6.5))))
    half = side * mm / 2
    columns, rows = np.meshgrid(np.arange(side, dtype=np.float32), np.arange(side, dtype=np.float32))
    x, y = (columns - side / 2) * np.float32(mm), (side / 2 - rows) * np.float32(mm)
    height = rng.uniform(1300, 3600)
    lean = height * np.tan(rng.choice([rng.uniform(0, 0.35), rng.uniform(0.35, 0.95)]))
    way = rng.uniform(0, 6.3)
    camera = Camera(np.array([np.cos(way), np.sin(way)]) * lean + rng.normal(0, 150, 2), height)
    angle = rng.uniform(0, 6.3)
    lift = rng.choice(
        [0.0, rng.uniform(10, 60), rng.uniform(60, 250), rng.uniform(500, 900)], p=[0.4, 0.35, 0.15, 0.1]
    )
    away = 0.35 * half if rng.random() < 0.7 else 0.9 * half
    slab = grow(rng, rng.uniform(-away, away, 2), angle, lift)
    deep = slab.thickness + lift
    sink = np.float32((camera.height + deep) / camera.height)  # the ground shows smaller: it is farther away
    gx = (x - np.float32(camera.foot[0])) * sink + np.float32(camera.foot[0])
    gy = (y - np.float32(camera.foot[1])) * sink + np.float32(camera.foot[1])
    colours = palettes.pick(rng, held_out)
    name, picture = ground(rng, gx, gy, mm * float(sink), held_out, textures, colours if rng.random() < 0.4 else None)
    canvas = Canvas(picture, np.full((side, side), OTHER, np.uint8), mm, (-half, half))
    sun = rng.uniform(0, 6.3)
    light = np.array([np.cos(sun), np.sin(sun)]) * rng.choice([0.0, rng.uniform(0.2, 1.8)], p=[0.35, 0.65])
    where = lambda spread=1.0: rng.uniform(-half, half, 2) * spread  # noqa: E731
    for _ in range(rng.poisson(0.9)):
        thing(rng, canvas, where(), light, OTHER)
    if rng.random() < 0.2:  # furniture, bags, machines
        shape, size = where(1.1), rng.uniform(200, 900, 2)
        ring = blob(rng, shape, size) if rng.random() < 0.5 else box(shape, size, rng.uniform(0, 6.3))
        canvas.shade(cv2.GaussianBlur(canvas.cover(ring + light * 150), (0, 0), 2), 0.6)
        canvas.lay(canvas.cover(ring), ground(rng, gx, gy, mm, held_out, None, None)[1], OTHER)
    seen_cards = [card(rng, canvas, camera, where(), deep, CARD) for _ in range(rng.poisson(0.7))]
    if rng.random() < 0.15:
        paper(rng, canvas, where(), CARD)
    if rng.random() < 0.3:
        second = grow(rng, slab.centre + _side(rng, slab), angle + rng.normal(0, 0.25), lift * rng.integers(0, 2))
        lay_slab(
            rng,
            canvas,
            second,
            camera,
            x,
            y,
            light,
            palettes.pick(rng, held_out),
            deep - second.thickness - second.lift,
        )
    face = lay_slab(rng, canvas, slab, camera, x, y, light, colours, 0.0)
    on_floor = len(seen_cards)
    on_face = _places_on(rng, slab)
    if rng.random() < 0.35:
        canvas.rgb = np.where((face & (rng.random() < 0.7))[..., None], strew(rng, canvas.rgb, x, y), canvas.rgb)
    for place in on_face[: rng.choice([0, 0, 1, 2])]:
        seen_cards.append(card(rng, canvas, camera, place, 0.0, CARD))
    if rng.random() < 0.2:
        paper(rng, canvas, on_face[2], CARD)
    illuminate(rng, canvas, x, y, face)
    if rng.random() < 0.08:
        hand(rng, canvas, on_face[3] + rng.normal(0, 120, 2), OTHER)
    if rng.random() < 0.08:
        thing(rng, canvas, on_face[3], light, OTHER)
    if rng.random() < 0.05:
        person(rng, canvas, on_face[3] + rng.normal(0, 250, 2), light, OTHER)
    rgb = photograph(rng, canvas.rgb, min(1.0, lean / height))
    cards, told = np.zeros((side, side), bool), []
    for k, ring in enumerate(seen_cards):
        ring = ring + rng.normal(0, 0.6, 2)
        inside = canvas.cover(ring) > 0.4
        if inside.any() and (canvas.label[inside] == CARD).mean() > 0.7:  # a card that something covers is not found
            cards |= inside
            told.append((ring, k >= on_floor))
    seen = _seen(rng, canvas, camera)
    label = np.where(seen, canvas.label, np.uint8(IGNORE))
    foot = canvas.px(camera.foot[None])[0]
    outlines, lies_on_face = tuple(ring for ring, _ in told), tuple(on for _, on in told)
    camera_px = np.array([*foot, height / mm], np.float32)
    return Sample(rgb, cards, seen, label, camera_px, mm, name, colours[0], slab.form, outlines, lies_on_face)


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
    _flank(rng, canvas, slab, shown, u, v, light, heart, sap)
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
    if rng.random() < 0.4:  # the rim darker or paler: torn bark, wane, dirt
        rim = np.exp(-_to_edge(cover, canvas.mm_per_px) / rng.uniform(4, 20))
        wood_picture = wood_picture * (1 - rng.uniform(-0.25, 0.45) * rim)[..., None]
    canvas.lay(cover, wood_picture, WOOD)
    _holes(rng, canvas, slab, shown, under, u, v, heart)
    _checks(rng, canvas, slab, shown)
    return whole.label == WOOD


def _flank(rng, canvas, slab, shown, u, v, light, heart, sap):
    """The flank from its lower outline up to the bark at the face, level over level, lit by its slope."""
    barked = wood.bark(rng, u, v)
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
    inner = (heart if rng.random() < 0.3 else sap) * rng.uniform(0.6, 1.05) * rng.normal(1, 0.04, 3)
    inner = (
        inner
        * (1 + rng.uniform(0.03, 0.2) * read(cloud(1.3), u, v, rng, rng.uniform(3, 12), rng.uniform(0.6, 2)))[
            ..., None
        ]
    )
    if rng.random() < 0.5:  # ribs down the flank, and patches of old bark
        inner = inner * (1 + rng.uniform(0.05, 0.3) * read(speck(), u, v, rng, rng.uniform(3, 14), 60))[..., None]
        naked = naked * (
            1 - rng.uniform(0, 1) * step(read(cloud(1.4), u, v, rng, rng.uniform(1.5, 5)), rng.uniform(0.5, 2), 0.1)
        )
    picture = barked + (inner - barked) * naked[..., None]
    canvas.lay(cover, picture * np.clip(tone, 0.25, 1.4)[..., None], FLANK)


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


def _places_on(rng, slab):
    """(4, 2) mm: places on the face, spread along it."""
    along = (np.array([-0.33, 0.33, 0.0, 0.15]) + rng.uniform(-0.1, 0.1, 4)) * slab.length
    axis = np.array([np.cos(slab.angle), np.sin(slab.angle)])
    across = rng.uniform(-0.2, 0.2, 4) * slab.width
    return slab.centre + along[:, None] * axis + across[:, None] * np.array([-axis[1], axis[0]])


def _holes(rng, canvas, slab, shown, before, u, v, heart):
    """Through holes: the ground or the dark under the face, with the wall that the camera sees."""
    for _ in range(rng.choice([0, 1, 2], p=[0.65, 0.25, 0.1])):
        centre = _places_on(rng, slab)[rng.integers(4)]
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
            rng.uniform(-0.4, 0.4) * slab.width
            + wander(rng, n, 3) * rng.uniform(1, 8)
            + s * rng.normal(0, 0.04) * long
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


def _seen(rng, canvas, camera):
    """(h, w) bool: what the photo's frame showed of the plane; often everything."""
    h, w = canvas.label.shape
    if rng.random() < 0.55:
        return np.ones((h, w), bool)
    corners = np.array([[0, 0], [w, 0], [w, h], [0, h]], float)
    centre = np.array([w, h]) / 2
    spread = rng.uniform(0.8, 1.5) * (1 + rng.uniform(-0.2, 0.2, (4, 1)))
    frame = (corners - centre) @ np.array(
        [[np.cos(a := rng.normal(0, 0.3)), np.sin(a)], [-np.sin(a), np.cos(a)]]
    ) * spread + centre
    mask = np.zeros((h, w), np.uint8)
    cv2.fillPoly(mask, [np.round(frame + rng.normal(0, 0.08 * w, 2)).astype(np.int32)], 1)
    return mask > 0


def _side(rng, slab):
    """Beside the first slab, mostly clear of it."""
    side = np.array([-np.sin(slab.angle), np.cos(slab.angle)]) * rng.choice([-1, 1])
    return side * (slab.width * rng.uniform(1.1, 2.6) + 100) + rng.normal(0, 300) * np.array(
        [np.cos(slab.angle), np.sin(slab.angle)]
    )
