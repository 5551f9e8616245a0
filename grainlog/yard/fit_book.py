"""Two neighbours of a log opened like a book, as long as they go: what they would be together, before anybody wants a top."""

import math
from dataclasses import dataclass

import shapely
from sqlalchemy import Connection, select

from grainlog.fit.errors import OutlineRefused
from grainlog.units import Quantity
from grainlog.yard.database import Database
from grainlog.yard.fit_pair_wood import met_faces, opened, seen_wood
from grainlog.yard.schema import surveys

#: Tried in turn, shares of the shorter one's square-end length: the straight joint is seldom as long as the slab.
_SHARES = (0.95, 0.85, 0.7, 0.5)


@dataclass(frozen=True, eq=False)
class OpenBook:
    """Two slabs with the joint between them.

    parts : (shapely Polygon, shapely Polygon), each slab's part as it lies in the top: length along x from 0, joint at
        y = 0, mm. length_mm : of the joint. width : of the top at its narrowest, outer edges live, mm.
    overlap : of the two outlines as they lay in the log, 0 to 1: how well the grain can match.
    faces_known : whether both met faces are surveyed; else an outline was mirrored from the other face.
    """

    parts: tuple[shapely.Polygon, shapely.Polygon]
    length_mm: float
    width: Quantity
    overlap: float
    faces_known: bool


def open_book(database: Database, first: int, second: int) -> OpenBook | None:
    """Two slabs that lay on each other in the log, lower order first, opened on the faces that met; None where none can be."""
    with database.reading() as connection:
        newest = [_newest(connection, number) for number in (first, second)]
        if any(one is None for one in newest):
            return None
        try:
            woods, seen, known = seen_wood(connection, newest, met_faces(connection, first))
        except OutlineRefused:
            return None
    longest = min(right - left for left, _, right, _ in (wood.outline.bounds for wood in woods))
    for share in _SHARES:
        pair = opened(seen, known, share * longest, straight=False)
        if pair is not None:
            u = math.hypot(*(wood.sureness.across(-math.inf, math.inf, 0.0) for wood in woods))
            return OpenBook(pair.drawn, share * longest, Quantity(pair.width, u), pair.overlap, known)
    return None


@dataclass(frozen=True)
class _Newest:
    number: int
    survey: int
    side: str | None


def _newest(connection: Connection, number: int) -> _Newest | None:
    query = select(surveys.c.id, surveys.c.side).where(surveys.c.slab_number == number, surveys.c.before_cut == 0)
    row = connection.execute(query.order_by(surveys.c.surveyed_at.desc(), surveys.c.filed_at.desc(), surveys.c.id.desc())).first()
    return None if row is None else _Newest(number, row.id, row.side)
