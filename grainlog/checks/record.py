"""Checks as plain data: the `checks` list of a survey's record and its summary; and back again."""

from collections.abc import Callable

import numpy as np

from grainlog.checks.found import COUNTED_MM, Check, FoundChecks
from grainlog.checks.summary import Summary

#: Decimals kept: a hundredth of a millimetre, a hundredth of a pixel.
DECIMALS = 2


def record_of_checks(found: FoundChecks, length_mm: float, to_px: Callable[[np.ndarray], np.ndarray]) -> list[dict]:
    """The checks of a face, each as a dict of plain values; lengths in mm, `u` standard uncertainties (k = 1).

    length_mm : of the slab, for the distances from its ends
    to_px : slab-frame mm (n, 2) to photo px (n, 2)
    """
    return [
        {
            "path_mm": _points(check.path),
            "path_px": _points(to_px(check.path)),
            "width_mm": np.round(check.width, DECIMALS).tolist(),
            "kind": check.kind,
            "end": check.end,
            "length_mm": check.length,
            "length_u_mm": check.length_u,
            "max_width_mm": check.max_width,
            "max_width_u_mm": check.max_width_u,
            "mean_width_mm": check.mean_width,
            "from_butt_mm": max(float(check.path[:, 0].min()), 0.0),
            "from_top_mm": max(float(length_mm - check.path[:, 0].max()), 0.0),
            "angle_deg": float(np.degrees(check.angle)),
            "confidence": check.confidence,
            **({} if check.beyond is None else {"beyond_mm": _points(check.beyond), "beyond_width_mm": _points(check.beyond_width)}),
        }
        for check in found.checks
    ]


def record_of_summary(summary: Summary, found: FoundChecks) -> dict:
    """The sums as a dict of plain values."""
    longest, widest = summary.longest, summary.widest
    return {
        "number": dict(summary.number),
        "total_mm": {kind: {"value": summary.total_mm[kind], "u": summary.total_u_mm[kind]} for kind in summary.total_mm},
        "longest_mm": None if longest is None else {"value": longest.length, "u": longest.length_u},
        "max_width_mm": None if widest is None else {"value": widest.max_width, "u": widest.max_width_u},
        "m_per_m2": summary.per_m2,
        "sound_length": [
            {"trims": s.trims, "value": s.length, "u": s.u, "cut_butt_mm": s.cut_butt, "cut_top_mm": s.cut_top}
            for s in summary.sound
        ],
        "counted_from_mm": COUNTED_MM,
        "smallest_claimed_mm": found.least_mm,
        "mm_per_px": found.mm_per_px,
    }


def checks_of_record(records: list[dict]) -> tuple[Check, ...]:
    """The checks that `record_of_checks` wrote."""
    return tuple(
        Check(
            np.array(one["path_mm"], float),
            np.array(one["width_mm"], float),
            one["kind"],
            one["end"],
            one["length_mm"],
            one["length_u_mm"],
            one["max_width_mm"],
            one["max_width_u_mm"],
            one["mean_width_mm"],
            one["confidence"],
            *((np.array(one["beyond_mm"], float).reshape(-1, 2), np.array(one["beyond_width_mm"], float)) if "beyond_mm" in one else ()),
        )
        for one in records
    )


def _points(points: np.ndarray) -> list:
    return np.round(points, DECIMALS).tolist()
