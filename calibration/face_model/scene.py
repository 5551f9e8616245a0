"""One generated flat view with its exact labels, from one seed."""

from dataclasses import dataclass

import cv2
import numpy as np

from grainlog.scale.flat import FlatView

from . import palettes
from .body import lay_slab
from .classes import CARD, CLASSES, FLANK, IGNORE, OTHER, VOID, WOOD
from .clutter import Canvas, blob, box, card, paper, seats, thing
from .grounds import ground, strew
from .light import illuminate, photograph
from .over import figure, hide, person
from .shape import Camera, grow

__all__ = ["CARD", "CLASSES", "FLANK", "IGNORE", "OTHER", "VOID", "WOOD", "Sample", "make"]


@dataclass(frozen=True)
class Sample:
    """A view and its truth.

    rgb : (n, n, 3) uint8; cards, seen : (n, n) bool
    label : (n, n) uint8, index into CLASSES, IGNORE where nothing is seen
    hidden : (n, n) bool, where a face goes on behind something that lies or stands over it (no card, no paper)
    camera : (3,) float32, foot (column, row) and height, all in pixels
    outlines : tuple of (4, 2) float64, the cards as seen, mm, y up, the first pixel's centre at (-n/2, n/2) pixels
    on_face : tuple of bool, which of them lie on the slab
    """

    rgb: np.ndarray
    cards: np.ndarray
    seen: np.ndarray
    label: np.ndarray
    hidden: np.ndarray
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


def make(seed: int, held_out: bool = False, side: int = 448, textures: str | None = None, hiding: float = 0.26) -> Sample:
    """The view of a seed: the same every time.

    held_out : bool
        Only palettes and photographed grounds that training never shows.
    textures : str, optional
        Folder of photographed grounds; without it all grounds are drawn.
    hiding : float
        Chance that something is put over the slab or close by it.
    """
    rng = np.random.default_rng([seed, int(held_out), 20251])
    mm = float(np.exp(rng.uniform(np.log(3.2), np.log(6.5))))
    half = side * mm / 2
    columns, rows = np.meshgrid(np.arange(side, dtype=np.float32), np.arange(side, dtype=np.float32))
    x, y = (columns - side / 2) * np.float32(mm), (side / 2 - rows) * np.float32(mm)
    height = rng.uniform(1300, 3600)
    lean = height * np.tan(rng.choice([rng.uniform(0, 0.35), rng.uniform(0.35, 1.05)], p=[0.4, 0.6]))
    way = rng.uniform(0, 6.3)
    camera = Camera(np.array([np.cos(way), np.sin(way)]) * lean + rng.normal(0, 150, 2), height)
    angle = rng.uniform(0, 6.3)
    lift = rng.choice([0.0, rng.uniform(10, 60), rng.uniform(60, 250), rng.uniform(500, 900)], p=[0.4, 0.35, 0.15, 0.1])
    away = 0.35 * half if rng.random() < 0.7 else 0.9 * half
    slab = grow(rng, rng.uniform(-away, away, 2), angle, lift)
    deep = slab.thickness + lift
    sink = np.float32((camera.height + deep) / camera.height)  # the ground shows smaller: it is farther away
    gx = (x - np.float32(camera.foot[0])) * sink + np.float32(camera.foot[0])
    gy = (y - np.float32(camera.foot[1])) * sink + np.float32(camera.foot[1])
    colours = palettes.pick(rng, held_out)
    if rng.random() < 0.15:
        colours = palettes.paler_sap(rng, colours)
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
    if rng.random() < 0.08:
        seats(rng, canvas, where(1.1), x, y, light, OTHER)
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
    on_face = slab.places(rng)
    slabs = np.isin(canvas.label, (WOOD, VOID))
    if rng.random() < 0.35:
        canvas.rgb = np.where((face & (rng.random() < 0.7))[..., None], strew(rng, canvas.rgb, x, y), canvas.rgb)
    for place in on_face[: rng.choice([0, 0, 1, 2])]:
        seen_cards.append(card(rng, canvas, camera, place, 0.0, CARD))
    if rng.random() < 0.2:
        paper(rng, canvas, on_face[2], CARD)
    illuminate(rng, canvas, x, y, face)
    for _ in range(rng.choice([0, 1, 2], p=[1 - hiding, 0.8 * hiding, 0.2 * hiding])):
        hide(
            rng, canvas, camera, slab, deep, x, y, light, OTHER,
            lambda: ground(rng, gx, gy, mm, held_out, textures, None)[1],
        )  # fmt: skip
    if rng.random() < 0.06:  # somebody about, with or without slab behind
        if rng.random() < 0.7:
            person(rng, canvas, camera, where(1.1), deep, x, y, light, OTHER)
        else:
            figure(rng, canvas, where(1.1), x, y, light, OTHER)
    hidden = slabs & (canvas.label == OTHER)
    far = np.hypot(x - np.float32(camera.foot[0]), y - np.float32(camera.foot[1])) / np.float32(height)
    rgb = photograph(rng, canvas.rgb, min(1.0, lean / height), far)
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
    outlines, lies_on_face = (tuple(ring for ring, _ in told), tuple(on for _, on in told))
    camera_px = np.array([*foot, height / mm], np.float32)
    return Sample(
        rgb, cards, seen, label, hidden & seen, camera_px, mm, name, colours[0], slab.form, outlines, lies_on_face
    )


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
