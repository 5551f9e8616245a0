"""What a visitor wishes to see on the wall: filters, order, scale and a top, read from the address of the page."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from grainlog.drying.moisture import parse_moisture
from grainlog.fit.piece import Piece
from grainlog.fit.piece_text import read_pieces
from grainlog.units import parse_length
from grainlog.units.reading import parse_thickness
from grainlog.web.typed import Typed
from grainlog.yard.life_state import STATUSES
from grainlog.yard.query import SlabQuery, Span

#: Orders by name: what the visitor reads, the yard's sort, and whether from the largest down.
ORDERS: Mapping[str, tuple[str, str, bool]] = {
    "tag": ("by tag", "number", False),
    "longest": ("longest first", "length", True),
    "widest": ("widest first", "width", True),
    "thickest": ("thickest first", "thickness", True),
    "most-wood": ("most wood first", "area", True),
    "species": ("by species", "species", False),
    "newest": ("newest photo first", "date", True),
}
#: Scales by name: what the visitor reads and px for a foot. A person is about as tall as a phone's half at the first.
SCALES: Mapping[str, tuple[str, int]] = {
    "far": ("whole wall", 30),
    "near": ("closer", 54),
    "nearest": ("closest", 96),
}
#: Fields of the form that a link's visitor does not have.
NOT_FOR_GUESTS = ("words", "place", "status")
FIELDS = ("top", "species", "longer", "wider", "thicker", "thinner", "drier", *NOT_FOR_GUESTS, "order", "scale")


@dataclass(frozen=True)
class Wish:
    """A wish.

    typed : what was typed, by field, to show it again. problems : what could not be read, by field, a sentence each; such a
    field asks for nothing.
    query : the filters. drier : moisture now at most, a fraction, or None. pieces : of the top; empty without one.
    """

    typed: Mapping[str, str]
    query: SlabQuery
    drier: float | None
    pieces: tuple[Piece, ...]
    problems: Mapping[str, str] = field(default_factory=dict)

    @property
    def order(self) -> str:
        """The key of `ORDERS`."""
        return self.typed.get("order", "tag")

    @property
    def scale(self) -> str:
        """The key of `SCALES`."""
        return self.typed.get("scale", "far")

    @property
    def filtered(self) -> bool:
        """Whether anything but a top, the order and the scale was asked for."""
        return any(name not in ("top", "order", "scale") for name in self.typed)

    def asked(self, **changed: str | None) -> dict[str, str]:
        """The address of this wish with something changed, as its arguments."""
        return {name: value for name, value in {**self.typed, **changed}.items() if value}


def read_wish(given: Mapping[str, str], units: str, guest: bool) -> Wish:
    """The wish of an address. Never raises for what was typed: it says what is wrong with it in `problems`."""
    allowed = [name for name in FIELDS if not (guest and name in NOT_FOR_GUESTS)]
    form = Typed(given, allowed)
    typed = form.text
    for name, known in (("order", ORDERS), ("scale", SCALES)):
        if typed.get(name) not in known:
            typed.pop(name, None)
    read, problems = form.read, form.problems

    def length(text: str) -> float:
        return parse_length(text, units)

    def thickness(text: str) -> float:
        return parse_thickness(text, units)

    status = typed.get("status")
    if status is not None and status not in STATUSES:
        problems["status"] = f"'{status}' is not a status here; use one of {', '.join(STATUSES)}."
        status = None
    _, sort, descending = ORDERS[typed.get("order", "tag")]
    query = SlabQuery(
        species=typed.get("species"), text=typed.get("words"), place=typed.get("place"), status=status,
        length_mm=Span(least=read("longer", length)), width_mm=Span(least=read("wider", length)),
        thickness_mm=Span(read("thicker", thickness), read("thinner", thickness)), sort=sort, descending=descending,
    )  # fmt: skip
    pieces = read("top", lambda text: read_pieces(text, units)) or ()
    return Wish(typed, query, read("drier", parse_moisture), pieces, problems)
