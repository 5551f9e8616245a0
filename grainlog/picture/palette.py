"""Colours and line styles of the marked photo: told apart by every kind of colour sight, and by style alone.

The colours are our own, chosen so that under normal sight and under simulated protanopia, deuteranopia and tritanopia
(Machado, Oliveira and Fernandes 2009, severity 1) any two differ by at least 20 CIEDE2000 (computed in `tests/picture`).
The idea of mixing hue with lightness is that of Okabe and Ito's Color Universal Design palette. Every line has a dark
casing, so that it stands out on pale maple as on dark walnut.
"""

from dataclasses import dataclass

Colour = tuple[int, int, int]

WOOD: Colour = (64, 208, 255)
BARK: Colour = (255, 214, 48)
CARD: Colour = (224, 48, 144)
CHECK: Colour = (48, 150, 48)
STATION: Colour = (255, 255, 255)
CASING: Colour = (16, 16, 20)

#: The strip with the numbers: its ground, quiet text, and plain text on it.
GROUND: Colour = (24, 26, 30)
QUIET_TEXT: Colour = (178, 184, 192)
TEXT: Colour = (255, 255, 255)


@dataclass(frozen=True)
class Style:
    """How one kind of line looks.

    colour : core of the line
    width : width of the core, in thousandths of the picture's longer side; the casing adds half of it on both sides
    dash, gap : lengths of the strokes and of the gaps between them, in the same thousandths; gap 0 is a solid line
    """

    colour: Colour
    width: float
    dash: float = 0.0
    gap: float = 0.0


WOOD_EDGE = Style(WOOD, 2.0)
BARK_EDGE = Style(BARK, 2.0, dash=11.0, gap=8.0)
SILHOUETTE = Style(STATION, 1.0, dash=2.0, gap=6.0)
WIDTH_STATION = Style(STATION, 1.0)
NAMED_STATION = Style(STATION, 1.5)
LENGTH_ARROW = Style(STATION, 1.5)
CARD_EDGE = Style(CARD, 2.0)
CARD_LEFT_OUT = Style(CARD, 2.0, dash=7.0, gap=6.0)
CHECK_LINE = Style(CHECK, 2.0, dash=4.0, gap=3.0)
