"""Tags and numbers: 12 is a slab as it came off the log, 12A and 12B are pieces that it was later cut into.

A tag is what stands on the wood. Its number is its key in the tables: the tag itself for a whole slab, and for a piece
a number below zero that says the same, so that no table and no tag number is spent on letters: 12A is -1 000 012.
"""

import re
from string import ascii_uppercase

from grainlog.yard.errors import NoSuchSlab

PER_LETTER = 1_000_000
_TAG = re.compile(r"#?([1-9][0-9]{0,5})\s?([A-Za-z])?")


def tag_of(number: int) -> str:
    """The tag of a slab or piece: 12 -> "12", -1000012 -> "12A"."""
    if number > 0:
        return str(number)
    letter, root = divmod(-number, PER_LETTER)
    return f"{root}{ascii_uppercase[letter - 1]}"


def number_of(tag: str) -> int:
    """The number behind a tag as a person writes it: "12", "12A", "12a". Raises NoSuchSlab for what is no tag."""
    found = _TAG.fullmatch(tag.strip())
    if not found:
        raise NoSuchSlab(f"'{tag}' is not the tag of a slab; give the number on it, such as 12, or 12A for a piece.")
    root, letter = int(found.group(1)), found.group(2)
    return root if letter is None else piece_number(root, letter.upper())


def piece_number(root: int, letter: str) -> int:
    """The number of the piece with this letter of slab `root`."""
    return -((ascii_uppercase.index(letter) + 1) * PER_LETTER + root)


def root_of(number: int) -> int:
    """The number of the whole slab that a slab or piece is, or was cut from."""
    return number if number > 0 else -number % PER_LETTER


def letter_of(number: int) -> str | None:
    """The letter of a piece, None for a whole slab."""
    return None if number > 0 else ascii_uppercase[-number // PER_LETTER - 1]
