"""What is to be printed, as the page's forms ask for it: which cards, which tags, on which paper."""

import re
from collections.abc import Mapping

from grainlog.sheets.paper import PAPERS, Paper
from grainlog.sheets.tag_layout import TagLayout, stock_layout
from grainlog.units.reading import parse_length
from grainlog.web.errors import PageRefused
from grainlog.yard.tags import number_of

#: Tags in one file: fifty sheets.
MOST_TAGS = 400
#: Label stock, by the names of the fields: the first six are needed.
STOCK = ("across", "down", "label_width", "label_height", "left", "top")
GAPS = ("gap_across", "gap_down")
_RANGE = re.compile(r"\s*([1-9][0-9]{0,5})\s*-\s*([1-9][0-9]{0,5})\s*")


def paper_of(asked: Mapping[str, str]) -> Paper:
    """The paper that was chosen. Raises PageRefused."""
    if asked.get("paper", "a4") not in PAPERS:
        raise PageRefused(f"There is no paper {asked['paper']!r} here; choose {' or '.join(paper.title for paper in PAPERS.values())}.")
    return PAPERS[asked.get("paper", "a4")]


def numbers_of(text: str) -> tuple[int, ...]:
    """Slabs by their tags, as in "3, 5-8, 12A", each once, in the order in which they are written.

    Raises PageRefused, NoSuchSlab for what is no tag.
    """
    found: list[int] = []
    for part in filter(str.strip, text.split(",")):
        if between := _RANGE.fullmatch(part):
            first, last = map(int, between.groups())
            if not 0 <= last - first < MOST_TAGS:
                raise PageRefused(f"'{part.strip()}' goes backwards or is more than {MOST_TAGS} tags; write a shorter range.")
            found += range(first, last + 1)
        else:
            found.append(number_of(part))
    numbers = tuple(dict.fromkeys(found))
    if len(numbers) > MOST_TAGS:
        raise PageRefused(f"These are more than {MOST_TAGS} tags; print them in two files.")
    return numbers


def layout_of(asked: Mapping[str, str], paper: Paper, units: str) -> TagLayout | None:
    """Label stock where it was described; None for sheets to cut up. Raises PageRefused, UnitsError, WrongUse."""
    given = {name: asked.get(name, "").strip() for name in (*STOCK, *GAPS)}
    if not any(given[name] for name in STOCK):
        return None
    if missing := [name.replace("_", " ") for name in STOCK if not given[name]]:
        raise PageRefused(f"Label stock is described whole: {', '.join(missing)} is missing.")
    counts = [int(given[name]) if given[name].isdecimal() and len(given[name]) < 3 else 0 for name in ("across", "down")]
    if not all(counts):
        raise PageRefused("How many labels there are across and down are whole numbers from 1 to 99.")
    sizes = [parse_length(given[name], units, allow_zero=True) if given[name] else 0.0 for name in (*STOCK[2:], *GAPS)]
    return stock_layout(paper, *counts, (sizes[0], sizes[1]), (sizes[2], sizes[3]), (sizes[4], sizes[5]))
