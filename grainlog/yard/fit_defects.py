"""Defects that a person drew on a slab: kept, listed, taken back, and laid onto a later survey of the same slab."""

import json
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from sqlalchemy import Connection, insert, select, update

from grainlog.face.frame import OutlineError, align_to
from grainlog.fit.defects import Defect, kind_named
from grainlog.fit.errors import PieceRefused
from grainlog.yard.database import Database
from grainlog.yard.errors import NoSuchSlab
from grainlog.yard.filing import now_text, storable
from grainlog.yard.fit_tables import defects
from grainlog.yard.schema import outlines, surveys
from grainlog.yard.seal import set_seal
from grainlog.yard.tags import tag_of

_MOST_POINTS = 10_000


@dataclass(frozen=True, eq=False)
class Drawn:
    """A defect as it is kept: its number, slab, the survey in whose frame it is drawn, and itself."""

    number: int
    slab: int
    survey: int
    side: str | None
    defect: Defect
    note: str
    entered_at: str


class Defects:
    """The drawn defects of one yard."""

    def __init__(self, database: Database):
        self._database = database

    def draw(
        self, slab: int, kind: str, points: Sequence[Sequence[float]], size_mm: float = 0.0, area: bool = False,
        note: str = "", survey: int | None = None,
    ) -> Drawn:  # fmt: skip
        """Keep a defect of a slab.

        points : mm in the slab frame of the survey, the newest one unless another is named. One point with a `size_mm`
            across it, a line of a width `size_mm`, or with `area` a ring.

        Raises NoSuchSlab, PieceRefused for an unknown kind or a shape that is none, YardError.
        """
        ring = np.asarray(points, np.float64).reshape(-1, 2) if len(points) else np.empty((0, 2))
        kind = kind_named(kind)
        if not 1 <= len(ring) <= _MOST_POINTS or not np.isfinite(ring).all():
            raise PieceRefused("A defect needs at least one point, as in 300,120 (mm along the slab, mm across).")
        if area and (len(ring) < 3 or not Defect(kind, ring, area=True).shape.area > 0):
            raise PieceRefused("An area needs three or more corners that are not in one line.")
        if not (np.isfinite(size_mm) and size_mm >= 0):
            raise PieceRefused("The size of a defect cannot be less than nothing.")
        with self._database.writing() as connection:
            query = select(surveys.c.id).where(surveys.c.slab_number == slab)
            query = query.where(surveys.c.id == survey) if survey is not None else query
            newest = query.order_by(surveys.c.surveyed_at.desc(), surveys.c.filed_at.desc(), surveys.c.id.desc()).limit(
                1
            )
            of = connection.execute(newest).scalar()
            if of is None:
                raise NoSuchSlab(
                    f"There is no slab {tag_of(slab)} in this yard; list the slabs to see which there are."
                )
            self._inside(connection, of, ring)
            key = enter_defect(connection, slab, of, Defect(kind, ring, size_mm, area), note)
            return next(drawn for drawn in drawn_on(connection, slab) if drawn.number == key)

    def of(self, slab: int) -> list[Drawn]:
        """The defects drawn on a slab, oldest first. Raises YardError."""
        with self._database.reading() as connection:
            return drawn_on(connection, slab)

    def take_back(self, number: int) -> Drawn:
        """Take back a defect drawn by mistake; its row stays. Raises PieceRefused where there is none of that number."""
        with self._database.writing() as connection:
            slab = connection.execute(
                select(defects.c.slab_number).where(defects.c.id == number, defects.c.taken_back_at.is_(None))
            ).scalar()
            there = [] if slab is None else drawn_on(connection, slab)
            drawn = next((one for one in there if one.number == number), None)
            if drawn is None:
                raise PieceRefused(f"There is no mark {number}; list the slab's marks to see their numbers.")
            connection.execute(update(defects).where(defects.c.id == number).values(taken_back_at=now_text()))
            set_seal(connection, defects, defects.c.id == number)
        return drawn

    @staticmethod
    def _inside(connection: Connection, survey: int, ring: np.ndarray) -> None:
        wood = outline_of(connection, survey)
        if wood is None:
            return
        low, high = wood.min(axis=0), wood.max(axis=0)
        if ((ring < low - 1) | (ring > high + 1)).all(axis=0).any() or not (
            (ring >= low - 1).all(axis=1) & (ring <= high + 1).all(axis=1)
        ).any():
            raise PieceRefused(
                f"That lies beside the slab, which reaches from {low[0]:.0f} to {high[0]:.0f} mm along and from "
                f"{low[1]:.0f} to {high[1]:.0f} mm across; look at the points again."
            )


def enter_defect(connection: Connection, slab: int, survey: int, defect: Defect, note: str) -> int:
    """Enter a defect in the frame of a survey, inside the caller's transaction; returns its number."""
    key = connection.execute(
        insert(defects).values(
            slab_number=slab, survey_id=survey, kind=defect.kind, is_area=int(defect.area), size_mm=float(defect.size),
            points_mm=json.dumps(defect.points.tolist()), note=storable(note), entered_at=now_text(),
        )
    ).inserted_primary_key[0]  # fmt: skip
    set_seal(connection, defects, defects.c.id == key)
    return key


def drawn_on(connection: Connection, slab: int) -> list[Drawn]:
    """The defects drawn on a slab as it is now, not taken back, oldest first; those from before a cut are history."""
    query = (
        select(defects, surveys.c.side)
        .join(surveys, surveys.c.id == defects.c.survey_id)
        .where(defects.c.slab_number == slab, defects.c.taken_back_at.is_(None), surveys.c.before_cut == 0)
        .order_by(defects.c.id)
    )
    return [
        Drawn(
            row.id, row.slab_number, row.survey_id, row.side,
            Defect(row.kind, np.array(json.loads(row.points_mm)), row.size_mm, bool(row.is_area), row.id),
            row.note, row.entered_at,
        )
        for row in connection.execute(query)
    ]  # fmt: skip


def defects_seen_from(connection: Connection, slab: int, survey: int, side: str | None) -> tuple[list[Defect], int]:
    """A slab's drawn defects in the frame of one survey, and how many could not be laid onto it.

    Those drawn on another survey are laid on by the overlap of the two outlines, mirrored for the other face; where that
    does not say which way round, they cannot be.
    """
    laid = [laid_onto(connection, drawn, survey, side) for drawn in drawn_on(connection, slab)]
    found = [defect for defect in laid if defect is not None]
    return found, len(laid) - len(found)


def laid_onto(connection: Connection, drawn: Drawn, survey: int, side: str | None) -> Defect | None:
    """A drawn defect in the frame of a survey, by the overlap of the two outlines; None where that does not say how."""
    if drawn.survey == survey:
        return drawn.defect
    here, there = outline_of(connection, survey), outline_of(connection, drawn.survey)
    try:
        laid = None if here is None or there is None else align_to(here, there, same_face=drawn.side == side)
    except OutlineError:
        laid = None
    if laid is None or laid.ambiguous:
        return None
    one = drawn.defect
    return Defect(one.kind, laid.to_first(one.points), one.size, one.area, one.number)


def outline_of(connection: Connection, survey: int) -> np.ndarray | None:
    """(n, 2) mm: the wood outline of a survey, None where it has none."""
    query = select(outlines.c.points_mm).where(outlines.c.survey_id == survey, outlines.c.kind == "wood")
    points = connection.execute(query.order_by(outlines.c.part).limit(1)).scalar()
    return None if points is None else np.array(json.loads(points), np.float64)
