"""What is printed on a scale card besides its pattern: bars to hold a ruler to, the card's number, how to use it.

All in the print frame of `grainlog.scale.card` (mm, origin at the card's top left, x right, y down):

    0         12                                 188        200
    +----------------------------------------------------------+   cut line, just inside the edge, all round
    |         +----------------------------------+             |  12
    |         |                                  |          |  |
    |         |        pattern 176 x 220         |          |  |   along bar, x 198 to 199, y 72 to 172
    |         |                                  |          |  |
    |         +----------------------------------+             | 232
    |                 10 mm of white all round                 |
    |  card     =============== across bar, 100 mm             | 242
    |   7       =============== inch bar, 4 in                 |
    |           how to use it                                  |
    +----------------------------------------------------------+ 270

Nothing comes nearer than `QUIET_MM` to the pattern, so that the markers keep their white. That leaves the strip at the
right edge for the bar along the paper: a plain bar, one millimetre wide, whose two ends a ruler laid beside the card
reaches. It is 6 mm from the edge of an A4 sheet, which ordinary printers reach (common practice, no source); where one
does not, the pattern itself is the second measure, 220 mm from top to bottom down its left column, black at both ends.
The same layout is printed (`card_pdf`) and drawn (`card_png`).
"""

from dataclasses import dataclass

from grainlog.scale import card as scale_card
from grainlog.scale.card import Rectangle
from grainlog.units.factors import MM_PER_INCH

#: White kept round the pattern on every side.
QUIET_MM = 10.0

BAR_MM = 100.0
INCH_BAR_MM = 4 * MM_PER_INCH
_PATTERN_RIGHT = scale_card.PATTERN_X_MM + scale_card.PATTERN_WIDTH_MM
_PATTERN_BOTTOM = scale_card.PATTERN_Y_MM + scale_card.PATTERN_HEIGHT_MM
_PATTERN_MIDDLE = scale_card.PATTERN_Y_MM + scale_card.PATTERN_HEIGHT_MM / 2
_TEXT_X = 46.0

#: Between the left and right ends of the bar across the paper.
ACROSS_BAR = Rectangle(_TEXT_X, _PATTERN_BOTTOM + QUIET_MM + 0.5, BAR_MM, 2.0)
INCH_BAR = Rectangle(_TEXT_X, ACROSS_BAR.y + 4.5, INCH_BAR_MM, 2.0)
#: Between the top and bottom ends of the bar along the paper, beside the middle of the pattern.
ALONG_BAR = Rectangle(_PATTERN_RIGHT + QUIET_MM, _PATTERN_MIDDLE - BAR_MM / 2, 1.0, BAR_MM)

_CUT_MM = 0.25
#: The cut line: four thin strips just inside the edge of the card.
CUT_LINE = (
    Rectangle(0, 0, scale_card.WIDTH_MM, _CUT_MM),
    Rectangle(0, scale_card.HEIGHT_MM - _CUT_MM, scale_card.WIDTH_MM, _CUT_MM),
    Rectangle(0, _CUT_MM, _CUT_MM, scale_card.HEIGHT_MM - 2 * _CUT_MM),
    Rectangle(scale_card.WIDTH_MM - _CUT_MM, _CUT_MM, _CUT_MM, scale_card.HEIGHT_MM - 2 * _CUT_MM),
)
#: Lightness of the cut line, 0 black to 1 white: seen by the person with the scissors, quiet in the photo.
CUT_GREY = 0.6


@dataclass(frozen=True)
class Line:
    """One line of text in the print frame: left end of its baseline and the size of its letters, mm."""

    x: float
    y: float
    size: float
    text: str


def bars() -> tuple[Rectangle, ...]:
    """The three black bars: 100 mm across the paper, 4 in across, 100 mm along."""
    return ACROSS_BAR, INCH_BAR, ALONG_BAR


def lines(card: int) -> tuple[Line, ...]:
    """Everything written on `card` (0..9)."""
    beside = ACROSS_BAR.x + INCH_BAR_MM + 3.0
    how = (
        "Print at 100 % (never 'fit to page') on matt paper. Hold a ruler to the bar above and to the bar on",
        "the right edge: each should be 100 mm (black pattern, top to bottom: 220 mm). Tell grainlog what you",
        "read. Cut on the thin line. Use in a matt waterproof sleeve, flat, weighted down on this white strip.",
        "Surest place: two cards on the slab itself, one near each end.",
    )
    return (
        Line(12.0, 247.0, 4.0, "scale card"),
        Line(12.0, 265.0, 22.0, str(card)),
        Line(beside, ACROSS_BAR.y + 2.0, 3.0, "100 mm across"),
        Line(beside, INCH_BAR.y + 2.0, 3.0, "4 in across"),
        *(Line(_TEXT_X, 254.0 + 3.7 * row, 2.9, text) for row, text in enumerate(how)),
    )
