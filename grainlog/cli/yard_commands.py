"""`grainlog start`, `list`, `show`, `remove`, `stocktake` and `bars`: keeping a yard."""

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from grainlog.cli import yard_answers as answers
from grainlog.cli.life_answers import life_data
from grainlog.cli.options import (
    AREA,
    BOARD_FEET,
    DAY,
    LENGTH,
    THICKNESS,
    Size,
    json_option,
    units_option,
    yard_option,
)
from grainlog.cli.tables import TAG
from grainlog.errors import WrongUse
from grainlog.units.factors import MM_PER_INCH
from grainlog.yard import SORTS, SlabQuery, Span, Yard
from grainlog.yard.life_state import STATUSES
from grainlog.yard.life_words import life_lines
from grainlog.yard.tags import tag_of


def _two(plus: str, minus: str, name: str, kind: Size, what: str) -> Callable:
    """A pair of options that bound one figure from below and above."""

    def decorate(command: Callable) -> Callable:
        named = kind.name.upper()
        upper = click.option(minus, f"{name}_most", type=kind, metavar=named, help=f"{what} at most this.")
        lower = click.option(plus, f"{name}_least", type=kind, metavar=named, help=f"{what} at least this.")
        return lower(upper(command))

    return decorate


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@units_option
@json_option
def start(folder: Path, units: str, as_json: bool) -> None:
    """Start a yard in FOLDER, which must be new or empty."""
    with Yard.start(folder) as yard:
        if as_json:
            click.echo(json.dumps({"yard": str(yard.folder)}))
            return
        click.echo(f"Started a yard in {yard.folder}.")
        click.echo("Next: print the scale cards, measure their 100 mm bars and tell the yard (grainlog bars).")


@click.command()
@click.option("--across", type=LENGTH, metavar="LENGTH", help="Measured length of the bar across the paper.")
@click.option("--down", type=LENGTH, metavar="LENGTH", help="Measured length of the bar down the paper.")
@yard_option
@units_option
@json_option
def bars(across: float | None, down: float | None, yard: Path, units: str, as_json: bool) -> None:
    """Tell the yard how long the 100 mm bars on your printed cards really are, or show what it was told.

    Printers stretch; measure both bars of one print with a good rule, as in --across 99.8mm --down 100.1mm.
    """
    if (across is None) != (down is None):
        raise WrongUse("The two bars go together: give both --across and --down.")
    with Yard.open(yard) as opened:
        if across is not None and down is not None:
            told = opened.settings.set_print_bars(across, down)
        else:
            told = opened.settings.print_bars
    if as_json:
        data = told and {
            "across_mm": told.across_mm, "down_mm": told.down_mm, "measured_at": told.measured_at.isoformat()
        }  # fmt: skip
        click.echo(json.dumps(data))
    elif told is None:
        click.echo("Nobody has measured the bars yet, so lengths are less sure; see grainlog bars --help.")
    else:
        # A bar is read to a tenth of a millimetre, which sixteenths of an inch cannot say.
        across_text, down_text = (
            f"{mm:.1f} mm" if units == "mm" else f"{mm / MM_PER_INCH:.3f} in" for mm in (told.across_mm, told.down_mm)
        )
        day = told.measured_at.date()
        click.echo(f"Bar across the paper {across_text}, down the paper {down_text}; told on {day}.")


@click.command("list")
@click.option("--log", help="Part of the log's name.")
@click.option("--species", help="Part of the species.")
@click.option("--text", help="Words or parts of words to find in anything that was said of a slab; all must be there.")
@click.option("--status", type=click.Choice(list(STATUSES)), help="How it stands (grainlog status).")
@click.option("--place", help="Part of the shed or stack (grainlog place).")
@click.option("--owner", help="Part of the owner's name (grainlog note).")
@click.option("--gone-too", is_flag=True, help="Also slabs that are gone or were cut up.")
@_two("--longer-than", "--shorter-than", "length", LENGTH, "Length")
@_two("--wider-than", "--narrower-than", "width", LENGTH, "Mean width")
@click.option("--wide-throughout", type=LENGTH, metavar="LENGTH", help="Least width at least this.")
@_two("--thicker-than", "--thinner-than", "thickness", THICKNESS, "Thickness")
@_two("--area-over", "--area-under", "area", AREA, "Wood area")
@_two("--board-feet-over", "--board-feet-under", "board_feet", BOARD_FEET, "Board feet")
@click.option("--since", type=DAY, metavar="DAY", help="Surveyed on this day or later, as in 2025-03-04.")
@click.option("--until", type=DAY, metavar="DAY", help="Surveyed on this day or earlier.")
@click.option("--sort", type=click.Choice(list(SORTS)), default="number", show_default=True, help="Order of the list.")
@click.option("--descending", is_flag=True, help="Greatest or latest first.")
@click.option("--limit", type=click.IntRange(1), metavar="COUNT", help="At most so many slabs.")
@yard_option
@units_option
@json_option
def list_slabs(yard: Path, units: str, as_json: bool, **asked: Any) -> None:
    """List the slabs, or those that meet everything asked for."""
    query = SlabQuery(
        log=asked["log"],
        species=asked["species"],
        text=asked["text"],
        status=asked["status"],
        place=asked["place"],
        owner=asked["owner"],
        gone_too=asked["gone_too"],
        length_mm=Span(asked["length_least"], asked["length_most"]),
        width_mm=Span(asked["width_least"], asked["width_most"]),
        width_least_mm=Span(asked["wide_throughout"]),
        thickness_mm=Span(asked["thickness_least"], asked["thickness_most"]),
        area_mm2=Span(asked["area_least"], asked["area_most"]),
        board_feet=Span(asked["board_feet_least"], asked["board_feet_most"]),
        surveyed_since=asked["since"],
        surveyed_until=asked["until"],
        sort=asked["sort"],
        descending=asked["descending"],
        limit=asked["limit"],
    )
    with Yard.open(yard) as opened:
        rows = opened.slabs(query)
        empty = not rows and not opened.slabs(SlabQuery(limit=1, gone_too=True))
    if as_json:
        click.echo(json.dumps([answers.row_data(row) for row in rows]))
    elif rows:
        answers.print_slabs(rows, units)
    else:
        click.echo("The yard holds no slab yet." if empty else "No slab in the yard meets that.", err=True)


@click.command()
@click.argument("number", type=TAG)
@yard_option
@units_option
@json_option
def show(number: int, yard: Path, units: str, as_json: bool) -> None:
    """Show slab NUMBER: its figures, its surveys and where their pictures are."""
    with Yard.open(yard) as opened:
        entry, life = opened.slab(number), opened.lives.of(number)
    if as_json:
        click.echo(json.dumps(answers.entry_data(entry) | {"life": life_data(number, life)}))
    else:
        answers.print_entry(entry, units, life_lines(life))


@click.command()
@click.argument("number", type=TAG)
@click.option("--yes", is_flag=True, help="Do not ask first.")
@yard_option
@units_option
@json_option
def remove(number: int, yes: bool, yard: Path, units: str, as_json: bool) -> None:
    """Take slab NUMBER out of the yard.

    Its number is never given again. Its entry, photos and pictures are kept in the yard's folder removed/slab-NUMBER.
    """
    with Yard.open(yard) as opened:
        entry = opened.slab(number)
        surveys = "1 survey" if len(entry.surveys) == 1 else f"{len(entry.surveys)} surveys"
        question = f"Remove slab {tag_of(number)} ({entry.species or 'species not said'}, log {entry.log}, {surveys})?"
        if not yes and not click.confirm(question, err=True):
            click.echo(f"Slab {tag_of(number)} stays in the yard.", err=True)
            sys.exit(1)
        removed = opened.remove(number)
    if as_json:
        click.echo(json.dumps({"removed": removed.slab, "kept_in": str(removed.kept_in)}))
    else:
        click.echo(f"Removed slab {tag_of(number)}; what was kept of it lies in {removed.kept_in}.")


@click.command()
@click.option("--tidy", is_flag=True, help="First clear away what work that was cut short has left behind.")
@yard_option
@units_option
@json_option
def stocktake(tidy: bool, yard: Path, units: str, as_json: bool) -> None:
    """Read every photo, picture and entry again and say what is lost or changed (exit code 1 if anything is)."""
    with Yard.open(yard) as opened:
        tidied = opened.tidy() if tidy else []
        findings = opened.stocktake()
        damaged = any(finding.severity == "wrong" for finding in findings)
        slabs = None if damaged else len(opened.slabs(SlabQuery(gone_too=True)))
    if as_json:
        told = [answers.finding_data(finding) for finding in findings]
        click.echo(json.dumps({"slabs": slabs, "tidied": tidied, "findings": told}))
    else:
        for sentence in tidied:
            click.echo(sentence)
        answers.print_findings(findings, slabs)
    if damaged:
        sys.exit(1)
