"""How the answers of `find` and `pair` are written: tables with a reason per slab."""

from pathlib import Path

import click

from grainlog.cli.tables import print_table
from grainlog.errors import WrongUse
from grainlog.fit.piece import Piece
from grainlog.units import format_quantity
from grainlog.yard.finding import Found, FoundSlab
from grainlog.yard.fit_pairs import FoundPairs
from grainlog.yard.fit_words import (
    lies_text,
    miss_text,
    missed_text,
    notes,
    nothing_text,
    pair_notes,
    pair_remarks,
    remarks,
    spare_text,
)
from grainlog.yard.tags import tag_of

HEADINGS = ("slab", "species", "where it lies", "fits by", "wood left over", "how the piece lies")
PAIR_HEADINGS = ("slabs", "log", "wider by", "wood left over", "remarks")


def check_picture(path: Path | None) -> None:
    """Raises WrongUse before any work for a picture that could not be written."""
    if path is not None and path.suffix.lower() not in (".png", ".svg"):
        raise WrongUse(f"'{path.name}' is not a kind of picture drawn here; name the file .png or .svg.")


def print_found(found: Found, piece: Piece, units: str) -> None:
    """A table of answers and near misses, and what else is worth knowing."""
    if found.answers:
        print_table(HEADINGS, [_row(one, units) for one in found.answers])
    else:
        click.echo(nothing_text(found, piece, units))
    if found.misses:
        click.echo("\nNear misses:")
        for one in found.misses:
            click.echo(
                f"  slab {tag_of(one.candidate.number)} ({one.candidate.species or 'species not said'}): {miss_text(one, units)}"
            )
    if found.answers:
        click.echo("\nThe intervals are two standard uncertainties. Sizes are of the face that was surveyed.")
    for line in remarks(found):
        click.echo(line)


def _row(one: FoundSlab, units: str) -> tuple[str, ...]:
    candidate = one.candidate
    return (
        tag_of(candidate.number),
        candidate.species or "not said",
        candidate.place or "not said",
        "\n".join(spare_text(laid, units) for laid in one.laid),
        f"{one.waste_share:.0%}",
        "\n".join([*(lies_text(laid, units) for laid in one.laid), *notes(one, units)]),
    )


def print_pairs(found: FoundPairs, units: str) -> None:
    """A table of pairs and near misses."""
    if found.answers:
        print_table(PAIR_HEADINGS, [
            (f"{tag_of(one.first.number)} and {tag_of(one.second.number)}", one.first.log, format_quantity(one.spare, units),
             f"{one.waste_share:.0%}", "\n".join(pair_notes(one, units)))
            for one in found.answers
        ])  # fmt: skip
    else:
        click.echo("No two slabs in the yard make that top.")
    for one in found.misses:
        by = missed_text(one.spare, units)
        click.echo(f"Nearly: slabs {tag_of(one.first.number)} and {tag_of(one.second.number)}, {by} too narrow.")
    for line in pair_remarks(found):
        click.echo(line)
