"""How numbers and words are written on the page: filters of the templates, in the units the visitor chose."""

from dataclasses import dataclass
from datetime import date, datetime

from flask import Flask, g, request

from grainlog.units import Quantity, format_if_known, format_length
from grainlog.units.reading import parse_length
from grainlog.web.gate import UNITS_COOKIE
from grainlog.yard.tags import tag_of

UNITS = ("in", "mm")


@dataclass(frozen=True)
class MenuEntry:
    """A line of the menu.

    rank : its place; below 10 it also stands in the bar at the foot of a phone's screen.
    name, endpoint : what it says and the view it leads to.
    for_guests : whether a link's visitor sees it; only for views that `guest_may`.
    """

    rank: int
    name: str
    endpoint: str
    for_guests: bool = False


def units() -> str:
    """The visitor's units, "in" unless they chose "mm"."""
    chosen = request.cookies.get(UNITS_COOKIE, "in")
    return chosen if chosen in UNITS else "in"


def read_length(text: str) -> float:
    """A length typed on the page, mm; a bare number is in the visitor's units. Raises UnitsError."""
    return parse_length(text, units())


def written(quantity: Quantity | None, kind: str = "length") -> str:
    """A quantity with its interval, or "not known"."""
    return format_if_known(quantity, units(), kind)


def day(moment: datetime | date | str | None) -> str:
    """A day as people write it: 4 March 2025."""
    if moment is None:
        return "not known"
    if isinstance(moment, str):
        moment = datetime.fromisoformat(moment)
    return f"{moment.day} {moment:%B %Y}"


def install(app: Flask) -> None:
    """Give the templates their filters: `quantity`, `length`, `day`, `tag`; and `units`, `visitor`, `menu`."""
    app.jinja_env.filters["quantity"] = written
    app.jinja_env.filters["length"] = lambda mm: "not known" if mm is None else format_length(mm, units())
    app.jinja_env.filters["day"] = day
    app.jinja_env.filters["tag"] = tag_of

    @app.context_processor
    def words() -> dict:
        return {"units": units(), "visitor": g.get("visitor")}
