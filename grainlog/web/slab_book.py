"""Two neighbours of a log opened like a book, as the page draws them."""

from dataclasses import dataclass

from grainlog.web.errors import PageRefused
from grainlog.web.slab_drawing import path_of
from grainlog.yard import Yard
from grainlog.yard.fit_book import OpenBook
from grainlog.yard.tags import tag_of


@dataclass(frozen=True)
class BookDrawing:
    """Both slabs, lower order first.

    tags, log : which they are. opened : what they make. parts : an SVG path each, y down, joint at y = 0.
    box : least x, least y, width and height of the drawing, mm.
    """

    tags: tuple[str, str]
    log: str
    opened: OpenBook
    parts: tuple[str, str]
    box: tuple[float, float, float, float]


def book_drawing_of(yard: Yard, one: int, other: int) -> BookDrawing:
    """The drawing of two slabs, in any order. Raises NoSuchSlab, and PageRefused where they cannot be opened so."""
    first, second = sorted((yard.slab(one), yard.slab(other)), key=lambda entry: entry.order)
    tags = (tag_of(first.number), tag_of(second.number))
    if first.log != second.log or second.order - first.order != 1:
        raise PageRefused(f"Slabs {tags[0]} and {tags[1]} did not lie on each other in a log; open neighbours.")
    opened = yard.logs.open_book(first.number, second.number)
    if opened is None:
        raise PageRefused(f"Slabs {tags[0]} and {tags[1]} share no straight joint, or one has no outline; photograph both.")
    low = min(part.bounds[1] for part in opened.parts)
    high = max(part.bounds[3] for part in opened.parts)
    lower, upper = (path_of(list(part.exterior.coords)) for part in opened.parts)
    return BookDrawing(tags, first.log, opened, (lower, upper), (0.0, -high, opened.length_mm, high - low))
