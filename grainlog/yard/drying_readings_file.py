"""A table of readings for many slabs, as a person keeps it in a spreadsheet, saved as CSV."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from grainlog.drying.csv_table import Row, day_in, number_in, read_table
from grainlog.drying.finish import Warp
from grainlog.drying.moisture import parse_moisture
from grainlog.drying.reading import Reading
from grainlog.drying.weighing import Weighing
from grainlog.errors import WrongUse
from grainlog.units import parse_length
from grainlog.units.mass import parse_mass, parse_temperature
from grainlog.yard.readings import Entry, MoistureEntry, WarpEntry, WeighingEntry
from grainlog.yard.tags import number_of

COLUMNS = {
    "slab": ("slab", "tag", "number", "bohle", "nummer", "planche", "tabla"),
    "day": ("day", "date", "datum", "tag der messung", "fecha", "data", "jour"),
    "moisture": ("moisture", "moisture content", "mc", "feuchte", "holzfeuchte", "humidité", "humedad"),
    "depth": ("depth", "tiefe", "profondeur", "profundidad"),
    "method": ("method", "meter", "kind", "methode", "méthode"),
    "core": ("core", "kern"),
    "corrected": ("corrected", "species correction", "korrigiert"),
    "temperature": ("temperature", "temp", "temperatur", "température"),
    "place": ("place", "where", "stelle", "lieu"),
    "weight": ("weight", "mass", "gewicht", "poids", "peso"),
    "wet": ("wet", "nass"),
    "dry": ("dry", "oven dry", "darr"),
    "cup": ("cup",),
    "bow": ("bow",),
    "twist": ("twist",),
    "note": ("note", "remark", "notiz"),
}  # fmt: skip
_YES, _NO = {"yes", "y", "1", "true", "x", "ja", "oui", "si"}, {"no", "n", "0", "false", "nein", "non"}


@dataclass(frozen=True)
class ReadingsFile:
    """Entries of the good rows, and a sentence for each row that was not understood, by row and column."""

    entries: tuple[Entry, ...]
    problems: tuple[str, ...]


def read_readings(data: bytes, name: str, today: date) -> ReadingsFile:
    """Read a table of readings: columns slab and day, and any of `COLUMNS`; units in the cells or in the heading.

    Raises DryingError where there is no heading with slab and day.
    """
    table = read_table(data, COLUMNS, ("slab", "day"), name)
    entries: list[Entry] = []
    problems = []
    for row in table.rows:
        try:
            found = _entries(row, table.headings, today)
        except _Cell as wrong:
            problems.append(f"row {row.number}, column '{table.headings[wrong.column]}': {wrong}")
            continue
        except WrongUse as wrong:
            problems.append(f"row {row.number}: {wrong}")
            continue
        if not found:
            problems.append(f"row {row.number}: there is no moisture, weight, sample, cup, bow or twist in it.")
        entries += found
    return ReadingsFile(tuple(entries), tuple(problems))


class _Cell(Exception):
    """What is wrong with one cell."""

    def __init__(self, column: str, message: str):
        super().__init__(message)
        self.column = column


def _entries(row: Row, headings: Mapping[str, str], today: date) -> list[Entry]:
    def of(column: str, read):
        text = row.cells.get(column, "")
        if not text:
            return None
        try:
            return read(_with_unit(text, headings[column], column))
        except WrongUse as wrong:
            raise _Cell(column, str(wrong)) from wrong
        except ValueError as wrong:
            said = str(wrong) if str(wrong).startswith(("is ", "may ")) else "is not understood"
            raise _Cell(column, f"'{text}' {said}.") from wrong

    slab, day = of("slab", _slab), of("day", lambda text: day_in(text, today))
    for column, value in (("slab", slab), ("day", day)):
        if value is None:
            raise _Cell(column, "is empty.")
    note = row.cells.get("note", "")
    found: list[Entry] = []
    if (moisture := of("moisture", parse_moisture)) is not None:
        reading = Reading(
            day, moisture, (row.cells.get("method") or "pin").casefold(), of("depth", _length), of("core", _yes),
            of("corrected", _yes), of("temperature", parse_temperature), row.cells.get("place", ""),
        )  # fmt: skip
        found.append(MoistureEntry(slab, reading, note=note))
    wet, dry = of("wet", parse_mass), of("dry", parse_mass)
    if (wet is None) != (dry is None):
        raise _Cell("wet" if wet is None else "dry", "an oven-dried sample needs both its weights, wet and dry.")
    if wet is not None:
        found.append(MoistureEntry.oven_dried(slab, day, wet, dry, note))
    if (mass := of("weight", parse_mass)) is not None:
        found.append(WeighingEntry(slab, Weighing(day, mass), note))
    warp = Warp(of("cup", _length), of("bow", _length), of("twist", _length))
    if warp.read:
        found.append(WarpEntry(slab, day, warp, note))
    return found


def _with_unit(text: str, heading: str, column: str) -> str:
    """A bare number with the unit that its heading names, so that "depth (mm)" over 25 means 25 mm."""
    unit = re.search(r"(?:^|[\W_])(mm|cm|in|inch|kg|g|lb|lbs|c|f)(?:$|[\W_])", heading.casefold())
    if unit is None or column in ("slab", "day", "moisture", "core", "corrected"):
        return text
    try:
        number = number_in(text)
    except ValueError:
        return text
    return f"{number:g}{unit.group(1)}" if re.fullmatch(r"[\s+−.,\d-]+", text) else text


def _slab(text: str) -> int:
    try:
        return number_of(text)
    except WrongUse as wrong:
        raise ValueError("is no slab's tag") from wrong


def _length(text: str) -> float:
    return parse_length(text, allow_zero=True)


def _yes(text: str) -> bool:
    word = text.casefold()
    if word in _YES | _NO:
        return word in _YES
    raise ValueError("is neither yes nor no")
