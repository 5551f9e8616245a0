"""Looks at checks by hand, kept with their day: end checks by tape, end wax, bark."""

from collections.abc import Sequence
from datetime import date

from sqlalchemy import insert, select, update

from grainlog.checks.history import BARK, EDGES, ENDS, HandLook
from grainlog.errors import WrongUse
from grainlog.yard.check_tables import hand_looks
from grainlog.yard.database import Database
from grainlog.yard.errors import NoSuchSlab
from grainlog.yard.filing import now_text, storable
from grainlog.yard.schema import slabs
from grainlog.yard.seal import set_seal
from grainlog.yard.tags import tag_of


class LookRefused(WrongUse):
    """The look by hand contradicts what the yard knows, or cannot be what it says."""


class HandLooks:
    """The looks by hand of one yard's slabs; each has a name such as k12."""

    def __init__(self, database: Database):
        self._database = database

    def add(self, looks: Sequence[HandLook], today: date | None = None) -> tuple[str, ...]:
        """Keep all of them, or none; returns their names. Raises NoSuchSlab, LookRefused."""
        names = []
        with self._database.writing() as connection:
            there = set(connection.execute(select(slabs.c.number)).scalars())
            for look in looks:
                _check(look, there, today or date.today())
                row = {
                    "slab_number": look.slab, "day": look.day.isoformat(), "end_met": look.end, "check_name": look.check,
                    "length_mm": look.length_mm, "wax": None if look.wax is None else int(look.wax),
                    "bark_left": look.bark.get("left"), "bark_right": look.bark.get("right"), "note": storable(look.note),
                }  # fmt: skip
                key = connection.execute(insert(hand_looks).values(**row, entered_at=now_text())).inserted_primary_key[0]
                set_seal(connection, hand_looks, hand_looks.c.id == key)
                names.append(f"k{key}")
        return tuple(names)

    def take_back(self, name: str) -> HandLook:
        """Take a look back by its name (as in k12); it stays in the yard but counts no more. Raises LookRefused."""
        if name[:1].lower() != "k" or not name[1:].isdecimal():
            raise LookRefused(f"'{name}' names no look by hand; use the name that the slab's checks show, as in k12.")
        with self._database.writing() as connection:
            row = connection.execute(select(hand_looks).where(hand_looks.c.id == int(name[1:]))).first()
            if row is None or row.taken_back_at is not None:
                raise LookRefused(f"There is no look {name}, or it was taken back already.")
            connection.execute(update(hand_looks).where(hand_looks.c.id == row.id).values(taken_back_at=now_text()))
            set_seal(connection, hand_looks, hand_looks.c.id == row.id)
            return _look(row)

    def of(self, number: int) -> tuple[HandLook, ...]:
        """The looks by hand of a slab that count, in order of days."""
        query = select(hand_looks).where(hand_looks.c.slab_number == number, hand_looks.c.taken_back_at.is_(None))
        with self._database.reading() as connection:
            return tuple(map(_look, connection.execute(query.order_by(hand_looks.c.day, hand_looks.c.id))))


def _check(look: HandLook, there: set[int], today: date) -> None:
    if look.slab not in there:
        raise NoSuchSlab(f"There is no slab {tag_of(look.slab)} in this yard; list the slabs to see which there are.")
    if look.day > today:
        raise LookRefused(f"{look.day} is in the future; a look at slab {tag_of(look.slab)} cannot be from then.")
    if look.length_mm is None and look.wax is None and not look.bark:
        raise LookRefused("Nothing was seen; give the length of an end check, wax on or off, or bark.")
    if look.length_mm is not None and not 0 <= look.length_mm <= 20_000:
        raise LookRefused("An end check has a length from nothing to 20 m; read the tape again.")
    if look.length_mm is not None and look.end is None and look.check is None:
        raise LookRefused("Say at which end the check is (butt or top), or which check it is by its name.")
    if look.end not in (None, *ENDS) or any(edge not in EDGES or state not in BARK for edge, state in look.bark.items()):
        raise LookRefused("A slab has a butt and a top end, a left and a right edge; bark is on, partly or off.")


def _look(row) -> HandLook:
    bark = {edge: state for edge, state in (("left", row.bark_left), ("right", row.bark_right)) if state is not None}
    return HandLook(
        row.slab_number, date.fromisoformat(row.day), row.end_met, row.check_name, row.length_mm,
        None if row.wax is None else bool(row.wax), bark, row.note, row.id,
    )  # fmt: skip
