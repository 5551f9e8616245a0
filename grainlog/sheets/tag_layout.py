"""How tags lie on a sheet: as many as fit with lines to cut along, or on label stock as the person measured it."""

from dataclasses import dataclass

from grainlog.errors import WrongUse
from grainlog.scale import tag as slab_tag
from grainlog.sheets.paper import Paper

#: Two columns and four rows leave room below for a ruler and a few words on A4 as on Letter.
COLUMNS, ROWS, TOP_MM = 2, 4, 8.0
#: A smaller marker than this is no longer found at 1 mm per px.
LEAST_MARKER_MM = 25.0


@dataclass(frozen=True)
class TagLayout:
    """Places for tags on a page, mm.

    left, top : the first label's corner. pitch_x, pitch_y : from one label to the next. width, height : of a label.
    to_cut : lines to cut along and a ruler are printed; label stock is cut already.
    """

    columns: int
    rows: int
    left: float
    top: float
    pitch_x: float
    pitch_y: float
    width: float = slab_tag.WIDTH_MM
    height: float = slab_tag.HEIGHT_MM
    to_cut: bool = True

    @property
    def on_a_page(self) -> int:
        """How many tags a page holds."""
        return self.columns * self.rows

    @property
    def scale(self) -> float:
        """A tag's size against the true one: never larger, smaller where the label is."""
        return min(
            1.0, self.width / slab_tag.WIDTH_MM, self.height / slab_tag.HEIGHT_MM
        )

    def corner(self, position: int) -> tuple[float, float]:
        """Left and top of the tag at a position on the page, from 0: in the middle of its label."""
        row, column = divmod(position, self.columns)
        spare_x, spare_y = (
            self.width - slab_tag.WIDTH_MM * self.scale,
            self.height - slab_tag.HEIGHT_MM * self.scale,
        )
        return (
            self.left + column * self.pitch_x + spare_x / 2,
            self.top + row * self.pitch_y + spare_y / 2,
        )


def plain_layout(paper: Paper) -> TagLayout:
    """Eight tags on a sheet to cut up, edge to edge."""
    width, height = slab_tag.WIDTH_MM, slab_tag.HEIGHT_MM
    return TagLayout(
        COLUMNS, ROWS, (paper.width_mm - COLUMNS * width) / 2, TOP_MM, width, height
    )


def stock_layout(
    paper: Paper,
    columns: int,
    rows: int,
    size_mm: tuple[float, float],
    margins_mm: tuple[float, float],
    gaps_mm: tuple[float, float] = (0.0, 0.0),
) -> TagLayout:
    """Label stock as the person measured it: labels across and down, their size, the left and top margin of the first,
    and the gaps between them.

    Raises WrongUse for labels that do not fit on the paper or are too small for a marker that can be found.
    """
    (width, height), (left, top), (gap_x, gap_y) = size_mm, margins_mm, gaps_mm
    if (
        columns < 1
        or rows < 1
        or min(width, height) <= 0
        or min(left, top, gap_x, gap_y) < 0
    ):
        raise WrongUse(
            "Label stock has at least one label across and down, of some size, with margins and gaps of 0 or more."
        )
    layout = TagLayout(
        columns,
        rows,
        left,
        top,
        width + gap_x,
        height + gap_y,
        width,
        height,
        to_cut=False,
    )
    right, bottom = (
        left + columns * width + (columns - 1) * gap_x,
        top + rows * height + (rows - 1) * gap_y,
    )
    if right > paper.width_mm + 0.5 or bottom > paper.height_mm + 0.5:
        raise WrongUse(
            f"These labels reach {right:.0f} x {bottom:.0f} mm, and {paper.title} is {paper.width_mm:.0f} x "
            f"{paper.height_mm:.0f} mm: measure the stock again."
        )
    if layout.scale * slab_tag.MARKER_MM < LEAST_MARKER_MM:
        least = LEAST_MARKER_MM / slab_tag.MARKER_MM
        raise WrongUse(
            f"A label of {width:.0f} x {height:.0f} mm is too small for a marker that a photo of the slab shows: it takes "
            f"{least * slab_tag.WIDTH_MM:.0f} x {least * slab_tag.HEIGHT_MM:.0f} mm, better "
            f"{slab_tag.WIDTH_MM:.0f} x {slab_tag.HEIGHT_MM:.0f} mm."
        )
    return layout
