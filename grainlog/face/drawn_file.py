"""Files that a person drew: read as text, with a sentence where that cannot be."""

import os
from pathlib import Path

from grainlog.errors import WrongUse

MOST_BYTES = 10_000_000


class DrawnFileError(WrongUse):
    """A drawn file cannot be used; the message says what is wrong with it."""


def read_drawn_text(path: str | os.PathLike, what: str) -> tuple[str, str]:
    """(printable name, text) of a JSON or SVG file; `what` it should hold, as in "outline". Raises DrawnFileError."""
    path = Path(path)
    name = "".join(sign if sign.isprintable() else "?" for sign in path.name)
    verb = "are" if what.endswith("s") else "is"
    try:
        if path.is_file() and path.stat().st_size > MOST_BYTES:
            raise DrawnFileError(f"The {what} '{name}' {verb} far too large; it should hold one photo's drawing.")
        text = path.read_text("utf-8-sig")
    except (OSError, ValueError):
        raise DrawnFileError(f"The {what} '{name}' cannot be read as text; give a JSON or SVG file.") from None
    if not text.strip():
        raise DrawnFileError(f"The {what} '{name}' {verb} empty; give a JSON or SVG file.")
    return name, text
