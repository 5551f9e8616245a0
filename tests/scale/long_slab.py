"""Drawn photos of a long slab on the floor, each pixel cast onto face, flank or ground: exact, quick, no path tracer.

The forward model is OpenCV's pinhole with radial distortion, and shares no code with the solution that it tests.
"""

import hashlib
from dataclasses import dataclass, field

import cv2
import numpy as np

from grainlog.photo import Photo
from grainlog.scale import card as scale_card
from grainlog.scale.detect import SeenCard
from grainlog.scale.model import View
from grainlog.scale.priors import HARD, Lens, Setup

LENGTH_MM, WIDTH_MM, THICKNESS_MM, LIFT_MM = 3400.0, 480.0, 60.0, 20.0
SIZE_PX = (1600, 1200)
FOCAL_35MM = 26.0
CARD_MM = 0.3


@dataclass(frozen=True)
class Stand:
    """Where a photographer stands: over (x, y), this high above the floor, leaning and turned, rad."""

    x: float
    y: float = -260.0
    height: float = 2050.0
    lean: float = 0.12
    turn: float = 0.0
    bright: float = 1.0


#: Cards on the floor, {number: (x, y, turn)}: two in the middle that both photos show, one at each end.
CARDS = {0: (-1380.0, -460.0, 0.2), 1: (-150.0, 470.0, 1.5), 2: (190.0, -480.0, -0.1), 3: (1400.0, 450.0, 1.7)}
LEFT, RIGHT = Stand(-760.0, turn=0.02), Stand(780.0, height=1980.0, lean=0.1, turn=-0.03, bright=0.85)


SETUP = Setup("floor", thickness_mm=THICKNESS_MM, lift_mm=LIFT_MM, card_thickness_mm=CARD_MM, ground=HARD)


@dataclass(frozen=True)
class LongSlab:
    """A slab of the wood `seed`, with cards round it; `moved` displaces cards, and "slab", by (dx, dy)."""

    seed: int = 1
    cards: dict = field(default_factory=lambda: dict(CARDS))

    @property
    def outline(self) -> np.ndarray:
        """(n, 2) mm, anticlockwise: the wood edge, world x and y."""
        rng = np.random.default_rng(self.seed)
        t = np.linspace(0, 1, 200)
        wave = lambda: sum(rng.normal(0, 14 / k) * np.sin(2 * np.pi * k * t + rng.uniform(0, 6)) for k in range(1, 6))
        x = (t - 0.5) * LENGTH_MM
        lower, upper = -WIDTH_MM / 2 + wave(), WIDTH_MM / 2 + wave()
        return np.vstack([np.column_stack([x, lower]), np.column_stack([x[::-1], upper[::-1]])])

    def photo(self, stand: Stand, name: str = "photo.jpg", moved: dict | None = None) -> Photo:
        """What the camera sees from `stand`."""
        moved = moved or {}
        matrix, bend, rotation, eye = _camera(stand)
        columns, rows = np.meshgrid(np.arange(SIZE_PX[0], dtype=np.float32), np.arange(SIZE_PX[1], dtype=np.float32))
        flat = cv2.undistortPoints(np.stack([columns, rows], -1).reshape(-1, 1, 2), matrix, bend).reshape(-1, 2)
        rays = np.column_stack([flat, np.ones(len(flat), np.float32)]) @ rotation.astype(np.float32)
        shape = columns.shape

        def on(height: float) -> np.ndarray:
            return (eye[:2] + rays[:, :2] * ((height - eye[2]) / rays[:, 2])[:, None]).reshape(*shape, 2).astype(np.float32)

        shift = np.array(moved.get("slab", (0.0, 0.0)), np.float32)
        picture = _look(_ground(), on(0.0), (-3200.0, -2400.0), 4.0, cv2.BORDER_REFLECT)
        for number, (x, y, turn) in self.cards.items():
            dx, dy = moved.get(number, (0.0, 0.0))
            _lay_card(picture, on(CARD_MM), number, x + dx, y + dy, turn)
        face, foot = on(LIFT_MM + THICKNESS_MM) - shift, on(LIFT_MM) - shift
        wood = _inside(self.outline, face)
        flank = np.clip(_inside(self.outline, foot) - wood, 0, 1)[..., None]
        picture[:] = picture * (1 - flank) + flank * np.array([52.0, 40.0, 31.0])
        grain = _look(_grain(self.seed), face, (-LENGTH_MM / 2 - 50, -400.0), 1.0, cv2.BORDER_REFLECT)
        picture[:] = picture * (1 - wood[..., None]) + grain * wood[..., None]
        noise = np.random.default_rng(self.seed + 5).normal(0, 1.5, picture.shape).astype(np.float32)
        pixels = np.clip(cv2.GaussianBlur(picture, (0, 0), 0.6) * stand.bright + noise + 0.5, 0, 255).astype(np.uint8)
        return Photo(
            pixels, *SIZE_PX, hashlib.sha256(pixels.tobytes()).hexdigest(), name, None, None, None, FOCAL_35MM, ()
        )

    def view(self, stand: Stand, moved: dict | None = None, noise_px: float = 0.0, seed: int = 0) -> View:
        """What the solution is given of such a photo: every card that lies wholly in the frame, corners exact or noisy."""
        matrix, bend, rotation, eye = _camera(stand)
        rng, seen = np.random.default_rng(seed), []
        for number, (x, y, turn) in self.cards.items():
            dx, dy = (moved or {}).get(number, (0.0, 0.0))
            spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])

            def project(points: np.ndarray, spin=spin, at=(x + dx, y + dy)) -> np.ndarray:
                world = np.column_stack([points @ spin.T + at, np.full(len(points), CARD_MM)])
                return cv2.projectPoints(world, cv2.Rodrigues(rotation)[0], -rotation @ eye, matrix, bend)[0].reshape(-1, 2)

            rim = project(scale_card.outline())
            if (rim > 2).all() and (rim < np.array(SIZE_PX) - 3).all():
                corners = project(scale_card.inner_corners())
                corners = corners + rng.normal(0, 1, corners.shape) * noise_px
                seen.append(SeenCard(number, np.arange(len(corners)), corners, 20.0))
        return View(tuple(seen), SIZE_PX, Lens.from_metadata(FOCAL_35MM))

    def outline_px(self, stand: Stand) -> np.ndarray:
        """(n, 2) px: where the wood edge is in the photo from `stand`."""
        matrix, bend, rotation, eye = _camera(stand)
        ring = np.column_stack([self.outline, np.full(len(self.outline), LIFT_MM + THICKNESS_MM)])
        return cv2.projectPoints(ring, cv2.Rodrigues(rotation)[0], -rotation @ eye, matrix, bend)[0].reshape(-1, 2)


def _camera(stand: Stand):
    focal = FOCAL_35MM / 43.2666 * np.hypot(*SIZE_PX)
    matrix = np.array([[focal, 0, (SIZE_PX[0] - 1) / 2 + 4], [0, focal, (SIZE_PX[1] - 1) / 2 - 6], [0, 0, 1.0]])
    down = np.diag([1.0, -1.0, -1.0])
    lean = cv2.Rodrigues(np.array([-stand.lean, 0.0, 0.0]))[0]
    turn = cv2.Rodrigues(np.array([0.0, 0.0, stand.turn]))[0]
    return matrix, np.array([0.01, -0.004, 0.0, 0.0]), lean @ down @ turn, np.array([stand.x, stand.y, stand.height])


def _look(picture: np.ndarray, places: np.ndarray, first_mm, mm_per_px: float, border: int) -> np.ndarray:
    at = (places - np.array(first_mm, np.float32)) / np.float32(mm_per_px)
    return cv2.remap(picture, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=border)


def _ground() -> np.ndarray:
    rng = np.random.default_rng(77)
    rough = cv2.GaussianBlur(rng.normal(0, 1, (1200, 1600)).astype(np.float32), (0, 0), 1.2)
    grey = 118 + 26 * rough / rough.std() * 0.5
    return np.stack([grey, grey, grey * 0.97], -1).astype(np.float32)


def _grain(seed: int) -> np.ndarray:
    """(h, w, 3) float32: streaks along the slab, a little darker in the middle, 1 mm a pixel."""
    rng = np.random.default_rng(seed + 100)
    shape = (800, round(LENGTH_MM) + 100)
    fine = cv2.GaussianBlur(rng.normal(0, 1, shape).astype(np.float32), (0, 0), 25, sigmaY=1.2)
    broad = cv2.GaussianBlur(rng.normal(0, 1, shape).astype(np.float32), (0, 0), 200, sigmaY=14)
    tone = 1 + 0.10 * fine / fine.std() + 0.06 * broad / broad.std()
    for x, y in rng.uniform([200, 250], [LENGTH_MM - 200, 550], (14, 2)):
        cv2.circle(tone, (round(x), round(y)), int(rng.integers(8, 20)), 0.6, -1)
    return (cv2.GaussianBlur(tone, (0, 0), 1.0)[..., None] * np.array([176.0, 126.0, 78.0])).astype(np.float32)


def _lay_card(picture: np.ndarray, places: np.ndarray, number: int, x: float, y: float, turn: float) -> None:
    drawn = cv2.cvtColor(cv2.GaussianBlur(scale_card.raster(number, 4), (0, 0), 1.3), cv2.COLOR_GRAY2RGB).astype(np.float32)
    cos, sin = np.cos(turn), np.sin(turn)
    near = np.argwhere(np.abs(places - np.array([x, y], np.float32)).max(-1) < scale_card.HEIGHT_MM)
    if not len(near):
        return
    window = tuple(slice(low, high + 1) for low, high in zip(near.min(0), near.max(0)))
    picture, places = picture[window], places[window]
    local = (places - np.array([x, y], np.float32)) @ np.array([[cos, -sin], [sin, cos]], np.float32)
    low, high = scale_card.print_to_card(np.array([[0.0, 0.0], [scale_card.WIDTH_MM, scale_card.HEIGHT_MM]]))
    at = (local - low) / (high - low) * np.array(drawn.shape[1::-1]) - 0.5
    at = at.astype(np.float32)
    card = cv2.remap(drawn, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    inside = ((at > 0) & (at < np.array(drawn.shape[1::-1]) - 1)).all(-1)
    picture[inside] = card[inside] * 0.85 + 15


def _inside(outline: np.ndarray, places: np.ndarray) -> np.ndarray:
    """(h, w) float32 0..1: how much of each pixel lies inside, by a mask of half a millimetre."""
    size = 0.5
    low = outline.min(0) - 20
    shape = np.ceil((np.ptp(outline, 0) + 40) / size).astype(int)[::-1]
    ring = np.round(((outline - low) / size - 0.5) * 16).astype(np.int32)
    mask = cv2.fillPoly(np.zeros(shape, np.uint8), [ring], 255, shift=4, lineType=cv2.LINE_AA)
    at = ((places - low) / size - 0.5).astype(np.float32)
    return cv2.remap(mask.astype(np.float32) / 255, at[..., 0], at[..., 1], cv2.INTER_LINEAR)
