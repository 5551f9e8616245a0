"""`grainlog find` and `grainlog pair`: which slab, or which two, hold a top."""

import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import click

from grainlog.cli import find_answers as answers
from grainlog.cli import find_data as plain
from grainlog.cli.drying_options import MOISTURE
from grainlog.cli.options import (
    LIFT,
    THICKNESS,
    json_option,
    units_option,
    yard_option,
)
from grainlog.cli.progress import watching
from grainlog.cli.tables import TAG, csv_option
from grainlog.errors import WrongUse
from grainlog.fit import piece as pieces
from grainlog.fit.defects import wishes_from
from grainlog.fit.piece_text import LIVE_EDGES, SHAPES, piece_of
from grainlog.units import parse_size
from grainlog.yard import Yard
from grainlog.yard.fit_pairs import KINDS as PAIR_KINDS
from grainlog.yard.fit_pairs import PairRequest
from grainlog.yard.fit_request import CHECKS, FindRequest
from grainlog.yard.fit_words import title

PATH = click.Path(path_type=Path)


def search_options(command: Callable) -> Callable:
    """Filters, allowances and what is to be done about defects: alike for one slab and for two."""
    for option in reversed((
        click.option("--species", help="Part of the species."),
        click.option("--log", help="Part of the log's name."),
        click.option("--status", help="Only slabs of this status, as in --status ready."),
        click.option("--place", help="Part of the shed's or stack's name."),
        click.option("--slab", "slabs", type=TAG, multiple=True, help="Only this slab; may be given again."),
        click.option("--at", "moisture", type=MOISTURE, metavar="PERCENT",
                     help="The size is meant at this moisture, as in 8%; else as last measured."),
        click.option("--thick", type=THICKNESS, metavar="LENGTH", help="Finished thickness."),
        click.option("--flattening", type=LIFT, metavar="LENGTH", default="0", help="What flattening takes off both faces together."),
        click.option("--trim", type=LIFT, metavar="LENGTH", default="0", help="Left around the piece on every side that is cut."),
        click.option("--show-face", type=click.Choice(["bark", "heart"]), help="Go by the newest survey of this face."),
        click.option("--checks", type=click.Choice(CHECKS), default="any", show_default=True,
                     help="trim-ends: keep clear of end checks, and no other seen on the face; none: none seen on it."),
        click.option("--avoid", multiple=True, metavar="KIND", help="Keep the piece off this kind of defect, or off one by its number."),
        click.option("--fill", multiple=True, metavar="KIND", help="This kind, or one defect by its number, will be filled."),
        click.option("--leave", multiple=True, metavar="KIND", help="This kind, or one defect by its number, may show as it is."),
        click.option("--margin", type=LIFT, metavar="LENGTH", default="0", help="How far to keep from what is avoided."),
        click.option("--limit", type=click.IntRange(1, 100), default=5, show_default=True, help="At most so many answers."),
        click.option("--misses", type=click.IntRange(0, 50), default=2, show_default=True, help="At most so many near misses."),
        click.option("--picture", type=PATH, metavar="FILE", help="Draw all answers to one scale (.png or .svg)."),
        csv_option, units_option, json_option, yard_option,
    )):  # fmt: skip
        command = option(command)
    return command


@click.command()
@click.argument("sizes", nargs=-1, metavar="[SIZE]...")
@click.option("--shape", type=click.Choice(SHAPES), default="straight", show_default=True,
              help="Shape of the piece; a round one has one SIZE, its diameter.")  # fmt: skip
@click.option(
    "--live-edges",
    type=click.Choice(LIVE_EDGES),
    help="Keep both live edges, or one; the second size is then the least width.",
)
@click.option("--outline", type=PATH, metavar="FILE", help="A shape of your own, SVG or DXF in true size.")
@click.option(
    "--kerf", type=LIFT, metavar="LENGTH", default="3mm", show_default=True, help="Between two pieces from one slab."
)
@search_options
def find(sizes: tuple[str, ...], shape: str, live_edges: str | None, outline: Path | None, kerf: float,
         picture: Path | None, as_csv: bool, units: str, as_json: bool, yard: Path, **asked: Any) -> None:  # fmt: skip
    """Find the slab for a top of SIZE (72x34in), least waste first, with near misses at the end.

    Several SIZEs come out of one slab. A slab's size is the one last measured; with --at it is what it will be at that
    moisture. Every answer says by how much it fits and how sure that is (two standard uncertainties).
    """
    answers.check_picture(picture)
    wanted = _pieces(sizes, shape, live_edges, outline)
    request = FindRequest(pieces=wanted, kerf=kerf, **_search(asked))
    with Yard.open(yard) as opened, watching("Looking at outlines") as progress:
        found = opened.fits.find(request, lambda done, count: progress(f"{done} of {count} new outlines"))
    if picture is not None and (found.answers or found.misses):
        from grainlog.cli import find_picture  # drawing is slow to load

        find_picture.write_drawn(picture, find_picture.drawings(found, units), title(wanted, units), units)
    if as_json:
        click.echo(json.dumps(plain.found_data(found)))
    elif as_csv:
        plain.print_csv(found)
    else:
        answers.print_found(found, wanted[0], units)


@click.command()
@click.argument("size", metavar="SIZE")
@click.option("--as", "kind", type=click.Choice(PAIR_KINDS), default="book", show_default=True,
              help="book: neighbours from one log, opened on the faces that met; gap: live edges facing each other.")  # fmt: skip
@click.option("--gap", type=LIFT, metavar="LENGTH", default="0", help="Least distance between the live edges.")
@click.option("--live-edges", is_flag=True, help="For book: keep the outer live edges; the width is then the least.")
@search_options
def pair(size: str, kind: str, gap: float, live_edges: bool, picture: Path | None, as_csv: bool, units: str, as_json: bool,
         yard: Path, **asked: Any) -> None:  # fmt: skip
    """Find two slabs that make a top of SIZE together (72x44in).

    Sizes are those last measured; with --at what they will be at that moisture. What lies where in a log comes from the order of its slabs.
    """
    answers.check_picture(picture)
    length, width = parse_size(size)
    search = FindRequest(pieces=(pieces.straight(length, width),), **_search(asked))
    with Yard.open(yard) as opened:
        found = opened.fits.pairs(PairRequest(kind, length, width, search, straight=not live_edges, gap=gap))
    if picture is not None and (found.answers or found.misses):
        from grainlog.cli import find_picture

        find_picture.write_drawn(picture, find_picture.pair_drawings(found, units), f"Two slabs for {size}", units)
    if as_json:
        click.echo(json.dumps(plain.pairs_data(found)))
    elif as_csv:
        plain.print_pairs_csv(found)
    else:
        answers.print_pairs(found, units)


def _search(asked: dict[str, Any]) -> dict[str, Any]:
    wishes = wishes_from({name: asked.pop(name) for name in ("avoid", "fill", "leave")}, asked.pop("margin"))
    return {"wishes": wishes, "thickness": asked.pop("thick"), **asked}


def _pieces(sizes: Sequence[str], shape: str, live_edges: str | None, outline: Path | None) -> tuple[pieces.Piece, ...]:
    if outline is not None:
        if sizes or live_edges or shape != "straight":
            raise WrongUse("A shape from a file has its own size; leave SIZE, --shape and --live-edges out.")
        from grainlog.fit.top_file import read_top  # its readers are slow to load

        return (pieces.free(read_top(outline)),)
    if not sizes:
        raise WrongUse("Say the size of the piece, as in 72x34in, or give its shape as a file with --outline.")
    if live_edges and shape != "straight":
        raise WrongUse("Live edges are kept by straight pieces only; leave --shape out.")
    return tuple(piece_of(size, shape, live_edges) for size in sizes)
