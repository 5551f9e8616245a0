"""The geometry of a cut: from the record of a survey to the records of what the saw left.

A cut is straight, across the slab or along it, with a kerf. What was measured stays as it was measured: outlines are
clipped, measures are taken anew from the clipped outline, and their uncertainty is the survey's own, scaled, with the
place of the cut added. Checks are clipped likewise.
"""

import copy
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from grainlog.face.frame import slab_frame
from grainlog.face.measures import (
    OutlineMeasures,
    Thickness,
    board_feet_exact,
    board_feet_three_width,
    measure_outline,
)
from grainlog.yard.check_clipping import clipped_checks
from grainlog.yard.errors import LifeRefused

#: How well a person marks and follows a cut, mm, one standard uncertainty (common practice, no source).
CUT_U_MM = 2.0
#: A sliver smaller than this is no piece, mm2.
LEAST_PIECE_MM2 = 10_000.0
_FAR = 1e6
_DECIMALS = 2
PARTS = {"across": ("start", "end"), "along": ("left", "right")}


@dataclass(frozen=True)
class Cut:
    """A straight cut: "across" at `at_mm` from the start (x = 0) or "along" at `at_mm` from the left edge.

    The left edge is the one on the left hand of somebody who stands at the start and looks along the slab, face up; it
    is the outermost point of that side. `at_mm` is the middle of the kerf.
    """

    direction: str
    at_mm: float
    kerf_mm: float


def cut_from(
    record: Mapping[str, Any], across_mm: float | None, along_mm: float | None, side: str | None, kerf_mm: float
) -> Cut:
    """A cut as a person measures it on the slab of this record.

    side : "end" or "right" where it was measured from there, None from the start or the left edge. Raises LifeRefused.
    """
    direction, at = ("across", across_mm) if across_mm is not None else ("along", along_mm)
    if at is None or not math.isfinite(at):
        raise LifeRefused("Say where the cut went.")
    if side is not None:
        if side != PARTS[direction][1]:
            raise LifeRefused(f"A cut {direction} is measured from the {' or the '.join(PARTS[direction])}.")
        wood = np.array((record.get("outline") or {}).get("wood_mm") or [[0, 0]], np.float64)
        at = float(np.ptp(wood[:, 0 if direction == "across" else 1])) - at
    return Cut(direction, at, kerf_mm)


def halves(wood: np.ndarray, cut: Cut) -> dict[str, shapely.Polygon]:
    """What lies on either side of the kerf, by part, in the slab frame of `wood` ((n, 2) float64, mm).

    Raises LifeRefused for a cut beside the wood.
    """
    half = cut.kerf_mm / 2
    extent = float(np.ptp(wood[:, 0 if cut.direction == "across" else 1]))
    if not (half < cut.at_mm < extent - half):
        raise LifeRefused(f"A cut at {cut.at_mm:.0f} mm misses the slab, which is {extent:.0f} mm that way.")
    if cut.direction == "across":
        at = float(wood[:, 0].min()) + cut.at_mm
        return {
            "start": shapely.box(-_FAR, -_FAR, at - half, _FAR),
            "end": shapely.box(at + half, -_FAR, _FAR, _FAR),
        }
    at = float(wood[:, 1].max()) - cut.at_mm
    return {
        "left": shapely.box(-_FAR, at + half, _FAR, _FAR),
        "right": shapely.box(-_FAR, -_FAR, _FAR, at - half),
    }


def record_of_part(
    record: Mapping[str, Any], half: shapely.Polygon, cut: Cut, thickness_mm: float | None, origin: Mapping[str, Any]
) -> dict[str, Any]:
    """The record of what lies within `half` (slab frame of the record).

    origin : what is kept under "cut": where the outline comes from. Raises LifeRefused where too little is left or it
    falls into several pieces.
    """
    outline = record["outline"]
    before, wood, to_piece = _wood_of_part(record, half)
    ring = to_piece(wood.exterior.coords)
    holes = [to_piece(hole.coords) for hole in wood.interiors]
    bark = _clipped_ring(outline.get("bark_mm"), half)
    bark = None if bark is None else to_piece(bark)
    silhouette = _clipped_ring(outline.get("silhouette_mm"), half)
    measures = measure_outline(ring, holes, bark)
    told = copy.deepcopy(dict(record))
    told["cut"] = dict(origin)
    told["outline"] = {
        "wood_mm": _points(ring),
        "wood_holes_mm": [_points(hole) for hole in holes],
        "bark_mm": None if bark is None else _points(bark),
        "silhouette_mm": None if silhouette is None else _points(to_piece(silhouette)),
    }
    told["face"] = _face(record["face"], measures, before, wood, cut, thickness_mm)
    told |= clipped_checks(record, half, to_piece, told["face"])
    told["warnings"] = [
        *(warning for warning in record.get("warnings") or () if warning["code"] != "worked-out"),
        {"code": "worked-out", "message": "Worked out from an earlier photo by the place of the cut; photograph the "
         "piece to measure it itself."},
    ]  # fmt: skip
    return told


def frame_of_part(record: Mapping[str, Any], half: shapely.Polygon) -> Callable[[Any], np.ndarray]:
    """From the slab frame of a record to that of what lies within `half`, (n, 2) mm. Raises LifeRefused."""
    return _wood_of_part(record, half)[2]


def _wood_of_part(
    record: Mapping[str, Any], half: shapely.Polygon
) -> tuple[shapely.Geometry, shapely.Polygon, Callable[[Any], np.ndarray]]:
    """The wood before the cut, what is left of it, and the way into that piece's own frame."""
    outline = record["outline"]
    before = _polygon(outline["wood_mm"], outline.get("wood_holes_mm") or ())
    wood = _one_piece(before.intersection(half))
    frame = slab_frame(np.array(wood.exterior.coords)[:-1])
    if abs(math.sin(frame.angle)) <= math.sqrt(0.5):
        return before, wood, frame.to_slab
    # Shorter along the grain than wide: x stays along the grain all the same.
    corner = np.array([wood.bounds[0], (wood.bounds[1] + wood.bounds[3]) / 2])
    return before, wood, lambda points: np.asarray(points, np.float64) - corner


def record_with_thickness(record: Mapping[str, Any], readings_mm: tuple[float, ...], origin: Mapping[str, Any]) -> dict:
    """The same outline at a new thickness. Raises WrongUse for readings that are no thickness."""
    thickness = Thickness.from_readings(readings_mm)
    told = copy.deepcopy(dict(record))
    face = told["face"]
    area = face["area_mm2"]
    face["thickness_mm"] = thickness.mean_mm
    face["thickness"] = {
        "value": thickness.mean_mm, "u": thickness.u_mm, "least": thickness.least_mm,
        "greatest": thickness.greatest_mm, "readings_mm": list(thickness.readings),
    }  # fmt: skip
    budget = dict(area.get("budget") or {"area": area["u"]})
    parts = {source: u * thickness.mean_mm for source, u in budget.items()}
    parts["thickness"] = math.hypot(parts.get("thickness", 0.0), area["value"] * thickness.u_mm)
    _set_volume(face, area["value"] * thickness.mean_mm, parts)
    if face.get("length_mm") and face.get("width_three_mm"):
        feet = board_feet_three_width(face["length_mm"]["value"], face["width_three_mm"]["value"], thickness.mean_mm)
        share = face["board_feet"]["u"] / face["board_feet"]["value"]
        face["board_feet_three_width"] = {"value": feet, "u": feet * share, "budget": {"as board feet": feet * share}}
    told["cut"] = dict(origin)
    return told


def _face(
    face: Mapping[str, Any], measures: OutlineMeasures, before: shapely.Polygon, wood: shapely.Polygon, cut: Cut,
    thickness_mm: float | None,
) -> dict[str, Any]:  # fmt: skip
    told = {name: face.get(name) for name in ("side", "butt", "confidence", "thickness_mm", "thickness")}
    share = wood.area / before.area
    # Only as much of the edge's doubt as there is of the old edge.
    edge = wood.exterior.intersection(before.exterior.buffer(0.01)).length / before.exterior.length
    line = wood.exterior.length - wood.exterior.intersection(before.exterior.buffer(0.01)).length
    for name, value in measures.scalars().items():
        old = face.get(name)
        if old is None:
            continue
        if name.endswith("_mm2"):
            parts = {source: u * (edge if source == "outline" else share) for source, u in _budget(old).items()}
            parts["cut"] = line * CUT_U_MM if name == "area_mm2" else 0.0
        else:
            ratio = value / old["value"] if old["value"] else 1.0
            parts = {source: u * (1.0 if source == "outline" else ratio) for source, u in _budget(old).items()}
            touched = ("length" in name) == (cut.direction == "across")
            parts["cut"] = CUT_U_MM if touched else 0.0
        told[name] = {"value": value, "u": math.hypot(*parts.values()), "budget": parts}
    told.setdefault("bark_area_mm2", None)
    for name in ("volume_mm3", "board_feet", "board_feet_three_width", "cubic_metres"):
        told[name] = None
    if thickness_mm is not None and face.get("volume_mm3"):
        parts = {
            source: u * (edge if source == "outline" else share) for source, u in _budget(face["volume_mm3"]).items()
        }
        parts["cut"] = line * CUT_U_MM * thickness_mm
        _set_volume(told, measures.area_mm2 * thickness_mm, parts)
        feet = board_feet_three_width(measures.length_mm, measures.width_three_mm, thickness_mm)
        u = feet * told["board_feet"]["u"] / told["board_feet"]["value"]
        told["board_feet_three_width"] = {"value": feet, "u": u, "budget": {"as board feet": u}}
    width_u = told["width_mean_mm"]["u"] if told.get("width_mean_mm") else 0.0
    told["widths"] = {
        "step_mm": 25.0,
        "x_mm": np.round(measures.stations[:, 0], _DECIMALS).tolist(),
        "width_mm": np.round(measures.stations[:, 3], _DECIMALS).tolist(),
        "u_mm": [round(width_u, _DECIMALS)] * len(measures.stations),
        "ends_px": [],
    }
    return told


def _set_volume(face: dict[str, Any], volume: float, parts: Mapping[str, float]) -> None:
    u = math.hypot(*parts.values())
    per_foot = board_feet_exact(1.0, 1.0)
    face["volume_mm3"] = {"value": volume, "u": u, "budget": dict(parts)}
    face["cubic_metres"] = {"value": volume * 1e-9, "u": u * 1e-9}
    face["board_feet"] = {
        "value": volume * per_foot, "u": u * per_foot,
        "budget": {source: part * per_foot for source, part in parts.items()}
    }  # fmt: skip


def _budget(figure: Mapping[str, Any]) -> dict[str, float]:
    return dict(figure.get("budget") or {"survey": figure["u"]})


def _polygon(ring: Any, holes: Any = ()) -> shapely.Geometry:
    return shapely.make_valid(shapely.Polygon(ring, [hole for hole in holes if len(hole) >= 3]))


def _one_piece(shape: shapely.Geometry) -> shapely.Polygon:
    parts = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon" and part.area >= LEAST_PIECE_MM2]
    if not parts:
        raise LifeRefused("That cut leaves too little on one side to be a piece; look at where it was made.")
    if len(parts) > 1:
        raise LifeRefused(
            f"That cut leaves {len(parts)} pieces on one side of it; cut first where the slab parts, then the rest."
        )
    return parts[0]


def _clipped_ring(ring: Any, half: shapely.Polygon) -> np.ndarray | None:
    if not ring:
        return None
    parts = [part for part in shapely.get_parts(_polygon(ring).intersection(half)) if part.geom_type == "Polygon"]
    return np.array(max(parts, key=lambda part: part.area).exterior.coords) if parts else None


def _points(points: np.ndarray) -> list:
    points = np.asarray(points, np.float64)
    if len(points) > 1 and (points[0] == points[-1]).all():
        points = points[:-1]
    return np.round(points, _DECIMALS).tolist()
