"""A made-up slab in a made-up photo, with the record that a survey of it would have: nothing here is measured."""

import cv2
import numpy as np

LENGTH_MM = 2400.0
CARD_MM = np.array([[-100, -135], [100, -135], [100, 135], [-100, 135]], float)


def edge(y_sign, inset=0.0):
    """One live edge in the slab frame, (n, 2) mm, left to right."""
    x = np.linspace(inset, LENGTH_MM - inset, 97)
    half = 300 + 40 * np.sin(x / 300 + y_sign) + 120 * np.exp(-(((x - 1900) / 250) ** 2)) * (y_sign > 0)
    return np.column_stack([x, y_sign * (half - inset)])


def slab(inset=0.0):
    """The whole outline in the slab frame, (n, 2) mm."""
    return np.vstack([edge(-1, inset), edge(1, inset)[::-1]])


def camera(width, height, upright):
    """(3, 3) from the slab frame to a photo of `width` x `height` px, taken a little aslant."""
    corners = np.array([[-200, -1000], [2600, -1000], [2600, 1000], [-200, 1000]], np.float32)
    photo = np.array([[0.02, 0.97], [0.98, 0.93], [0.91, 0.05], [0.08, 0.08]], np.float32) * [width, height]
    if upright:
        photo = np.array([[0.04, 0.02], [0.07, 0.95], [0.95, 0.97], [0.93, 0.03]], np.float32) * [width, height]
    return cv2.getPerspectiveTransform(corners, photo.astype(np.float32))


def seen(homography, points):
    return cv2.perspectiveTransform(np.asarray(points, float).reshape(-1, 1, 2), homography).reshape(-1, 2)


def example(width=4000, height=3000, wood=(150, 110, 75), ground=(125, 122, 118), upright=False, **changes):
    """(photo, record): `wood` and `ground` are colours; `changes` replace whole entries of the record."""
    view = camera(width, height, upright)
    noise = np.random.default_rng(4)
    photo = np.empty((height, width, 3), np.uint8)
    photo[:] = ground
    photo = cv2.add(photo, cv2.resize(noise.integers(0, 40, (height // 8, width // 8, 3), np.uint8), (width, height)))
    bark, timber = seen(view, slab()), seen(view, slab(18.0))
    cv2.fillPoly(photo, [np.rint(bark + [width // 250, height // 120]).astype(int)], (25, 24, 22))  # the shadow
    cv2.fillPoly(photo, [np.rint(bark).astype(int)], tuple(int(c * 0.45) for c in wood))
    cv2.fillPoly(photo, [np.rint(timber).astype(int)], wood)
    for k in range(12):  # growth rings, so that lines have something to be seen against
        ring = seen(view, edge(1, 30 + 22 * k))
        cv2.polylines(photo, [np.rint(ring).astype(int)], False, tuple(int(c * 0.8) for c in wood), 3, cv2.LINE_AA)
    cards = {
        str(k): seen(view, CARD_MM + centre)
        for k, centre in enumerate([(100, -620), (2300, -640), (2250, 760), (150, 640)])
    }
    for corners in cards.values():
        cv2.fillPoly(photo, [np.rint(corners).astype(int)], (236, 236, 232))
        middle = corners.mean(axis=0)
        cv2.fillPoly(photo, [np.rint(middle + 0.8 * (corners - middle)).astype(int)], (60, 60, 60))
    near, far = edge(-1, 18.0)[1:-1], edge(1, 18.0)[1:-1]
    ends = [[a.tolist(), b.tolist()] for a, b in zip(seen(view, near), seen(view, far), strict=True)]
    width_mm = (far[:, 1] - near[:, 1]).tolist()
    record = {
        "photo": {"file": "example.jpg"},
        "scale": {
            "cards": [0, 1, 2, 3],
            "cards_px": {card: corners.tolist() for card, corners in cards.items()},
            "left_out": [],
            "reprojection_px": 0.08,
            "mm_per_px": 0.7,
            "camera_height_mm": 2300.0,
        },
        "face": {
            "length_mm": {"value": LENGTH_MM - 36, "u": 1.4},
            "width_min_mm": {"value": min(width_mm), "u": 2.1},
            "width_mean_mm": {"value": float(np.mean(width_mm)), "u": 1.6},
            "width_max_mm": {"value": max(width_mm), "u": 2.3},
            "area_mm2": {"value": 1.41e6, "u": 5200.0},
            "board_feet": {"value": 38.0, "u": 0.62},
            "thickness_mm": 63.5,
            "thickness": {"value": 63.5, "u": 1.0},
            "confidence": 0.94,
            "widths": {"step_mm": 25, "x_mm": near[:, 0].tolist(), "width_mm": width_mm, "ends_px": ends},
        },
        "outline": {
            "wood_px": timber.tolist(),
            "wood_mm": slab(18.0).tolist(),
            "bark_px": bark.tolist(),
            "wood_holes_px": [],
        },
        "checks": [],
        "warnings": [],
    }
    return photo, record | changes
