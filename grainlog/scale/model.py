"""The joint problem: one vector of unknowns, one vector of whitened residuals.

World frame: millimetres, z = 0 is the plane that the floor cards' prints share (or, when every card lies on the
slab, the plane that those prints share), x to the right and y up as the first photo shows them, z towards the camera.

Every unknown that a prior speaks about is stored in units of that prior (so its prior residual is the number itself);
pose and card positions, about which nothing is believed, in convenient steps. `Problem.residuals` and everything below
it work on stacks of vectors, so a whole Jacobian is one call.
"""

from dataclasses import dataclass

import numpy as np

from grainlog.scale import card as scale_card
from grainlog.scale.camera import Camera
from grainlog.scale.detect import SeenCard
from grainlog.scale.priors import (
    FULL_FRAME_DIAGONAL_MM,
    HARD,
    USUAL_FOCAL_35MM,
    Ground,
    Lens,
    Setup,
)

HALF_PATTERN_MM = np.array([scale_card.PATTERN_WIDTH_MM, scale_card.PATTERN_HEIGHT_MM]) / 2

CAMERA = ("focal", "centre_x", "centre_y", "k1", "k2")
POSE = ("turn_x", "turn_y", "turn_z", "move_x", "move_y", "move_z")
CARD = ("x", "y", "yaw", "tilt_x", "tilt_y", "height", "curl_x", "curl_y")
SHARED = ("print_x", "print_y", "thickness", "rest", "face_tilt_x", "face_tilt_y")

#: Source of uncertainty that each prior belongs to, for the budget.
SOURCE = {
    "focal": "lens", "centre_x": "lens", "centre_y": "lens", "k1": "lens", "k2": "lens",
    "tilt_x": "card flatness", "tilt_y": "card flatness", "height": "card flatness",
    "curl_x": "card flatness", "curl_y": "card flatness",
    "print_x": "print", "print_y": "print",
    "thickness": "thickness", "rest": "height", "face_tilt_x": "tilt and cup", "face_tilt_y": "tilt and cup",
}  # fmt: skip
#: Source of uncertainty where a camera is only believed to look straight down.
LEAN = "camera lean"


@dataclass(frozen=True)
class View:
    """One photo's share in the problem: its cards, its size (width, height) in px, what is believed of its lens.

    corner_px : float or None
        Standard deviation of one corner coordinate; None: judged from how well each card fits itself.
    square_on : float or None
        How far the camera may lean from straight down, rad, standard deviation about each of two axes; None: nothing is
        believed of it, as it should be wherever the corners can tell.
    """

    cards: tuple[SeenCard, ...]
    size_px: tuple[int, int]
    lens: Lens
    corner_px: float | None = None
    square_on: float | None = None


@dataclass(frozen=True)
class Placing:
    """Start values: pose of each view, (rotation vector (3,), translation (3,)), focal lengths, card positions."""

    poses: tuple[tuple[np.ndarray, np.ndarray], ...]
    focals_px: tuple[float, ...]
    cards: dict[int, tuple[float, float, float]]


def turn(vector: np.ndarray) -> np.ndarray:
    """(..., 3) rotation vectors to (..., 3, 3) matrices (Rodrigues)."""
    angle = np.sqrt((vector * vector).sum(-1))[..., None, None]
    x, y, z = vector[..., 0], vector[..., 1], vector[..., 2]
    zero = np.zeros_like(x)
    cross = np.stack([np.stack([zero, -z, y], -1), np.stack([z, zero, -x], -1), np.stack([-y, x, zero], -1)], -2)
    square = angle * angle
    small = angle < 1e-4
    safe = np.where(small, 1.0, angle)
    first = np.where(small, 1 - square / 6, np.sin(safe) / safe)
    second = np.where(small, 0.5 - square / 24, (1 - np.cos(safe)) / (safe * safe))
    return np.eye(3) + first * cross + second * (cross @ cross)


class Problem:
    """Unknowns, priors and residuals for a list of views of one slab.

    views : list of View
    setup : Setup, with a ground
    placing : Placing
    corner_px : float
        Standard deviation of one corner coordinate, px.
    """

    def __init__(self, views: list[View], setup: Setup, placing: Placing, corner_px: float):
        self.views, self.setup, self.placing, self.corner_px = views, setup, placing, corner_px
        self.ground: Ground = setup.ground or HARD
        self.cards = sorted({seen.card for view in views for seen in view.cards})
        self.all_on_slab = all(setup.on_slab(card) for card in self.cards)
        self.names: list[tuple] = []
        for index in range(len(views)):
            self.names += [(name, "view", index) for name in CAMERA + POSE]
        self.names += [(name, "shared", 0) for name in SHARED]
        for card in self.cards:
            self.names += [(name, "card", card) for name in CARD]
        self.index = {name: i for i, name in enumerate(self.names)}
        fixed = {(name, "card", self.cards[0]) for name in ("x", "y", "yaw")}
        self.free = np.array([name not in fixed for name in self.names])
        self.believed = np.array([name[0] in SOURCE for name in self.names])
        self._observe()

    def _observe(self):
        """Gather corners of all views into flat arrays: which view, which card, where on the print, where in px."""
        view_of, card_of, print_mm, seen_px = [], [], [], []
        for index, view in enumerate(self.views):
            for seen in view.cards:
                view_of += [index] * len(seen.corner_ids)
                card_of += [self.cards.index(seen.card)] * len(seen.corner_ids)
                print_mm.append(seen.corners_mm)
                seen_px.append(seen.corners_px)
        self.view_of, self.card_of = np.array(view_of), np.array(card_of)
        self.print_mm, self.seen_px = np.vstack(print_mm), np.vstack(seen_px)
        self.slab_card = np.array([self.setup.on_slab(card) for card in self.cards])

    # Unknowns -----------------------------------------------------------------------------------------------------

    @property
    def start(self) -> np.ndarray:
        """(n,) the vector at the start values: all zero, every unknown is stored as a departure from its start."""
        values = np.zeros(len(self.names))
        for index, view in enumerate(self.views):
            values[self.index["focal", "view", index]] = (
                np.log(self.placing.focals_px[index] / self._prior_focal_px(view)) / view.lens.focal_spread
            )
        return values

    @staticmethod
    def _prior_focal_px(view: View) -> float:
        return focal_px(view.lens.focal_35mm or USUAL_FOCAL_35MM, view.size_px)

    def _get(self, vector: np.ndarray, kind: str, which: int, names: tuple[str, ...]) -> np.ndarray:
        first = self.index[names[0], kind, which]
        return vector[..., first : first + len(names)]

    def camera(self, vector: np.ndarray, index: int) -> Camera:
        """The camera of view `index` (for a stack of vectors, its numbers are stacks too)."""
        view = self.views[index]
        raw = self._get(vector, "view", index, CAMERA)
        width, height = view.size_px
        lens, side = view.lens, max(width, height)
        return Camera(
            self._prior_focal_px(view) * np.exp(raw[..., 0] * lens.focal_spread),
            (
                (width - 1) / 2 + (lens.centre_at[0] + raw[..., 1] * lens.centre) * side,
                (height - 1) / 2 + (lens.centre_at[1] + raw[..., 2] * lens.centre) * side,
            ),
            lens.k1_at + raw[..., 3] * lens.k1,
            lens.k2_at + raw[..., 4] * lens.k2,
        )

    def pose(self, vector: np.ndarray, index: int) -> tuple[np.ndarray, np.ndarray]:
        """Rotation (..., 3, 3) and translation (..., 3) from the world to the camera of view `index`."""
        start_turn, start_move = self.placing.poses[index]
        raw = self._get(vector, "view", index, POSE)
        return turn(raw[..., :3] * 0.01) @ turn(start_turn), start_move + raw[..., 3:] * 10.0

    def face(self, vector: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Height of the face over the world's origin (mm) and its slopes along x and y (stacks of numbers)."""
        raw = self._get(vector, "shared", 0, SHARED)
        setup = self.setup
        # The slab's own ground, the lift and the card are one sum that nothing here can tell apart.
        if self.all_on_slab:
            height = -setup.card_thickness_mm + raw[..., 3] * setup.card_thickness_u_mm
            tilt = 0.0
        else:
            rest_u = np.sqrt(setup.lift_u_mm**2 + setup.card_thickness_u_mm**2 + self.ground.face_height**2)
            height = self.thickness(vector) + setup.lift_mm - setup.card_thickness_mm + raw[..., 3] * rest_u
            tilt = self.ground.face_tilt
        return height, raw[..., 4] * tilt, raw[..., 5] * tilt

    def thickness(self, vector: np.ndarray) -> np.ndarray:
        """Thickness of the slab, mm; 0 where it was not given."""
        raw = self._get(vector, "shared", 0, SHARED)
        return (self.setup.thickness_mm or 0.0) + raw[..., 2] * self.setup.thickness_u_mm

    def _card_columns(self, vector: np.ndarray) -> np.ndarray:
        first = self.index[CARD[0], "card", self.cards[0]]
        block = vector[..., first : first + len(CARD) * len(self.cards)]
        return block.reshape(*vector.shape[:-1], len(self.cards), len(CARD))

    def world(self, vector: np.ndarray, card_of: np.ndarray, print_mm: np.ndarray) -> np.ndarray:
        """(..., n, 3) mm, world frame: where points of the prints lie. card_of (n,) indexes `self.cards`."""
        shared = self._get(vector, "shared", 0, SHARED)
        bars = np.array([self.setup.print.across_mm, self.setup.print.down_mm]) / 100
        stretch = bars + shared[..., :2] * (np.array(self.setup.print.spreads_mm) / 100)
        raw = self._card_columns(vector)
        on_hard = self.slab_card & (not self.all_on_slab)
        flatness = [HARD if hard else self.ground for hard in on_hard]
        start = np.array([self.placing.cards[card] for card in self.cards])
        x = start[:, 0] + raw[..., 0] * 10
        y = start[:, 1] + raw[..., 1] * 10
        yaw = start[:, 2] + raw[..., 2] * 0.01
        tilt = raw[..., 3:5] * np.array([g.tilt for g in flatness])[:, None]
        z = raw[..., 5] * np.array([g.height for g in flatness])
        curl = raw[..., 6:8] * np.array([g.curl for g in flatness])[:, None]

        arc = print_mm * stretch[..., None, :]
        bend = curl[..., card_of, :]
        # A paper's length is kept when it curls: the chord of a shallow parabola is shorter than its arc.
        flat = arc * (1 - (2 / 3) * (bend * arc / HALF_PATTERN_MM**2) ** 2)
        rise = (bend * (flat / HALF_PATTERN_MM) ** 2).sum(-1)
        local = np.concatenate([flat, rise[..., None]], -1)
        axes = turn(np.concatenate([tilt, np.zeros_like(tilt[..., :1])], -1)) @ _spin(yaw)
        placed = (axes[..., card_of, :, :] @ local[..., None])[..., 0]
        base = self._base(vector, x, y)
        return placed + np.stack([x, y, base + z], -1)[..., card_of, :]

    def _base(self, vector, x, y):
        """Height of the surface (plus card) under each card."""
        if self.all_on_slab or not self.slab_card.any():
            return np.zeros_like(x)
        height, slope_x, slope_y = (part[..., None] for part in self.face(vector))
        on_face = height + slope_x * x + slope_y * y + self.setup.card_thickness_mm
        return np.where(self.slab_card, on_face, 0.0)

    # Residuals ----------------------------------------------------------------------------------------------------

    def predicted_px(self, vector: np.ndarray) -> np.ndarray:
        """(..., n, 2) px: where every observed corner should be."""
        world = self.world(vector, self.card_of, self.print_mm)
        out = np.empty(world.shape[:-1] + (2,))
        for index in range(len(self.views)):
            mine = self.view_of == index
            rotation, move = self.pose(vector, index)
            seen = world[..., mine, :] @ np.swapaxes(rotation, -1, -2) + move[..., None, :]
            out[..., mine, :] = _project_stack(self.camera(vector, index), seen)
        return out

    def residuals(self, vector: np.ndarray) -> np.ndarray:
        """(..., m) whitened: corners (x and y in turn), priors, one per view for a monotone lens, leaning cameras."""
        corners = (self.predicted_px(vector) - self.seen_px) / self.corner_px
        corners = corners.reshape(*corners.shape[:-2], -1)
        folds = [self._fold(vector, index)[..., None] for index in range(len(self.views))]
        leans = [
            self.pose(vector, index)[0][..., :2, 2] / view.square_on
            for index, view in enumerate(self.views)
            if view.square_on is not None
        ]
        return np.concatenate([corners, vector[..., self.believed], *folds, *leans], -1)

    def _fold(self, vector, index):
        """Grows where the distortion curve stops rising within the photo."""
        camera = self.camera(vector, index)
        radius = np.hypot(*self.views[index].size_px) / 2 / camera.focal_px
        square = radius * radius
        slopes = [1 + q * (3 * camera.k1 + 5 * q * camera.k2) for q in (0.5 * square, 0.75 * square, square)]
        return np.maximum(0.0, 0.2 - np.minimum.reduce(slopes)) / 0.02

    def sources(self) -> np.ndarray:
        """(m,) str: the source of uncertainty behind each residual."""
        prior_sources = [SOURCE[name[0]] for name, known in zip(self.names, self.believed) if known]
        leans = [LEAN] * (2 * sum(view.square_on is not None for view in self.views))
        return np.array(["corners"] * (2 * len(self.seen_px)) + prior_sources + ["lens"] * len(self.views) + leans)

    def jacobian(self, vector: np.ndarray) -> np.ndarray:
        """(m, n_free) by central differences, one stacked call."""
        columns = np.flatnonzero(self.free)
        step = 1e-4
        shift = np.zeros((len(columns), len(vector)))
        shift[np.arange(len(columns)), columns] = step
        both = self.residuals(np.concatenate([vector + shift, vector - shift]))
        return ((both[: len(columns)] - both[len(columns) :]) / (2 * step)).T


def focal_px(focal_35mm: float, size_px: tuple[int, int]) -> float:
    """Focal length in px from its 35 mm equivalent by the diagonal (CIPA DCG-001)."""
    return focal_35mm / FULL_FRAME_DIAGONAL_MM * float(np.hypot(*size_px))


def _spin(yaw: np.ndarray) -> np.ndarray:
    zero = np.zeros_like(yaw)
    return turn(np.stack([zero, zero, yaw], -1))


def _project_stack(camera: Camera, points: np.ndarray) -> np.ndarray:
    flat = points[..., :2] / points[..., 2:]
    square = (flat * flat).sum(-1)
    focal, k1, k2 = (np.asarray(value)[..., None] for value in (camera.focal_px, camera.k1, camera.k2))
    centre = np.stack(camera.centre_px, -1)[..., None, :]
    return flat * (focal * (1 + square * (k1 + square * k2)))[..., None] + centre
