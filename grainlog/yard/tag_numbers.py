"""Numbers given away on printed tags before their slab is there."""

from dataclasses import dataclass

from sqlalchemy import Connection, delete, func, insert, select, text

from grainlog.yard.errors import FilingRefused
from grainlog.yard.filing import now_text, tidy_text
from grainlog.yard.schema import slabs
from grainlog.yard.seal import set_seal
from grainlog.yard.tag_tables import reserved_numbers
from grainlog.yard.tags import PER_LETTER

#: Numbers are reserved this many at a time at most: a typing error must not use up a yard's numbers.
MOST_AT_ONCE = 1000


@dataclass(frozen=True)
class Reserved:
    """A number that waits on a printed tag for its slab; log and order as printed, None on a blank tag."""

    number: int
    log: str | None
    order: int | None


def has_slab(connection: Connection, number: int) -> bool:
    """Whether the yard holds a slab or piece of this number."""
    return (
        connection.execute(
            select(slabs.c.number).where(slabs.c.number == number)
        ).first()
        is not None
    )


def last_number(connection: Connection) -> int:
    """The highest number that was ever given to a slab or reserved; 0 in a new yard."""
    given = (
        connection.execute(
            text("SELECT seq FROM sqlite_sequence WHERE name = 'slabs'")
        ).scalar()
        or 0
    )
    waiting = (
        connection.execute(select(func.max(reserved_numbers.c.number))).scalar() or 0
    )
    return max(given, waiting)


def reserve(
    connection: Connection, count: int, log: str | None, first_order: int | None
) -> tuple[Reserved, ...]:
    """Give away the next `count` numbers, in order of the log from `first_order`. Raises FilingRefused."""
    if not 1 <= count <= MOST_AT_ONCE:
        raise FilingRefused(
            f"Between 1 and {MOST_AT_ONCE} numbers are reserved at a time, not {count}."
        )
    first = last_number(connection) + 1
    if first + count > PER_LETTER:
        raise FilingRefused(
            f"Numbers end at {PER_LETTER - 1}, and the next one is {first}; start another yard."
        )
    named = tidy_text(log)
    made = tuple(
        Reserved(
            first + place,
            named,
            None if named is None or first_order is None else first_order + place,
        )
        for place in range(count)
    )
    for one in made:
        connection.execute(
            insert(reserved_numbers).values(
                number=one.number,
                log=one.log,
                order_in_log=one.order,
                reserved_at=now_text(),
            )
        )
        set_seal(connection, reserved_numbers, reserved_numbers.c.number == one.number)
    # SQLite's own count, so that no slab without a tag is given one of these numbers.
    if (
        connection.execute(
            text("UPDATE sqlite_sequence SET seq = :last WHERE name = 'slabs'"),
            {"last": made[-1].number},
        ).rowcount
        == 0
    ):
        connection.execute(
            text("INSERT INTO sqlite_sequence (name, seq) VALUES ('slabs', :last)"),
            {"last": made[-1].number},
        )
    return made


def reserved(connection: Connection, number: int | None = None) -> tuple[Reserved, ...]:
    """The numbers that wait for their slab, or the one asked for if it does."""
    columns = reserved_numbers.c
    query = select(columns.number, columns.log, columns.order_in_log).order_by(
        columns.number
    )
    if number is not None:
        query = query.where(columns.number == number)
    return tuple(Reserved(*row) for row in connection.execute(query))


def take_number(connection: Connection, number: int) -> None:
    """Give a number to the slab whose tag carries it, inside the caller's transaction.

    Raises FilingRefused where another slab has or had it.
    """
    if has_slab(connection, number):
        raise FilingRefused(
            f"There is a slab {number} in this yard already; say that the photo shows it (--slab {number})."
        )
    waits = bool(reserved(connection, number))
    if not waits and not last_number(connection) < number < PER_LETTER:
        raise FilingRefused(
            f"Number {number} was a slab's that is no longer in this yard, and is not given again; print a new tag."
        )
    connection.execute(
        delete(reserved_numbers).where(reserved_numbers.c.number == number)
    )
