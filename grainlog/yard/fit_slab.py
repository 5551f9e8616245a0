"""One slab's wood for a piece, read from the yard: outline, defects, how sure, and dry where that is asked."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from sqlalchemy import Connection, select

from grainlog.drying.dry_size import ScaleFactors
from grainlog.fit.defects import Defect, Wishes
from grainlog.fit.laying import Sureness
from grainlog.fit.region import Region, outline_polygon, region_of
from grainlog.yard.fit_defects import defects_seen_from
from grainlog.yard.schema import outlines, surveys


@dataclass(frozen=True, eq=False)
class SlabWood:
    """What a piece may be laid on.

    outline : shapely Polygon, all of the face's wood, mm, slab frame
    region : what is left of it for the piece
    wood_mm2 : the outline less its voids
    defects : drawn ones, voids, and checks seen in the photo
    sureness : of the outline
    butt_known : whether x = 0 is the butt
    checks : None where nobody looked for any, else (end checks, other checks) seen
    lost_defects : drawn defects that could not be laid onto this survey
    """

    outline: shapely.Polygon
    region: Region
    wood_mm2: float
    defects: tuple[Defect, ...]
    sureness: Sureness
    butt_known: bool
    checks: tuple[int, int] | None
    lost_defects: int


def checks_of(record: Mapping[str, Any]) -> list[Mapping[str, Any]] | None:
    """The checks in a survey's record; None where nobody looked for them.

    An empty list with nothing that sums it up says that nobody looked (`survey.record`).
    """
    checks = record.get("checks")
    if not isinstance(checks, list):
        return None
    return checks if checks or record.get("check_summary") is not None else None


def read_wood(
    connection: Connection, slab: int, survey: int, wishes: Wishes, end_checks_out: bool, dry: ScaleFactors | None
) -> SlabWood:
    """A survey's wood for a piece. Raises OutlineRefused where there is none to lay a piece on.

    end_checks_out : keep pieces clear of end checks, whatever else is wished about checks.
    dry : factors to a moisture, applied to everything; None leaves the sizes as measured.
    """
    row = connection.execute(select(surveys.c.side, surveys.c.record).where(surveys.c.id == survey)).one()
    record = json.loads(row.record)
    scale = np.ones(2) if dry is None else np.array([dry.along.value, dry.across.value])
    rings: dict[str, list[np.ndarray]] = {"wood": [], "hole": []}
    for kind, points in connection.execute(
        select(outlines.c.kind, outlines.c.points_mm).where(outlines.c.survey_id == survey).order_by(outlines.c.part)
    ):
        if kind in rings:
            rings[kind].append(np.array(json.loads(points), np.float64).reshape(-1, 2) * scale)
    outline = outline_polygon(rings["wood"][0] if rings["wood"] else np.empty((0, 2)))
    drawn, lost = defects_seen_from(connection, slab, survey, row.side)
    voids = [Defect("void", ring, area=True) for ring in rings["hole"] if len(ring) >= 3]
    checks = checks_of(record)
    seen = [_check(check, scale) for check in checks or () if len(check.get("path_mm") or ()) >= 1]
    scaled = [Defect(d.kind, d.points * scale, d.size, d.area, d.number) for d in drawn]
    defects = (*scaled, *voids, *seen)
    keep_out = wishes.keep_out(defects)
    if end_checks_out:
        ends = [_check(c, scale).shape.buffer(wishes.margin) for c in checks or () if c.get("kind") == "end"]
        keep_out = shapely.union_all([shape for shape in (keep_out, *ends) if shape is not None])
    whole = shapely.get_coordinates(outline.exterior)
    region = region_of(whole, (), keep_out)
    wood = outline.difference(shapely.union_all([void.shape for void in voids])) if voids else outline
    ends = sum(check.get("kind") == "end" for check in checks or ())
    return SlabWood(
        outline=outline,
        region=region,
        wood_mm2=float(wood.area),
        defects=defects,
        sureness=_sureness(record, scale, dry),
        butt_known=bool((record.get("face") or {}).get("butt")),
        checks=None if checks is None else (ends, len(checks) - ends),
        lost_defects=lost,
    )


def _check(check: Mapping[str, Any], scale: np.ndarray) -> Defect:
    path = np.array(check["path_mm"], np.float64).reshape(-1, 2) * scale
    return Defect("check", path, float(check.get("max_width_mm") or 0.0))


def _sureness(record: Mapping[str, Any], scale: np.ndarray, dry: ScaleFactors | None) -> Sureness:
    face = record.get("face") or {}
    widths = face.get("widths") or {}
    x, u = np.array(widths.get("x_mm") or [], np.float64), np.array(widths.get("u_mm") or [], np.float64)
    if len(x) != len(u) or not len(x):
        least = (face.get("width_min_mm") or face.get("width_mean_mm") or {}).get("u") or 0.0
        x, u = np.zeros(1), np.array([float(least)])
    length_u = float((face.get("length_mm") or {}).get("u") or 0.0)
    return Sureness(
        x * scale[0], u * scale[1], length_u * float(scale[0]), 0.0 if dry is None else dry.across.u / dry.across.value
    )
