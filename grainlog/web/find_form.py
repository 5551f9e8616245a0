"""The form of the find page: what is typed there, read into a search for one slab or for two."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from grainlog.drying.moisture import parse_moisture
from grainlog.errors import GrainlogError
from grainlog.fit.defects import wishes_from
from grainlog.fit.errors import PieceRefused
from grainlog.fit.piece import Piece
from grainlog.fit.piece_text import read_pieces
from grainlog.units import parse_length
from grainlog.units.reading import parse_thickness
from grainlog.web.typed import Typed
from grainlog.yard.fit_pairs import PairRequest
from grainlog.yard.fit_request import CHECKS, FindRequest

#: Ways to make the top: from one slab, or of two.
WAYS: Mapping[str, str] = {
    "one": "out of one slab",
    "book": "two neighbours opened like a book",
    "book-live": "the same, outer live edges kept",
    "gap": "two slabs with a gap between live edges",
}
FACES: Mapping[str, str] = {"bark": "bark side", "heart": "heart side"}
CHECK_WISHES: Mapping[str, str] = {
    "any": "may be there",
    "trim-ends": "end checks cut off, no others",
    "none": "none seen",
}
TEXT_FIELDS = (
    "top", "way", "gap", "at", "thick", "flattening", "trim", "kerf", "species", "log", "place", "status", "face",
    "checks", "avoid", "fill", "leave", "margin", "limit", "shape",
)  # fmt: skip
_LONGEST, _MOST_ANSWERS = 300, 25


@dataclass(frozen=True, eq=False)
class FindForm:
    """What was typed, what could not be read, by field, and the search; None where there is none, or a problem."""

    typed: Mapping[str, str]
    problems: Mapping[str, str]
    request: FindRequest | PairRequest | None
    pieces: tuple[Piece, ...] = ()


def read_form(given: Mapping[str, str], units: str, drawn: Callable[[str], Piece] | None = None) -> FindForm:
    """The search of a form. drawn : the piece in a file that was sent, by its mark. Never raises for what was typed."""
    form = Typed(given, TEXT_FIELDS, _LONGEST)
    typed = form.text
    read, problems = form.read, form.problems

    def allowance(text: str) -> float:
        return parse_length(text, units, allow_zero=True)

    pieces = read("top", lambda text: read_pieces(text, units), ())
    if drawn is not None and "shape" in typed:
        if "top" in typed:
            problems["top"] = "A shape from a file has its own size; leave the top empty, or go without the shape."
        shape = read("shape", drawn)
        pieces = () if shape is None else (shape,)
    way = typed.get("way", "one") if typed.get("way", "one") in WAYS else "one"
    margin = read("margin", allowance, 0.0)
    said = {
        what: [part.strip() for part in typed.get(what, "").split(",") if part.strip()]
        for what in ("avoid", "fill", "leave")
    }
    wishes = None
    try:
        wishes = wishes_from(said, margin)
    except GrainlogError as error:
        problems[next(what for what in said if said[what])] = str(error)
    search = {
        "trim": read("trim", allowance, 0.0), "kerf": read("kerf", allowance, 3.0),
        "thickness": read("thick", lambda text: parse_thickness(text, units)), "flattening": read("flattening", allowance, 0.0),
        "moisture": read("at", parse_moisture), "limit": read("limit", _limit, 5),
        "checks": typed.get("checks", "any") if typed.get("checks", "any") in CHECKS else "any",
        "show_face": typed.get("face") if typed.get("face") in FACES else None,
        **{name: typed.get(name) for name in ("species", "log", "place", "status")},
    }  # fmt: skip
    gap = read("gap", allowance, 0.0)
    if problems or not pieces:
        return FindForm(typed, problems, None, pieces)
    request = FindRequest(pieces=pieces, wishes=wishes, **search)
    if way == "one":
        return FindForm(typed, problems, request, pieces)
    if len(pieces) > 1 or pieces[0].kind != "straight":
        return FindForm(typed, {"top": "Two slabs make one straight top; give a size such as 72x44in."}, None, pieces)
    kind = "gap" if way == "gap" else "book"
    pair = PairRequest(kind, pieces[0].length, pieces[0].width, request, straight=way != "book-live", gap=gap)
    return FindForm(typed, problems, pair, pieces)


def _limit(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= _MOST_ANSWERS:
        raise PieceRefused(f"The number of answers is from 1 to {_MOST_ANSWERS}.")
    return int(text)
