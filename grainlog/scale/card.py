"""The scale card: its geometry in millimetres, as plain rectangles, and as pixels.

A card is a ChArUco pattern of 4 x 5 squares of 44 mm with 33 mm markers (dictionary 4x4_100, ids 10k..10k+9 for
card k). It is built here from the marker bits, never with OpenCV's own board drawing, so that the vectors that are
printed, the pixels that are rendered and the geometry that the solution uses are the same numbers.

Two frames, both in millimetres:

* *print frame*: origin at the top left of the whole card, x right, y down, as a printer sees it;
* *card frame*: origin at the centre of the pattern, x right, y up, z out of the paper towards the reader. A ChArUco
  board's own z points into the paper; this frame is right-handed with z towards the camera.
"""

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np

from grainlog.units.runs import runs

COLUMNS, ROWS = 4, 5
SQUARE_MM = 44.0
MARKER_MM = 33.0
MARKER_CELLS = 6  # 4 x 4 bits and the black border
DICTIONARY = cv2.aruco.DICT_4X4_100
MARKERS_PER_CARD = COLUMNS * ROWS // 2
CARD_COUNT = 10

#: Whole card: fits ISO 216 A4 (210 x 297 mm) and ANSI Y14.1 A, Letter (215.9 x 279.4 mm), at true size.
WIDTH_MM, HEIGHT_MM = 200.0, 270.0
PATTERN_WIDTH_MM, PATTERN_HEIGHT_MM = COLUMNS * SQUARE_MM, ROWS * SQUARE_MM
#: Top left of the pattern in the print frame; 12 mm white on three sides, the rest below for bars and text.
PATTERN_X_MM, PATTERN_Y_MM = (WIDTH_MM - PATTERN_WIDTH_MM) / 2, 12.0


@dataclass(frozen=True)
class Rectangle:
    """A black rectangle in the print frame: left, top, width, height, all mm."""

    x: float
    y: float
    width: float
    height: float


@cache
def dictionary() -> cv2.aruco.Dictionary:
    """The marker dictionary of the scale cards."""
    return cv2.aruco.getPredefinedDictionary(DICTIONARY)


def marker_ids(card: int) -> range:
    """Ids of the markers on `card` (0..9), row by row from the top left."""
    if not 0 <= card < CARD_COUNT:
        raise ValueError(f"card number {card} is not in 0..{CARD_COUNT - 1}")
    return range(card * MARKERS_PER_CARD, (card + 1) * MARKERS_PER_CARD)


def marker_cells(marker_id: int) -> np.ndarray:
    """(6, 6) bool, True where the cell of the marker is black, its one-cell border included."""
    bits = cv2.aruco.Dictionary.getBitsFromByteList(dictionary().bytesList[marker_id : marker_id + 1], 4)
    cells = np.ones((MARKER_CELLS, MARKER_CELLS), bool)
    cells[1:-1, 1:-1] = np.asarray(bits).reshape(4, 4) == 0
    return cells


@cache
def rectangles(card: int) -> tuple[Rectangle, ...]:
    """Every black rectangle of the pattern of `card`, print frame, mm; rows of marker cells are merged into runs."""
    ids = iter(marker_ids(card))
    found = []
    for row in range(ROWS):
        for column in range(COLUMNS):
            x = PATTERN_X_MM + column * SQUARE_MM
            y = PATTERN_Y_MM + row * SQUARE_MM
            if (row + column) % 2 == 0:
                found.append(Rectangle(x, y, SQUARE_MM, SQUARE_MM))
            else:
                found.extend(_marker_rectangles(next(ids), x, y))
    return tuple(found)


def _marker_rectangles(marker_id: int, x: float, y: float) -> tuple[Rectangle, ...]:
    inset = (SQUARE_MM - MARKER_MM) / 2
    return cell_rectangles(marker_cells(marker_id), x + inset, y + inset, MARKER_MM / MARKER_CELLS)


def cell_rectangles(cells: np.ndarray, x: float, y: float, cell_mm: float) -> tuple[Rectangle, ...]:
    """The black cells of a pattern (n, m) bool with its top left at x, y; each row's cells are merged into runs."""
    found = []
    for row, line in enumerate(cells):
        for start, stop in runs(line):
            found.append(Rectangle(x + start * cell_mm, y + row * cell_mm, (stop - start) * cell_mm, cell_mm))
    return tuple(found)


@cache
def inner_corners() -> np.ndarray:
    """(12, 2) float64, mm, card frame: the ChArUco corners in the order of OpenCV's ChArUco ids."""
    columns, rows = np.meshgrid(np.arange(1, COLUMNS), np.arange(1, ROWS))
    x = columns.ravel() * SQUARE_MM - PATTERN_WIDTH_MM / 2
    y = PATTERN_HEIGHT_MM / 2 - rows.ravel() * SQUARE_MM
    corners = np.column_stack([x, y]).astype(float)
    corners.flags.writeable = False
    return corners


@cache
def board(card: int) -> cv2.aruco.CharucoBoard:
    """OpenCV's description of the same card, for the detector only (current layout, not the legacy one)."""
    return cv2.aruco.CharucoBoard(
        (COLUMNS, ROWS), SQUARE_MM, MARKER_MM, dictionary(), np.array(marker_ids(card), np.int32)
    )


def print_to_card(points: np.ndarray) -> np.ndarray:
    """(n, 2) mm from the print frame to the card frame."""
    points = np.asarray(points, float)
    centre = np.array([PATTERN_X_MM + PATTERN_WIDTH_MM / 2, PATTERN_Y_MM + PATTERN_HEIGHT_MM / 2])
    return (points - centre) * [1.0, -1.0]


def outline() -> np.ndarray:
    """(4, 2) float64, mm, card frame: the corners of the whole card, from the top left, clockwise as printed."""
    return print_to_card(
        np.array([[0, 0], [WIDTH_MM, 0], [WIDTH_MM, HEIGHT_MM], [0, HEIGHT_MM]])
    )


def raster(card: int, px_per_mm: int = 8) -> np.ndarray:
    """The bare pattern on white: (HEIGHT_MM * px_per_mm, WIDTH_MM * px_per_mm) uint8, exact to the pixel edge.

    `px_per_mm` must be even, so that every edge (multiples of 0.5 mm) falls between two pixels and nothing is
    rounded. The pixel in the top left corner covers 0 to 1/px_per_mm mm of the print frame.
    """
    if px_per_mm % 2:
        raise ValueError("px_per_mm must be even: the edges of the card lie on multiples of half a millimetre")
    image = np.full((round(HEIGHT_MM * px_per_mm), round(WIDTH_MM * px_per_mm)), 255, np.uint8)
    for box in rectangles(card):
        left, top = round(box.x * px_per_mm), round(box.y * px_per_mm)
        right, bottom = round((box.x + box.width) * px_per_mm), round((box.y + box.height) * px_per_mm)
        image[top:bottom, left:right] = 0
    return image
