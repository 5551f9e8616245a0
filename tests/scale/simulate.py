"""Photos of cards without pixels: where the corners fall, with every error drawn from the stated priors.

The forward model is written here again, with OpenCV's `projectPoints` for the lens and its Rodrigues for rotations, so
that it shares no code with the solution that it tests.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from grainlog.scale import card as scale_card
from grainlog.scale.detect import SeenCard
from grainlog.scale.model import View
from grainlog.scale.priors import Ground, Lens, Setup

FULL_FRAME_DIAGONAL = 43.2666
#: Spread of the principal point in a perfect world, share of the prior's.
CENTRE = 0.5


@dataclass(frozen=True)
class Scene:
    """A simulated photo: what the solver is given, and the truth."""

    view: View
    setup: Setup
    outline_px: np.ndarray
    outline_mm: np.ndarray  # in the face's own plane
    thickness_mm: float = 0.0


def scene(
    seed: int,
    cards: int = 4,
    cards_on: str = "floor",
    ground: Ground | None = None,
    imperfect: float = 1.0,
    noise_px: float = 0.07,
    lens: bool = True,
    given_ground: bool = True,
    metadata: bool = True,
    size_px=(4032, 3024),
    oblique_deg: float | None = None,
    raised: tuple[int, ...] = (),
    eye_shift: tuple[float, float] | None = None,
    same_scene: int | None = None,
    bend_mm: tuple[float, float] = (0.0, 0.0),
    edge_mm: tuple[float, float] = (0.0, 0.0),
) -> Scene:
    """Draw a scene. `raised` cards lie on the face; `eye_shift` moves the camera of an otherwise equal scene;
    with `same_scene` slab, camera position and layout come from that seed and only the errors from `seed`. `bend_mm`: cup and bow, `edge_mm`: common and local error of the outline (standard
    deviations, mm).

    `imperfect` scales every prior's error (0: a perfect world), the lens's included only if `lens`."""
    rng = errors = np.random.default_rng(seed)
    if same_scene is not None:
        rng = np.random.default_rng(same_scene)
    length, width = rng.uniform(1500, 2900), rng.uniform(350, 750)
    half_l, half_w = length / 2, width / 2
    outline = _outline(rng, half_l, half_w)
    thickness_given, lift_given = 63.5, float(rng.choice([0.0, 19.0, 40.0]))
    setup = Setup(cards_on, frozenset(), thickness_given, lift_mm=lift_given, ground=ground if given_ground else None)
    on_slab = cards_on == "slab"
    draw = lambda sigma: float(errors.normal(0, sigma)) * imperfect  # noqa: E731

    print_scale = 1 + np.array([draw(0.003), draw(0.003)])
    if on_slab:
        thickness = thickness_given + draw(1.0)
        face_height = -setup.card_thickness_mm + draw(setup.card_thickness_u_mm)
        slopes = np.zeros(2)
    else:
        thickness = thickness_given + draw(1.0)
        face_height = thickness + lift_given + draw(2.0) - 0.3 + draw(0.3) + draw(ground.face_height)
        slopes = np.array([draw(ground.face_tilt), draw(ground.face_tilt)])

    height = max(length / 1.1, rng.uniform(1800, 2600))
    focal_35mm = rng.uniform(24, 28)
    focal_true = focal_35mm * (1 + (errors.normal(0, Lens.from_metadata(26.0).focal_spread) if lens else 0.0) * (imperfect if imperfect else 0.3))
    focal = focal_true / FULL_FRAME_DIAGONAL * np.hypot(*size_px)
    spread = 0.01 * size_px[0] if lens else 0.0
    centre = np.array([(size_px[0] - 1) / 2, (size_px[1] - 1) / 2]) + errors.normal(0, spread, 2) * (CENTRE if not imperfect else 1)
    k1, k2 = (errors.normal(0, 0.03), errors.normal(0, 0.02)) if lens else (0.0, 0.0)
    if not imperfect:
        k1, k2 = k1 * 0.7, k2 * 0.3
    tilt = np.radians(rng.uniform(0, 35) if oblique_deg is None else oblique_deg)
    rotation, move = _look(rng, height, tilt, eye_shift)

    seen = []
    places = _places(rng, cards, on_slab, half_l, half_w)
    for number, (x, y) in enumerate(places):
        turn_z = rng.uniform(-np.pi, np.pi)
        local = scale_card.inner_corners() * print_scale
        local = np.column_stack([local, np.zeros(len(local))])
        sag = np.array([draw(ground.curl), draw(ground.curl)])
        local = _curl(local, sag)
        lean = cv2.Rodrigues(np.array([draw(ground.tilt), draw(ground.tilt), 0.0]))[0]
        spin = cv2.Rodrigues(np.array([0.0, 0, turn_z]))[0]
        world = local @ (lean @ spin).T + [x, y, draw(ground.height) + (face_height + 0.3 if number in raised else 0.0)]
        px = _project(world, rotation, move, focal, centre, k1, k2) + errors.normal(0, noise_px, (len(world), 2))
        seen.append(SeenCard(number, np.arange(12), px, 40.0))

    across = np.array([1, 0, slopes[0]]) / np.hypot(1, slopes[0])
    normal = np.array([-slopes[0], -slopes[1], 1])
    normal /= np.linalg.norm(normal)
    along = np.cross(normal, across)
    cup, bow = draw(bend_mm[0]), draw(bend_mm[1])
    rise = cup * (outline[:, 1] / half_w) ** 2 + bow * (outline[:, 0] / half_l) ** 2
    traced = _retraced(errors, outline, edge_mm[0] * imperfect, edge_mm[1] * imperfect)
    world = traced[:, :1] * across + traced[:, 1:] * along + [0, 0, face_height] + rise[:, None] * normal
    outline_px = _project(world, rotation, move, focal, centre, k1, k2)
    view = View(tuple(seen), size_px, Lens.from_metadata(focal_35mm if metadata else None))
    return Scene(view, setup, outline_px, outline, thickness)


def _outline(rng, half_l, half_w):
    t = np.linspace(0, 1, 160)
    wobble = lambda: sum(rng.normal(0, 25 / k) * np.sin(2 * np.pi * k * t + rng.uniform(0, 6)) for k in range(1, 6))  # noqa: E731
    x = (2 * t - 1) * half_l
    upper, lower = half_w + wobble(), -half_w + wobble()
    return np.vstack([np.column_stack([x, lower]), np.column_stack([x[::-1], upper[::-1]])])


def _retraced(rng, outline, common, local):
    """The outline as a person or a program traces it: all of it off by `common`, every hand's breadth by `local`."""
    tangent = np.roll(outline, -1, 0) - np.roll(outline, 1, 0)
    outward = np.column_stack([tangent[:, 1], -tangent[:, 0]]) / np.linalg.norm(tangent, axis=1)[:, None]
    along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(outline, axis=0), axis=1))])
    knots = np.arange(0, along[-1] + 300, 150.0)
    off = rng.normal(0, common) + np.interp(along, knots, rng.normal(0, local, len(knots)))
    return outline + off[:, None] * outward


def _places(rng, cards, on_slab, half_l, half_w):
    jitter = lambda: rng.uniform(-60, 60)  # noqa: E731
    if on_slab:
        spots = [(-half_l + 260, 0), (half_l - 260, 0), (0, 0), (half_l / 2, 0)]
    else:
        out = half_w + 260
        spots = [(-half_l * 0.8, -out), (half_l * 0.8, out), (half_l * 0.8, -out), (-half_l * 0.8, out)]
        if cards == 1:
            spots = [(0, -out)]
    return [(x + jitter(), y + (0 if on_slab else jitter())) for x, y in spots[:cards]]


def _look(rng, height, tilt, eye_shift=None):
    """Camera `height` above the world's origin region, tilted about the slab's long axis, looking at the middle."""
    eye = np.array([rng.uniform(-150, 150), -height * np.tan(tilt), height])
    eye[:2] += (0.0, 0.0) if eye_shift is None else eye_shift
    target = np.array([rng.uniform(-60, 60), rng.uniform(-60, 60), 0])
    forward = (target - eye) / np.linalg.norm(target - eye)
    right = np.cross(forward, [0, 1.0, 0.001])
    right /= np.linalg.norm(right)
    roll = rng.uniform(-0.05, 0.05)
    down = np.cross(forward, right)
    right, down = np.cos(roll) * right + np.sin(roll) * down, np.cos(roll) * down - np.sin(roll) * right
    rotation = np.vstack([right, down, forward])
    return rotation, -rotation @ eye


def _curl(local, sag):
    half = np.array([88.0, 110.0])
    rise = 0.0
    out = local.copy()
    for axis in range(2):
        u = np.linspace(0, half[axis], 400)
        slope = 2 * sag[axis] * u / half[axis] ** 2
        arc = np.concatenate([[0], np.cumsum(np.hypot(1, (slope[1:] + slope[:-1]) / 2) * np.diff(u))])
        out[:, axis] = np.sign(local[:, axis]) * np.interp(np.abs(local[:, axis]), arc, u)
        rise = rise + sag[axis] * (out[:, axis] / half[axis]) ** 2
    out[:, 2] = rise
    return out


def _project(world, rotation, move, focal, centre, k1, k2):
    matrix = np.array([[focal, 0, centre[0]], [0, focal, centre[1]], [0, 0, 1.0]])
    px, _ = cv2.projectPoints(world.reshape(-1, 1, 3), cv2.Rodrigues(rotation)[0], move, matrix, np.array([k1, k2, 0, 0.0]))
    return px.reshape(-1, 2)
