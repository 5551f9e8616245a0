"""The slab as a body: its upper wood edge, its bark, its lower outline, and where the camera shows each of them."""

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d

from .tiles import wander

FORMS = ("live", "live", "live", "one edge", "planed", "crotch", "hook", "stump")


@dataclass(frozen=True)
class Camera:
    """Foot point (x, y) and height above the face, mm."""

    foot: np.ndarray
    height: float

    def shown(self, points: np.ndarray, depth) -> np.ndarray:
        """(n, 2) mm: where points at `depth` below the face plane appear on it."""
        pull = self.height / (self.height + np.asarray(depth, float))
        return self.foot + (points - self.foot) * np.reshape(pull, (-1, 1))


@dataclass(frozen=True)
class Slab:
    """Rings with the same number of points, plan position in mm.

    edge : upper wood edge; bark : its bark's outer edge at the face; low : outline at the lower face, bark included
    live : (n,) bool, a live edge; bare : (n,) bool, a live edge without bark
    centre, angle : the slab's own frame (u along, v across)
    """

    form: str
    edge: np.ndarray
    bark: np.ndarray
    low: np.ndarray
    live: np.ndarray
    bare: np.ndarray
    length: float
    width: float
    thickness: float
    lift: float
    centre: np.ndarray
    angle: float

    @property
    def axes(self) -> tuple[np.ndarray, np.ndarray]:
        """(2,) each: along and across."""
        axis = np.array([np.cos(self.angle), np.sin(self.angle)])
        return axis, np.array([-axis[1], axis[0]])

    def places(self, rng) -> np.ndarray:
        """(4, 2) mm: places on the face, spread along it."""
        along = (np.array([-0.33, 0.33, 0.0, 0.15]) + rng.uniform(-0.1, 0.1, 4)) * self.length
        across = rng.uniform(-0.2, 0.2, 4) * self.width
        axis, side = self.axes
        return self.centre + along[:, None] * axis + across[:, None] * side

    def edge_place(self, rng) -> np.ndarray:
        """(2,) mm: a place at the wood's edge; corners and ends as often as the long sides."""
        axis, side = self.axes
        u, v = (self.edge - self.centre) @ axis, (self.edge - self.centre) @ side
        if rng.random() < 0.3:  # a corner
            return self.edge[np.argmax(rng.choice([-1, 1]) * u + rng.choice([-1, 1]) * v)]
        if rng.random() < 0.35:  # an end
            outward = rng.choice([-1, 1]) * u
            return self.edge[rng.choice(np.flatnonzero(outward > outward.max() - 0.05 * self.length))]
        return self.edge[rng.integers(len(self.edge))]


def grow(rng, centre: np.ndarray, angle: float, lift: float) -> Slab:
    """A slab of random form."""
    form = str(rng.choice(FORMS))
    length = rng.uniform(900, 3300)
    width = rng.uniform(140, 680)
    if form == "stump":
        length, width = rng.uniform(700, 1500), rng.uniform(450, 900)
    thickness = rng.uniform(38, 85)
    n = int(length / 14)
    x = np.linspace(-length / 2, length / 2, n)
    straight = {"planed": (True, True), "one edge": (True, False)}.get(form, (False, False))
    bend = wander(rng, n, 1.0, 2) * rng.uniform(0, 0.09) * width
    if form == "hook":
        bend = bend + rng.uniform(0.3, 1.0) * width * (
            np.abs(np.linspace(0, 1, n)) ** rng.uniform(1.5, 4)
        ) * rng.choice([-1, 1])
    sides = []
    for rigid in straight:
        half = np.full(n, width / 2)
        if not rigid:
            rough = rng.choice([0.04, 0.08, 0.16]) * (2 if form == "stump" else 1)
            half = half * (
                1 + wander(rng, n, length / rng.uniform(300, 900), 4) * rough + rng.uniform(-0.18, 0.18) * x / length
            )
            half = half + wander(rng, n, length / 60, 2) * rng.uniform(0, 2.5)
            half = half + _flare(rng, x, length, width, form)
        sides.append(np.maximum(half, 0.2 * width) if not rigid else half)
    if form in ("planed", "one edge"):
        bend = bend * 0
    (far_end, far_grown), (near_end, near_grown) = (_end(rng, width, form) for _ in range(2))
    right = np.column_stack([x, bend - sides[0]])
    left = np.column_stack([x, bend + sides[1]])[::-1]
    far = _across(right[-1], left[0], far_end, 1)
    near = _across(left[-1], right[0], near_end, -1)
    ring = np.vstack([right, far, left, near])
    part = np.repeat([0, 1, 2, 3], [n, len(far), n, len(near)])
    live = ((part == 0) & (not straight[0])) | ((part == 2) & (not straight[1]))
    live[part == 1], live[part == 3] = (far_grown, near_grown)  # the inside of a fork has grown too
    normals = _normals(ring)
    bare_all = rng.random() < 0.35
    thick_bark = rng.uniform(3, 22) if rng.random() < 0.7 else rng.uniform(1.5, 6)
    bare = live & (bare_all | (wander(rng, len(ring), len(ring) / 40, 2) > rng.choice([0.6, 1.1, 9.0])))
    bare |= live & _knocked_off(rng, ring[:, 0], part, length)
    bark = np.where(
        live & ~bare, thick_bark * np.clip(1 + 0.35 * wander(rng, len(ring), length / 50, 3), 0.2, 2.5), 0.0
    )
    if form == "planed":
        slope = np.zeros(len(ring))
    else:
        lean = np.where(part == 0, rng.normal(0.22, 0.4), rng.normal(0.22, 0.4))
        slope = np.where(
            live, thickness * np.tan(np.clip(lean + 0.12 * wander(rng, len(ring), length / 250, 2), -0.9, 1.05)), 0.0
        )
        slope = gaussian_filter1d(slope, 1.5, mode="wrap")
    c, s = np.cos(angle), np.sin(angle)
    turn = np.array([[c, -s], [s, c]])
    place = lambda points: points @ turn.T + centre  # noqa: E731
    return Slab(
        form,
        place(ring),
        place(ring + normals * bark[:, None]),
        place(ring + normals * (bark + slope)[:, None]),
        live,
        bare,
        length,
        width,
        thickness,
        lift,
        np.asarray(centre, float),
        angle,
    )


def _knocked_off(rng, x, part, length):
    """(n,) bool: bark gone from a whole side, from a stretch that reaches a sawn end, or from the inside of a fork."""
    gone = np.zeros(len(x), bool)
    if rng.random() < 0.2:
        gone |= part == rng.choice([0, 2])
    for _ in range(rng.choice([0, 1, 2], p=[0.55, 0.3, 0.15])):
        gone |= (part == rng.choice([0, 2])) & (rng.choice([-1, 1]) * x > length / 2 - rng.uniform(40, 600))
    if rng.random() < 0.5:
        gone |= (part == 1) | (part == 3)
    return gone


def _flare(rng, x, length, width, form):
    if form == "crotch":
        start = rng.uniform(0.0, 0.35)
        return width * rng.uniform(0.2, 0.6) * np.clip(x / length - start + 0.15, 0, 1) ** 1.5 * 2
    if rng.random() < 0.4:  # butt flare
        return width * rng.uniform(0, 0.3) * np.exp(-(x + length / 2) / (0.1 * length))
    return 0.0


def _end(rng, width, form) -> tuple[np.ndarray, np.ndarray]:
    """Offsets along the slab over one end, mm: slant, a ragged break, or the notch of a fork; and where it has grown so."""
    n = max(6, int(width / 20))
    line = np.linspace(-1, 1, n) * rng.normal(0, 0.03) * width
    grown = np.zeros(n, bool)
    if form == "stump" and rng.random() < 0.6 or rng.random() < 0.06:
        line = line + np.abs(rng.standard_normal(n)) * rng.uniform(5, 40) + wander(rng, n, 3, 2) * 20
    if form == "crotch" and rng.random() < 0.7:
        n = max(6, int(width / 12))
        across = np.linspace(-1, 1, n)
        away = np.abs(across - rng.uniform(-0.3, 0.3)) / rng.uniform(0.15, 0.6)
        depth = np.clip(1 - away ** rng.uniform(0.8, 2.0), 0, 1) * rng.uniform(30, rng.choice([0.7, 1.4]) * width)
        line, grown = across * rng.normal(0, 0.03) * width - depth, depth > 12
    return line, grown


def _across(start, stop, offsets, way):
    """The points of one end, between two corners."""
    t = np.linspace(0, 1, len(offsets) + 2)[1:-1, None]
    fade = np.sin(np.pi * t[:, 0]) ** 0.3
    return start + t * (stop - start) + np.column_stack([way * offsets * fade, np.zeros(len(offsets))])


def _normals(ring: np.ndarray) -> np.ndarray:
    """(n, 2) outward, of an anticlockwise ring (x right, y up), smoothed over a few points."""
    along = np.roll(ring, -2, axis=0) - np.roll(ring, 2, axis=0)
    along = gaussian_filter1d(along, 1.0, axis=0, mode="wrap")
    normal = np.column_stack([along[:, 1], -along[:, 0]])
    return normal / np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-9)
