"""What the yard knows of its wood besides the surveys: felling and sawing days, rings, pith, own species, allowances."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from sqlalchemy import Connection, select
from sqlalchemy.dialects.sqlite import insert

from grainlog.drying.errors import SpeciesUnknown
from grainlog.drying.finish import Allowances
from grainlog.drying.grain import from_rings
from grainlog.drying.moisture import checked_moisture
from grainlog.drying.species import Species, find_species
from grainlog.errors import WrongUse
from grainlog.yard.database import Database
from grainlog.yard.drying_tables import (
    log_wood,
    moisture_readings,
    own_species,
    slab_wood,
)
from grainlog.yard.errors import NoSuchSlab
from grainlog.yard.filing import folded, now_text, tidy_text
from grainlog.yard.schema import logs, slabs
from grainlog.yard.seal import set_seal
from grainlog.yard.settings import Settings
from grainlog.yard.tags import tag_of

#: For furniture indoors wood should come to 6 to 8 % (from memory).
TARGET = 0.08


class WoodRefused(WrongUse):
    """What was said of a log or slab contradicts itself or what the yard holds."""


@dataclass(frozen=True)
class LogWood:
    """Days of felling and sawing of a log, and the place within it of the slab that holds the pith; None where not said."""

    felled_on: date | None = None
    sawn_on: date | None = None
    pith_order: int | None = None


@dataclass(frozen=True)
class SlabWood:
    """How the rings stand at a slab's end ("flat", "between", "quarter"), and its middle's distance from the pith, mm."""

    rings: str | None = None
    pith_mm: float | None = None


class Wood:
    """What one yard knows of its wood."""

    def __init__(self, database: Database, settings: Settings):
        self._database = database
        self._settings = settings

    @property
    def target(self) -> float:
        """The moisture that dry means in this yard, a fraction."""
        return self._settings.get("target_moisture", TARGET)

    def set_target(self, moisture: float) -> None:
        """Remember what dry means. Raises DryingError."""
        self._settings.set("target_moisture", checked_moisture(moisture))

    @property
    def allowances(self) -> Allowances:
        """What is taken off on the way to a finished slab."""
        return Allowances(**self._settings.get("finishing_allowances", {}))

    def set_allowances(self, allowances: Allowances) -> None:
        """Remember other allowances."""
        self._settings.set("finishing_allowances", asdict(allowances))

    def log_of(self, number: int) -> str:
        """The name of the log a slab is from. Raises NoSuchSlab."""
        with self._database.reading() as connection:
            name = connection.execute(
                select(logs.c.name).join(slabs, slabs.c.log_id == logs.c.id).where(slabs.c.number == number)
            ).scalar()
        if name is None:
            raise NoSuchSlab(f"There is no slab {tag_of(number)} in this yard; list the slabs to see which there are.")
        return name

    def set_log(
        self, log: str, today: date, felled_on: date | None = None, sawn_on: date | None = None, pith_order: int | None = None
    ) -> LogWood:
        """Remember what is given of a log; the rest stays. Raises WoodRefused."""
        with self._database.writing() as connection:
            key = connection.execute(select(logs.c.id).where(logs.c.name_folded == folded(log))).scalar()
            if key is None:
                raise WoodRefused(f"There is no log {log} in this yard; list the slabs to see its logs.")
            was = logs_wood(connection).get(key, LogWood())
            now = LogWood(felled_on or was.felled_on, sawn_on or was.sawn_on, pith_order or was.pith_order)
            _check_days(log, now, today)
            self._no_reading_before(connection, key, log, now.felled_on)
            row = {
                "felled_on": now.felled_on and now.felled_on.isoformat(),
                "sawn_on": now.sawn_on and now.sawn_on.isoformat(),
                "pith_order": now.pith_order,
                "set_at": now_text(),
            }
            connection.execute(insert(log_wood).values(log_id=key, **row).on_conflict_do_update(["log_id"], set_=row))
            set_seal(connection, log_wood, log_wood.c.log_id == key)
        return now

    @staticmethod
    def _no_reading_before(connection: Connection, log: int, name: str, felled_on: date | None) -> None:
        if felled_on is None:
            return
        query = (
            select(moisture_readings.c.slab_number, moisture_readings.c.day)
            .join(slabs, slabs.c.number == moisture_readings.c.slab_number)
            .where(slabs.c.log_id == log, moisture_readings.c.day < felled_on.isoformat())
            .where(moisture_readings.c.taken_back_at.is_(None))
        )
        earlier = connection.execute(query).first()
        if earlier is not None:
            raise WoodRefused(
                f"Log {name} cannot have been felled on {felled_on.isoformat()}: slab {tag_of(earlier.slab_number)} has a reading of "
                f"{earlier.day}. Correct one of the two."
            )

    def set_slab(self, number: int, rings: str | None = None, pith_mm: float | None = None) -> SlabWood:
        """Remember what is given of a slab; the rest stays. Raises NoSuchSlab, DryingError."""
        if rings is not None:
            from_rings(rings)
        if pith_mm is not None and not 0 <= pith_mm <= 3000:
            raise WoodRefused(f"{pith_mm:g} mm is no distance to the pith; give 0 or a length up to 3 m.")
        with self._database.writing() as connection:
            if connection.execute(select(slabs.c.number).where(slabs.c.number == number)).first() is None:
                raise NoSuchSlab(f"There is no slab {tag_of(number)} in this yard; list the slabs to see which there are.")
            was = slabs_wood(connection).get(number, SlabWood())
            now = SlabWood(rings or was.rings, pith_mm if pith_mm is not None else was.pith_mm)
            row = {"rings": now.rings, "pith_mm": now.pith_mm, "set_at": now_text()}
            connection.execute(
                insert(slab_wood).values(slab_number=number, **row).on_conflict_do_update(["slab_number"], set_=row)
            )
            set_seal(connection, slab_wood, slab_wood.c.slab_number == number)
        return now

    def own_species(self) -> list[Species]:
        """The person's own species and overrides."""
        with self._database.reading() as connection:
            return own_species_of(connection)

    def species(self, name: str) -> Species:
        """The species that a name means in this yard. Raises SpeciesUnknown."""
        return find_species(name, self.own_species())

    def set_species(self, name: str, values: Mapping[str, float], source: str, like: str | None = None) -> Species:
        """Keep a species of one's own, or other values for one of the table, with their source.

        values : by the names of `drying.species.VALUES`. like : a species whose values stand for the rest; left out, those of
        the same name. Raises DryingError, SpeciesUnknown for `like`.
        """
        name = tidy_text(name) or ""
        if not name:
            raise WoodRefused("A species needs a name.")
        with self._database.writing() as connection:
            mine = own_species_of(connection)
            base = _base(name, like, mine)
            # Looked over before it is kept: values, and that they have a source.
            made = base.with_values(values, source, name) if values or source.strip() else base
            if not values and like is None:
                raise WoodRefused("Nothing was said of the species; give a value, or a species that it is like.")
            kept = {key: [value, made.sources.get(key, source)] for key, value in values.items()}
            earlier = connection.execute(select(own_species).where(own_species.c.name_folded == folded(name))).first()
            if earlier is not None:
                kept = json.loads(earlier.own_values) | kept
            named = like or (earlier.like_name if earlier is not None else None) or (name if _in_table(name) else None)
            row = {
                "name": name,
                "like_name": named,
                "own_values": json.dumps(kept, sort_keys=True),
                "entered_at": now_text(),
            }
            connection.execute(
                insert(own_species).values(name_folded=folded(name), **row).on_conflict_do_update(["name_folded"], set_=row)
            )
            set_seal(connection, own_species, own_species.c.name_folded == folded(name))
        return self.species(name)


def logs_wood(connection: Connection, ids: Sequence[int] | None = None) -> dict[int, LogWood]:
    """What is known of each log, or of some, by its id."""
    query = select(log_wood) if ids is None else select(log_wood).where(log_wood.c.log_id.in_(ids))
    return {
        row.log_id: LogWood(_day(row.felled_on), _day(row.sawn_on), row.pith_order)
        for row in connection.execute(query)
    }


def slabs_wood(connection: Connection, numbers: Sequence[int] | None = None) -> dict[int, SlabWood]:
    """What is known of each slab, or of some, by its number."""
    query = select(slab_wood) if numbers is None else select(slab_wood).where(slab_wood.c.slab_number.in_(numbers))
    return {row.slab_number: SlabWood(row.rings, row.pith_mm) for row in connection.execute(query)}


def own_species_of(connection: Connection) -> list[Species]:
    """The person's own species, the values of the table under those of their own."""
    found = []
    for row in connection.execute(select(own_species).order_by(own_species.c.id)):
        made = find_species(row.like_name) if row.like_name else Species(row.name)
        for key, (value, source) in json.loads(row.own_values).items():
            made = made.with_values({key: value}, source)
        found.append(made.with_values({}, "own", row.name))
    return found


def _base(name: str, like: str | None, mine: list[Species]) -> Species:
    if like is not None:
        return find_species(like)
    try:
        return find_species(name, mine)
    except SpeciesUnknown:
        return Species(name)


def _in_table(name: str) -> bool:
    try:
        find_species(name)
    except SpeciesUnknown:
        return False
    return True


def _check_days(log: str, wood: LogWood, today: date) -> None:
    for what, day in (("felled", wood.felled_on), ("sawn", wood.sawn_on)):
        if day is not None and day > today:
            raise WoodRefused(f"{day.isoformat()} is in the future; log {log} cannot have been {what} then.")
    if wood.felled_on and wood.sawn_on and wood.sawn_on < wood.felled_on:
        raise WoodRefused(
            f"Log {log} cannot have been sawn ({wood.sawn_on.isoformat()}) before it was felled "
            f"({wood.felled_on.isoformat()}); correct one of the two."
        )


def _day(text: Any) -> date | None:
    return date.fromisoformat(text) if text else None
