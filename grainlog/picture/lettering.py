"""Text on pictures: one typeface, letters it has, and places where it hides nothing."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from PIL import Image, ImageDraw, ImageFont

from grainlog.picture.palette import CASING, STATION, Colour

#: Signs that the typeface which comes with Pillow lacks, written with those it has.
_SPELLED = str.maketrans({
    "½": " 1/2", "¼": " 1/4", "¾": " 3/4", "×": "x", "²": "2", "³": "3", "–": "-", "—": "-", "−": "-", "≥": ">=",
    "≤": "<=", "’": "'", "‘": "'", "“": '"', "”": '"', "′": "'", "″": '"', "…": "...", "·": "-", "\u00a0": " ",
    "\u202f": " ", "\u2009": " ",
})  # fmt: skip


@lru_cache(maxsize=16)
def typeface(size: int) -> ImageFont.FreeTypeFont:
    """The typeface at `size` px."""
    return ImageFont.load_default(size)


def spelled(text: str) -> str:
    """`text` in signs that the typeface has, on one line."""
    return " ".join(text.translate(_SPELLED).split())


def text_width(text: str, size: int) -> float:
    """Width of `text`, px."""
    return typeface(size).getlength(spelled(text))


def wrapped(text: str, size: int, width: float) -> list[str]:
    """`text` broken between words into lines of at most `width` px; a longer word has its own line."""
    rows: list[str] = []
    for word in spelled(text).split():
        if rows and text_width(f"{rows[-1]} {word}", size) <= width:
            rows[-1] += f" {word}"
        else:
            rows.append(word)
    return rows


@dataclass(frozen=True)
class Label:
    """A short text centred at `x`, `y` (px) of a picture, in letters of `size` px."""

    text: str
    x: float
    y: float
    size: int
    colour: Colour = STATION

    def box(self) -> shapely.Polygon:
        """The rectangle the label takes, casing included, px."""
        across, down = text_width(self.text, self.size) / 2 + self.size / 6, 0.68 * self.size
        return shapely.box(self.x - across, self.y - down, self.x + across, self.y + down)


def place_label(candidates: Iterable[Label], taken: list[shapely.Geometry], width: int, height: int) -> Label:
    """The first candidate that lies in the picture and meets nothing in `taken`, else the one that meets least.

    The box of the label chosen is added to `taken`.
    """
    frame = shapely.box(0, 0, width - 1, height - 1)

    def cost(label: Label) -> float:
        box = label.box()
        # Text cut off by the frame cannot be read at all; text over a line still can.
        outside = box.difference(frame).area * 10
        return outside + sum(box.intersection(shape).area for shape in taken if box.intersects(shape))

    # min() keeps the first of equals, so the order of the candidates is the order of preference.
    best = min(candidates, key=cost)
    taken.append(best.box())
    return best


def write_labels(image: np.ndarray, labels: Iterable[Label]) -> np.ndarray:
    """A copy of `image` with the labels written in, each letter with a dark casing."""
    page = Image.fromarray(image)
    draw = ImageDraw.Draw(page)
    for label in labels:
        draw.text(
            (label.x, label.y),
            spelled(label.text),
            fill=label.colour,
            font=typeface(label.size),
            anchor="mm",
            stroke_width=max(2, label.size // 10),
            stroke_fill=CASING,
        )
    return np.array(page)
