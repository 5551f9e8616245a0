"""What a cut leaves of the checks in a survey's record: each as far as it lies in the piece, and their sums anew."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
import shapely

from grainlog.checks.found import FoundChecks
from grainlog.checks.record import checks_of_record, record_of_summary
from grainlog.checks.summary import summarise

_DECIMALS = 2


def clipped_checks(
    record: Mapping[str, Any], half: shapely.Polygon, to_piece: Callable[[Any], np.ndarray], face: Mapping[str, Any]
) -> dict[str, Any]:
    """The keys "checks" and, where checks were looked for, "check_summary" of the record of a piece.

    half : what is kept, slab frame of the record. to_piece : from there to the piece's own frame, mm.
    face : of the piece's record. No photo shows the piece, so its checks have no place in one.
    """
    length = (face.get("length_mm") or {}).get("value") or 0.0
    checks = [kept for check in record.get("checks") or () if (kept := _clipped(check, half, to_piece, length)) is not None]
    sums = record.get("check_summary")
    if sums is None:
        return {"checks": checks}
    found = FoundChecks(checks_of_record(checks), sums["smallest_claimed_mm"], sums["mm_per_px"])
    summary = summarise(found, length, (face.get("area_mm2") or {}).get("value") or 0.0, (face.get("length_mm") or {}).get("u") or 0.0)
    return {"checks": checks, "check_summary": record_of_summary(summary, found)}


def _clipped(
    check: Mapping[str, Any], half: shapely.Polygon, to_piece: Callable[[Any], np.ndarray], length_mm: float
) -> dict[str, Any] | None:
    """A check as far as it lies in the piece; None where it does not. One that is cut through now meets an end."""
    path = check.get("path_mm")
    if not path or len(path) < 2:
        return None
    line = shapely.LineString(path)
    lines = [part for part in shapely.get_parts(line.intersection(half)) if part.geom_type == "LineString" and part.length > 0]
    if not lines:
        return None
    longest = max(lines, key=lambda part: part.length)
    kept = dict(check)
    left = to_piece(np.array(longest.coords))
    kept["path_mm"] = np.round(left, _DECIMALS).tolist()
    kept["path_px"] = []
    for name in ("beyond_mm", "beyond_width_mm"):
        kept.pop(name, None)
    if isinstance(check.get("length_mm"), (int, float)):
        kept["length_mm"] = check["length_mm"] * sum(part.length for part in lines) / line.length
    if check.get("width_mm"):
        kept["width_mm"] = _widths(check["width_mm"], line, longest)
        kept["max_width_mm"] = min(check["max_width_mm"], max(kept["width_mm"]))
        kept["mean_width_mm"] = float(np.mean(kept["width_mm"]))
    if sum(part.length for part in lines) < line.length - 1e-6:
        kept["kind"] = "end"
        # It was cut through where it is nearest to an end of the piece.
        kept["end"] = "butt" if left[:, 0].min() < length_mm - left[:, 0].max() else "top"
    if "from_butt_mm" in check:
        kept["from_butt_mm"] = max(float(left[:, 0].min()), 0.0)
        kept["from_top_mm"] = max(float(length_mm - left[:, 0].max()), 0.0)
    return kept


def _widths(widths: Sequence[float], line: shapely.LineString, kept: shapely.LineString) -> list[float]:
    """The widths at the points of a part of a check's path, from those along all of it."""
    along = shapely.line_locate_point(line, shapely.points(np.array(line.coords)))
    at = shapely.line_locate_point(line, shapely.points(np.array(kept.coords)))
    return np.round(np.interp(at, along, np.asarray(widths, float)), _DECIMALS).tolist()
