"""`grainlog share`: who gets which slabs of a haul."""

import json
from pathlib import Path
from typing import Any

import click

from grainlog.cli.options import json_option, units_option, yard_option
from grainlog.cli.tables import csv_option, print_csv
from grainlog.errors import WrongUse
from grainlog.units import format_quantity
from grainlog.yard import Yard
from grainlog.yard.tags import number_of


class Pairs(click.ParamType):
    """Tags that stay together: 12,13."""

    name = "slabs"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[int, ...]:
        """Their numbers."""
        try:
            return tuple(number_of(tag) for tag in value.split(",")) if isinstance(value, str) else value
        except WrongUse as wrong:
            self.fail(str(wrong), param, ctx)


class TagAnd(click.ParamType):
    """A tag and what goes with it: 12=ann or 12=1.5."""

    name = "slab=..."

    def __init__(self, number: bool):
        self.number = number

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[int, Any]:
        """(number, text or float)."""
        if isinstance(value, tuple):
            return value
        tag, sign, rest = value.partition("=")
        try:
            if sign and rest:
                return number_of(tag), float(rest) if self.number else rest
        except (WrongUse, ValueError):
            pass
        self.fail(f"'{value}' cannot be read; write it like {'12=1.5' if self.number else '12=ann'}.", param, ctx)


@click.command()
@click.argument("haul")
@click.option("--among", "people", multiple=True, metavar="PERSON", help="Who shares; the haul's people if left out.")
@click.option("--by", type=click.Choice(["board-feet", "value"]), default="board-feet", show_default=True,
              help="What is to be even; value is board feet times each slab's price (grainlog note).")  # fmt: skip
@click.option(
    "--together", type=Pairs(), multiple=True, metavar="SLAB,SLAB", help="Slabs that one person gets together."
)
@click.option("--wish", "wishes", type=TagAnd(False), multiple=True, metavar="SLAB=PERSON", help="Who gets this slab.")
@click.option("--grade", "grades", type=TagAnd(True), multiple=True, metavar="SLAB=FACTOR",
              help="What a slab counts for beside a plain one, as in 12=1.5 for a crotch.")  # fmt: skip
@click.option("--keep", is_flag=True, help="Write each slab's owner into the yard.")
@csv_option
@yard_option
@units_option
@json_option
def share(haul, people, by, together, wishes, grades, keep, as_csv, yard: Path, units: str, as_json: bool) -> None:
    """Divide the slabs of HAUL among its people as evenly as can be, and say how even that is.

    As in `grainlog share "april weekend" --together 3,4 --wish 7=ann`. Nothing is written without --keep.
    """
    from grainlog.yard.hauls_share import share_haul

    with Yard.open(yard) as opened:
        made = share_haul(
            opened.hauls, opened.lives, haul, people, by == "value", together, dict(wishes), dict(grades), keep
        )
    division = made.division
    if as_json:
        click.echo(json.dumps({
            "haul": made.haul, "by": made.by, "difference": division.difference, "bound": division.bound,
            "best_possible": division.best, "how": division.how, "kept": keep,
            "shares": [{"person": person, "slabs": list(tags), "total": division.totals[person], "board_feet": {
                "value": made.board_feet[person].value, "u": made.board_feet[person].u}}
                for person, tags in division.shares.items()],
        }))  # fmt: skip
        return
    if as_csv:
        print_csv(
            ("person", "slab", "board feet"),
            [
                (person, tag, made.rows[tag].board_feet.value)
                for person, tags in division.shares.items()
                for tag in tags
            ],
        )
        return
    for person, tags in division.shares.items():
        feet = format_quantity(made.board_feet[person], units, "board_feet")
        counts = f", counts {division.totals[person]:.2f}{made.unit}" if grades or by == "value" else ""
        click.echo(f"{person:>14}  {feet}{counts}: slab {', '.join(tags) or 'none'}")
    click.echo(made.how_even)
    if made.one_face_only:
        click.echo("Board feet of some slabs rest on one face; survey the others too before you share for good.")
    if keep:
        click.echo("Kept: each slab now has its owner.")
    else:
        click.echo("Nothing was written; --keep gives each slab its owner.")
