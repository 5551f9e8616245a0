"""What a cut leaves of the defects drawn on a slab: each as far as it lies in the piece, drawn anew in the piece's own frame."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from sqlalchemy import Connection

from grainlog.fit.defects import Defect
from grainlog.yard.fit_defects import Drawn, enter_defect, laid_onto


@dataclass(frozen=True, eq=False)
class Moved:
    """A survey that was worked out from another one.

    old, side : the survey that it rests on, and the face that this shows. new : its own key.
    half : what the cut kept, in the old one's frame; None where the outline stayed.
    to_new : from the old one's frame to the new one's, (n, 2) mm.
    """

    old: int
    side: str | None
    new: int
    half: shapely.Polygon | None
    to_new: Callable[[np.ndarray], np.ndarray]


def carry_marks(connection: Connection, marks: Sequence[Drawn], slab: int, moved: Sequence[Moved]) -> tuple[int, ...]:
    """Draw on `slab` what of the marks lies in it; returns the numbers of marks that could not be laid onto any of its surveys.

    A mark is carried once: with the survey that it was drawn on, else one of the same face, else the first that it can be
    laid onto.
    """
    lost = []
    for mark in marks:
        ways = sorted(moved, key=lambda one: (one.old != mark.survey, one.side != mark.side))
        for way in ways:
            defect = laid_onto(connection, mark, way.old, way.side)
            if defect is not None:
                for part in _kept(defect, way.half):
                    enter_defect(connection, slab, way.new, _moved(part, way), mark.note)
                break
        else:
            lost.append(mark.number)
    return tuple(lost)


def _kept(defect: Defect, half: shapely.Polygon | None) -> list[Defect]:
    """The parts of a defect that lie in what was kept."""
    if half is None:
        return [defect]
    if not defect.shape.intersects(half):
        return []
    if len(defect.points) == 1:
        return [defect]
    whole = shapely.make_valid(shapely.Polygon(defect.points)) if defect.area else shapely.LineString(defect.points)
    kind = "Polygon" if defect.area else "LineString"
    parts = [part for part in shapely.get_parts(whole.intersection(half)) if part.geom_type == kind and part.length > 0]
    rings = [shapely.get_coordinates(part.exterior)[:-1] if defect.area else shapely.get_coordinates(part) for part in parts]
    return [Defect(defect.kind, ring, defect.size, defect.area) for ring in rings]


def _moved(defect: Defect, way: Moved) -> Defect:
    return Defect(defect.kind, way.to_new(defect.points), defect.size, defect.area)
