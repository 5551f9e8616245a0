"""Dabs from a file: JSON `{"wood_px": [...], "not_wood_px": [...]}`, or a drawing in SVG.

Each entry of the JSON is a point `[x, y]` or a stroke `[[x, y], ...]`. In an SVG, points (`circle`) and strokes
(`polyline`, `path`, `polygon`) whose id or class, or that of their group, is `wood` or `not-wood`. Coordinates as in
`outline_file`.
"""

import json
import math
import os

import numpy as np

from grainlog.face.dabs import Dabs
from grainlog.face.drawn_file import DrawnFileError, read_drawn_text
from grainlog.face.outline_svg import svg_rings

MOST_STROKES, MOST_POINTS = 1000, 10_000


def read_dabs(path: str | os.PathLike, width_px: int, height_px: int) -> Dabs:
    """Read dabs on a photo of the given (upright) size, px.

    Raises DrawnFileError for a file that cannot be read or holds no dab, and for dabs outside the photo.
    """
    name, text = read_drawn_text(path, "dabs")
    if text.lstrip().startswith("<"):
        try:
            strokes = svg_rings(text, width_px, height_px, _kind)
        except ValueError as error:
            raise DrawnFileError(f"The dabs '{name}' cannot be used: {error}.") from None
    else:
        strokes = _json_strokes(text, name)
    kinds: dict[str, list[np.ndarray]] = {"wood": [], "other": []}
    for kind, points in strokes:
        if kind is None:
            raise DrawnFileError(f"A stroke in '{name}' does not say what it is: give it the class wood or not-wood.")
        kinds[kind].append(_stroke(points, name, width_px, height_px))
    dabs = Dabs(tuple(kinds["wood"]), tuple(kinds["other"]))
    if not dabs:
        raise DrawnFileError(f"There is no dab in '{name}'; give {{\"wood_px\": [[x, y]], \"not_wood_px\": [[x, y]]}}.")
    if len(dabs.wood) + len(dabs.other) > MOST_STROKES:
        raise DrawnFileError(f"There are more than {MOST_STROKES} strokes in '{name}'; a few are enough.")
    return dabs


def _kind(words: list[str]) -> str | None:
    if "not" in words or {"ground", "bark", "flank"} & set(words):
        return "other"
    return "wood" if "wood" in words else None


def _json_strokes(text: str, name: str) -> list[tuple[str, object]]:
    try:
        content = json.loads(text)
    except (ValueError, RecursionError):
        raise DrawnFileError(f"The dabs '{name}' are neither JSON nor SVG; give one of these.") from None
    if not isinstance(content, dict) or not any(key in content for key in ("wood_px", "not_wood_px")):
        raise DrawnFileError(f"There is no dab in '{name}'; give {{\"wood_px\": [[x, y]], \"not_wood_px\": [[x, y]]}}.")
    strokes = []
    for key, kind in (("wood_px", "wood"), ("not_wood_px", "other")):
        entries = content.get(key) or []
        if not isinstance(entries, list):
            raise DrawnFileError(f"'{key}' in '{name}' is not a list of points and strokes; give [[x, y], ...].")
        strokes += [(kind, [entry] if _is_point(entry) else entry) for entry in entries]
    return strokes


def _is_point(entry: object) -> bool:
    return isinstance(entry, list) and len(entry) == 2 and all(isinstance(v, (int, float)) for v in entry)


def _stroke(points: object, name: str, width_px: int, height_px: int) -> np.ndarray:
    sound = isinstance(points, list) and points and all(isinstance(p, (list, tuple)) and len(p) == 2 for p in points)
    if not sound or not all(
        isinstance(v, (int, float)) and not isinstance(v, bool) and math.isfinite(v) for p in points for v in p
    ):
        raise DrawnFileError(f"A stroke in '{name}' is not a list of points; give [[x, y], ...] in pixels.")
    if len(points) > MOST_POINTS:
        raise DrawnFileError(f"A stroke in '{name}' has more than {MOST_POINTS} points; draw it with fewer.")
    stroke = np.array(points, np.float64).reshape(-1, 2)
    if (stroke < -0.5).any() or (stroke > [width_px - 0.5, height_px - 0.5]).any():
        raise DrawnFileError(
            f"A dab in '{name}' lies outside the photo, which is {width_px} x {height_px} pixels; dab on the photo as it "
            "is shown upright."
        )
    return stroke

