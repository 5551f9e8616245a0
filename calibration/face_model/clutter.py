"""Things that lie about: battens, boots, tools, cords, buckets, seats, sheets of paper, cards."""

import cv2
import numpy as np

from grainlog.scale import card as scale_card

from . import palettes
from .tiles import cloud, read, speck, wander

SHIFT = 4


class Canvas:
    """A picture in the making, with its labels; positions in mm, drawn with soft edges.

    rgb : (h, w, 3) float32 sRGB 0..1
    label : (h, w) uint8
    """

    def __init__(self, rgb, label, mm_per_px, origin):
        self.rgb, self.label, self.mm_per_px, self.origin = (rgb, label, mm_per_px, np.asarray(origin, float))

    def window(self, points: np.ndarray) -> "Canvas":
        """The part of the canvas around some points (with a margin), sharing its pixels; `part` says which."""
        h, w = self.label.shape
        at = self.px(points)
        left, top = np.clip(np.floor(at.min(0)).astype(int) - 8, 0, [w, h])
        right, bottom = np.clip(np.ceil(at.max(0)).astype(int) + 8, 0, [w, h])
        part = (slice(top, max(top, bottom)), slice(left, max(left, right)))
        inner = Canvas(
            self.rgb[part], self.label[part], self.mm_per_px, self.origin + np.array([left, -top]) * self.mm_per_px
        )
        inner.part = part
        return inner

    def px(self, mm) -> np.ndarray:
        """(n, 2) mm (y up) to (column, row)."""
        return (np.asarray(mm, float) - self.origin) / [self.mm_per_px, -self.mm_per_px]

    def cover(self, *rings) -> np.ndarray:
        """(h, w) float32 0..1: how much of each pixel the rings cover (twice the resolution, softened)."""
        h, w = self.label.shape
        big = np.zeros((2 * h, 2 * w), np.uint8)
        for ring in rings:
            at = np.clip((self.px(ring) + 0.5) * 2 - 0.5, -20000, 20000)
            cv2.fillPoly(big, [np.round(at * (1 << SHIFT)).astype(np.int32)], 255, shift=SHIFT)
        return cv2.resize(big, (w, h), interpolation=cv2.INTER_AREA).astype(np.float32) * np.float32(1 / 255)

    def lay(self, cover: np.ndarray, colour, label: int | None) -> None:
        """Lay a colour (or picture) over the canvas; the label changes where it covers half or more."""
        part = _window(cover)
        colour = np.asarray(colour, np.float32)
        colour = colour[part] if colour.ndim == 3 else colour
        self.rgb[part] += (colour - self.rgb[part]) * cover[part][..., None]
        if label is not None:
            self.label[part][cover[part] >= 0.5] = label

    def shade(self, cover: np.ndarray, tone) -> None:
        """Darken by `tone` where covered."""
        part = _window(cover)
        self.rgb[part] *= 1 + (np.asarray(tone, np.float32) - 1) * cover[part][..., None]


def _window(cover: np.ndarray) -> tuple[slice, slice]:
    """The least window of a picture that holds all that is covered."""
    left, top, wide, high = cv2.boundingRect((cover > 0).astype(np.uint8))
    return slice(top, top + high), slice(left, left + wide)


def box(centre, size, angle):
    c, s = np.cos(angle), np.sin(angle)
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * np.asarray(size) / 2
    return corners @ np.array([[c, s], [-s, c]]) + centre


def blob(rng, centre, size, rough=0.15):
    n = 40
    turn = np.linspace(0, 2 * np.pi, n, endpoint=False)
    away = 1 + rough * wander(rng, n, 4, 2)
    away = away * 0.5 + away[::-1] * 0.5
    return (
        np.column_stack([np.cos(turn), np.sin(turn)])
        * away[:, None]
        * np.asarray(size)
        / 2
        @ _turn(rng.uniform(0, 6.3))
        + centre
    )


def _turn(angle):
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, s], [-s, c]])


def shadowed(canvas: Canvas, rings, light, height) -> None:
    """Darken where the rings, so high above the ground, cast their shadow."""
    dark = cv2.GaussianBlur(canvas.cover(*[ring + light * height for ring in rings]), (0, 0), 1.2)
    canvas.shade(dark, 0.55)


def thing(rng, canvas: Canvas, centre, light: np.ndarray, other: int) -> None:
    """One random thing on the ground at `centre`, with its shadow."""
    kind = rng.choice(["batten", "batten", "tool", "cord", "bucket", "boot", "block", "branch"])
    colour = rng.uniform(0.03, 0.95, 3) if rng.random() < 0.6 else np.full(3, rng.uniform(0.03, 0.9))
    angle = rng.uniform(0, 6.3)
    if kind == "batten":
        batten(rng, canvas, centre, angle, rng.uniform(300, 1800), light, other)
    elif kind == "tool":
        handle = box(centre, (rng.uniform(200, 1200), rng.uniform(18, 45)), angle)
        head = box(handle[1:3].mean(0), rng.uniform(60, 260, 2), angle)
        shadowed(canvas, (handle, head), light, 40)
        canvas.lay(canvas.cover(handle), palettes.pick(rng, False)[1] if rng.random() < 0.5 else colour, other)
        canvas.lay(canvas.cover(head), rng.uniform(0.05, 0.8, 3), other)
    elif kind in ("cord", "branch"):
        n = 60
        line = np.column_stack(
            [np.linspace(-1, 1, n) * rng.uniform(300, 1500), wander(rng, n, 4) * rng.uniform(20, 250)]
        )
        line = line @ _turn(angle) + centre
        wide = rng.uniform(6, 30) if kind == "cord" else rng.uniform(10, 60)
        ring = np.vstack([line + [0, wide / 2], (line - [0, wide / 2])[::-1]])
        shadowed(canvas, (ring,), light, 15)
        canvas.lay(canvas.cover(ring), colour if kind == "cord" else palettes.pick(rng, False)[1] * 0.7, other)
    else:
        size = rng.uniform(90, 350, 2)
        rings = [blob(rng, centre, size), blob(rng, centre + light * 30, size * 0.8)]
        if kind == "block":
            rings = [box(centre, size, angle), box(centre + rng.normal(0, 25, 2), size, angle)]
        if kind == "boot":
            rings = [blob(rng, centre + side, (300, 105)) for side in ([0, 0], rng.uniform(-200, 200, 2))]
        shadowed(canvas, rings, light, 80)
        for k, ring in enumerate(rings):
            canvas.lay(canvas.cover(ring), colour * (1 + 0.3 * k if kind != "boot" else 1), other)


def batten(rng, canvas: Canvas, centre, angle, length, light, other, wide=None, shadow=True) -> None:
    """A strip of sawn wood, drawn with fibre."""
    ring = box(centre, (length, wide or rng.uniform(18, 110)), angle)
    if shadow:
        shadowed(canvas, (ring,), light, 25)
    colour = palettes.pick(rng, False)[1 + rng.integers(2)]
    h, w = canvas.label.shape
    at = rng.integers(0, 200, 2)
    grain = cv2.resize(np.ascontiguousarray(speck()[at[0] : at[0] + 128, at[1] : at[1] + 24]), (w, h))
    canvas.lay(canvas.cover(ring), colour * (1 + rng.uniform(0, 0.1) * grain)[..., None], other)


def seats(rng, canvas: Canvas, centre, x, y, light, other: int) -> None:
    """A row of large smooth dark things with seams and gloss: seats, bins, cases, cushions."""
    angle, size = rng.uniform(0, 6.3), rng.uniform(250, 800, 2)
    axis = np.array([np.cos(angle), np.sin(angle)])
    base = rng.uniform(0.02, 0.3) * rng.normal(1, 0.08, 3) * [1, 1, rng.uniform(0.75, 1.1)]
    for k in range(rng.integers(1, 4)):
        ring = box(centre + k * axis * size[0] * rng.uniform(1.0, 1.1), size, angle)
        shadowed(canvas, (ring,), light, 120)
        folds = read(cloud(2.2), x, y, rng, rng.uniform(1.5, 5))
        sheen = rng.uniform(0, 0.5) * np.clip(folds - rng.uniform(0.3, 1.5), 0, 1)
        cover = canvas.cover(ring)
        canvas.lay(cover, (base * (1 + rng.uniform(0.03, 0.3) * folds)[..., None] + sheen[..., None]), other)
        seam = cv2.GaussianBlur(cover, (0, 0), rng.uniform(4, 20) / canvas.mm_per_px)
        canvas.shade(cover * (1 - seam) * 2, rng.uniform(0.3, 1.3))


def paper(rng, canvas: Canvas, centre, label: int) -> None:
    """A sheet, a label or a tag with some print on it; not a scale card."""
    size = np.array(rng.choice([[60, 40], [90, 60], [210, 297], [150, 100], [216, 279]])) * rng.uniform(0.8, 1.1)
    angle = rng.uniform(0, 6.3)
    colour = np.full(3, rng.uniform(0.75, 1.0)) if rng.random() < 0.8 else rng.uniform(0.4, 1, 3)
    canvas.lay(canvas.cover(box(centre, size, angle)), colour, label)
    ink = rng.uniform(0, 0.4, 3)
    for _ in range(rng.integers(0, 8)):
        part = rng.uniform(-0.4, 0.4, 2) * size * 0.7 @ _turn(angle)
        canvas.lay(canvas.cover(box(centre + part, size * rng.uniform(0.05, 0.25, 2), angle)), ink, label)


def card(rng, canvas: Canvas, camera, centre, depth: float, label: int) -> np.ndarray:
    """A scale card `depth` mm below the face plane; returns its outline as seen, (4, 2) mm."""
    picture = scale_card.raster(int(rng.integers(10)), 2).astype(np.float32) / 255
    angle = rng.uniform(0, 6.3)
    size = np.array([scale_card.WIDTH_MM, scale_card.HEIGHT_MM])
    plan = (np.array([[-1, 1], [1, 1], [1, -1], [-1, -1]]) * size / 2) @ _turn(angle) + centre
    seen = camera.shown(plan, depth)
    at = canvas.px(seen).astype(np.float32)
    h, w = canvas.label.shape
    corners = np.array([[0, 0], [400, 0], [400, 540], [0, 540]], np.float32) - 0.5
    soft = cv2.GaussianBlur(picture, (0, 0), max(0.3, canvas.mm_per_px * 2 / 2.5))
    print_ = cv2.warpPerspective(
        soft, cv2.getPerspectiveTransform(corners, at), (w, h), flags=cv2.INTER_LINEAR, borderValue=1.0
    )
    ink, white = rng.uniform(0.02, 0.2), rng.uniform(0.75, 1.0)
    tone = (ink + (white - ink) * print_)[..., None] * rng.normal(1, 0.02, 3)
    canvas.lay(canvas.cover(seen), tone, label)
    return seen
