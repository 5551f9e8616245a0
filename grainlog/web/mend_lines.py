"""The lines of a survey as the mending page draws them, and what it sends back as what a person says."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from grainlog.errors import WrongUse
from grainlog.scale.rectangle import read_rectangle
from grainlog.survey.hand_checks import said_checks
from grainlog.survey.said import dabs_of, paths_of, reference_data, request_of
from grainlog.units.writing import format_length
from grainlog.web.errors import PageRefused

#: The wood edge gets about so many places to take hold of.
HANDLES = 64


@dataclass(frozen=True)
class Mending:
    """What a person sends back: what is said of the photo now, and a few words of what was done."""

    said: dict[str, Any]
    why: str


def lines_of(record: Mapping[str, Any], asked: Mapping[str, Any], units: str) -> dict[str, Any]:
    """The lines of a record, photo px, as plain data.

    asked : what it was measured with, hand edits included.
    """
    outline = record["outline"]
    checks = [
        {
            "path": check["path_px"],
            "by": check.get("by"),
            "label": f"{'end' if check['kind'] == 'end' else 'surface'} check, {format_length(check['length_mm'], units)}",
        }
        for check in record.get("checks") or ()
        if check.get("path_px")
    ]
    return {
        "width": record["photo"]["width_px"],
        "height": record["photo"]["height_px"],
        "mm_per_px": record["scale"]["mm_per_px"],
        "ring": outline["wood_px"],
        "handles": handles_of(np.array(outline["wood_px"], float)),
        "holes": outline.get("wood_holes_px") or [],
        "checks": checks,
        "removed": [one["path_px"] for one in record.get("checks_removed") or ()],
        "dabs": asked.get("dabs") or {"wood_px": [], "not_wood_px": []},
        "drawn": asked.get("outline") is not None,
    }


def handles_of(ring: np.ndarray, most: int = HANDLES) -> list[int]:
    """The places of a ring, (n, 2) px, that say most of its shape: indices, in order."""
    if len(ring) <= most:
        return list(range(len(ring)))
    index = {tuple(point): place for place, point in enumerate(ring.tolist())}
    tolerance = float(np.ptp(ring, axis=0).max()) / 2000
    while True:
        kept = shapely.get_coordinates(shapely.LinearRing(ring).simplify(tolerance))[:-1]
        if len(kept) <= most:
            return sorted({index[tuple(point)] for point in kept.tolist()})
        tolerance *= 1.3


def read_mending(text: str, record: Mapping[str, Any], asked: Mapping[str, Any]) -> Mending:
    """What the page sent, checked. Raises WrongUse (PageRefused, ...) for what cannot be meant."""
    try:
        sent = json.loads(text)
        ring, holes, dabs, checks = (sent.get(name) for name in ("ring", "holes", "dabs", "checks"))
    except (ValueError, AttributeError, RecursionError) as error:
        raise PageRefused("What was drawn did not arrive whole; save it again.") from error
    said, done = dict(asked), []
    size = np.array([record["photo"]["width_px"], record["photo"]["height_px"]])
    if ring is not None:
        around = {f"{name}_px": record["outline"].get(f"{name}_px") for name in ("bark", "silhouette")}
        said["outline"] = {"wood_px": ring, "holes_px": holes or [], "as_drawn": not sent.get("pull"), **around}
        said["dabs"] = None
        done.append("wood edge drawn")
    elif dabs is not None:
        said["dabs"], said["outline"] = {name: dabs.get(name) or [] for name in ("wood_px", "not_wood_px")}, None
        dabs_of(said["dabs"])
        done.append("wood edge dabbed")
    if checks is not None:
        added, removed = (paths_of(checks.get(name)) for name in ("added_px", "removed_px"))
        said["checks"] = {"added_px": checks.get("added_px") or [], "removed_px": checks.get("removed_px") or []}
        before = said_checks(record)
        if len(removed) > len(before["removed_px"]):
            done.append("check taken out")
        if len(added) != len(before["added_px"]):
            done.append("check drawn")
        _inside([*added, *removed], size)
    if not done:
        raise PageRefused("Nothing was changed yet; drag, dab or draw something, then save.")
    request = request_of(said)
    if request.outline is not None:
        _inside([request.outline.wood_px, *request.outline.holes_px], size)
    _inside([*request.dabs.wood, *request.dabs.other], size)
    return Mending(said, ", ".join(done))


def read_reference(form: Mapping[str, str], read_length) -> dict[str, Any]:
    """What gives the scale, from the form of the page: a sheet, a board, or two points. Raises WrongUse."""
    kind = form.get("kind", "")
    if kind == "points":
        data = {
            "kind": "points",
            "points_px": _typed_points(form.get("points", ""), 2),
            "distance_mm": read_length(form.get("distance", "")),
        }
    elif kind in ("a4", "letter", "size"):
        rectangle = read_rectangle(form.get("size", "") if kind == "size" else kind)
        found = form.get("found") == "yes" and kind != "size"
        corners = None if found else _typed_points(form.get("points", ""), 4)
        data = {**(reference_data(rectangle) or {}), "corners_px": corners}
    else:
        raise PageRefused("Choose what gives the scale: a sheet, a board, or two points.")
    request_of({"reference": data})
    return data


def _typed_points(text: str, count: int) -> list[list[float]]:
    try:
        points = [[float(part) for part in pair.split(",")] for pair in text.split()]
    except ValueError:
        points = []
    if len(points) != count or any(len(pair) != 2 for pair in points):
        raise PageRefused(f"Put the {count} marks where they belong, then measure.")
    return points


def _inside(paths, size: np.ndarray) -> None:
    for path in paths:
        if (path < -0.5).any() or (path > size - 0.5).any():
            raise WrongUse("Something was drawn outside the photo; take it back and draw it on the photo.")
