"""What stands on a tag: marker, QR code, the number in large figures, the log and the order in the log."""

from dataclasses import dataclass

from reportlab.pdfbase.pdfmetrics import stringWidth

from grainlog.scale import tag as slab_tag
from grainlog.scale.card import Rectangle, cell_rectangles
from grainlog.scale.tag import TagText
from grainlog.sheets.card_face import Line

FONT, BOLD = "Helvetica", "Helvetica-Bold"
#: Height of a figure of the bold font, share of its size (Adobe's metrics of Helvetica-Bold: 718 of 1000).
FIGURE_HEIGHT = 0.718
#: The number's place: left, baseline, width and greatest height of its figures, mm. A figure is read from two hundred
#: times its height (common practice, no source): 8 mm at the feet of a person who stands.
NUMBER_X_MM, NUMBER_Y_MM, NUMBER_WIDTH_MM, NUMBER_HEIGHT_MM = 50.5, 56.0, 41.0, 17.0
_LEFT, _WIDTH = slab_tag.MARKER_X_MM, slab_tag.MARKER_MM + 4.0
_RULE_MM = 0.2


@dataclass(frozen=True)
class TagLabel:
    """What a tag is to say.

    text : the yard and the slab's tag there. log, order : where the slab stands in its log; None for a number that is
    printed before its slab is there (two lines to write on take their place).
    """

    text: TagText
    log: str | None = None
    order: int | None = None


def rectangles(label: TagLabel) -> tuple[Rectangle, ...]:
    """Every black rectangle on a tag: marker, QR code, and the lines to write on where the log is not known."""
    marker = slab_tag.marker_of(slab_tag.number_behind(label.text.tag))
    qr = cell_rectangles(
        slab_tag.qr_cells(label.text),
        slab_tag.QR_X_MM,
        slab_tag.QR_Y_MM,
        slab_tag.QR_MODULE_MM,
    )
    rules = () if label.log else (Rectangle(_LEFT, 53.5, _WIDTH, _RULE_MM),)
    return (*slab_tag.marker_rectangles(marker), *qr, *rules)


def number_line(label: TagLabel) -> Line:
    """The number, as large as it fits, at the right end of its place."""
    width = stringWidth(label.text.tag, BOLD, 1.0)
    size = min(NUMBER_HEIGHT_MM / FIGURE_HEIGHT, NUMBER_WIDTH_MM / width)
    return Line(
        NUMBER_X_MM + NUMBER_WIDTH_MM - width * size, NUMBER_Y_MM, size, label.text.tag
    )


def lines(label: TagLabel) -> tuple[Line, ...]:
    """Everything else that is written, in the plain font."""
    told = [Line(_LEFT, 58.0, 2.3, f"grainlog yard {label.text.yard}")]
    if label.log:
        piece = label.text.tag[-1].isalpha()
        place = f"slab {label.order}" if label.order else "slab"
        second = f"piece of {place} of its log" if piece else f"{place} of its log"
        told += [_fitted(label.log, 51.2, 3.9), _fitted(second, 55.0, 3.0)]
    else:
        told.append(Line(_LEFT, 51.0, 2.3, "log"))
    return tuple(told)


def _fitted(text: str, y: float, size: float) -> Line:
    """A line under the marker: smaller where it is long, and cut where even that is not enough."""
    text = text.encode("cp1252", "replace").decode(
        "cp1252"
    )  # what the standard fonts of PDF can show
    while stringWidth(text, FONT, size) > _WIDTH and size > 2.6:
        size -= 0.1
    while stringWidth(text, FONT, size) > _WIDTH:
        text = text.rstrip("…")[:-1].rstrip() + "…"
    return Line(_LEFT, y, size, text)
