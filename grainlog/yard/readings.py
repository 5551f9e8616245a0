"""Dated readings of slabs: moisture, weight, warp. All entries of one act are kept, or none."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Connection, Table, insert, select, update

from grainlog.drying.finish import Warp
from grainlog.drying.moisture import oven_dry_moisture
from grainlog.drying.reading import Reading
from grainlog.drying.weighing import Weighing
from grainlog.yard.database import Database
from grainlog.yard.drying_tables import (
    log_wood,
    moisture_readings,
    warp_readings,
    weighings,
)
from grainlog.yard.errors import NoSuchSlab
from grainlog.yard.filing import now_text, storable
from grainlog.yard.readings_once import ReadingRefused, remember, was_sent, withdraw
from grainlog.yard.schema import logs, slabs
from grainlog.yard.seal import set_seal
from grainlog.yard.tags import tag_of


@dataclass(frozen=True)
class MoistureEntry:
    """A moisture reading of a slab; wet_kg and dry_kg are the masses of an oven-dried section, if it is one."""

    slab: int
    reading: Reading
    wet_kg: float | None = None
    dry_kg: float | None = None
    note: str = ""
    id: int | None = None

    @classmethod
    def oven_dried(cls, slab: int, day: date, wet_kg: float, dry_kg: float, note: str = "") -> "MoistureEntry":
        """A section cut from the slab and dried in the oven, by ASTM D4442's arithmetic. Raises DryingError."""
        reading = Reading(day, oven_dry_moisture(wet_kg, dry_kg), "oven-dry")
        return cls(slab, reading, wet_kg, dry_kg, note)


@dataclass(frozen=True)
class WeighingEntry:
    """A weighing of a slab."""

    slab: int
    weighing: Weighing
    note: str = ""
    id: int | None = None


@dataclass(frozen=True)
class WarpEntry:
    """Cup, bow and twist of a slab on a day, as far as they were read."""

    slab: int
    day: date
    warp: Warp
    note: str = ""
    id: int | None = None


Entry = MoistureEntry | WeighingEntry | WarpEntry

#: The letter that goes before an entry's number, so that one word names it: m12, w3, c1.
LETTERS = {"m": moisture_readings, "w": weighings, "c": warp_readings}


@dataclass(frozen=True)
class Kept:
    """How many entries were new and how many the yard had already, and the names of the new ones (as in m12)."""

    new: int
    already: int
    names: tuple[str, ...] = ()


class Readings:
    """The dated readings of one yard's slabs."""

    def __init__(self, database: Database):
        self._database = database

    def add(self, entries: Sequence[Entry], today: date, once: str | None = None) -> Kept:
        """Keep all entries in one transaction, or none.

        once : an id that the sender made for this act, up to 64 letters, digits and dashes; what comes again under it is
            not kept again, even where it was taken back meanwhile. Without one, an act that comes twice is seen as below.

        An entry that says the same of the same slab and day as one that is there is not kept twice. Raises NoSuchSlab,
        and ReadingRefused for a day in the future or before the log was felled.
        """
        names, already = [], 0
        with self._database.writing() as connection:
            if once is not None and was_sent(connection, once):
                return Kept(0, len(entries))
            felled = self._felled(connection)
            for entry in entries:
                _check(entry, felled, today)
                table, row = _row(entry)
                same = [table.c[name].is_(value) if value is None else table.c[name] == value for name, value in row.items()
                        if name != "note"]  # fmt: skip
                if connection.execute(select(table.c.id).where(*same, table.c.taken_back_at.is_(None))).first():
                    already += 1
                    continue
                added = connection.execute(insert(table).values(**row, entered_at=now_text()))
                number = added.inserted_primary_key[0]
                set_seal(connection, table, table.c.id == number)
                names.append(_letter(table) + str(number))
            if once is not None:
                remember(connection, once, entries[0].slab if entries else None, names)
        return Kept(len(names), already, tuple(names))

    def take_back(self, name: str) -> Entry:
        """Take an entry back by its name (as in m12); it stays in the yard but counts no more. Raises ReadingRefused."""
        with self._database.writing() as connection:
            return self._take_back(connection, name)

    def take_back_sent(self, once: str) -> tuple[Entry, ...]:
        """Take back what was sent under an id, as far as that was not done yet; one that never came is never kept later.

        Raises ReadingRefused for what is no such id.
        """
        with self._database.writing() as connection:
            return tuple(self._take_back(connection, name) for name in withdraw(connection, once) if self._counts(connection, name))

    @staticmethod
    def _counts(connection: Connection, name: str) -> bool:
        table = LETTERS[name[0]]
        query = select(table.c.id).where(table.c.id == int(name[1:]), table.c.taken_back_at.is_(None))
        return connection.execute(query).first() is not None

    @staticmethod
    def _take_back(connection: Connection, name: str) -> Entry:
        table = LETTERS.get(name[:1].lower())
        if table is None or not name[1:].isdecimal():
            raise ReadingRefused(f"'{name}' names no reading; use the name that the slab's drying shows, as in m12.")
        row = connection.execute(select(table).where(table.c.id == int(name[1:]))).first()
        if row is None or row.taken_back_at is not None:
            raise ReadingRefused(f"There is no reading {name}, or it was taken back already.")
        connection.execute(update(table).where(table.c.id == row.id).values(taken_back_at=now_text()))
        set_seal(connection, table, table.c.id == row.id)
        return _entry(table, row)

    def of_all(self, numbers: Sequence[int] | None = None) -> dict[int, list[Entry]]:
        """Entries by slab, each in order of days; of every slab, or of some."""
        with self._database.reading() as connection:
            return entries_of(connection, numbers)

    def of(self, number: int) -> list[Entry]:
        """The entries of one slab in order of days."""
        return self.of_all([number]).get(number, [])

    def last_cup(self, number: int) -> float | None:
        """The newest reading of a slab's cup, mm; None where it was never read."""
        read = [entry.warp.cup_mm for entry in self.of(number) if isinstance(entry, WarpEntry) and entry.warp.cup_mm is not None]
        return read[-1] if read else None

    @staticmethod
    def _felled(connection: Connection) -> dict[int, tuple[str, str | None]]:
        """For every slab its log's name and the day that was felled."""
        query = (
            select(slabs.c.number, logs.c.name, log_wood.c.felled_on)
            .join(logs, slabs.c.log_id == logs.c.id)
            .outerjoin(log_wood, log_wood.c.log_id == logs.c.id)
        )
        return {number: (name, felled) for number, name, felled in connection.execute(query)}


def entries_of(connection: Connection, numbers: Sequence[int] | None = None) -> dict[int, list[Entry]]:
    """Entries by slab that were not taken back, each slab's in order of days."""
    found: dict[int, list[Entry]] = {}
    for table in LETTERS.values():
        query = select(table).where(table.c.taken_back_at.is_(None))
        if numbers is not None:
            query = query.where(table.c.slab_number.in_(numbers))
        for row in connection.execute(query.order_by(table.c.day, table.c.id)):
            found.setdefault(row.slab_number, []).append(_entry(table, row))
    return found


def day_of(entry: Entry) -> date:
    """The day an entry belongs to."""
    match entry:
        case MoistureEntry(reading=reading):
            return reading.day
        case WeighingEntry(weighing=weighing):
            return weighing.day
        case _:
            return entry.day


def name_of(entry: Entry) -> str:
    """An entry's name, as in m12; nothing for one that is not in the yard yet."""
    if entry.id is None:
        return ""
    return {MoistureEntry: "m", WeighingEntry: "w", WarpEntry: "c"}[type(entry)] + str(entry.id)


def _check(entry: Entry, felled: dict[int, tuple[str, str | None]], today: date) -> None:
    if entry.slab not in felled:
        raise NoSuchSlab(f"There is no slab {tag_of(entry.slab)} in this yard; list the slabs to see which there are.")
    day = day_of(entry)
    if day > today:
        raise ReadingRefused(f"{day.isoformat()} is in the future; a reading of slab {tag_of(entry.slab)} cannot be from then.")
    log, felled_on = felled[entry.slab]
    if felled_on is not None and day < date.fromisoformat(felled_on):
        raise ReadingRefused(
            f"A reading of slab {tag_of(entry.slab)} on {day.isoformat()} is from before log {log} was felled ({felled_on}); "
            "correct one of the two days."
        )
    if isinstance(entry, WarpEntry):
        for name, value in (("cup", entry.warp.cup_mm), ("bow", entry.warp.bow_mm), ("twist", entry.warp.twist_mm)):
            if value is not None and not 0 <= value <= 500:
                raise ReadingRefused(f"A {name} of {value:g} mm cannot be; give 0 or a length up to 500 mm.")
        if not entry.warp.read:
            raise ReadingRefused("Nothing was read; give cup, bow or twist.")


def _row(entry: Entry) -> tuple[Table, dict[str, Any]]:
    row: dict[str, Any] = {"slab_number": entry.slab, "day": day_of(entry).isoformat(), "note": storable(entry.note)}
    match entry:
        case MoistureEntry(reading=reading):
            return moisture_readings, row | {
                "moisture": reading.moisture,
                "method": reading.method,
                "depth_mm": reading.depth_mm,
                "core": _int(reading.core),
                "corrected": _int(reading.corrected),
                "temperature_c": reading.temperature_c,
                "place": storable(reading.place),
                "wet_kg": entry.wet_kg,
                "dry_kg": entry.dry_kg,
            }
        case WeighingEntry(weighing=weighing):
            return weighings, row | {"mass_kg": weighing.mass_kg}
        case _:
            warp = entry.warp
            return warp_readings, row | {"cup_mm": warp.cup_mm, "bow_mm": warp.bow_mm, "twist_mm": warp.twist_mm}


def _entry(table: Table, row: Any) -> Entry:
    day = date.fromisoformat(row.day)
    if table is weighings:
        return WeighingEntry(row.slab_number, Weighing(day, row.mass_kg), row.note, row.id)
    if table is warp_readings:
        return WarpEntry(row.slab_number, day, Warp(row.cup_mm, row.bow_mm, row.twist_mm), row.note, row.id)
    reading = Reading(
        day, row.moisture, row.method, row.depth_mm, _bool(row.core), _bool(row.corrected), row.temperature_c, row.place
    )
    return MoistureEntry(row.slab_number, reading, row.wet_kg, row.dry_kg, row.note, row.id)


def _letter(table: Table) -> str:
    return next(letter for letter, one in LETTERS.items() if one is table)


def _int(value: bool | None) -> int | None:
    return None if value is None else int(value)


def _bool(value: int | None) -> bool | None:
    return None if value is None else bool(value)
