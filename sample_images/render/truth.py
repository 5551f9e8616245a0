"""The exact truth of one photo as plain data: everything projected by `optics`, nothing read off the picture."""

import numpy as np
import shapely
from shapely.geometry import Polygon

from grainlog.scale import card as scale_card

from . import lay, optics, solid
from .scene import Scene


def truth(scene: Scene, built: solid.Solid, seen: optics.View) -> dict:
    """Plain data for JSON: pixels of the upright photo, the centre of the first at (0, 0); mm; degrees where named so.

    World frame: x right, y away from the photographer, z up, ground at z = 0. Slab frame: on the upper face, x along.
    """
    slab, lie = scene.slab, scene.lie

    def face_px(points):
        return seen.project(lay.slab_to_world(np.asarray(points), lie, slab))

    wood = _ring(built.wood.exterior)
    holes = [_ring(ring) for ring in built.wood.interiors]
    bark = _ring(built.bark.exterior)
    area = built.wood.area
    return {
        "scene": scene.name,
        "perfect": scene.perfect,
        "size_px": list(seen.size_px),
        "camera": {
            "f_px": seen.f,
            "cx": seen.cx,
            "cy": seen.cy,
            "k1": seen.k1,
            "k2": seen.k2,
            "rotation": seen.rotation.tolist(),
            "translation_mm": seen.translation.tolist(),
            "height_mm": float(seen.position[2]),
            "focal_35mm": scene.camera.focal_35mm,
            "oblique_deg": float(np.degrees(scene.camera.oblique_rad)),
        },
        "cards": [_card(card, scene, seen) for card in scene.cards],
        "thickness_mm": slab.thickness_mm,
        "lift_mm": lie.lift_mm,
        "given": {
            "thickness_mm": scene.given.thickness_mm,
            "lift_mm": scene.given.lift_mm,
            "cards_on": scene.given.cards_on,
        },
        "face": {
            "height_mm": lie.lift_mm + slab.thickness_mm,
            "tilt_deg": [float(np.degrees(a)) for a in lie.tilt_rad],
            "cup_mm": lie.cup_mm,
            "slab_to_world": {
                "rotation": lay.rotation(lie.turn_rad, lie.tilt_rad).tolist(),
                "translation_mm": [lie.x_mm, lie.y_mm, lie.lift_mm + slab.thickness_mm],
                "cup": "z = cup_mm * (y / (width_mm / 2))^2 in the slab frame",
                "width_mm": slab.width_mm,
            },
        },
        "outline": {
            "wood_mm": _plain(wood, 3),
            "wood_px": _plain(face_px(wood), 3),
            "bark_mm": _plain(bark, 2),
            "bark_px": _plain(face_px(bark), 2),
            "wood_holes_mm": [_plain(hole, 3) for hole in holes],
            "wood_holes_px": [_plain(face_px(hole), 3) for hole in holes],
            "silhouette_px": _plain(_silhouette(scene, built, seen), 2),
        },
        "checks": [
            {
                "path_mm": _plain(c.path, 2),
                "path_px": _plain(face_px(c.path), 2),
                "width_mm": np.round(c.width, 2).tolist(),
                "length_mm": c.length_mm,
                "max_width_mm": float(c.width.max()),
                "kind": c.kind,
            }
            for c in built.checks
        ],
        "measures": {
            **_rectangle_sides(built.wood),
            "area_mm2": float(area),
            "bark_area_mm2": float(built.bark.area),
            **_widths(built.wood),
            "volume_face_mm3": float(area * slab.thickness_mm),
        },
        "ground": scene.ground,
        "species": scene.wood.species,
        "light": scene.light,
        "shadow": scene.shadow,
        "wet": scene.wood.wet,
        "form": slab.form,
        "narrow_side_up": slab.flank_mm > 0,
        "bark_missing": slab.bark_missing,
        "clutter": [thing.kind for thing in scene.clutter],
        "orientation": scene.orientation,
        "exif": scene.exif,
        "taken": scene.taken,
    }


def _card(card, scene, seen) -> dict:
    world = lay.card_to_world(card, scale_card.inner_corners(), scene.lie, scene.slab)
    ring = lay.card_to_world(card, scale_card.outline(), scene.lie, scene.slab)
    return {
        "id": card.id,
        "on": card.on,
        "pose": {
            "x_mm": card.x_mm,
            "y_mm": card.y_mm,
            "turn_deg": float(np.degrees(card.turn_rad)),
            "print_height_mm": card.height_mm,
            "tilt_deg_xy": [float(np.degrees(a)) for a in card.tilt_rad],
            "frame": "world" if card.on == "floor" else "slab",
        },
        "print_scale": list(card.print_scale),
        "tilt_deg": float(np.degrees(np.hypot(*card.tilt_rad))),
        "curl_mm": card.curl_mm,
        "curl_along": card.curl_along,
        "corners_world_mm": _plain(world, 4),
        "corners_px": _plain(seen.project(world), 4),
        "outline_px": _plain(seen.project(ring), 3),
    }


def _rectangle_sides(wood: Polygon) -> dict:
    """Sides of the minimum-area rotated rectangle around the wood."""
    corners = np.asarray(wood.minimum_rotated_rectangle.exterior.coords)
    sides = np.linalg.norm(np.diff(corners, axis=0), axis=1)[:2]
    return {"length_mm": float(sides.max()), "rectangle_width_mm": float(sides.min())}


def _widths(wood: Polygon, step: float = 25.0) -> dict:
    """Widths across the long side of the rectangle, holes ignored, away from the ends by 5 % of the length."""
    corners = np.asarray(wood.minimum_rotated_rectangle.exterior.coords)
    sides = np.diff(corners, axis=0)
    along = sides[np.argmax(np.linalg.norm(sides[:2], axis=1))]
    turned = shapely.affinity.rotate(
        Polygon(wood.exterior), -np.degrees(np.arctan2(along[1], along[0])), origin=(0, 0)
    )
    left, low, right, high = turned.bounds
    inset = 0.05 * (right - left)
    stations = np.arange(left + inset, right - inset, step)
    widths = [
        shapely.intersection(turned, shapely.LineString([(x, low - 10), (x, high + 10)])).length for x in stations
    ]
    return {
        "width_min_mm": float(min(widths)),
        "width_mean_mm": float(np.mean(widths)),
        "width_max_mm": float(max(widths)),
    }


def _silhouette(scene, built, seen) -> np.ndarray:
    """(n, 2) px, outline of everything of the slab that the camera sees (its holes filled)."""
    parts = []
    for skirt in built.skirts:
        if skirt.kind[0] == solid.VOID:
            continue
        rows, count = skirt.points.shape[:2]
        px = seen.project(lay.slab_to_world(skirt.points.reshape(-1, 3), scene.lie, scene.slab)).reshape(
            rows, count, 2
        )
        after = np.roll(px, -1, axis=1)
        for r in range(rows - 1):
            quads = np.stack([px[r], px[r + 1], after[r + 1], after[r]], axis=1)
            for pick in ([0, 1, 2], [0, 2, 3]):
                parts.append(shapely.polygons(quads[:, pick]))
        parts.append(np.array([Polygon(px[0]).buffer(0)]))
    parts = np.concatenate(parts)
    whole = shapely.union_all(parts[shapely.is_valid(parts)], grid_size=0.01)
    if whole.geom_type != "Polygon":
        whole = max(whole.geoms, key=lambda part: part.area)
    return np.asarray(whole.exterior.simplify(0.1).coords)[:-1]


def _ring(ring) -> np.ndarray:
    return np.asarray(ring.coords)[:-1]


def _plain(points, digits) -> list:
    return np.round(np.asarray(points, float), digits).tolist()
