"""What lies on a sawn face and is no check: pencil, sticker stain, tag, bark pockets, pith, streaks, wet patches, saw scratches.

All of it is drawn on the painted face, in the slab frame, from one seed. Strengths by eye, no source.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
import shapely

from . import noise
from .solid import Solid
from .wood import LOOKS, FacePicture


@dataclass(frozen=True)
class Marks:
    """How many of each; `saw` is the strength of scratches across the grain, 0 to 1; `lines` are streaks as fine as checks."""

    seed: int
    pencil: int = 0
    stain: int = 0
    tags: int = 0
    bark_pockets: int = 0
    pith: int = 0
    streaks: int = 0
    wet_patches: int = 0
    saw: float = 0.0
    lines: int = 0


def draw(picture: FacePicture, built: Solid, species: str, marks: Marks) -> FacePicture:
    """`picture` with the marks on it; the checks must be painted again over it by whoever wants them on top."""
    rng = np.random.default_rng(marks.seed)
    sheet = _Sheet(picture, built, rng)
    for _ in range(marks.wet_patches):
        sheet.wet_patch()
    for _ in range(marks.stain):
        sheet.sticker_stain()
    if marks.saw:
        sheet.scratches(marks.saw)
    for _ in range(marks.pith):
        sheet.pith()
    for _ in range(marks.streaks):
        sheet.streak()
    for _ in range(marks.lines):
        sheet.line()
    for _ in range(marks.bark_pockets):
        sheet.bark_pocket(np.array(LOOKS[species].bark_cut, np.float32) / 255)
    for _ in range(marks.tags):
        sheet.tag(built.checks)
    for _ in range(marks.pencil):
        sheet.pencil()
    return replace(picture, wood=np.clip(sheet.wood, 0.012, 0.97), gloss=sheet.gloss)


class _Sheet:
    """The picture being drawn on; positions in mm, slab frame."""

    def __init__(self, picture: FacePicture, built: Solid, rng):
        self.wood, self.gloss, self.rng = picture.wood.copy(), picture.gloss.copy(), rng
        self.origin, self.size = np.array(picture.origin_mm), np.array(picture.size_mm)
        self.mm = picture.size_mm[0] / picture.wood.shape[1]
        self.inner = built.wood.buffer(-15)
        self.bounds = np.array(self.inner.bounds).reshape(2, 2)

    def place(self) -> np.ndarray:
        """A point on the face."""
        for _ in range(200):
            at = self.rng.uniform(*self.bounds)
            if self.inner.contains(shapely.Point(at)):
                return at
        return self.bounds.mean(0)

    def window(self, low, high):
        """Slices of the picture around a box of mm, and mm coordinates in it; None outside."""
        h, w = self.wood.shape[:2]
        left, right = (int((x - self.origin[0]) / self.mm) for x in (low[0], high[0]))
        top, bottom = (int((self.origin[1] - y) / self.mm) for y in (high[1], low[1]))
        left, right, top, bottom = max(0, left), min(w, right + 2), max(0, top), min(h, bottom + 2)
        if right - left < 2 or bottom - top < 2:
            return None
        x = (self.origin[0] + (np.arange(left, right) + 0.5) * self.mm)[None, :]
        y = (self.origin[1] - (np.arange(top, bottom) + 0.5) * self.mm)[:, None]
        return (slice(top, bottom), slice(left, right)), x, y

    def tone(self, where, cover, factor):
        """Multiply by `factor` (scalar or colour) where `cover` is 1."""
        self.wood[where] *= 1 - cover[..., None] * (1 - np.asarray(factor, np.float32))

    def stroke(self, points: np.ndarray, width: float, factor):
        """A line of constant width through points (n, 2) mm, its edges as sharp as the picture."""
        for a, b in zip(points[:-1], points[1:], strict=True):
            got = self.window(np.minimum(a, b) - width - 1, np.maximum(a, b) + width + 1)
            if got is None:
                continue
            where, x, y = got
            run = b - a
            along = np.clip(((x - a[0]) * run[0] + (y - a[1]) * run[1]) / max(run @ run, 1e-9), 0, 1)
            away = np.hypot(x - a[0] - along * run[0], y - a[1] - along * run[1])
            cover = np.clip((width / 2 - away) / self.mm + 0.5, 0, 1).astype(np.float32)
            self.tone(where, cover, factor)

    def pencil(self):
        """A pencil line: a straight one across, along or askew, an arrow, or a scrawled figure."""
        rng, at = self.rng, self.place()
        width, grey = rng.uniform(0.5, 1.3), rng.uniform(0.35, 0.75)
        kind = rng.integers(4)
        turn = [np.pi / 2 + rng.normal(0, 0.15), rng.normal(0, 0.06), rng.uniform(0, np.pi), 0.0][kind]
        long = rng.uniform(60, 320)
        way = np.array([np.cos(turn), np.sin(turn)])
        if kind < 3:
            self.stroke(np.array([at, at + way * long]), width, grey)
            if rng.random() < 0.4:
                side = np.array([-way[1], way[0]])
                self.stroke(np.array([at + way * 18 + side * 9, at, at + way * 18 - side * 9]), width, grey)
            return
        t = np.linspace(0, 1, 24)
        size = rng.uniform(15, 45)
        figure = np.column_stack([noise.line(t, 0.3, rng), noise.line(t, 0.3, rng)]) * size * 0.5
        self.stroke(at + figure, width, grey)

    def sticker_stain(self):
        """The shadow that a sticker leaves: a band across, its edges soft."""
        rng = self.rng
        x0, half, skew = self.place()[0], rng.uniform(13, 24), rng.normal(0, 0.03)
        where, x, y = self.window(self.origin - [0, self.size[1]], self.origin + [self.size[0], 0])
        edge = rng.uniform(1.0, 6.0)
        away = half - np.abs(x - x0 - skew * y)
        self.tone(where, noise.smoothstep(away, -edge, edge).astype(np.float32), rng.uniform(0.70, 0.93) * np.ones(3))

    def scratches(self, strength):
        """Deep single saw scratches across the grain, straight or slightly bowed, of chain or band."""
        rng = self.rng
        bow = rng.normal(0, 6e-5)
        where, x, y = self.window(self.origin - [0, self.size[1]], self.origin + [self.size[0], 0])
        skew = rng.normal(0, 0.06)
        position = (x + skew * y + bow * y**2).astype(np.float32)
        line = np.zeros(position.shape, np.float32)
        for _ in range(int(strength * self.size[0] / 14)):
            at, wide = rng.uniform(self.origin[0], self.origin[0] + self.size[0]), rng.uniform(0.4, 1.1)
            low, high = np.sort(rng.uniform(self.bounds[0, 1], self.bounds[1, 1], 2))
            column = np.flatnonzero((x[0] > at - 40) & (x[0] < at + 40))
            if len(column) < 2:
                continue
            part = slice(column[0], column[-1] + 1)
            fade = noise.smoothstep(np.minimum(y - low, high - y), 0, 25)
            cover = np.clip((wide / 2 - np.abs(position[:, part] - at)) / self.mm + 0.5, 0, 1) * fade
            line[:, part] = np.maximum(line[:, part], rng.uniform(0.1, 0.45) * cover)
        self.tone(where, line, 0.25 * np.ones(3))

    def _lens(self, at, long, wide, ragged, slope):
        """Signed depth inside a lens along the grain, mm (negative outside), in its window."""
        rng = self.rng
        got = self.window(at - [long, wide * 3 + 30], at + [long, wide * 3 + 30])
        if got is None:
            return None
        where, x, y = got
        t = (x[0] - at[0]) / (long / 2)
        half = wide / 2 * np.sqrt(np.clip(1 - t**2, 0, None)) * (1 + ragged * noise.line(x[0], 12, rng))
        middle = at[1] + slope * (x[0] - at[0]) + noise.line(x[0], 90, rng) * 1.2
        return where, np.where(np.abs(t) < 1, half[None, :], -3) - np.abs(y - middle[None, :])

    def bark_pocket(self, bark):
        """Bark grown in: a ragged dark brown lens."""
        rng = self.rng
        got = self._lens(self.place(), rng.uniform(20, 80), rng.uniform(4, 14), 0.3, rng.normal(0, 0.2))
        if got is None:
            return
        where, depth = got
        cover = noise.smoothstep(depth, -0.8, 1.2).astype(np.float32)
        speck = noise.field(cover.shape, (4, 8), rng)[..., None] * 0.25
        self.wood[where] += cover[..., None] * (bark * (1 + speck) - self.wood[where])

    def streak(self):
        """A mineral streak: a soft dark lens along the grain, at times as narrow as a check."""
        rng = self.rng
        got = self._lens(self.place(), rng.uniform(30, 400), rng.uniform(1.0, 9.0), 0.2, rng.normal(0, 0.03))
        if got is None:
            return
        where, depth = got
        soft = rng.uniform(0.8, 3.0)
        tint = rng.uniform(0.42, 0.85) * np.array([1.0, 0.97, rng.uniform(0.88, 1.02)], np.float32)
        self.tone(where, noise.smoothstep(depth, -soft, soft).astype(np.float32), tint)

    def line(self):
        """A dark line of the grain, as fine as a check and not as dark."""
        rng = self.rng
        got = self._lens(self.place(), rng.uniform(25, 250), rng.uniform(0.6, 2.4), 0.2, rng.normal(0, 0.04))
        if got is None:
            return
        where, depth = got
        soft = rng.uniform(0.3, 1.2)
        tint = rng.uniform(0.4, 0.75) * np.array([1.0, 0.97, rng.uniform(0.85, 1.02)], np.float32)
        self.tone(where, noise.smoothstep(depth, -soft, soft).astype(np.float32), tint)

    def pith(self):
        """The pith where the saw met it: a wavering band of a few mm, darker or paler."""
        rng = self.rng
        got = self._lens(self.place(), rng.uniform(250, 1500), rng.uniform(2, 5), 0.25, rng.normal(0, 0.01))
        if got is None:
            return
        where, depth = got
        tint = rng.choice([rng.uniform(0.6, 0.85), rng.uniform(1.1, 1.3)]) * np.array([1.0, 0.98, 0.94], np.float32)
        self.tone(where, noise.smoothstep(depth, -0.6, 0.9).astype(np.float32), tint)

    def wet_patch(self):
        """A patch that is still wet: darker, glossy, with a clear edge."""
        rng, at = self.rng, self.place()
        reach = rng.uniform(60, 260)
        got = self.window(at - reach * 1.5, at + reach * 1.5)
        if got is None:
            return
        where, x, y = got
        rim = np.hypot((x - at[0]) / 1.4, y - at[1]) / reach + 0.25 * noise.field(self.wood[where].shape[:2], (90, 160), rng)
        cover = noise.smoothstep(-rim, -0.8, -0.8 + rng.uniform(0.01, 0.12)).astype(np.float32)
        self.tone(where, cover, rng.uniform(0.72, 0.9) * np.ones(3))
        self.gloss[where] += cover * (0.22 - self.gloss[where])

    def tag(self, checks):
        """A white label with a dark block and large figures, level with the face and clear of the checks."""
        rng = self.rng
        for _ in range(100):
            at = self.place()
            if all(shapely.LineString(check.path).distance(shapely.Point(at)) > 60 for check in checks):
                break
        wide, high, turn = 92.0, 54.0, rng.normal(0, 0.15)
        label = np.full((216, 368), 255, np.uint8)
        cv2.rectangle(label, (20, 28), (176, 184), 20, -1)
        for row in range(5):
            for column in range(5):
                if rng.random() < 0.5:
                    cv2.rectangle(label, (46 + 22 * column, 54 + 22 * row), (66 + 22 * column, 74 + 22 * row), 255, -1)
        cv2.putText(label, str(rng.integers(10, 99)), (196, 140), cv2.FONT_HERSHEY_SIMPLEX, 3.2, 15, 14)
        got = self.window(at - 60, at + 60)
        if got is None:
            return
        where, x, y = got
        u = (x - at[0]) * np.cos(turn) + (y - at[1]) * np.sin(turn)
        v = (y - at[1]) * np.cos(turn) - (x - at[0]) * np.sin(turn)
        px = ((u / wide + 0.5) * 368 - 0.5).astype(np.float32), ((0.5 - v / high) * 216 - 0.5).astype(np.float32)
        shown = cv2.remap(cv2.GaussianBlur(label, (0, 0), 1.0), *px, cv2.INTER_LINEAR, borderValue=255)
        inside = np.minimum(wide / 2 - np.abs(u), high / 2 - np.abs(v))
        cover = np.clip(inside / self.mm + 0.5, 0, 1).astype(np.float32)[..., None]
        self.wood[where] += cover * (0.03 + 0.87 * shown[..., None] / 255.0 - self.wood[where])
