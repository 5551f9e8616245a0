"""Scale cards as a true-size PDF: one card in the middle of each page, drawn as vectors."""

import io
from collections.abc import Iterable

from reportlab.pdfgen.canvas import Canvas

from grainlog.scale import card as scale_card
from grainlog.scale.card import Rectangle
from grainlog.sheets import card_face
from grainlog.sheets.paper import POINTS_PER_MM, Paper

_FONT = "Helvetica"


def card_pdf(cards: Iterable[int], paper: Paper) -> bytes:
    """The PDF of `cards` (numbers 0..9, one page each) on upright `paper`; the same bytes every time.

    The file asks the print dialogue for no scaling (ISO 32000, viewer preference PrintScaling). Raises ValueError for
    a card number that does not exist.
    """
    file = io.BytesIO()
    # Uncompressed and invariant: small enough, and anybody can read the millimetres off the content stream.
    size = paper.width_mm * POINTS_PER_MM, paper.height_mm * POINTS_PER_MM
    canvas = Canvas(file, pagesize=size, pageCompression=0, invariant=1)
    canvas.setTitle(f"grainlog scale cards, {paper.title}")
    canvas.setCreator("grainlog")
    canvas.setViewerPreference("PrintScaling", "None")
    for card in cards:
        _draw(canvas, card, paper)
        canvas.showPage()
    canvas.save()
    return file.getvalue()


def card_offset_mm(paper: Paper) -> tuple[float, float]:
    """Left and top of the card on the page, mm from the page's top left corner: the card is centred."""
    return (paper.width_mm - scale_card.WIDTH_MM) / 2, (paper.height_mm - scale_card.HEIGHT_MM) / 2


def _draw(canvas: Canvas, card: int, paper: Paper) -> None:
    left, top = card_offset_mm(paper)

    def point(x: float, y: float) -> tuple[float, float]:
        return (left + x) * POINTS_PER_MM, (paper.height_mm - top - y) * POINTS_PER_MM

    def fill(boxes: Iterable[Rectangle], grey: float) -> None:
        # One path for all: a renderer that smooths edges would leave hairlines between boxes filled one by one.
        path = canvas.beginPath()
        for box in boxes:
            path.rect(*point(box.x, box.y + box.height), box.width * POINTS_PER_MM, box.height * POINTS_PER_MM)
        canvas.setFillGray(grey)
        canvas.drawPath(path, stroke=0, fill=1)

    fill(card_face.CUT_LINE, card_face.CUT_GREY)
    fill(scale_card.rectangles(card), 0.0)
    fill(card_face.bars(), 0.0)
    for line in card_face.lines(card):
        canvas.setFont(_FONT, line.size * POINTS_PER_MM)
        canvas.drawString(*point(line.x, line.y), line.text)
