"""Where surfaces are in the world: the slab's face with its tilt and cup, a card with its tilt, curl and print."""

import numpy as np

from grainlog.scale import card as scale_card

from .scene import Card, Lie, Slab


def rotation(turn: float, tilt: tuple[float, float]) -> np.ndarray:
    """(3, 3): tilt about the thing's own x and y, then turn about the vertical."""
    cx, sx, cy, sy, cz, sz = (f(a) for a in (tilt[0], tilt[1], turn) for f in (np.cos, np.sin))
    about_x = np.array([[1, 0, 0], [0, cx, -sx], [0, sx, cx]])
    about_y = np.array([[cy, 0, sy], [0, 1, 0], [-sy, 0, cy]])
    about_z = np.array([[cz, -sz, 0], [sz, cz, 0], [0, 0, 1]])
    return about_z @ about_x @ about_y


def cup(points: np.ndarray, lie: Lie, slab: Slab) -> np.ndarray:
    """(n,) mm, rise of the face over its middle line at slab-frame points (n, 2)."""
    return lie.cup_mm * (np.asarray(points, float)[:, 1] / (slab.width_mm / 2)) ** 2


def slab_to_world(points: np.ndarray, lie: Lie, slab: Slab) -> np.ndarray:
    """(n, 2) on the face or (n, 3) in the slab frame, mm, to (n, 3) in the world; the cup moves all its thickness."""
    points = np.asarray(points, float)
    if points.shape[1] == 2:
        points = np.column_stack([points, np.zeros(len(points))])
    points = points + np.column_stack([np.zeros((len(points), 2)), cup(points[:, :2], lie, slab)])
    place = np.array([lie.x_mm, lie.y_mm, lie.lift_mm + slab.thickness_mm])
    return points @ rotation(lie.turn_rad, lie.tilt_rad).T + place


def face_from_ray(origin: np.ndarray, rays: np.ndarray, lie: Lie, slab: Slab) -> np.ndarray:
    """(n, 2) mm, slab frame: where rays from `origin` meet the face; fixed-point for the cup."""
    axes = rotation(lie.turn_rad, lie.tilt_rad)
    place = np.array([lie.x_mm, lie.y_mm, lie.lift_mm + slab.thickness_mm])
    start, way = axes.T @ (origin - place), rays @ axes
    height = np.zeros(len(rays))
    for _ in range(12):
        met = start + way * ((height - start[2]) / way[:, 2])[:, None]
        height = cup(met[:, :2], lie, slab)
    return met[:, :2]


def card_surface(card: Card, points: np.ndarray) -> np.ndarray:
    """(n, 2) mm of the true pattern, card frame, to (n, 3) mm on the printed, bent, tilted paper.

    The print scale stretches the pattern on the paper; the bend keeps lengths along the paper (a cylinder).
    """
    x, y = (np.asarray(points, float) * card.print_scale).T
    z = np.zeros_like(x)
    if card.curl_mm:
        half = (scale_card.HEIGHT_MM if card.curl_along == "y" else scale_card.WIDTH_MM) / 2
        radius = half**2 / (2 * card.curl_mm)
        bent = y if card.curl_along == "y" else x
        z = radius * (1 - np.cos(bent / radius))
        bent = radius * np.sin(bent / radius)
        x, y = (x, bent) if card.curl_along == "y" else (bent, y)
    return np.column_stack([x, y, z]) @ rotation(card.turn_rad, card.tilt_rad).T + [
        card.x_mm,
        card.y_mm,
        card.height_mm,
    ]


def card_to_world(card: Card, points: np.ndarray, lie: Lie, slab: Slab) -> np.ndarray:
    """(n, 2) mm of the true pattern, card frame, to (n, 3) mm in the world."""
    placed = card_surface(card, points)
    if card.on == "floor":
        return placed
    # A card on the face rides on the face's own frame; it does not follow the cup, it rests on it.
    place = np.array([lie.x_mm, lie.y_mm, lie.lift_mm + slab.thickness_mm])
    return placed @ rotation(lie.turn_rad, lie.tilt_rad).T + place
