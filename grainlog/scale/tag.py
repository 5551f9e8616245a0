"""The tag that stays on a slab: its geometry, which marker stands for which number, and what its QR code says.

A tag shows one marker of ArUco's dictionary 5x5_1000 (scale cards use 4x4_100, so that neither is taken for the other), a
QR code and the number in figures. The marker is what a photo of the whole slab shows clearly; it has a thousand
patterns, so marker `n mod 1000` stands for the numbers n, n + 1000, ... and for the pieces cut from them. The QR code says
which number or piece it is, and of which yard: where both matter and it cannot be read, the person is asked.

Frame, mm: origin at the top left of the tag, x right, y down, as a printer sees it.
"""

import re
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
import segno

from grainlog.scale.card import Rectangle, cell_rectangles

DICTIONARY = cv2.aruco.DICT_5X5_1000
MARKERS = 1000
MARKER_CELLS = 7  # 5 x 5 bits and the black border

WIDTH_MM, HEIGHT_MM = 95.0, 60.0
#: The same cells as on a scale card, so that a tag is found wherever a card is.
CELL_MM = 5.5
MARKER_MM = MARKER_CELLS * CELL_MM
MARKER_X_MM, MARKER_Y_MM = 6.0, 5.5

#: Version 1 (21 modules) holds 20 letters and figures at error correction M (ISO/IEC 18004, table 7).
QR_MODULES, QR_MODULE_MM = 21, 1.3
QR_MM = QR_MODULES * QR_MODULE_MM
QR_X_MM, QR_Y_MM = 61.5, 5.5

#: The letters of a yard's identity: no I, L, O or U, which are misread for others or make words.
IDENTITY_LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
IDENTITY_LENGTH = 6

_TEXT = re.compile(
    rf"GRLG:([{IDENTITY_LETTERS}]{{{IDENTITY_LENGTH}}}):([1-9][0-9]{{0,5}}[A-Z]?)"
)


@dataclass(frozen=True)
class TagText:
    """What a QR code on a tag says: the identity of its yard, and the slab's tag there, such as "12" or "12A"."""

    yard: str
    tag: str

    def __str__(self) -> str:
        return f"GRLG:{self.yard}:{self.tag}"


def read_tag_text(text: str) -> TagText | None:
    """The text of a tag's QR code; None for a code that is not of a tag."""
    found = _TEXT.fullmatch(text.strip())
    return found and TagText(*found.groups())


def marker_of(number: int) -> int:
    """The marker that stands for slab `number` (1 or more) and for its pieces."""
    return number % MARKERS


def number_behind(tag: str) -> int:
    """The number of the slab that a tag such as "12" or "12A" names."""
    return int(tag.rstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ"))


@cache
def dictionary() -> cv2.aruco.Dictionary:
    """The marker dictionary of the tags."""
    return cv2.aruco.getPredefinedDictionary(DICTIONARY)


@cache
def marker_cells(marker: int) -> np.ndarray:
    """(7, 7) bool, True where the cell of the marker is black, its one-cell border included."""
    bits = cv2.aruco.Dictionary.getBitsFromByteList(
        dictionary().bytesList[marker : marker + 1], MARKER_CELLS - 2
    )
    cells = np.ones((MARKER_CELLS, MARKER_CELLS), bool)
    cells[1:-1, 1:-1] = (
        np.asarray(bits).reshape(MARKER_CELLS - 2, MARKER_CELLS - 2) == 0
    )
    cells.flags.writeable = False
    return cells


def marker_rectangles(marker: int) -> tuple[Rectangle, ...]:
    """Every black rectangle of a tag's marker."""
    return cell_rectangles(marker_cells(marker), MARKER_X_MM, MARKER_Y_MM, CELL_MM)


@cache
def qr_cells(text: TagText) -> np.ndarray:
    """(21, 21) bool, True where the QR code of a tag is black (ISO/IEC 18004 version 1, error correction M; `segno`)."""
    code = segno.make_qr(str(text), version=1, error="m", boost_error=False)
    return np.array(code.matrix, bool)


def square(x: float, y: float, side: float) -> np.ndarray:
    """(4, 2) float64, mm: corners of a square from its top left, clockwise as printed."""
    return np.array([[x, y], [x + side, y], [x + side, y + side], [x, y + side]], float)


def marker_corners() -> np.ndarray:
    """(4, 2) float64, mm: the marker's corners, in the order in which a detector gives them."""
    return square(MARKER_X_MM, MARKER_Y_MM, MARKER_MM)


def qr_corners() -> np.ndarray:
    """(4, 2) float64, mm: the corners of the QR code without its quiet zone."""
    return square(QR_X_MM, QR_Y_MM, QR_MM)


def outline() -> np.ndarray:
    """(4, 2) float64, mm: the corners of the whole tag."""
    return np.array(
        [[0, 0], [WIDTH_MM, 0], [WIDTH_MM, HEIGHT_MM], [0, HEIGHT_MM]], float
    )
