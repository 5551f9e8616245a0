"""Reading the pieces that somebody wants from what they type: `72x34in`, `40in round`, `60x40in oval and 72x20in`."""

import re

from grainlog.fit.errors import PieceRefused
from grainlog.fit.piece import Piece, oval, round_top, straight, with_live_edges
from grainlog.units import parse_length, parse_size

SHAPES = ("straight", "round", "oval")
LIVE_EDGES = ("both", "one")
_BETWEEN = re.compile(r"\s*(?:[;+&\n]|\band\b)\s*", re.IGNORECASE)
_WORDS = {
    "round": ("round", None), "oval": ("oval", None), "straight": ("straight", None),
    "both live edges": ("straight", "both"), "live edges": ("straight", "both"), "one live edge": ("straight", "one"),
}  # fmt: skip
_WORD = re.compile(rf"\b(?:{'|'.join(sorted(_WORDS, key=len, reverse=True))})\b", re.IGNORECASE)
#: More pieces than this come out of no slab.
_MOST = 12


def piece_of(size: str, shape: str, live_edges: str | None, default_unit: str | None = None) -> Piece:
    """One piece of a shape; a round one has one size, its diameter. Raises PieceRefused, UnitsError."""
    if live_edges and shape != "straight":
        raise PieceRefused("Live edges are kept by straight pieces only; leave the shape out.")
    if shape == "round":
        return round_top(parse_length(size, default_unit))
    length, width = parse_size(size, default_unit)
    if shape == "oval":
        return oval(length, width)
    return with_live_edges(length, width, 2 if live_edges == "both" else 1) if live_edges else straight(length, width)


def read_pieces(text: str, default_unit: str | None = None) -> tuple[Piece, ...]:
    """One piece or several with "and" between them, each a size and, where it is not straight, its shape in words.

    default_unit : of bare numbers, as in `parse_length`. Raises PieceRefused, UnitsError.
    """
    parts = [part for part in _BETWEEN.split(text.strip()) if part]
    if not parts:
        raise PieceRefused("Nothing to look for; say the size of the piece, as in 72x34in or 40in round.")
    if len(parts) > _MOST:
        raise PieceRefused(f"At most {_MOST} pieces are looked for in one slab; ask for fewer.")
    return tuple(_piece(part, default_unit) for part in parts)


def _piece(part: str, default_unit: str | None) -> Piece:
    said = _WORD.findall(part)
    if len(said) > 1:
        raise PieceRefused(f"'{part}' says two shapes; say one, as in 40in round.")
    shape, live_edges = _WORDS[said[0].lower()] if said else ("straight", None)
    size = " ".join(_WORD.sub(" ", part).split()).strip(", ")
    return piece_of(size, shape, live_edges, default_unit)
