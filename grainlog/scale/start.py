"""Start values for the joint solution: which way the plane faces, and where the cards lie in it.

A single small card seen from afar has two nearly equal poses (Schweighofer and Pinz, PAMI 28, 2006). Each pose of each
card proposes a plane; the plane on which all cards come out as rigid cards of one size wins.
"""

import cv2
import numpy as np

from grainlog.scale.camera import Camera
from grainlog.scale.model import Placing, View, focal_px
from grainlog.scale.priors import USUAL_FOCAL_35MM

#: 35 mm-equivalent focal lengths tried where the metadata is silent.
TRIED_FOCALS_35MM = (20.0, 27.0, 38.0, 55.0, 85.0)


def placings(views: list[View], best: int = 2) -> list[Placing]:
    """Up to `best` start placings, most plausible first.

    Views after the first are joined through cards that they share with the views before.
    """
    if views[0].square_on is not None:
        return [_looking_down(views[0])]
    first = sorted(_planes(views[0]), key=lambda found: found[0])[:best]
    return [_join(views, focal, rotation, move, layout) for _, focal, rotation, move, layout in first]


def _looking_down(view: View) -> Placing:
    """From straight above the middle of the one card's points, which are too few to tell a pose by themselves."""
    seen = view.cards[0]
    focal = focal_px(view.lens.focal_35mm or USUAL_FOCAL_35MM, view.size_px)
    middle = (seen.corners_px.mean(0) - (np.array(view.size_px) - 1) / 2) / focal
    size, yaw, _, _ = _rigid(seen.corners_mm, seen.corners_px * [1.0, -1.0])
    height = focal / size
    # From there (0.0, 0.0) on the print is seen where the middle of the points is.
    pose = np.array([np.pi, 0.0, 0.0]), np.array([*middle, 1.0]) * height
    return Placing((pose,), (focal,), {seen.card: (0.0, 0.0, yaw)})


def _planes(view: View):
    """All proposals for one view: (misfit, focal px, rotation, translation, {card: (x, y, yaw)})."""
    if view.lens.focal_35mm:
        focals = (view.lens.focal_35mm,)
    else:
        focals = TRIED_FOCALS_35MM
    for focal_35mm in focals:
        focal = focal_px(focal_35mm, view.size_px)
        camera = Camera(focal, ((view.size_px[0] - 1) / 2, (view.size_px[1] - 1) / 2))
        for normal in _normals(view, camera):
            proposal = _lay_out(view, camera, normal)
            if proposal is not None:
                yield (proposal[0], focal, *proposal[1:])


def _normals(view: View, camera: Camera):
    """Plane normals (towards the camera) that single cards propose, without near repeats."""
    kept = []
    for seen in view.cards:
        plane = np.column_stack([seen.corners_mm, np.zeros(len(seen.corner_ids))])
        count, turns, _, _ = cv2.solvePnPGeneric(
            plane, seen.corners_px.reshape(-1, 1, 2), camera.matrix, None, flags=cv2.SOLVEPNP_IPPE
        )
        for index in range(count):
            rotation, _ = cv2.Rodrigues(turns[index])
            normal = rotation[:, 2] if rotation[2, 2] < 0 else -rotation[:, 2]
            if all(normal @ other < np.cos(np.radians(1.0)) for other in kept):
                kept.append(normal)
    return kept


def _lay_out(view: View, camera: Camera, normal: np.ndarray):
    """Lay all cards on a plane with this normal; the misfit is the worst card's RMS misfit, relative to its size."""
    middle = camera.rays(np.array(camera.centre_px)[None])[0]
    across = np.array([1.0, 0, 0]) - normal[0] * normal
    if np.linalg.norm(across) < 0.1 or normal @ middle > -0.1:
        return None
    across /= np.linalg.norm(across)
    rotation = np.column_stack([across, np.cross(normal, across), normal])
    origin = middle / -(normal @ middle)
    fits = {}
    for seen in view.cards:
        rays = camera.rays(seen.corners_px)
        reach = -(rays @ normal)
        if reach.min() < 0.05:
            return None
        fits[seen.card] = _rigid(seen.corners_mm, (rays / reach[:, None] - origin) @ rotation[:, :2])
    scale = float(np.median([size for size, *_ in fits.values()]))
    misfit = max(rms + abs(np.log(size / scale)) for size, _, _, rms in fits.values())
    layout = {card: (*(place / scale), yaw) for card, (_, yaw, place, _) in fits.items()}
    return misfit, rotation, origin / scale, layout


def _rigid(source: np.ndarray, target: np.ndarray) -> tuple[float, float, np.ndarray, float]:
    """Least-squares similarity (Umeyama, PAMI 13, 1991): size, angle, shift, relative RMS misfit."""
    source_middle, target_middle = source.mean(0), target.mean(0)
    s = (source - source_middle) @ [1, 1j]
    t = (target - target_middle) @ [1, 1j]
    factor = (np.conj(s) @ t) / (np.conj(s) @ s).real
    shift = target_middle @ [1, 1j] - factor * (source_middle @ [1, 1j])
    rms = np.sqrt(np.mean(np.abs(factor * s - t) ** 2) / np.mean(np.abs(t) ** 2))
    return abs(factor), float(np.angle(factor)), np.array([shift.real, shift.imag]), float(rms)


def _join(views, focal, rotation, move, layout) -> Placing:
    """Bring every further view into the world of the first through the cards they share."""
    poses, focals, layout = [(cv2.Rodrigues(rotation)[0].ravel(), move)], [focal], dict(layout)
    for view in views[1:]:
        options = sorted(_planes(view), key=lambda found: found[0])
        _, other_focal, other_rotation, other_move, other_layout = options[0]
        shared = [card for card in other_layout if card in layout]
        here = np.array([_card_points(layout[card]) for card in shared]).reshape(-1, 2)
        there = np.array([_card_points(other_layout[card]) for card in shared]).reshape(-1, 2)
        _, yaw, _, _ = _rigid(there, here)
        spin = np.array([[np.cos(yaw), -np.sin(yaw)], [np.sin(yaw), np.cos(yaw)]])
        shift = (here - there @ spin.T).mean(0)
        for card, (x, y, angle) in other_layout.items():
            layout.setdefault(card, (*(spin @ [x, y] + shift), angle + yaw))
        # world = spin * other + shift, so other = spin^T (world - shift).
        flat = np.eye(3)
        flat[:2, :2] = spin
        joined = other_rotation @ flat.T
        poses.append((cv2.Rodrigues(joined)[0].ravel(), other_move - joined @ [*shift, 0.0]))
        focals.append(other_focal)
    return Placing(tuple(poses), tuple(focals), layout)


def _card_points(place) -> np.ndarray:
    x, y, yaw = place
    return np.array([[x, y], [x + 100 * np.cos(yaw), y + 100 * np.sin(yaw)], [x - 100 * np.sin(yaw), y + 100 * np.cos(yaw)]])
