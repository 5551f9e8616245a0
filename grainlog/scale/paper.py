"""Find a white sheet of paper in a photo: four straight sides, nearly one shade within, darker all round.

What is not surely a sheet is no sheet: a wrong one would put a wrong scale on everything, and four corners by hand
cost a minute. Cards are not taken for one (they are not uniform), nor the sky (it runs out of the photo), nor pale
boards (they have a colour).
"""

from itertools import combinations

import cv2
import numpy as np

#: Longer side of the reduced photo in which candidates are sought, px.
COARSE_PX = 1200
#: Levels of the darkest colour channel above which candidates are sought.
LEVELS = range(100, 245, 12)
#: Share of the photo that a sheet may cover.
LEAST_SHARE, GREATEST_SHARE = 0.0008, 0.15
#: A candidate fills its own four-sided hull at least this well.
FULLNESS = 0.96
#: Greatest colour: difference of the channels over the brightest, in the middle of the sheet: leaves room for warm or
#: blue light on white paper, and none for pale wood, which is much yellower (common practice, no source).
GREATEST_COLOUR = 0.14
#: Shade: this share of the sheet lies within this much of its median, in linear light.
EVEN_SHARE, EVEN_WITHIN = 0.93, 0.18
#: The sheet is brighter than what lies beside it by this factor (linear light), along this share of every side.
BRIGHTER, BRIGHTER_SHARE = 1.35, 0.85
#: A side is straight when its points lie this near to their line: px, and share of its length.
STRAIGHT_PX, STRAIGHT_SHARE = 0.8, 0.002
#: Longer over shorter side as seen, and one side over that opposite, of a sheet not too far from square-on.
GREATEST_ASPECT, GREATEST_KEYSTONE = 3.0, 1.6
#: Points along each side, share of it left out at either end, and how far a profile reaches to either side, px.
SIDE_POINTS, SIDE_END, REACH_PX = 64, 0.08, 8


def find_sheet(rgb: np.ndarray) -> np.ndarray | None:
    """Find the one white sheet of paper in an upright photo.

    Parameters
    ----------
    rgb : (h, w, 3) uint8

    Returns
    -------
    (4, 2) float64 px, its corners, clockwise as seen; None where there is none, more than one, or doubt.

    Notes
    -----
    Connected regions above a series of levels, four-sided hulls of them; each side is then a line fitted to where the
    light is half way between inside and outside, to sub-pixel, in the full photo.
    """
    shrink = max(1, int(np.ceil(max(rgb.shape[:2]) / COARSE_PX)))
    height, width = (side // shrink for side in rgb.shape[:2])
    coarse = cv2.resize(rgb[: height * shrink, : width * shrink], (width, height), interpolation=cv2.INTER_AREA)
    found: list[np.ndarray] = []
    for rough in _candidates(coarse):
        corners = _sharpened(rgb, (rough + 0.5) * shrink - 0.5)
        if corners is None or not _like_paper(rgb, corners):
            continue
        if all(np.linalg.norm(corners.mean(0) - other.mean(0)) > 0.2 * _diagonal(other) for other in found):
            found.append(corners)
    return found[0] if len(found) == 1 else None


def _candidates(rgb: np.ndarray):
    """Four-sided bright regions, (4, 2) px, clockwise; the same one may come at several levels."""
    darkest = rgb.min(2)
    height, width = darkest.shape
    for level in LEVELS:
        _, mask = cv2.threshold(darkest, level, 255, cv2.THRESH_BINARY)
        outlines, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        for outline in outlines:
            if not LEAST_SHARE < cv2.contourArea(outline) / darkest.size < GREATEST_SHARE:
                continue
            x, y, across, down = cv2.boundingRect(outline)
            if min(x, y) < 2 or x + across > width - 2 or y + down > height - 2:
                continue
            hull = cv2.convexHull(outline)
            corners = _four_corners(hull)
            if corners is not None and cv2.contourArea(outline) > FULLNESS * cv2.contourArea(
                corners.astype(np.float32)
            ):
                yield corners


def _four_corners(hull: np.ndarray) -> np.ndarray | None:
    """The hull as a quadrilateral of nearly the same area, clockwise as seen; None where it is of another shape."""
    polygon = cv2.approxPolyDP(hull, 0.02 * cv2.arcLength(hull, True), True).reshape(-1, 2).astype(float)
    if not 4 <= len(polygon) <= 6:
        return None
    # A worn or cut corner leaves a fifth point: keep the four that span most.
    best = max(
        (polygon[list(four)] for four in combinations(range(len(polygon)), 4)),
        key=lambda four: cv2.contourArea(four.astype(np.float32)),
    )
    if cv2.contourArea(best.astype(np.float32)) < FULLNESS * cv2.contourArea(hull):
        return None
    around = best - best.mean(0)
    return best[np.argsort(np.arctan2(around[:, 1], around[:, 0]))]


def _sharpened(rgb: np.ndarray, corners: np.ndarray) -> np.ndarray | None:
    """Corners as crossings of lines fitted to the sides, twice; None where a side is bent or not bright inside."""
    for reach in (3 * REACH_PX, REACH_PX):
        lines = []
        for start, end in zip(corners, np.roll(corners, -1, 0)):
            line = _side(rgb, start, end, reach)
            if line is None:
                return None
            lines.append(line)
        crossed = []
        for (point, along), (other, across) in zip(np.roll(np.array(lines), 1, 0), lines):
            steps = np.linalg.solve(np.column_stack([along, -across]), other - point)
            crossed.append(point + steps[0] * along)
        corners = np.array(crossed)
    return corners


def _side(rgb: np.ndarray, start: np.ndarray, end: np.ndarray, reach: int) -> tuple[np.ndarray, np.ndarray] | None:
    """A point on the side and its direction, from the place of half light across it at many points."""
    length = np.linalg.norm(end - start)
    if length < 40:
        return None
    along = (end - start) / length
    outward = np.array([along[1], -along[0]])
    reach = int(min(reach, length / 8))
    offsets = np.arange(-reach, reach + 0.25, 0.25)
    places = np.linspace(SIDE_END, 1 - SIDE_END, SIDE_POINTS) * length
    grid = start + places[:, None, None] * along + offsets[None, :, None] * outward
    light = _linear(_sampled(rgb, grid)).min(-1)  # wood is darkest in blue, paper in none
    quarter = len(offsets) // 4
    inside, outside = np.median(light[:, :quarter], 1), np.median(light[:, -quarter:], 1)
    bright = inside > BRIGHTER * outside
    if bright.mean() < BRIGHTER_SHARE:
        return None
    half = (inside + outside)[:, None] / 2
    falls = (light[:, :-1] >= half) & (light[:, 1:] < half)
    usable = bright & (falls.sum(1) > 0)
    first = falls.argmax(1)
    row = np.arange(len(first))
    before, after = light[row, first], light[row, first + 1]
    part = (before - half[:, 0]) / np.where(before > after, before - after, 1)
    off = (offsets[first] + 0.25 * part)[usable]
    at = places[usable]
    slope, level, kept = _line(at, off)
    allowed = STRAIGHT_PX + STRAIGHT_SHARE * length
    if kept.mean() < BRIGHTER_SHARE or np.sqrt(np.mean((off - slope * at - level)[kept] ** 2)) > allowed:
        return None
    direction = along + slope * outward
    return start + level * outward, direction / np.linalg.norm(direction)


def _line(at: np.ndarray, off: np.ndarray) -> tuple[float, float, np.ndarray]:
    """Slope and level of a line through most points (reweighted, beyond three times the median deviation left out)."""
    kept = np.ones(len(at), bool)
    slope = level = 0.0
    for _ in range(6):
        if kept.sum() < 8:
            return 0.0, 0.0, np.zeros(len(at), bool)
        slope, level = np.polyfit(at[kept], off[kept], 1)
        deviation = np.abs(off - slope * at - level)
        kept = deviation <= max(3 * 1.4826 * np.median(deviation), 0.15)
    return float(slope), float(level), kept


def _like_paper(rgb: np.ndarray, corners: np.ndarray) -> bool:
    """Whether the quadrilateral has a sheet's shape, no colour, and nearly one shade."""
    sides = np.linalg.norm(np.roll(corners, -1, 0) - corners, axis=1)
    if max(sides[0] + sides[2], sides[1] + sides[3]) > GREATEST_ASPECT * min(sides[0] + sides[2], sides[1] + sides[3]):
        return False
    if any(max(one, other) > GREATEST_KEYSTONE * min(one, other) for one, other in (sides[::2], sides[1::2])):
        return False
    u, v = np.meshgrid(np.linspace(0.06, 0.94, 60), np.linspace(0.06, 0.94, 60))
    weights = np.stack([(1 - u) * (1 - v), u * (1 - v), u * v, (1 - u) * v], -1)
    inside = _sampled(rgb, weights @ corners)
    middle = np.median(inside.reshape(-1, 3), 0)
    if (middle.max() - middle.min()) / max(middle.max(), 1) > GREATEST_COLOUR:
        return False
    light = _linear(inside).mean(-1)
    # The evening light falls off across a sheet; a plane is taken out before its evenness is judged.
    design = np.stack([np.ones_like(u), u, v], -1).reshape(-1, 3)
    plane = design @ np.linalg.lstsq(design, light.ravel(), rcond=None)[0]
    return bool((np.abs(light.ravel() - plane) < EVEN_WITHIN * np.median(light)).mean() > EVEN_SHARE)


def _sampled(rgb: np.ndarray, px: np.ndarray) -> np.ndarray:
    """(..., 3) float32 colours at (..., 2) px."""
    flat = px.reshape(-1, 1, 2).astype(np.float32)
    rows = max(1, min(len(flat), 16000))
    parts = [
        cv2.remap(rgb, flat[first : first + rows], None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        for first in range(0, len(flat), rows)
    ]
    return np.concatenate(parts).reshape(*px.shape[:-1], 3).astype(np.float32)


def _linear(srgb: np.ndarray) -> np.ndarray:
    """sRGB 0..255 to linear light 0..1 (IEC 61966-2-1): a pixel on an edge mixes light, not its code."""
    value = srgb / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def _diagonal(corners: np.ndarray) -> float:
    return float(np.linalg.norm(corners[2] - corners[0]))
