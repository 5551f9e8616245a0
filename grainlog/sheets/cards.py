"""Writing scale cards into a folder: PDF to print, pictures and geometry for programs."""

import re
from collections.abc import Sequence
from pathlib import Path

from grainlog.errors import WrongUse
from grainlog.scale.card import CARD_COUNT
from grainlog.sheets.card_pdf import card_pdf
from grainlog.sheets.card_png import card_file, card_png, geometry_json
from grainlog.sheets.files import make_folder, refuse_foreign, write_whole
from grainlog.sheets.paper import PAPERS

ALL_CARDS = tuple(range(CARD_COUNT))


def read_card_numbers(text: str) -> tuple[int, ...]:
    """Card numbers from words such as "0-3", "2" or "0-1,4": sorted, each once. Raises WrongUse."""
    found: set[int] = set()
    for part in text.split(","):
        match = re.fullmatch(r"\s*(\d{1,3})\s*(?:-\s*(\d{1,3})\s*)?", part, re.ASCII)
        if not match:
            raise WrongUse(f"'{text}' does not name scale cards; write a range such as 0-3, or numbers as in 0,4.")
        first, last = int(match[1]), int(match[2] or match[1])
        if last < first or last >= CARD_COUNT:
            raise WrongUse(f"'{text}' goes outside the scale cards there are; use numbers from 0 to {CARD_COUNT - 1}.")
        found.update(range(first, last + 1))
    return tuple(sorted(found))


def write_cards(
    folder: Path,
    cards: Sequence[int] = ALL_CARDS,
    papers: Sequence[str] = ("a4", "letter"),
    pictures: bool = True,
) -> tuple[Path, ...]:
    """Write `cards` into `folder` and return the files, each whole or not there at all.

    cards : card numbers, 0..9
    papers : keys of `PAPERS`; one `cards-PAPER.pdf` each
    pictures : also `card-K.png` and their geometry `cards.json`

    Older card files of ours are replaced; anything else in their place is refused before the first file is written.
    Raises SheetError.
    """
    folder = Path(folder)
    names = [f"cards-{paper}.pdf" for paper in papers]
    if pictures:
        names += [*map(card_file, cards), "cards.json"]
    make_folder(folder)
    for name in names:
        refuse_foreign(folder / name)
    for paper in papers:
        write_whole(folder / f"cards-{paper}.pdf", card_pdf(cards, PAPERS[paper]))
    if pictures:
        for card in cards:
            write_whole(folder / card_file(card), card_png(card))
        write_whole(folder / "cards.json", geometry_json(cards))
    return tuple(folder / name for name in names)
