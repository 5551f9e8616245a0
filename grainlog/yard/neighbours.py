"""What a slab has to do with others of its log: the ones that lay next to it, what it was cut from, its pieces."""

from dataclasses import dataclass

from sqlalchemy import Connection, select

from grainlog.yard.database import Database
from grainlog.yard.schema import slabs
from grainlog.yard.tags import root_of


@dataclass(frozen=True)
class Neighbours:
    """Numbers of slabs; None where there is none.

    before, after : the whole slabs that lay next to it in the log, towards the lower and the higher order; for a piece,
        those of the slab that it was cut from. met_before, met_after : whether these really lay on it (no order missing
        between). cut_from : what a piece was cut from. pieces : what was cut from it.
    """

    before: int | None
    after: int | None
    met_before: bool
    met_after: bool
    cut_from: int | None
    pieces: tuple[int, ...]


def neighbours(database: Database, number: int) -> Neighbours:
    """A slab's neighbours in its log; nothing for a slab the yard does not hold."""
    with database.reading() as connection:
        row = connection.execute(select(slabs.c.log_id, slabs.c.order_in_log, slabs.c.piece_of).where(slabs.c.number == number)).first()
        if row is None:
            return Neighbours(None, None, False, False, None, ())
        before = _nearest(connection, row, below=True)
        after = _nearest(connection, row, below=False)
        pieces = connection.execute(
            select(slabs.c.number).where(slabs.c.piece_of == number).order_by(slabs.c.number.desc())
        ).scalars().all()  # fmt: skip
    return Neighbours(
        before and before.number, after and after.number,
        before is not None and row.order_in_log - before.order_in_log == 1,
        after is not None and after.order_in_log - row.order_in_log == 1,
        row.piece_of if row.piece_of is not None or number > 0 else root_of(number), tuple(pieces),
    )  # fmt: skip


def _nearest(connection: Connection, row, below: bool):
    order = slabs.c.order_in_log
    query = select(slabs.c.number, order).where(slabs.c.log_id == row.log_id, slabs.c.piece_of.is_(None))
    query = (
        query.where(order < row.order_in_log).order_by(order.desc()) if below else query.where(order > row.order_in_log).order_by(order)
    )
    return connection.execute(query.limit(1)).first()
