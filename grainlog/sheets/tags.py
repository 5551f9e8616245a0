"""Which tags go on a sheet: of slabs in the yard, of the slabs of a log, or numbers given away before their slabs are there."""

from collections.abc import Sequence
from pathlib import Path

from grainlog.errors import WrongUse
from grainlog.sheets.files import refuse_foreign, write_whole
from grainlog.sheets.paper import Paper
from grainlog.sheets.tag_face import TagLabel
from grainlog.sheets.tag_layout import TagLayout, plain_layout
from grainlog.sheets.tag_pdf import OUR_MARK, tag_sheet, trial_sheet
from grainlog.yard import SlabQuery, Yard
from grainlog.yard.filing import folded


def slab_labels(yard: Yard, numbers: Sequence[int]) -> tuple[TagLabel, ...]:
    """The tags of slabs and pieces of the yard, and of numbers that wait for their slab. Raises NoSuchSlab."""
    waiting = {one.number: one for one in yard.tags.reserved()}
    labels = []
    for number in numbers:
        if number in waiting:
            labels.append(TagLabel(yard.tags.text(number), waiting[number].log, waiting[number].order))
        else:
            entry = yard.slab(number)
            labels.append(TagLabel(yard.tags.text(number), entry.log, entry.order))
    return tuple(labels)


def log_numbers(yard: Yard, log: str) -> tuple[int, ...]:
    """The slabs and pieces of a log, as they came off it. Raises WrongUse where the yard has none."""
    rows = [row for row in yard.slabs(SlabQuery(log=log)) if folded(row.log) == folded(log)]
    if not rows:
        raise WrongUse(f"There is no slab of log {log} in this yard; print tags for slabs to come with --blank COUNT.")
    return tuple(row.number for row in sorted(rows, key=lambda row: (row.order, abs(row.number))))


def blank_labels(yard: Yard, count: int, log: str | None = None) -> tuple[TagLabel, ...]:
    """Tags with the next `count` numbers, which wait from now on for their slabs. Raises FilingRefused.

    log : the log that they will be of, where that is known; the order in it is then printed too.
    """
    first = None
    if log is not None:
        taken = [one.order for one in yard.tags.reserved() if one.order and folded(one.log or "") == folded(log)]
        first = max([yard.next_order(log), *(order + 1 for order in taken)])
    return tuple(
        TagLabel(yard.tags.text(one.number), one.log, one.order) for one in yard.tags.reserve(count, log, first)
    )


def require_writable(path: Path) -> None:
    """Raises SheetError where `path` is somebody else's file, before numbers are given away for it."""
    refuse_foreign(path, OUR_MARK)


def write_tags(path: Path, labels: Sequence[TagLabel], paper: Paper, layout: TagLayout | None = None) -> int:
    """Write tags to a PDF, whole or not at all; returns its pages. An older sheet of ours is replaced. Raises SheetError."""
    require_writable(path)
    write_whole(path, tag_sheet(labels, paper, layout))
    return -(-len(labels) // (layout or plain_layout(paper)).on_a_page)


def write_trial(path: Path, paper: Paper, layout: TagLayout) -> None:
    """Write the page that shows on plain paper whether label stock was measured right. Raises SheetError."""
    require_writable(path)
    write_whole(path, trial_sheet(paper, layout))
