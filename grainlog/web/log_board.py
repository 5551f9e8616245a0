"""A log's slabs as they came off the mill, drawn under one another to one scale."""

from collections.abc import Sequence
from dataclasses import dataclass

from grainlog.units import format_if_known
from grainlog.web.slab_drawing import path_of
from grainlog.yard import SlabRow, Yard

#: Between one slab and the next, mm; room for a slab that has no outline, mm.
GAP_MM, BLANK_MM = 40.0, 150.0


@dataclass(frozen=True)
class Board:
    """One slab in the drawing: its path (empty without an outline), how far down it lies, and what it is."""

    tag: str
    order: int
    path: str
    down: float
    middle: float
    said: str


@dataclass(frozen=True)
class Boards:
    """All slabs of a log; wide, high : of the drawing, mm."""

    boards: tuple[Board, ...]
    wide: float
    high: float


def boards_of(yard: Yard, rows: Sequence[SlabRow], units: str) -> Boards:
    """The drawing of some slabs, the first on top, x = 0 at the left."""
    newest = yard.outlines.newest([row.number for row in rows])
    drawn = dict(yard.outlines.of(list(newest.values())))
    found, down, wide = [], 0.0, 1.0
    for row in rows:
        outline = drawn.get(newest.get(row.number, -1))
        said = f"slab {row.tag}, {format_if_known(row.length_mm, units)} long, {format_if_known(row.width_mean_mm, units)} wide"
        if outline is None:
            found.append(Board(row.tag, row.order, "", down, down + BLANK_MM / 2, said))
            down += BLANK_MM + GAP_MM
            continue
        (left, low), (right, high) = outline.wood.min(0), outline.wood.max(0)
        # Drawn with y down: the upper edge of the slab lies at `down`.
        path = path_of(outline.wood - [left, high + down])
        found.append(Board(row.tag, row.order, path, down, down + float(high - low) / 2, said))
        down += float(high - low) + GAP_MM
        wide = max(wide, float(right - left))
    return Boards(tuple(found), wide, max(down - GAP_MM, 1.0))
