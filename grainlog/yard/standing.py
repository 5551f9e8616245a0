"""What stands for a slab that has been surveyed more than once.

Length, widths, thickness and area belong to a face, so the newest survey speaks. Volume and board feet belong to the
whole slab: with both faces surveyed they are the mean of the newest of each (end areas averaged over the thickness,
the trapezoid rule); one face alone misses the slope of the live edges and is marked so.
"""

import math
from dataclasses import dataclass
from typing import Any, Iterable, Mapping

from grainlog.units.quantity import Quantity
from grainlog.yard.filing import SIDES
from grainlog.yard.schema import FIGURES

OF_THE_SLAB = ("volume_mm3", "board_feet")
# In a record "thickness_mm" is the bare number; with its uncertainty and readings it stands under another name.
UNDER = {"thickness_mm": "thickness"}


@dataclass(frozen=True)
class Surveyed:
    """One survey as far as its slab's figures go: when, which face, the record's "face", and whether it is history."""

    surveyed_at: str
    filed_at: str
    id: int
    side: str | None
    face: Mapping[str, Any]
    before_cut: bool = False


@dataclass(frozen=True)
class Standing:
    """A slab's figures by name (see `schema.FIGURES`; None where unknown), and what they rest on."""

    surveyed_at: str
    figures: Mapping[str, Quantity | None]
    faces: tuple[str, ...]
    one_face_only: bool


def newest_first(surveys: Iterable[Surveyed]) -> list[Surveyed]:
    """By the day of the photo, then by when it was filed."""
    return sorted(surveys, key=lambda survey: (survey.surveyed_at, survey.filed_at, survey.id), reverse=True)


def quantity(face: Mapping[str, Any], name: str) -> Quantity | None:
    """A figure of a record's face as a Quantity; None where the record has none."""
    given = face.get(UNDER.get(name, name))
    if not given or given.get("value") is None:
        return None
    return Quantity(float(given["value"]), float(given.get("u") or 0.0), dict(given.get("budget") or {}))


def standing(surveys: Iterable[Surveyed]) -> Standing:
    """The figures that stand for a slab with at least one survey."""
    ordered = newest_first(survey for survey in surveys if not survey.before_cut)
    newest = ordered[0]
    figures = {name: quantity(newest.face, name) for name in FIGURES if name not in OF_THE_SLAB}
    both = True
    for name in OF_THE_SLAB:
        figures[name], from_both = of_both_faces(ordered, name)
        both = both and from_both
    faces = tuple(side for side in SIDES if any(survey.side == side for survey in ordered))
    return Standing(newest.surveyed_at, figures, faces, one_face_only=not both)


def of_both_faces(ordered: list[Surveyed], name: str) -> tuple[Quantity | None, bool]:
    """The mean of the newest bark and heart side figures and True, or the newest one known and False.

    The faces share print, thickness and mostly the camera, so each source of error is taken as fully correlated from
    face to face, which gives the larger answer (JCGM 100:2008, 5.2.2, note 1): nothing averages down.
    """
    known = [(survey.side, figure) for survey in ordered if (figure := quantity(survey.face, name))]
    newest_of = {side: next((figure for of, figure in known if of == side), None) for side in SIDES}
    bark, heart = (newest_of[side] for side in SIDES)
    if bark is None or heart is None:
        return (known[0][1] if known else None), False
    sources = sorted({*bark.budget, *heart.budget})
    budget = {source: (bark.budget.get(source, 0.0) + heart.budget.get(source, 0.0)) / 2 for source in sources}
    u = math.hypot(*budget.values()) if bark.budget and heart.budget else (bark.u + heart.u) / 2
    return Quantity((bark.value + heart.value) / 2, u, budget), True
