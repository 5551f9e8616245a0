"""The face of a slab as the page draws it: outlines, checks and the widths along it, in mm, y running down as SVG's does."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from grainlog.checks.history import FaceLook
from grainlog.units import Quantity, format_length, format_quantity
from grainlog.web.served_pictures import flat_extent, has_flat
from grainlog.yard.width_along import WidthAt, widths_along

#: Outlines are drawn to within this, mm: less than a pixel of the finest picture.
_CLOSE_MM = 0.4


@dataclass(frozen=True)
class DrawnCheck:
    """A check on the face: its path, its name for life where it is followed, what to say of it, and where it can be found."""

    path: str
    name: str
    kind: str
    length: str
    width: str
    where: str
    by: str
    thick_mm: float


@dataclass(frozen=True)
class Face:
    """One survey's face.

    left, top, wide, high : of the drawing, mm. picture : whether there is a flat picture to lay under it.
    wood, bark, holes : SVG paths. checks : the longest first; None where nobody looked for any.
    widths : JSON for the page's script: [x, y of lower edge, y of upper edge, width, "where", on an end] at every step.
    start : what the end at x = 0 is called.
    """

    left: float
    top: float
    wide: float
    high: float
    length: float
    picture: bool
    wood: str
    bark: str
    holes: str
    checks: tuple[DrawnCheck, ...] | None
    widths: str
    start: str


def face_of(record: Mapping[str, Any], look: FaceLook | None, units: str) -> Face | None:
    """The face of a survey; None where its record has no outline.

    look : the survey among the looks at the slab's checks, which gives them their names; None where they are not followed.
    """
    outline = record.get("outline") or {}
    if len(outline.get("wood_mm") or ()) < 3:
        return None
    left, bottom, right, top = flat_extent(record)
    bark = outline.get("bark_mm") or []
    if len(bark) >= 3:
        (low_x, low_y), (high_x, high_y) = np.min(bark, axis=0), np.max(bark, axis=0)
        left, bottom, right, top = min(left, low_x), min(bottom, low_y), max(right, high_x), max(top, high_y)
    start = start_of(record)
    wood = np.array(outline["wood_mm"], float)
    return Face(
        left, -top, right - left, top - bottom, float(np.ptp(wood[:, 0])), has_flat(record), path_of(wood), path_of(bark),
        " ".join(path_of(hole) for hole in outline.get("wood_holes_mm") or ()),
        _checks(record, look, units), _widths(record, start, units), start,
    )  # fmt: skip


def start_of(record: Mapping[str, Any]) -> str:
    """What the end at x = 0 is called: the butt where somebody said which end that is."""
    return "butt" if (record.get("face") or {}).get("butt") else "left end in the photo"


def path_of(points: Sequence, close: bool = True) -> str:
    """(n, 2) mm, slab frame, as an SVG path; empty for what is no line."""
    if len(points) < (3 if close else 2):
        return ""
    line = shapely.simplify(shapely.LineString(np.array(points, float) * [1.0, -1.0]), _CLOSE_MM)
    told = " ".join(f"{x:.1f},{y:.1f}" for x, y in shapely.get_coordinates(line))
    return f"M{told}{'Z' if close else ''}"


def width_sentence(at: WidthAt, start: str, units: str) -> tuple[str, str]:
    """The width at a place in words, and the place."""
    where = f"{format_length(at.x_mm, units, 4)} from the {start}"
    return format_quantity(at.width, units), where + (", on the end" if at.on_end else "")


def _widths(record: Mapping[str, Any], start: str, units: str) -> str:
    rows = []
    for at in widths_along(record):
        said, where = width_sentence(at, start, units)
        rows.append([round(at.x_mm, 1), round(-at.low_mm, 1), round(-at.high_mm, 1), said, where])
    # Inside a script element nothing may look like the end of it.
    return json.dumps(rows, ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c")


def _checks(record: Mapping[str, Any], look: FaceLook | None, units: str) -> tuple[DrawnCheck, ...] | None:
    checks = record.get("checks") or []
    if not checks and record.get("check_summary") is None:
        return None
    names = _names(look, checks)
    drawn = [_check(check, names.get(place, ""), units) for place, check in enumerate(checks)]
    order = sorted(range(len(checks)), key=lambda place: -float(checks[place].get("length_mm") or 0.0))
    return tuple(drawn[place] for place in order if drawn[place].path)


def _names(look: FaceLook | None, checks: Sequence[Mapping[str, Any]]) -> dict[int, str]:
    """The names for life of a record's checks: a sighting is the check whose path it has."""
    if look is None:
        return {}
    starts = {tuple(np.round(one.check.path[0], 1)): one.name for one in look.sightings if one.check is not None}
    found = {}
    for place, check in enumerate(checks):
        first = (check.get("path_mm") or [None])[0]
        if first is not None and (name := starts.get(tuple(np.round(first, 1)))):
            found[place] = name
    return found


def _check(check: Mapping[str, Any], name: str, units: str) -> DrawnCheck:
    end = check.get("end")
    kind = f"end check, {end} end" if check.get("kind") == "end" and end else f"{check.get('kind') or 'surface'} check"
    width = check.get("max_width_mm")
    return DrawnCheck(
        path_of(check.get("path_mm") or (), close=False),
        name or str(check.get("name") or ""),
        kind,
        _said(check.get("length_mm"), check.get("length_u_mm"), units),
        _said(width, check.get("max_width_u_mm"), units),
        _where(check, units),
        "drawn by hand" if check.get("by") == "person" else "found in the photo",
        max(float(width or 0.0), 1.0),
    )


def _said(value: float | None, u: float | None, units: str) -> str:
    return "not known" if value is None else format_quantity(Quantity(value, u or 0.0), units)


def _where(check: Mapping[str, Any], units: str) -> str:
    x = [point[0] for point in check.get("path_mm") or ()]
    return f"{format_length(max(min(x), 0.0), units, 4)} to {format_length(max(x), units, 4)}" if x else ""
