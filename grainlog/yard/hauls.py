"""Hauls: one day's sawing with its people, hours and costs, and what a board foot of it cost.

Costs and hours are entries that are only added; a wrong one is put right by another with a minus. What was said when is
kept beside them, notes too. The slabs of a haul are those of its logs.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection, Row, insert, select, update

from grainlog.units.quantity import Quantity
from grainlog.yard.database import Database
from grainlog.yard.errors import LifeRefused
from grainlog.yard.filing import folded, now_text, storable, tidy_text
from grainlog.yard.hauls_tables import haul_changes
from grainlog.yard.life_changes import Change
from grainlog.yard.life_tables import haul_costs, haul_logs, haul_people, hauls
from grainlog.yard.query import SlabRow, slabs_of_logs
from grainlog.yard.schema import logs
from grainlog.yard.seal import set_seal
from grainlog.yard.words import refresh_words_of_log


@dataclass(frozen=True)
class Haul:
    """One day's sawing.

    hours : by person; None where nobody said. costs : what each was for, and its amount in the yard's own money.
    slabs : those of its logs as they came off the mill, pieces left out.
    there : what is still there of them, with pieces.
    board_feet : of the slabs that have them, with u; None where none has. unknown : tags of slabs without board feet.
    cost_per_board_foot : with u; None without costs or board feet, or while board feet of a slab are missing.
    history : what was said of it, oldest day first; entries made before yards kept their days are not in it.
    """

    name: str
    day: date | None
    note: str
    hours: Mapping[str, float | None]
    costs: tuple[tuple[str, float], ...]
    logs: tuple[str, ...]
    slabs: tuple[SlabRow, ...]
    there: tuple[SlabRow, ...]
    history: tuple[Change, ...] = ()

    @property
    def cost(self) -> float:
        """All costs together."""
        return math.fsum(amount for _, amount in self.costs)

    @property
    def unknown(self) -> tuple[str, ...]:
        """Tags of slabs whose board feet are not known."""
        return tuple(row.tag for row in self.slabs if row.board_feet is None)

    @property
    def board_feet(self) -> Quantity | None:
        """Of the slabs together; their errors are taken as fully correlated (one person, one rule, one print)."""
        known = [row.board_feet for row in self.slabs if row.board_feet is not None]
        if not known:
            return None
        return Quantity(math.fsum(each.value for each in known), math.fsum(each.u for each in known))

    @property
    def cost_per_board_foot(self) -> Quantity | None:
        """Cost over board feet."""
        feet = self.board_feet
        if not self.costs or feet is None or feet.value <= 0 or self.unknown:
            return None
        value = self.cost / feet.value
        return Quantity(value, abs(value) * feet.u / feet.value)


class Hauls:
    """The hauls of one yard."""

    def __init__(self, database: Database):
        self._database = database

    def all(self) -> list[Haul]:
        """Every haul, by day."""
        with self._database.reading() as connection:
            rows = connection.execute(select(hauls).order_by(hauls.c.day.nulls_last(), hauls.c.id))
            return [_haul(connection, row) for row in rows.fetchall()]

    def haul(self, name: str) -> Haul:
        """One haul by its name, whatever the case. Raises LifeRefused."""
        with self._database.reading() as connection:
            return _haul(connection, _found(connection, name))

    def keep(
        self,
        name: str,
        day: date | None = None,
        people: Sequence[tuple[str, float | None]] = (),
        costs: Sequence[tuple[str, float]] = (),
        log_names: Sequence[str] = (),
        note: str = "",
        said_on: date | None = None,
    ) -> Haul:
        """Start a haul or add to it: people with hours, costs, logs. Raises LifeRefused; nothing is kept then.

        day : of the sawing. said_on : the day that this entry belongs to, such as that of a bill; today if left out.
        """
        named = tidy_text(name)
        if named is None:
            raise LifeRefused("A haul needs a name, such as 'april weekend'.")
        if day is not None and day > date.today():
            raise LifeRefused(f"{day} is still to come; a haul is kept once it is sawn.")
        if said_on is not None and said_on > date.today():
            raise LifeRefused(f"{said_on} is still to come; give the day on which it happened.")
        for person, hours in people:
            if tidy_text(person) is None or (hours is not None and not (math.isfinite(hours) and abs(hours) <= 1000)):
                raise LifeRefused(f"'{person}' with {hours} hours cannot be; give a name and hours, as in ann=6.")
        for what, amount in costs:
            if tidy_text(what) is None or not math.isfinite(amount):
                raise LifeRefused("A cost says what it was for and how much, as in fuel=45.")
        with self._database.writing() as connection:
            row = connection.execute(select(hauls).where(hauls.c.name_folded == folded(named))).first()
            if row is None:
                key = connection.execute(
                    insert(hauls).values(name=named, name_folded=folded(named), day=day and day.isoformat(),
                                         note=note, entered_at=now_text())
                ).inserted_primary_key[0]  # fmt: skip
            else:
                key = row.id
                given = ({"day": day.isoformat()} if day else {}) | (
                    {"note": f"{row.note}\n{note}".strip()} if note else {}
                )
                if given:
                    connection.execute(update(hauls).where(hauls.c.id == key).values(given))
            set_seal(connection, hauls, hauls.c.id == key)
            for person, hours in people:
                person = tidy_text(person) or ""
                _enter(connection, haul_people, haul_id=key, name=person, name_folded=folded(person), hours=hours)
            for what, amount in costs:
                _enter(connection, haul_costs, haul_id=key, what=tidy_text(what), amount=float(amount))
            for log_name in log_names:
                _enter_log(connection, key, log_name)
            said = [
                *([("day of sawing", day.isoformat())] if day else []),
                *(("hours", f"{tidy_text(person)}{'' if hours is None else f' {hours:g} h'}") for person, hours in people),
                *(("cost", f"{tidy_text(what)} {amount:.2f}") for what, amount in costs),
                *(("log", tidy_text(log_name) or "") for log_name in log_names),
                *([("note", storable(" ".join(note.split())))] if note.strip() else []),
            ]
            for what, text in said:
                when = (said_on or date.today()).isoformat()
                _enter(connection, haul_changes, haul_id=key, day=when, what=what, note=text)
            for log_id in (
                connection.execute(select(haul_logs.c.log_id).where(haul_logs.c.haul_id == key)).scalars().all()
            ):
                refresh_words_of_log(connection, log_id)
            return _haul(connection, _found(connection, named))


def _enter(connection: Connection, table, **values) -> None:
    key = connection.execute(insert(table).values(entered_at=now_text(), **values)).inserted_primary_key[0]
    set_seal(connection, table, table.c.id == key)


def _enter_log(connection: Connection, key: int, name: str) -> None:
    log = connection.execute(select(logs).where(logs.c.name_folded == folded(name))).first()
    if log is None:
        raise LifeRefused(f"There is no log {name} in this yard; add its slabs first.")
    other = connection.execute(
        select(hauls.c.id, hauls.c.name).join(haul_logs, haul_logs.c.haul_id == hauls.c.id)
        .where(haul_logs.c.log_id == log.id)
    ).first()  # fmt: skip
    if other is not None and other.id != key:
        raise LifeRefused(f"Log {log.name} belongs to the haul {other.name}; a log is sawn once.")
    if other is None:
        row = connection.execute(insert(haul_logs).values(haul_id=key, log_id=log.id)).inserted_primary_key[0]
        set_seal(connection, haul_logs, haul_logs.c.id == row)


def _found(connection: Connection, name: str) -> Row:
    row = connection.execute(select(hauls).where(hauls.c.name_folded == folded(name))).first()
    if row is None:
        names = ", ".join(connection.execute(select(hauls.c.name).order_by(hauls.c.id)).scalars())
        raise LifeRefused(f"There is no haul {name}; " + (f"there are {names}." if names else "none is kept yet."))
    return row


def _haul(connection: Connection, row: Row) -> Haul:
    hours: dict[str, float | None] = {}
    spelled: dict[str, str] = {}
    for person in connection.execute(
        select(haul_people).where(haul_people.c.haul_id == row.id).order_by(haul_people.c.id)
    ):
        name = spelled.setdefault(person.name_folded, person.name)
        before = hours.get(name)
        hours[name] = before if person.hours is None else (before or 0.0) + person.hours
    costs = connection.execute(select(haul_costs).where(haul_costs.c.haul_id == row.id).order_by(haul_costs.c.id))
    of = connection.execute(
        select(logs.c.id, logs.c.name).join(haul_logs, haul_logs.c.log_id == logs.c.id)
        .where(haul_logs.c.haul_id == row.id).order_by(haul_logs.c.id)
    ).fetchall()  # fmt: skip
    ids = [log.id for log in of]
    rows, there = slabs_of_logs(connection, ids), slabs_of_logs(connection, ids, still_there=True)
    return Haul(
        row.name, row.day and date.fromisoformat(row.day), row.note, hours,
        tuple((cost.what, cost.amount) for cost in costs), tuple(log.name for log in of), tuple(rows), tuple(there),
        _history(connection, row.id),
    )  # fmt: skip


def _history(connection: Connection, key: int) -> tuple[Change, ...]:
    query = select(haul_changes).where(haul_changes.c.haul_id == key).order_by(haul_changes.c.day, haul_changes.c.id)
    return tuple(
        Change(row.id, date.fromisoformat(row.day), row.what, {}, row.note, row.entered_at)
        for row in connection.execute(query)
    )
