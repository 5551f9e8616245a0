"""A reading as a form of the page sends it: what the command `reading` takes, with an id so that it may be sent twice."""

import re
import secrets
from collections.abc import Mapping
from datetime import date

from grainlog.drying import parse_moisture
from grainlog.drying.reading import Reading
from grainlog.drying.weighing import Weighing
from grainlog.units.mass import parse_mass, parse_temperature
from grainlog.units.reading import parse_length
from grainlog.web.errors import PageRefused
from grainlog.web.slab_said import day_of
from grainlog.yard.readings import Entry, MoistureEntry, WeighingEntry

#: Fields that stay from slab to slab: the meter and the day do not change on the way.
STAYS = ("method", "depth", "corrected", "temperature", "core")
_BARE = re.compile(r"[-+]?[0-9]+(?:[.,][0-9]+)?")
METHODS = ("pin", "pinless")


def new_id() -> str:
    """An id for an act of entering, as the page's script makes them too."""
    return secrets.token_hex(16)


def entries_from(typed: Mapping[str, str], slab: int, units: str, today: date) -> list[Entry]:
    """The readings of one form; moisture, weight, or both.

    Raises PageRefused, DryingError, UnitsError for what cannot be meant.
    """
    day = day_of(typed) or today
    note = typed.get("note", "").strip()
    found: list[Entry] = []
    if moisture := typed.get("moisture", "").strip():
        found.append(MoistureEntry(slab, _reading(typed, parse_moisture(moisture), units, day), note=note))
    if weight := typed.get("weight", "").strip():
        found.append(WeighingEntry(slab, Weighing(day, _mass(weight, units)), note))
    if not found:
        raise PageRefused("Nothing was read; type a moisture or a weight, or skip the slab.")
    return found


def _reading(typed: Mapping[str, str], moisture: float, units: str, day: date) -> Reading:
    method = typed.get("method") or "pin"
    if method not in METHODS:
        raise PageRefused(f"'{method}' is no meter here; choose with pins or without.")
    depth, temperature = typed.get("depth", "").strip(), typed.get("temperature", "").strip()
    return Reading(
        day,
        moisture,
        method,
        parse_length(depth, units, allow_zero=True) if depth else None,
        _yes_no(typed.get("core")),
        _yes_no(typed.get("corrected")),
        _temperature(temperature, units) if temperature else None,
        typed.get("place", "").strip(),
    )


def _mass(text: str, units: str) -> float:
    """A weight, kg; a bare number is pounds or kilograms by the visitor's units."""
    return parse_mass(text + ("lb" if units == "in" else "kg") if _BARE.fullmatch(text) else text)


def _temperature(text: str, units: str) -> float:
    """A temperature, C; a bare number is Fahrenheit or Celsius by the visitor's units."""
    return parse_temperature(text + ("F" if units == "in" else "C") if _BARE.fullmatch(text) else text)


def _yes_no(text: str | None) -> bool | None:
    return {"yes": True, "no": False}.get(text or "")
