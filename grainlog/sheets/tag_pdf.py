"""Sheets of tags as a true-size PDF, drawn as vectors."""

import io
from collections.abc import Iterable, Sequence

from reportlab.pdfgen.canvas import Canvas

from grainlog.scale import tag as slab_tag
from grainlog.scale.card import Rectangle
from grainlog.sheets import tag_face
from grainlog.sheets.card_face import BAR_MM, CUT_GREY, INCH_BAR_MM
from grainlog.sheets.paper import POINTS_PER_MM, Paper
from grainlog.sheets.tag_face import TagLabel
from grainlog.sheets.tag_layout import TagLayout, plain_layout

#: What tells a sheet of tags of ours (the title of the document).
OUR_MARK = b"grainlog slab tags"
_LINE_MM = 0.2
HOW = (
    "Print at 100 % (never 'fit to page') and hold a ruler to the bars. Use plastic or laminated, waterproof stock, matt: paper falls",
    "off wet wood. Fix with stainless staples, on the face near one end or beside the pith: steel ones stain oak and walnut black.",
    "The white around the marker belongs to the tag. Keep the number when the tag is renewed: print the same one again.",
)


def tag_sheet(
    labels: Sequence[TagLabel], paper: Paper, layout: TagLayout | None = None
) -> bytes:
    """The PDF of tags on `paper`, page after page; the same bytes every time.

    layout : eight to a sheet with lines to cut along and a ruler, unless label stock is given (`stock_layout`).

    The file asks the print dialogue for no scaling (ISO 32000, viewer preference PrintScaling).
    """
    layout = layout or plain_layout(paper)
    pages = _Pages(paper)
    for first in range(0, len(labels), layout.on_a_page):
        some = labels[first : first + layout.on_a_page]
        for position, label in enumerate(some):
            _draw(pages, label, *layout.corner(position), layout.scale)
        if layout.to_cut:
            _cut_lines(pages, layout, len(some))
            _ruler(pages, layout.top + layout.rows * layout.pitch_y + 3.0, HOW)
        pages.turn()
    return pages.done()


def trial_sheet(paper: Paper, layout: TagLayout) -> bytes:
    """A page for plain paper: the labels' outlines and the ruler, to be held against the stock before it is printed."""
    pages = _Pages(paper)
    for row in range(layout.rows):
        for column in range(layout.columns):
            x, y = (
                layout.left + column * layout.pitch_x,
                layout.top + row * layout.pitch_y,
            )
            pages.fill(_frame(x, y, layout.width, layout.height), CUT_GREY)
    told = (
        "Print this page on plain paper at 100 % and hold it against the label stock and a light: do the outlines fit?",
    )
    _ruler(pages, layout.top + min(layout.height / 2, 20.0), told)
    pages.turn()
    return pages.done()


class _Pages:
    """A canvas in mm from the top left of the page."""

    def __init__(self, paper: Paper):
        self._height = paper.height_mm
        self._file = io.BytesIO()
        size = paper.width_mm * POINTS_PER_MM, paper.height_mm * POINTS_PER_MM
        self._canvas = Canvas(self._file, pagesize=size, pageCompression=0, invariant=1)
        self._canvas.setTitle(f"{OUR_MARK.decode()}, {paper.title}")
        self._canvas.setCreator("grainlog")
        self._canvas.setViewerPreference("PrintScaling", "None")

    def fill(self, boxes: Iterable[Rectangle], grey: float = 0.0) -> None:
        """Rectangles as one path: filled one by one, a renderer that smooths edges would leave hairlines between them."""
        path = self._canvas.beginPath()
        for box in boxes:
            bottom = self._height - box.y - box.height
            path.rect(
                *(
                    each * POINTS_PER_MM
                    for each in (box.x, bottom, box.width, box.height)
                )
            )
        self._canvas.setFillGray(grey)
        self._canvas.drawPath(path, stroke=0, fill=1)

    def write(self, font: str, size: float, x: float, y: float, text: str) -> None:
        """A line of text whose baseline starts at x, y."""
        self._canvas.setFillGray(0.0)
        self._canvas.setFont(font, size * POINTS_PER_MM)
        self._canvas.drawString(
            x * POINTS_PER_MM, (self._height - y) * POINTS_PER_MM, text
        )

    def turn(self) -> None:
        """To the next page."""
        self._canvas.showPage()

    def done(self) -> bytes:
        """The finished file."""
        self._canvas.save()
        return self._file.getvalue()


def _draw(
    pages: _Pages, label: TagLabel, left: float, top: float, scale: float
) -> None:
    pages.fill(
        Rectangle(
            left + scale * box.x,
            top + scale * box.y,
            scale * box.width,
            scale * box.height,
        )
        for box in tag_face.rectangles(label)
    )
    number = tag_face.number_line(label)
    for font, line in (
        (tag_face.BOLD, number),
        *((tag_face.FONT, line) for line in tag_face.lines(label)),
    ):
        pages.write(
            font,
            scale * line.size,
            left + scale * line.x,
            top + scale * line.y,
            line.text,
        )


def _cut_lines(pages: _Pages, layout: TagLayout, count: int) -> None:
    """A thin frame around each tag; neighbours share their line."""
    frames = []
    for position in range(count):
        frames += _frame(
            *layout.corner(position), slab_tag.WIDTH_MM, slab_tag.HEIGHT_MM
        )
    pages.fill(frames, CUT_GREY)


def _frame(x: float, y: float, width: float, height: float) -> tuple[Rectangle, ...]:
    half = _LINE_MM / 2
    return (
        Rectangle(x - half, y - half, width + _LINE_MM, _LINE_MM),
        Rectangle(x - half, y + height - half, width + _LINE_MM, _LINE_MM),
        Rectangle(x - half, y + half, _LINE_MM, height - _LINE_MM),
        Rectangle(x + width - half, y + half, _LINE_MM, height - _LINE_MM),
    )


def _ruler(pages: _Pages, top: float, told: Sequence[str]) -> None:
    """A 100 mm and a 4 in bar from 12 mm to the right, and a few words under them."""
    left = 12.0
    pages.fill(
        (
            Rectangle(left, top, BAR_MM, 1.5),
            Rectangle(left, top + 3.0, INCH_BAR_MM, 1.5),
        )
    )
    pages.write(tag_face.FONT, 2.6, left + INCH_BAR_MM + 3.0, top + 1.6, "100 mm")
    pages.write(tag_face.FONT, 2.6, left + INCH_BAR_MM + 3.0, top + 4.6, "4 in")
    for row, text in enumerate(told):
        pages.write(tag_face.FONT, 2.9, left, top + 8.6 + 3.8 * row, text)
