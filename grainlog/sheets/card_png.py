"""Scale cards as pictures with their geometry, for a renderer that lays them on a floor or for a screen."""

import io
import json
from collections.abc import Iterable

import numpy as np
from PIL import Image, ImageDraw, ImageFont
from PIL.PngImagePlugin import PngInfo

from grainlog.scale import card as scale_card
from grainlog.scale.card import Rectangle
from grainlog.sheets import card_face
from grainlog.units.factors import MM_PER_INCH

#: Every edge of the pattern falls between two pixels.
PX_PER_MM = 8


def card_image(card: int, px_per_mm: int = PX_PER_MM) -> np.ndarray:
    """The whole card with bars and text: (270 * px_per_mm, 200 * px_per_mm) uint8, grey.

    The picture is exactly the card: its first pixel covers 0 to 1/px_per_mm mm of the print frame, both ways.
    `px_per_mm` must be even (ValueError), so that the pattern is exact to the pixel edge.
    """
    image = scale_card.raster(card, px_per_mm)
    for strip in card_face.CUT_LINE:
        _fill(image, strip, px_per_mm, card_face.CUT_GREY)
    for bar in card_face.bars():
        _fill(image, bar, px_per_mm, 0.0)
    page = Image.fromarray(image)
    draw = ImageDraw.Draw(page)
    for line in card_face.lines(card):
        font = ImageFont.load_default(line.size * px_per_mm)
        draw.text((line.x * px_per_mm, line.y * px_per_mm), line.text, fill=0, font=font, anchor="ls")
    return np.asarray(page)


def card_png(card: int, px_per_mm: int = PX_PER_MM) -> bytes:
    """`card_image` as a PNG file that states its true resolution."""
    file = io.BytesIO()
    title = PngInfo()
    title.add_text("Title", f"grainlog scale card {card}")
    dots_per_inch = px_per_mm * MM_PER_INCH
    Image.fromarray(card_image(card, px_per_mm)).save(file, "PNG", dpi=(dots_per_inch, dots_per_inch), pnginfo=title)
    return file.getvalue()


def card_file(card: int) -> str:
    """The name of the picture of `card`."""
    return f"card-{card}.png"


def cards_geometry(cards: Iterable[int], px_per_mm: int = PX_PER_MM) -> dict:
    """The geometry of the pictures as plain data for cards.json; all lengths mm, print frame unless said otherwise."""
    size = {"width_mm": scale_card.WIDTH_MM, "height_mm": scale_card.HEIGHT_MM, "px_per_mm": px_per_mm}
    return {
        "about": "grainlog scale cards: each picture is the whole card, edge to edge. Print frame: mm, origin at the "
        "card's top left, x right, y down. corners_mm are the 12 inner corners in the order of their ChArUco ids.",
        **size,
        "dictionary": "4x4_100",
        "cards": [{"card": card, "file": card_file(card), **size, **_pattern(card)} for card in cards],
    }


def geometry_json(cards: Iterable[int], px_per_mm: int = PX_PER_MM) -> bytes:
    """`cards_geometry` as the bytes of cards.json."""
    return (json.dumps(cards_geometry(cards, px_per_mm), indent=1) + "\n").encode()


def print_corners() -> np.ndarray:
    """(12, 2) float64, mm, print frame: the inner corners in the order of their ChArUco ids."""
    middle = [
        scale_card.PATTERN_X_MM + scale_card.PATTERN_WIDTH_MM / 2,
        scale_card.PATTERN_Y_MM + scale_card.PATTERN_HEIGHT_MM / 2,
    ]
    return scale_card.inner_corners() * [1.0, -1.0] + middle


def _pattern(card: int) -> dict:
    return {
        "pattern": {
            "x_mm": scale_card.PATTERN_X_MM,
            "y_mm": scale_card.PATTERN_Y_MM,
            "width_mm": scale_card.PATTERN_WIDTH_MM,
            "height_mm": scale_card.PATTERN_HEIGHT_MM,
            "columns": scale_card.COLUMNS,
            "rows": scale_card.ROWS,
        },
        "square_mm": scale_card.SQUARE_MM,
        "marker_mm": scale_card.MARKER_MM,
        "marker_ids": list(scale_card.marker_ids(card)),
        "corners_mm": print_corners().tolist(),
    }


def _fill(image: np.ndarray, box: Rectangle, px_per_mm: int, grey: float) -> None:
    """Paint `box` into `image` by the share of each pixel it covers: 4 in does not end between two pixels."""
    rows = _coverage(box.y * px_per_mm, (box.y + box.height) * px_per_mm, image.shape[0])
    columns = _coverage(box.x * px_per_mm, (box.x + box.width) * px_per_mm, image.shape[1])
    share = np.outer(rows, columns)
    image[:] = np.rint(image * (1 - share) + 255 * grey * share)


def _coverage(start: float, stop: float, count: int) -> np.ndarray:
    """(count,) share of each unit cell [i, i + 1] that lies within [start, stop]."""
    edges = np.clip(np.arange(count + 1), start, stop)
    return np.diff(edges)
