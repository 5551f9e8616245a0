"""`grainlog tags`: tags for the slabs, to print; `grainlog misfiled`: a survey under the wrong slab goes to the right one."""

import json
from pathlib import Path

import click

from grainlog.cli.options import LENGTH, LIFT, json_option, yard_option
from grainlog.cli.tables import TAG
from grainlog.errors import WrongUse
from grainlog.sheets.paper import PAPERS, Paper
from grainlog.sheets.tag_layout import TagLayout, stock_layout
from grainlog.sheets.tags import (
    blank_labels,
    log_numbers,
    require_writable,
    slab_labels,
    write_tags,
    write_trial,
)
from grainlog.yard import Yard
from grainlog.yard.tags import tag_of

STOCK = "Print on label stock instead: how many labels there are {}."


@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.argument("slabs", type=TAG, nargs=-1, metavar="[SLAB...]")
@click.option("--log", help="All slabs of this log; with --blank, the log that the new numbers will be of.")
@click.option("--blank", type=click.IntRange(1), metavar="COUNT", help="New numbers for slabs that are not in the yard yet.")
@click.option("--paper", type=click.Choice([*PAPERS]), default="a4", show_default=True, help="Paper in your printer.")
@click.option("--labels-across", type=click.IntRange(1), metavar="COUNT", help=STOCK.format("across"))
@click.option("--labels-down", type=click.IntRange(1), metavar="COUNT", help=STOCK.format("down"))
@click.option("--label-width", type=LENGTH, metavar="LENGTH", help="Width of a label of that stock.")
@click.option("--label-height", type=LENGTH, metavar="LENGTH", help="Height of a label of that stock.")
@click.option("--left", type=LIFT, metavar="LENGTH", help="From the left edge of the sheet to the first label.")
@click.option("--top", type=LIFT, metavar="LENGTH", help="From the top edge of the sheet to the first label.")
@click.option("--gap-across", type=LIFT, default="0mm", metavar="LENGTH", help="Gap between labels side by side; none if left out.")
@click.option("--gap-down", type=LIFT, default="0mm", metavar="LENGTH", help="Gap between labels one below the other; none if left out.")
@click.option("--trial", is_flag=True, help="Only the outlines of the label stock, to hold against it.")
@yard_option
@json_option
def tags(file: Path, slabs: tuple[int, ...], log, blank, paper, trial, yard: Path, as_json: bool, **stock) -> None:
    """Write tags to print, true to size, into FILE (PDF): for SLABs, for a log, or with new numbers.

    As in `grainlog tags elm.pdf --log "driveway elm"`, `grainlog tags new.pdf --blank 16`. A tag on the face says which slab a photo
    shows (grainlog add); one with a new number starts its slab. Print on plastic or laminated, waterproof stock and use stainless
    staples: paper falls off wet wood, and steel ones stain oak and walnut black.
    """
    layout = _layout(PAPERS[paper], **stock)
    if trial:
        if layout is None:
            raise WrongUse("A trial page shows label stock: give --labels-across, --labels-down and the rest.")
        write_trial(file, PAPERS[paper], layout)
        click.echo(json.dumps({"file": str(file)}) if as_json else f"{file}: outlines of the labels, for plain paper.")
        return
    if blank is None and not slabs and log is None:
        raise WrongUse("Say which slabs the tags are for: their numbers, --log NAME, or --blank COUNT for slabs to come.")
    if blank is not None and slabs:
        raise WrongUse("New numbers (--blank) are not for slabs that have one; print the two in two files.")
    require_writable(file)
    with Yard.open(yard) as opened:
        if blank is not None:
            labels = blank_labels(opened, blank, log)
        else:
            labels = slab_labels(opened, dict.fromkeys([*slabs, *(log_numbers(opened, log) if log is not None else ())]))
        identity = opened.tags.identity
    pages = write_tags(file, labels, PAPERS[paper], layout)
    told = [label.text.tag for label in labels]
    if as_json:
        click.echo(json.dumps({"file": str(file), "tags": told, "pages": pages, "yard": identity}))
        return
    some = f"{told[0]} to {told[-1]}" if blank is not None and len(told) > 1 else ", ".join(told)
    click.echo(f"{file}: {len(told)} {'tag' if len(told) == 1 else 'tags'} on {pages} {'page' if pages == 1 else 'pages'} ({some}).")
    if blank is not None:
        click.echo("These numbers now wait for their slabs; print them again any time by their numbers.")
    click.echo("Print at 100 %, never 'fit to page', on waterproof stock; stainless staples, on the face.")


def _layout(paper: Paper, **stock) -> TagLayout | None:
    """The layout of label stock where it was described; none for sheets to cut up. Raises WrongUse."""
    needed = ("labels_across", "labels_down", "label_width", "label_height", "left", "top")
    given = [name for name in needed if stock[name] is not None]
    if not given:
        return None
    if len(given) < len(needed):
        missing = ", ".join(f"--{name.replace('_', '-')}" for name in needed if name not in given)
        raise WrongUse(f"Label stock is described whole: {missing} is missing.")
    return stock_layout(
        paper,
        stock["labels_across"],
        stock["labels_down"],
        (stock["label_width"], stock["label_height"]),
        (stock["left"], stock["top"]),
        (stock["gap_across"], stock["gap_down"]),
    )


@click.command()
@click.argument("survey", type=int)
@click.option("--to", type=TAG, required=True, metavar="SLAB", help="The slab that the photo really shows.")
@click.option("--note", default="", help="How it came about, for the history of both slabs.")
@click.option("--take-out", is_flag=True, help="A slab that is left without any photo goes out of the yard; its entry is kept.")
@yard_option
@json_option
def misfiled(survey: int, to: int, note: str, take_out: bool, yard: Path, as_json: bool) -> None:
    """Move SURVEY (its number in `grainlog show`) to the slab that its photo really shows.

    Photo, outline and marks go with it, the figures of both slabs follow, and both histories tell.
    """
    with Yard.open(yard) as opened:
        moved = opened.move_survey(survey, to, note, take_out)
    if as_json:
        data = {"survey": moved.survey, "was": tag_of(moved.was), "now": tag_of(moved.now), "surveyed_at": moved.surveyed_at,
                "kept_in": None if moved.kept_in is None else str(moved.kept_in)}  # fmt: skip
        click.echo(json.dumps(data))
    else:
        click.echo(f"Survey {moved.survey} of {moved.surveyed_at[:10]} went from slab {tag_of(moved.was)} to slab {tag_of(moved.now)}.")
        if moved.kept_in is not None:
            click.echo(
                f"Slab {tag_of(moved.was)} had no other and is out of the yard: what was entered on it lies in {moved.kept_in}, and its "
                "number is never given again."
            )
        click.echo("If its butt end is now the other way round, add the photo again with --butt.")
