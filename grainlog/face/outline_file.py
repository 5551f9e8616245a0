"""A hand-drawn outline from a file: the way to overrule what the program sees.

JSON, either a list of points `[[x, y], ...]` or an object `{"wood_px": [...], "wood_holes_px": [[...], ...],
"bark_px": [...]}`; or SVG, with `polygon`, `polyline` or `path` elements of straight segments. In an SVG the element
(or group) whose id or class is `wood`, `bark` or `hole` is taken as that; of those without such a name the first is
the wood, where nothing else is named so, and the others are holes in it. Coordinates are pixels of the upright photo;
the centre of the first pixel is (0, 0) in JSON, and (0.5, 0.5) in an SVG, whose grid counts from the photo's corner
(SVG 2, section 8).
"""

import json
import math
import os
from dataclasses import dataclass

import numpy as np
import shapely

from grainlog.face.drawn_file import DrawnFileError, read_drawn_text
from grainlog.face.outline_svg import svg_rings

MOST_POINTS = 100_000


@dataclass(frozen=True, eq=False)
class DrawnOutline:
    """A hand-drawn outline, px of the upright photo, centre of the first pixel at (0, 0).

    wood_px : (n, 2) float64, open ring
    wood_holes_px : tuple of (m, 2) float64
    bark_px : (k, 2) float64 or None
    """

    wood_px: np.ndarray
    wood_holes_px: tuple[np.ndarray, ...]
    bark_px: np.ndarray | None


def read_outline(path: str | os.PathLike, width_px: int, height_px: int) -> DrawnOutline:
    """Read a hand-drawn outline of a photo of the given (upright) size.

    Raises DrawnFileError for a file that cannot be read, and for an outline with fewer than three points, points
    that are not finite or lie outside the photo, edges that cross, or a hole outside the wood.
    """
    name, text = read_drawn_text(path, "outline")
    if text.lstrip().startswith("<"):
        try:
            rings = svg_rings(text, width_px, height_px)
        except ValueError as error:
            raise DrawnFileError(f"The outline '{name}' cannot be used: {error}.") from None
    else:
        rings = _json_rings(text, name)
    return _sorted_out(rings, name, width_px, height_px)


def _json_rings(text: str, name: str) -> list[tuple[str | None, list]]:
    """(part, points) of each ring; part is wood, bark or hole."""
    try:
        content = json.loads(text)
    except (ValueError, RecursionError):
        raise DrawnFileError(f"The outline '{name}' is neither JSON nor SVG; give one of these.") from None
    if isinstance(content, list):
        return [("wood", content)]
    if not isinstance(content, dict) or "wood_px" not in content:
        raise DrawnFileError(f"The outline '{name}' has no wood in it; give [[x, y], ...] or {{\"wood_px\": ...}}.")
    holes = content.get("wood_holes_px") or []
    if not isinstance(holes, list):
        raise DrawnFileError(f"The holes in '{name}' are not a list; give [[[x, y], ...], ...].")
    bark = content.get("bark_px")
    return [("wood", content["wood_px"]), *(("hole", hole) for hole in holes), *([("bark", bark)] if bark else [])]


def _sorted_out(rings: list[tuple[str | None, list]], name: str, width_px: int, height_px: int) -> DrawnOutline:
    parts: dict[str, list[np.ndarray]] = {"wood": [], "hole": [], "bark": []}
    named = any(part == "wood" for part, _ in rings)
    for part, points in rings:
        if part is None:
            part = "hole" if named or parts["wood"] else "wood"
        parts[part].append(_ring(points, part, name, width_px, height_px))
    if len(parts["wood"]) != 1 or len(parts["bark"]) > 1:
        raise DrawnFileError(f"The outline '{name}' has to hold one wood outline and at most one of the bark.")
    wood = shapely.Polygon(parts["wood"][0])
    for hole in parts["hole"]:
        if not wood.contains(shapely.Polygon(hole)):
            raise DrawnFileError(f"A hole in '{name}' is not inside the wood; draw it again.")
    return DrawnOutline(parts["wood"][0], tuple(parts["hole"]), parts["bark"][0] if parts["bark"] else None)


def _ring(points: object, part: str, name: str, width_px: int, height_px: int) -> np.ndarray:
    """One checked ring, open."""
    what = f"The {part} outline in '{name}'"
    if not isinstance(points, list) or not all(isinstance(p, (list, tuple)) and len(p) == 2 for p in points):
        raise DrawnFileError(f"{what} is not a list of points; give [[x, y], ...] in pixels.")
    if len(points) > MOST_POINTS:
        raise DrawnFileError(f"{what} has more than {MOST_POINTS} points; draw it with fewer.")
    if not all(isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) < 1e9
               and math.isfinite(value) for point in points for value in point):
        raise DrawnFileError(f"{what} has a point that is not two ordinary numbers; give [[x, y], ...] in pixels.")
    ring = np.array(points, np.float64).reshape(-1, 2)
    # A ring drawn closed, or closed by relative steps that add up to nearly nothing, ends where it began.
    ring = ring[np.any(np.abs(ring - np.roll(ring, -1, axis=0)) > 1e-6, axis=1)] if len(ring) else ring
    if len(ring) < 3:
        raise DrawnFileError(f"{what} has fewer than three different points; draw it all the way round.")
    # Half a pixel beyond the outermost centres is where the photo ends.
    if (ring < -0.5).any() or (ring > [width_px - 0.5, height_px - 0.5]).any():
        raise DrawnFileError(f"{what} leaves the photo, which is {width_px} x {height_px} pixels; draw it inside, "
                               "on the photo as it is shown upright.")
    if not shapely.is_valid(shapely.Polygon(ring)) or shapely.Polygon(ring).area == 0:
        raise DrawnFileError(f"{what} crosses or touches itself; draw it as one simple line round.")
    return ring
