"""The lines of a survey as the mending page draws them on its ground, and what it sends back as what a person says."""

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
from grainlog.web.mend_ground import Ground, Photo

#: The wood edge gets about so many places to take hold of.
HANDLES = 64


@dataclass(frozen=True)
class Mending:
    """What a person sends back: what is said of the photo now, and a few words of what was done."""

    said: dict[str, Any]
    why: str


def lines_of(
    record: Mapping[str, Any],
    asked: Mapping[str, Any],
    units: str,
    ground: Ground,
    unsaved: Mapping[str, Any] | None = None,
) -> dict[str, Any]:
    """The lines of a record as plain data, px of the ground.

    asked : what it was measured with, hand edits included. unsaved : what was said when measuring it again failed, if it did:
    it is shown as drawn and not saved.
    """
    outline = record["outline"]
    ring = _on(ground, outline["wood_px"])
    checks = [
        {
            "path": _on(ground, check["path_px"]),
            "by": check.get("by"),
            "label": f"{'end' if check['kind'] == 'end' else 'surface'} check, {format_length(check['length_mm'], units)}",
            "out": False,
        }
        for check in record.get("checks") or ()
        if check.get("path_px")
    ]
    lines = {
        "ground": ground.name,
        "width": ground.width,
        "height": ground.height,
        "ring": ring,
        "handles": handles_of(np.array(ring)),
        "holes": [_on(ground, hole) for hole in outline.get("wood_holes_px") or ()],
        "checks": checks,
        "removed": [_on(ground, one["path_px"]) for one in record.get("checks_removed") or ()],
        "dabs": _dabs_on(ground, asked.get("dabs")),
        "drawn": asked.get("outline") is not None,
    }
    return lines if unsaved is None else lines | {"unsaved": _unsaved(record, lines, unsaved, ground)}


def _unsaved(
    record: Mapping[str, Any], lines: Mapping[str, Any], said: Mapping[str, Any], ground: Ground
) -> dict[str, Any]:
    """What was drawn and could not be measured, as the page's state."""
    state: dict[str, Any] = {}
    if said.get("outline"):
        ring = _on(ground, said["outline"]["wood_px"])
        state |= {"dragged": True, "ring": ring, "handles": handles_of(np.array(ring))}
    elif said.get("dabs"):
        state |= {"dabbed": True, "dabs": _dabs_on(ground, said["dabs"])}
    if (drawn := said.get("checks")) is not None:
        before, out = said_checks(record), drawn.get("removed_px") or []
        found = [check["path_px"] for check in record.get("checks") or () if check.get("path_px")]
        checks = [{**check, "out": path in out} for check, path in zip(lines["checks"], found)]
        fresh = [path for path in drawn.get("added_px") or () if path not in before["added_px"]]
        checks += [{"path": _on(ground, path), "by": "person", "label": "drawn check", "out": False} for path in fresh]
        state |= {"edited": True, "checks": checks}
    return state


def across(paths: Any, come_from: Ground, to: Ground) -> list[list[list[float]]]:
    """Paths moved from one ground to the other. Raises PageRefused for what are no paths on the first."""
    return [_on(to, _to_photo(come_from, path)) for path in _listed(paths)]


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


def read_mending(text: str, record: Mapping[str, Any], asked: Mapping[str, Any], ground: Ground) -> Mending:
    """What the page sent, checked. Raises WrongUse (PageRefused, ...) for what cannot be meant."""
    try:
        sent = json.loads(text)
        ring, holes, dabs, checks = (sent.get(name) for name in ("ring", "holes", "dabs", "checks"))
    except (ValueError, AttributeError, RecursionError) as error:
        raise PageRefused("What was drawn did not arrive whole; save it again.") from error
    if ring is not None:
        ring, holes = (_to_photo(ground, ring), [_to_photo(ground, hole) for hole in _listed(holes)])
    dabs, checks = (strokes_to_photo(ground, one) for one in (dabs, checks))
    said, done = dict(asked), []
    # Of several photos all is drawn on the joined picture (`survey.drawn`).
    on = {"photo": 0} if record.get("photos") else {}
    size = np.array([record["photo"]["width_px"], record["photo"]["height_px"]])
    if ring is not None:
        around = {f"{name}_px": record["outline"].get(f"{name}_px") for name in ("bark", "silhouette")}
        said["outline"] = {"wood_px": ring, "holes_px": holes or [], "as_drawn": not sent.get("pull"), **around, **on}
        said["dabs"] = None
        done.append("wood edge drawn")
    elif dabs is not None:
        said["dabs"], said["outline"] = {name: dabs.get(name, []) for name in ("wood_px", "not_wood_px")} | on, None
        dabs_of(said["dabs"])
        done.append("wood edge dabbed")
    if checks is not None:
        added, removed = (paths_of(checks.get(name)) for name in ("added_px", "removed_px"))
        said["checks"] = {name: checks.get(name, []) for name in ("added_px", "removed_px")}
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


def strokes_to_photo(ground: Ground, sent: Any) -> dict[str, list] | None:
    """Lists of strokes by name, from px of the ground to photo px. Raises PageRefused."""
    if sent is None:
        return None
    if not isinstance(sent, dict):
        raise PageRefused("What was drawn did not arrive whole; draw it again.")
    return {str(name): [_to_photo(ground, stroke) for stroke in _listed(strokes)] for name, strokes in sent.items()}


def _dabs_on(ground: Ground, dabs: Mapping[str, Any] | None) -> dict[str, list]:
    return {
        name: [_on(ground, stroke) for stroke in (dabs or {}).get(name) or ()] for name in ("wood_px", "not_wood_px")
    }


def _on(ground: Ground, path: Any) -> list[list[float]]:
    """A path in photo px as it lies on a ground."""
    return path if isinstance(ground, Photo) else np.round(ground.of_photo(np.array(path, float)), 2).tolist()


def _to_photo(ground: Ground, path: Any) -> list[list[float]]:
    """A path that was sent, in photo px. Raises PageRefused."""
    try:
        points = np.asarray(path, float)
    except (TypeError, ValueError):
        points = np.empty(0)
    if points.ndim != 2 or points.shape[1] != 2 or not len(points) or not np.isfinite(points).all():
        raise PageRefused("What was drawn cannot be read; draw it again.")
    size = np.array([ground.width, ground.height])
    if (points < -size).any() or (points > 2 * size).any():  # what was dabbed on the photo may lie beside a ground
        raise PageRefused("Something was drawn far outside the picture; take it back and draw it on the picture.")
    return path if isinstance(ground, Photo) else np.round(ground.to_photo(points), 2).tolist()


def _listed(paths: Any) -> list:
    if paths is None:
        return []
    if not isinstance(paths, list):
        raise PageRefused("What was drawn cannot be read; draw it again.")
    return paths


def _inside(paths, size: np.ndarray) -> None:
    for path in paths:
        if (path[:, :2] < -0.5).any() or (path[:, :2] > size - 0.5).any():
            raise WrongUse("Something was drawn outside the photo; take it back and draw it on the photo.")
