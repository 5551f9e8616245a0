"""Keeping each outline's curve: made when a survey is filed, and for older surveys when something is first looked for."""

import json
from collections.abc import Callable

import numpy as np
from sqlalchemy import Connection, and_, delete, func, insert, select

from grainlog.fit.curve import CURVE_VERSION, curve_of
from grainlog.fit.errors import OutlineRefused
from grainlog.yard.database import Database
from grainlog.yard.fit_tables import outline_curves
from grainlog.yard.schema import outlines, surveys
from grainlog.yard.seal import set_seal


def enter_curve(connection: Connection, survey: int, slab: int, wood: list) -> None:
    """Enter the curve of a survey's wood outline, inside the caller's transaction; none for an unusable outline."""
    try:
        curve = curve_of(np.asarray(wood, np.float64))
    except OutlineRefused:
        # The survey stays as it is; a search says that the slab has no outline a piece can be laid on.
        return
    connection.execute(delete(outline_curves).where(outline_curves.c.survey_id == survey))
    connection.execute(
        insert(outline_curves).values(
            survey_id=survey,
            slab_number=slab,
            version=CURVE_VERSION,
            straight=curve.straight,
            live=curve.live,
            round_mm=curve.round_mm,
            area_mm2=curve.area_mm2,
        )
    )
    set_seal(connection, outline_curves, outline_curves.c.survey_id == survey)


def enter_missing(database: Database, progress: Callable[[int, int], None] | None = None) -> int:
    """Make the curves that are missing or were made by an older rule; returns how many surveys were looked at.

    One transaction each, so that a long first search can be stopped and goes on where it was.
    """
    joined = and_(outline_curves.c.survey_id == surveys.c.id, outline_curves.c.version == CURVE_VERSION)
    query = (
        select(surveys.c.id, surveys.c.slab_number)
        .join(outlines, and_(outlines.c.survey_id == surveys.c.id, outlines.c.kind == "wood", outlines.c.part == 0))
        .outerjoin(outline_curves, joined)
        .where(outline_curves.c.survey_id.is_(None))
    )
    with database.reading() as connection:
        # Counting is a hundred times faster than looking for what is missing, and nearly always enough.
        counts = [
            connection.execute(select(func.count()).select_from(table)).scalar() for table in (surveys, outline_curves)
        ]
        older = select(outline_curves.c.survey_id).where(outline_curves.c.version < CURVE_VERSION).limit(1)
        if counts[0] == counts[1] and connection.execute(older).first() is None:
            return 0
        waiting = list(connection.execute(query))
    for done, (survey, slab) in enumerate(waiting):
        if progress is not None:
            progress(done, len(waiting))
        with database.writing() as connection:
            points = connection.execute(
                select(outlines.c.points_mm).where(
                    outlines.c.survey_id == survey, outlines.c.kind == "wood", outlines.c.part == 0
                )
            ).scalar()
            if points is not None:
                enter_curve(connection, survey, slab, json.loads(points))
    return len(waiting)
