"""What a person says of a slab on its page: status, place, work, note, thickness; as the commands of these names take it."""

from collections.abc import Callable, Mapping
from datetime import date

from grainlog.units.reading import parse_length
from grainlog.web.errors import PageRefused
from grainlog.yard import Yard

Typed = Mapping[str, str]


def day_of(typed: Typed, name: str = "day") -> date | None:
    """A day of a form's date field; None for one left empty. Raises PageRefused."""
    text = typed.get(name, "").strip()
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise PageRefused(f"'{text}' is not a day; choose one, or write it as in 2026-05-01.") from None


def say_status(yard: Yard, number: int, typed: Typed, units: str) -> str:
    """Give the slab a status. Raises LifeRefused."""
    status = typed.get("status", "")
    whom = typed.get("for_whom", "").strip() or None
    yard.lives.set_status((number,), status, day_of(typed), day_of(typed, "until"), whom, typed.get("note", ""))
    return "Kept how it stands."


def say_place(yard: Yard, number: int, typed: Typed, units: str) -> str:
    """Lay the slab down somewhere. Raises LifeRefused, PageRefused."""
    layer = typed.get("layer", "").strip()
    if layer and not (layer.isdecimal() and len(layer) < 4):
        raise PageRefused(f"'{layer}' is no layer; count them from the bottom, the lowest is 1.")
    places = (typed.get("shed"), typed.get("stack"))
    yard.places.lay((number,), *places, int(layer) if layer else None, bool(typed.get("beside")), day_of(typed), typed.get("note", ""))
    return "Kept where it lies."


def say_work(yard: Yard, number: int, typed: Typed, units: str) -> str:
    """Keep that something was done to the slab. Raises LifeRefused."""
    yard.lives.worked((number,), typed.get("work", ""), day_of(typed), typed.get("face_up") or None, typed.get("note", ""))
    return "Kept what was done."


def say_note(yard: Yard, number: int, typed: Typed, units: str) -> str:
    """Note owner, price, figure or anything else; a field left empty changes nothing. Raises LifeRefused, PageRefused."""
    price = typed.get("price", "").strip().replace(",", ".")
    try:
        amount = float(price) if price else None
    except ValueError:
        raise PageRefused(f"'{price}' is not an amount of money; write a number, as in 4.50.") from None
    owner, figure = typed.get("owner", "").strip() or None, typed.get("figure", "").strip() or None
    yard.lives.tell((number,), owner, amount, figure, typed.get("note", ""), day_of(typed))
    return "Noted."


def thickness_readings(typed: Typed, units: str) -> tuple[float, ...]:
    """Readings around the slab, mm, from a field with several of them. Raises PageRefused, UnitsError."""
    parts = [part for part in typed.get("thickness", "").replace(";", ",").replace("\n", ",").split(",") if part.strip()]
    if not parts:
        raise PageRefused("No thickness was typed; write one or several, as in 2 1/2in, 2 5/8in.")
    if len(parts) > 20:
        raise PageRefused("Twenty readings of a thickness are enough.")
    return tuple(parse_length(part.strip(), units) for part in parts)


def say_thickness(yard: Yard, number: int, typed: Typed, units: str) -> str:
    """Say how thick the slab was found to be. Raises PageRefused, LifeRefused, FilingRefused."""
    yard.cuts.thickness(number, thickness_readings(typed, units), typed.get("note", ""))
    return "Kept how thick it is; board feet follow."


#: By the word in the form's address.
SAYINGS: Mapping[str, Callable[[Yard, int, Typed, str], str]] = {
    "status": say_status,
    "place": say_place,
    "work": say_work,
    "thickness": say_thickness,
    "note": say_note,
}
