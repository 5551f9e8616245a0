"""Checks that a person corrects: a false one taken out, a missed one drawn; both are kept with the survey as theirs."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import shapely

from grainlog.checks.board import lay_board
from grainlog.checks.by_hand import drawn_check
from grainlog.checks.find import check_view
from grainlog.checks.found import Check, FoundChecks
from grainlog.survey.record import record_of
from grainlog.survey.said import paths_of
from grainlog.survey.survey import Survey

#: A found check whose path lies this near to one that was taken out is the same, mm: it is found to about a millimetre.
SAME_MM = 6.0


def hand_checked(survey: Survey, said: Mapping[str, Any] | None) -> tuple[Survey, dict]:
    """A survey and its record with the checks that a person took out or drew.

    said : {"added_px": paths, "removed_px": paths}, px of the upright photo, or None

    Raises WrongUse for a path that cannot be a check.
    """
    added, removed = (paths_of((said or {}).get(name)) for name in ("added_px", "removed_px"))
    if survey.checks is None or not (added or removed):
        return survey, record_of(survey)
    to_mm = survey.plane.to_mm
    out = [shapely.LineString(survey.frame.to_slab(to_mm(path))) for path in removed]
    kept = [check for check in survey.checks.checks if not any(_same(check, path) for path in out)]
    drawn = _drawn(survey, [survey.frame.to_slab(to_mm(path)) for path in added]) if added else []
    checks = tuple(sorted([*kept, *drawn], key=lambda check: -check.length))
    survey = replace(
        survey,
        checks=FoundChecks(checks, survey.checks.least_mm, survey.checks.mm_per_px),
    )
    record = record_of(survey)
    for check, written in zip(checks, record["checks"], strict=True):
        if any(check is one for one in drawn):
            written["by"] = "person"
    record["checks_removed"] = [{"path_px": np.round(path, 2).tolist(), "by": "person"} for path in removed]
    return survey, record


def said_checks(record: Mapping[str, Any]) -> dict[str, list]:
    """The checks of a record that a person drew and took out, as `hand_checked` takes them."""
    return {
        "added_px": [check["path_px"] for check in record.get("checks") or () if check.get("by") == "person"],
        "removed_px": [check["path_px"] for check in record.get("checks_removed") or ()],
    }


def _same(check: Check, removed: shapely.LineString) -> bool:
    return float(np.mean(shapely.distance(shapely.points(check.path), removed))) < SAME_MM


def _drawn(survey: Survey, paths: list[np.ndarray]) -> list[Check]:
    face, frame = survey.face, survey.frame
    view = check_view(survey.viewer, survey.plane.mm_per_px(survey.middle_mm), face.wood)
    board = lay_board(view, face.wood, face.holes, frame)
    return [drawn_check(board, frame.to_slab(face.wood), path) for path in paths]
