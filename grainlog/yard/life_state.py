"""Where a slab stands now, as it follows from what happened to it: the row of `slab_life`."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace
from datetime import date
from typing import Any

from sqlalchemy import Connection, Row, delete, insert, select

from grainlog.yard.filing import folded
from grainlog.yard.life_tables import changes, slab_life
from grainlog.yard.seal import set_seal

#: What a slab can be, and whether it is then still there to be measured, moved and cut.
STATUSES: Mapping[str, bool] = {
    "drying": True,
    "ready": True,
    "promised": True,
    "kept": True,
    "sold": True,
    "gone": False,
    "cut up": False,
}


@dataclass(frozen=True)
class Life:
    """Where a slab stands; None where nobody said.

    status : one of `STATUSES`. until : the day on which a promise ends. for_whom : to whom promised or sold.
    shed, stack : names as the person writes them. layer : counted from the bottom of the stack, from 1.
    face_up : "bark" or "heart", as it lies. owner : a name. price : of a board foot, in the yard's own money.
    figure : what the grain shows, such as "crotch" or "curl, spalt".
    """

    status: str | None = None
    until: date | None = None
    for_whom: str | None = None
    shed: str | None = None
    stack: str | None = None
    layer: int | None = None
    face_up: str | None = None
    owner: str | None = None
    price: float | None = None
    figure: str | None = None

    @property
    def present(self) -> bool:
        """Whether the slab is still there: neither gone nor cut up."""
        return self.status is None or STATUSES[self.status]

    def after(self, value: Mapping[str, Any]) -> "Life":
        """Where the slab stands once a change with these fields has happened."""
        given = dict(value)
        if given.get("until") is not None:
            given["until"] = date.fromisoformat(given["until"])
        return replace(self, **given)


FIELDS = tuple(field.name for field in fields(Life))


def life_after(rows: Iterable[Any]) -> Life:
    """Where a slab stands after its changes: by day, then in the order in which they were entered."""
    life = Life()
    for row in sorted(rows, key=lambda row: (row.day, row.id)):
        life = life.after(json.loads(row.value))
    return life


def life_of_row(row: Row | None) -> Life:
    """A row of `slab_life`, or of a query that holds its columns, as a Life."""
    if row is None:
        return Life()
    return Life().after({name: row._mapping[name] for name in FIELDS})


def life_columns(life: Life) -> dict[str, Any]:
    """The columns of `slab_life` for a Life."""
    columns = {name: getattr(life, name) for name in FIELDS}
    columns["until"] = life.until and life.until.isoformat()
    words = (life.status, life.for_whom, life.shed, life.stack, life.owner, life.figure)
    return columns | {
        "present": int(life.present),
        "place_folded": place_key(life.shed, life.stack),
        "owner_folded": folded(life.owner or ""),
        "words_folded": folded(" ".join(word for word in words if word)),
    }


def place_key(shed: str | None, stack: str | None) -> str:
    """One text for a stack in a shed, whatever the case; empty for a slab that lies nowhere known."""
    return "" if shed is None and stack is None else f"{folded(shed or '')}\n{folded(stack or '')}"


def read_life(connection: Connection, number: int) -> Life:
    """Where a slab stands now."""
    return life_of_row(connection.execute(select(slab_life).where(slab_life.c.slab_number == number)).first())


def refresh_life(connection: Connection, number: int) -> Life:
    """Write anew where a slab stands, from its changes, inside the caller's transaction."""
    life = life_after(connection.execute(select(changes).where(changes.c.slab_number == number)))
    connection.execute(delete(slab_life).where(slab_life.c.slab_number == number))
    connection.execute(insert(slab_life).values(slab_number=number, **life_columns(life)))
    set_seal(connection, slab_life, slab_life.c.slab_number == number)
    return life


def stale_life(connection: Connection) -> list[int]:
    """Numbers of slabs whose row in `slab_life` is not what their changes say."""
    of: dict[int, list[Any]] = {}
    for row in connection.execute(select(changes).where(changes.c.slab_number.is_not(None))):
        of.setdefault(row.slab_number, []).append(row)
    stands = {row.slab_number: row._mapping for row in connection.execute(select(slab_life))}
    stale = []
    for number in sorted({*of, *stands}):
        try:
            follows = life_columns(life_after(of.get(number, ())))
        except (ValueError, TypeError, KeyError):  # a change that was tampered with; its own seal tells the same
            stale.append(number)
            continue
        if number not in stands or any(stands[number][name] != value for name, value in follows.items()):
            stale.append(number)
    return stale
