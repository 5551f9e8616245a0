"""The furniture of a card keeps its distance from the pattern and stays on the card."""

import pytest
from PIL import ImageFont
from reportlab.pdfbase.pdfmetrics import stringWidth

from grainlog.scale import card as scale_card
from grainlog.sheets import card_face
from grainlog.sheets.card_png import PX_PER_MM

PATTERN = (
    scale_card.PATTERN_X_MM,
    scale_card.PATTERN_Y_MM,
    scale_card.PATTERN_X_MM + scale_card.PATTERN_WIDTH_MM,
    scale_card.PATTERN_Y_MM + scale_card.PATTERN_HEIGHT_MM,
)


def box_of(rectangle):
    return rectangle.x, rectangle.y, rectangle.x + rectangle.width, rectangle.y + rectangle.height


def drawn_box(line):
    """Left, top, right, bottom in mm of a line as Pillow draws it, down to the last pixel."""
    font = ImageFont.load_default(line.size * PX_PER_MM)
    left, top, right, bottom = font.getbbox(line.text, anchor="ls")
    return (
        line.x + left / PX_PER_MM, line.y + top / PX_PER_MM, line.x + right / PX_PER_MM, line.y + bottom / PX_PER_MM
    )


def printed_box(line):
    """The same in the PDF's font; 0.75 and 0.22 em bound the capitals and the descenders of a plain grotesque."""
    width = stringWidth(line.text, "Helvetica", line.size)
    return line.x, line.y - 0.75 * line.size, line.x + width, line.y + 0.22 * line.size


def distance(a, b):
    """Gap between two boxes, 0 where they touch or overlap."""
    across = max(a[0] - b[2], b[0] - a[2], 0)
    down = max(a[1] - b[3], b[1] - a[3], 0)
    return (across**2 + down**2) ** 0.5


@pytest.mark.parametrize("extent", [drawn_box, printed_box])
@pytest.mark.parametrize("card", range(scale_card.CARD_COUNT))
def test_nothing_comes_nearer_than_the_quiet_white(card, extent):
    boxes = [extent(line) for line in card_face.lines(card)]
    boxes += [box_of(bar) for bar in (*card_face.bars(), *card_face.CUT_LINE)]
    for box in boxes:
        assert distance(box, PATTERN) >= card_face.QUIET_MM
        assert 0 <= box[0] and box[2] <= scale_card.WIDTH_MM
        assert 0 <= box[1] and box[3] <= scale_card.HEIGHT_MM


@pytest.mark.parametrize("extent", [drawn_box, printed_box])
def test_bars_and_text_do_not_run_into_each_other(extent):
    boxes = [extent(line) for line in card_face.lines(8)] + [box_of(bar) for bar in card_face.bars()]
    for i, box in enumerate(boxes):
        for other in boxes[i + 1 :]:
            assert distance(box, other) > 0.1


def test_left_column_is_black_from_top_to_bottom_edge_as_the_card_says():
    boxes = [box_of(box) for box in scale_card.rectangles(0)]
    corner_squares = [box for box in boxes if box[0] == PATTERN[0] and box[3] - box[1] == scale_card.SQUARE_MM]
    assert min(box[1] for box in corner_squares) == PATTERN[1]
    assert max(box[3] for box in corner_squares) == PATTERN[3]
    assert PATTERN[3] - PATTERN[1] == 220.0
