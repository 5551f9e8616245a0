"""Changes as they are kept: each a dated row that is only ever added, never altered."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Connection, insert, select

from grainlog.yard.errors import LifeRefused, NoSuchSlab
from grainlog.yard.filing import folded, now_text, storable
from grainlog.yard.life_state import Life, refresh_life
from grainlog.yard.life_tables import changes
from grainlog.yard.schema import slabs
from grainlog.yard.seal import set_seal
from grainlog.yard.tags import tag_of
from grainlog.yard.words import refresh_words


@dataclass(frozen=True)
class Change:
    """One thing that happened or was said.

    day : when, as the person says. what : in a word or two. value : the fields that it set. entered_at : UTC.
    """

    id: int
    day: date
    what: str
    value: Mapping[str, Any]
    note: str
    entered_at: str


def record_change(
    connection: Connection, number: int, day: date, what: str, value: Mapping[str, Any] | None = None, note: str = ""
) -> Life:
    """Add a change of a slab inside the caller's transaction; returns where the slab stands afterwards."""
    add_change(connection, {"slab_number": number}, day, what, value or {}, note)
    life = refresh_life(connection, number)
    refresh_words(connection, [number])
    return life


def add_change(
    connection: Connection,
    subject: Mapping[str, int],
    day: date,
    what: str,
    value: Mapping[str, Any],
    note: str = "",
    words: str = "",
) -> None:
    """Add a change of a slab, a log or another piece (`subject`: the column and its key)."""
    if day > date.today():
        raise LifeRefused(f"{day} is still to come; give the day on which it happened.")
    note = storable(" ".join(note.split()))
    key = connection.execute(
        insert(changes).values(
            **subject,
            day=day.isoformat(),
            what=what,
            value=json.dumps(dict(value), sort_keys=True, allow_nan=False),
            note=note,
            entered_at=now_text(),
            words_folded=folded(f"{note} {words}"),
        )
    ).inserted_primary_key[0]
    set_seal(connection, changes, changes.c.id == key)


def read_changes(connection: Connection, subject: Mapping[str, int]) -> tuple[Change, ...]:
    """The changes of a slab, a log or another piece, oldest day first."""
    ((column, key),) = subject.items()
    rows = connection.execute(select(changes).where(changes.c[column] == key).order_by(changes.c.day, changes.c.id))
    return tuple(
        Change(row.id, date.fromisoformat(row.day), row.what, json.loads(row.value), row.note, row.entered_at)
        for row in rows
    )


def require_slab(connection: Connection, number: int) -> None:
    """Raises NoSuchSlab for a number that the yard does not hold."""
    if connection.execute(select(slabs.c.number).where(slabs.c.number == number)).first() is None:
        raise NoSuchSlab(f"There is no slab {tag_of(number)} in this yard; list the slabs to see which there are.")


def require_present(number: int, life: Life) -> None:
    """Raises LifeRefused for a slab that is gone or was cut up."""
    if not life.present:
        raise LifeRefused(f"Slab {tag_of(number)} is {life.status}; nothing more can happen to it.")
