"""The shed's air as the yard keeps it: a line a day, from a logger or by hand."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from sqlalchemy import Connection, insert, select, update

from grainlog.drying.climate import AirDay, AirLine, ShedAir, by_day, shed_air
from grainlog.errors import WrongUse
from grainlog.yard.database import Database
from grainlog.yard.drying_tables import shed_days
from grainlog.yard.filing import now_text, storable
from grainlog.yard.readings import Kept
from grainlog.yard.seal import set_seal

BY_HAND, LOGGER = "by hand", "logger"


class Shed:
    """The air of one yard's shed."""

    def __init__(self, database: Database):
        self._database = database

    def look(self, line: AirLine, today: date, note: str = "") -> None:
        """Keep one look at a thermometer and a hygrometer. Raises WrongUse for a day in the future."""
        if line.at.date() > today:
            raise WrongUse(f"{line.at.date().isoformat()} is in the future; nobody has looked at the shed then.")
        with self._database.writing() as connection:
            _insert(connection, by_day([line])[0], BY_HAND, note)

    def add_logger(self, days: Sequence[AirDay], note: str = "") -> Kept:
        """Keep a logger's days in one transaction; a fuller day takes the place of the same day less full."""
        new = already = 0
        with self._database.writing() as connection:
            query = select(shed_days.c.day, shed_days.c.id, shed_days.c.count).where(shed_days.c.source == LOGGER)
            there = {day: (number, count) for day, number, count in connection.execute(query)}
            for one in days:
                number, count = there.get(one.day.isoformat(), (None, 0))
                if number is None:
                    _insert(connection, one, LOGGER, note)
                    new += 1
                elif one.count > count:
                    connection.execute(update(shed_days).where(shed_days.c.id == number).values(_row(one, LOGGER, note)))
                    set_seal(connection, shed_days, shed_days.c.id == number)
                    new += 1
                else:
                    already += 1
        return Kept(new, already)

    def days(self) -> list[AirDay]:
        """Every day known, in order; a day of a logger stands before one by hand."""
        with self._database.reading() as connection:
            return days_of(connection)

    def air(self) -> ShedAir:
        """What wood comes to in the shed."""
        return shed_air(self.days())


def days_of(connection: Connection) -> list[AirDay]:
    """Every day known, in order; a day of a logger stands before one by hand, and looks of one day count together."""
    by_hand: dict[date, list[AirDay]] = {}
    logged: dict[date, AirDay] = {}
    for row in connection.execute(select(shed_days).order_by(shed_days.c.id)):
        one = AirDay(date.fromisoformat(row.day), row.temperature_c, row.humidity, row.emc, row.count)
        if row.source == LOGGER:
            logged[one.day] = one
        else:
            by_hand.setdefault(one.day, []).append(one)
    looked = {day: _together(some) for day, some in by_hand.items()}
    return [one for _, one in sorted((looked | logged).items())]


def _together(some: list[AirDay]) -> AirDay:
    moistures = [one.emc for one in some if one.emc is not None]
    count = len(some)
    return AirDay(
        some[0].day,
        sum(one.temperature_c for one in some) / count,
        sum(one.humidity for one in some) / count,
        sum(moistures) / len(moistures) if moistures else None,
        count,
    )


def _insert(connection: Connection, day: AirDay, source: str, note: str) -> None:
    number = connection.execute(insert(shed_days).values(_row(day, source, note))).inserted_primary_key[0]
    set_seal(connection, shed_days, shed_days.c.id == number)


def _row(day: AirDay, source: str, note: str) -> dict[str, Any]:
    return {
        "day": day.day.isoformat(),
        "source": source,
        "temperature_c": day.temperature_c,
        "humidity": day.humidity,
        "emc": day.emc,
        "count": day.count,
        "note": storable(note),
        "entered_at": now_text(),
    }
