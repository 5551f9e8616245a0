"""Voids: places inside the wood where the ground, or the dark wall of the void, is seen.

Candidates come from the low-resolution opinion (ground inside the wood) and from how much darker than the wood nearby a
place is; their rim is then placed at full resolution between what the middle of the candidate and the wood around it
look like. Knots and checks are left in: knots are not that dark, checks not that wide.
"""

import cv2
import numpy as np
import shapely
from skimage import measure

from grainlog.scale.flat import FlatView

from . import opinion
from .opinion import Looks

#: Smaller or narrower openings than these are left to the search for checks; common practice, no source.
LEAST_AREA_MM2, LEAST_WIDTH_MM = 600.0, 14.0
_DARKER = 0.95  # natural logarithm: less than two fifths of the light of the wood around; by eye on rendered voids
_ODDS = -0.8
_AROUND_MM = ((15, 45), (30, 60))  # a candidate may be but the middle of a void


def find_holes(looks: Looks, odds: np.ndarray, view: FlatView, wood: np.ndarray) -> tuple[np.ndarray, ...]:
    """Outlines of the voids in the wood, tuple of (m, 2) float64 mm, plane frame.

    looks, odds : the low-resolution opinion
    view : FlatView
        At full resolution, all around the wood.
    """
    inner = shapely.Polygon(wood).buffer(-15)
    holes = []
    for seed in _candidates(looks, odds, inner):
        hole = _rim(view, seed, inner)
        if hole is not None and not any(shapely.Polygon(hole).intersects(shapely.Polygon(other)) for other in holes):
            holes.append(hole)
    return tuple(holes)


def _candidates(looks: Looks, odds: np.ndarray, inner) -> list[np.ndarray]:
    """Rough polygons, mm, of dark or ground-like places."""
    view = looks.view
    inside = np.zeros(odds.shape, np.float32)
    for part in getattr(inner, "geoms", [inner]):
        if not part.is_empty:
            inside = np.maximum(inside, opinion.cover(shapely.get_coordinates(part.exterior), view))
    inside = (inside > 0.5) & ~looks.known_wood & ~looks.known_else
    light = looks.colour[..., 0]
    weight = cv2.GaussianBlur(inside.astype(np.float32), (0, 0), 60 / view.mm_per_px)
    total = cv2.GaussianBlur(np.where(inside, light, 0).astype(np.float32), (0, 0), 60 / view.mm_per_px)
    level = total / np.maximum(weight, 1e-6)
    found = inside & ((odds < _ODDS) | (light < level - 0.8 * _DARKER))
    count, pieces, stats, _ = cv2.connectedComponentsWithStats(found.astype(np.uint8), connectivity=8)
    rough = []
    for k in range(1, count):
        if stats[k, cv2.CC_STAT_AREA] * view.mm_per_px**2 < 0.3 * LEAST_AREA_MM2:
            continue
        piece = (pieces == k).astype(np.uint8)
        rings, _ = cv2.findContours(piece, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        rough.append(view.to_mm(max(rings, key=len)[:, 0]))
    return rough


def _rim(view: FlatView, seed: np.ndarray, inner) -> np.ndarray | None:
    """The outline of the void about one candidate at full resolution; None where there is none."""
    low = np.floor(view.to_px(seed).min(0) - 60 / view.mm_per_px).astype(int)
    high = np.ceil(view.to_px(seed).max(0) + 60 / view.mm_per_px).astype(int)
    low, high = np.maximum(low, 0), np.minimum(high, [view.rgb.shape[1], view.rgb.shape[0]])
    window = slice(low[1], high[1]), slice(low[0], high[0])
    crop = FlatView(np.ascontiguousarray(view.rgb[window]), view.seen[window],
                    view.mm_per_px, view.to_mm(low[None].astype(float))[0], (), (), view.camera_mm)
    size = crop.seen.shape
    piece = np.zeros(size, np.uint8)
    cv2.fillPoly(piece, [np.round(crop.to_px(seed)).astype(np.int32)], 1)
    colour = cv2.GaussianBlur(opinion.colour_features(crop.rgb), (0, 0), 1.2)
    away = cv2.distanceTransform(1 - piece, cv2.DIST_L2, 3) * view.mm_per_px
    free = np.zeros(size, bool)
    for part in getattr(inner, "geoms", [inner]):
        free |= opinion.cover(shapely.get_coordinates(part.exterior), crop) > 0.5
    for card in view.cards:
        free &= opinion.cover(card, crop) < 0.1
    if piece.sum() < 30:
        return None
    for near, beyond in _AROUND_MM:
        around = free & (away > near) & (away < beyond)
        if around.sum() < 200:
            return None
        # Wood around may be crossed by checks and shadows, so its middle and spread are taken robustly.
        middle = np.median(colour[around], 0)
        spread = 1.4826 * np.median(np.abs(colour[around] - middle), 0) + np.array([0.04, 0.02, 0.02], np.float32)
        far = np.sqrt((((colour - middle) / spread) ** 2 * [1.0, 0.6, 0.6]).sum(-1))
        core = np.median(far[piece > 0])
        if core >= 4:
            break
    if core < 4 or np.median(colour[piece > 0][:, 0]) > middle[0] - 0.25:
        return None
    level = min(0.5 * core, 6.0)  # the wall of a void is less unlike wood than the ground below
    soft = cv2.GaussianBlur(np.clip(far / level - 0.5, 0, 1).astype(np.float32), (0, 0), 1.0)
    radius = max(1, round(0.5 * LEAST_WIDTH_MM / view.mm_per_px) - 1)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * radius + 1,) * 2)
    hard = cv2.morphologyEx((soft > 0.5).astype(np.uint8), cv2.MORPH_OPEN, disc)
    count, pieces = cv2.connectedComponents(hard)
    share = np.bincount(pieces.ravel(), piece.ravel(), count)
    share[0] = 0
    if share.max() == 0:
        return None
    near = cv2.dilate((pieces == int(share.argmax())).astype(np.uint8), np.ones((5, 5), np.uint8))
    rings = measure.find_contours(np.pad(soft * near, 1), 0.5)
    hole = shapely.Polygon(crop.to_mm(max(rings, key=len)[:, ::-1] - 1)).buffer(0)
    hole = max(getattr(hole, "geoms", [hole]), key=lambda part: part.area)
    if hole.area < LEAST_AREA_MM2 or hole.buffer(-LEAST_WIDTH_MM / 2).is_empty or not inner.contains(hole):
        return None
    return shapely.get_coordinates(hole.exterior)[:-1]
