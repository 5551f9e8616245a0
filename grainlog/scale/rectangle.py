"""Rectangles of known size that people have at hand: sheets of paper by name, boards by their measures."""

import re
from dataclasses import dataclass

from grainlog.errors import WrongUse
from grainlog.units import parse_length, parse_size

#: Sheets are cut to about this, relative (common practice, no source); ISO 216 itself allows 2 mm on 150 to 600 mm.
PAPER_U = 0.002
#: A board, or a distance between two marks, as measured with a rule or tape, mm; common practice, no source.
RULE_U_MM = 1.0


@dataclass(frozen=True)
class Rectangle:
    """A flat rectangular thing: width, height and how sure each is, mm; how high its upper side is over what it lies
    on.

    curled : whether it may curl, as paper does
    """

    width_mm: float
    height_mm: float
    width_u_mm: float
    height_u_mm: float
    above_mm: float = 0.1
    above_u_mm: float = 0.1
    curled: bool = True


def _paper(width_mm: float, height_mm: float) -> Rectangle:
    return Rectangle(width_mm, height_mm, PAPER_U * width_mm, PAPER_U * height_mm)


#: A5, A4, A3: ISO 216. Letter (A) and ledger (B): ANSI/ASME Y14.1, 8.5 x 11 in and 11 x 17 in.
SHEETS = {
    "a5": _paper(148.0, 210.0),
    "a4": _paper(210.0, 297.0),
    "a3": _paper(297.0, 420.0),
    "letter": _paper(215.9, 279.4),
    "ledger": _paper(279.4, 431.8),
}


def read_rectangle(text: str) -> Rectangle:
    """Read `a4`, `letter`, `600x300mm`, `24x12in`; a third number is the thickness of a board: `600x300x19mm`.

    Raises WrongUse.
    """
    word = text.strip().lower()
    if word in SHEETS:
        return SHEETS[word]
    parts = re.split(r"\s*(?:x|×|\bby\b)\s*", word)
    unit = re.search(r"[a-z\"'″′]+$", parts[-1])
    if len(parts) not in (2, 3) or not all(parts):
        raise WrongUse(
            f"'{text}' is not a sheet or a size: say {', '.join(SHEETS)}, or width and height as in 600x300mm (a "
            "board's thickness third, as in 600x300x19mm)."
        )
    size = [part if re.search(r"[a-z\"'″′]$", part) or not unit else part + unit.group() for part in parts]
    width, height = parse_size(" x ".join(size[:2]))
    above = parse_length(size[2]) if len(size) == 3 else 0.0
    return Rectangle(width, height, RULE_U_MM, RULE_U_MM, above, RULE_U_MM / 2 if above else 0.0, curled=False)
