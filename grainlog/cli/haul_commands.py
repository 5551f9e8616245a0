"""`grainlog haul`, `share`, `log` and `piece`: one day's sawing, its logs, and what is no slab."""

import json
from pathlib import Path
from typing import Any

import click

from grainlog.cli.life_answers import change_data, life_data, print_history
from grainlog.cli.life_commands import day_option, note_option
from grainlog.cli.options import (
    DAY,
    LENGTH,
    THICKNESS,
    json_option,
    units_option,
    yard_option,
)
from grainlog.cli.tables import csv_option, print_csv, print_table
from grainlog.cli.yard_answers import written
from grainlog.errors import WrongUse
from grainlog.units import Quantity, format_board_feet, format_length
from grainlog.yard import Yard
from grainlog.yard.hauls import Haul
from grainlog.yard.life import GIVEN
from grainlog.yard.life_words import place_text, status_text
from grainlog.yard.log_facts import LogFacts
from grainlog.yard.pieces import OtherPiece


class Named(click.ParamType):
    """A name and an amount, as in fuel=45; a name alone where `bare` allows it."""

    name = "name=amount"

    def __init__(self, bare: bool = False):
        self.bare = bare

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[str, float | None]:
        """(name, amount)."""
        if isinstance(value, tuple):
            return value
        name, sign, amount = value.rpartition("=")
        if not sign and self.bare:
            return value, None
        try:
            return name, float(amount)
        except ValueError:
            self.fail(f"'{value}' is not a name and an amount; write it like fuel=45.", param, ctx)


@click.command()
@click.argument("name", required=False)
@click.option("--day", type=DAY, metavar="DAY", help="The day of sawing.")
@click.option("--with", "people", type=Named(bare=True), multiple=True, metavar="PERSON=HOURS",
              help="Who sawed, and hours if you like; again for more hours.")  # fmt: skip
@click.option("--cost", "costs", type=Named(), multiple=True, metavar="WHAT=AMOUNT",
              help="What was spent, as in fuel=45; a minus puts a wrong one right.")  # fmt: skip
@click.option("--log", "logs", multiple=True, metavar="LOG", help="A log that was sawn.")
@click.option("--on", "said_on", type=DAY, metavar="DAY", help="The day of this entry, as of a bill; today if left out.")
@note_option
@csv_option
@yard_option
@units_option
@json_option
def haul(name, day, people, costs, logs, said_on, note, as_csv, yard: Path, units: str, as_json: bool) -> None:
    """Keep or show a HAUL, one day's sawing: its people, hours, costs and logs, and what a board foot of it cost.

    As in `grainlog haul "april weekend" --day 2026-04-12 --with ann=6 --with bob --cost fuel=45 --log "driveway elm"`.
    """
    given = bool(day or people or costs or logs or note)
    with Yard.open(yard) as opened:
        if name is None:
            if given:
                raise WrongUse("Name the haul, as in grainlog haul 'april weekend' ...")
            hauls = opened.hauls.all()
        else:
            hauls = [opened.hauls.keep(name, day, people, costs, logs, note, said_on) if given else opened.hauls.haul(name)]
    if as_json:
        told = [_haul_data(each) for each in hauls]
        click.echo(json.dumps(told if name is None else told[0]))
    elif as_csv:
        print_csv(
            ("haul", "day", "slabs", "board feet", "cost", "cost per board foot"),
            [(each.name, each.day or "", len(each.slabs), each.board_feet.value if each.board_feet else "", each.cost,
              each.cost_per_board_foot.value if each.cost_per_board_foot else "") for each in hauls],
        )  # fmt: skip
    elif name is not None:
        _print_haul(hauls[0], units)
    elif hauls:
        print_table(
            ("haul", "day", "slabs", "board feet", "cost"),
            [(each.name, str(each.day or "not said"), str(len(each.slabs)),
              written(each.board_feet, units, "board_feet"),
              f"{each.cost:.2f}") for each in hauls],
        )  # fmt: skip
    else:
        click.echo("No haul is kept yet; see grainlog haul --help.", err=True)


def _print_haul(told: Haul, units: str) -> None:
    click.echo(f"{told.name}, {told.day or 'day not said'}")
    for person, hours in told.hours.items():
        click.echo(f"{person:>18}  {'hours not said' if hours is None else f'{hours:g} h'}")
    for what, amount in told.costs:
        click.echo(f"{what:>18}  {amount:.2f}")
    click.echo(f"{'logs':>18}  {', '.join(told.logs) or 'none yet'}")
    click.echo(f"{'slabs':>18}  {', '.join(row.tag for row in told.slabs) or 'none yet'}")
    click.echo(f"{'board feet':>18}  {written(told.board_feet, units, 'board_feet')}")
    click.echo(f"{'cost':>18}  {told.cost:.2f}")
    each = told.cost_per_board_foot
    click.echo(f"{'a board foot':>18}  {'not known' if each is None else f'{each.value:.2f} ± {2 * each.u:.2f}'}")
    if told.unknown:
        click.echo(f"Board feet of slab {', '.join(told.unknown)} are not known: give their thickness.")
    if told.note:
        click.echo(told.note)
    if told.history:
        click.echo("")
        print_history(told.history)


def _haul_data(told: Haul) -> dict[str, Any]:
    def plain(figure: Quantity | None) -> dict | None:
        return figure and {"value": figure.value, "u": figure.u}

    return {
        "haul": told.name, "day": told.day and told.day.isoformat(), "hours": dict(told.hours), "note": told.note,
        "costs": [{"what": what, "amount": amount} for what, amount in told.costs], "cost": told.cost,
        "logs": list(told.logs), "slabs": [row.tag for row in told.slabs], "board_feet": plain(told.board_feet),
        "cost_per_board_foot": plain(told.cost_per_board_foot), "not_known": list(told.unknown),
        "changes": [change_data(change) for change in told.history],
    }  # fmt: skip


@click.command("log")
@click.argument("name", required=False)
@click.option("--stood-at", help="Where the tree stood; '' takes it back.")
@click.option("--metal", help="Nails, wire, chain found in it, and where.")
@click.option("--trimmed-sides", help="Which sides were trimmed off before sawing, and how much.")
@day_option
@note_option
@csv_option
@yard_option
@units_option
@json_option
def log_command(name, stood_at, metal, trimmed_sides, day, note, as_csv, yard: Path, units: str, as_json: bool) -> None:
    """Keep or show what is known of log NAME: where it stood, metal found in it, sides trimmed; or list the logs.

    The days of felling and sawing are told with `grainlog sawn`.
    """
    given = note or any(text is not None for text in (stood_at, metal, trimmed_sides))
    with Yard.open(yard) as opened:
        if name is None:
            if given:
                raise WrongUse("Name the log that you tell of.")
            logs = opened.logs.all()
        elif given:
            logs = [opened.logs.tell(name, stood_at, metal, trimmed_sides, note, day)]
        else:
            logs = [opened.logs.log(name)]
    if as_json:
        told = [_log_data(each) for each in logs]
        click.echo(json.dumps(told if name is None else told[0]))
        return
    headings = ("log", "species", "slabs", "fell", "sawn", "stood at", "metal", "trimmed sides")
    rows = [
        (each.name, each.species or "", str(each.slabs), str(each.felled_on or ""), str(each.sawn_on or ""),
         each.stood_at or "", each.metal or "", each.trimmed_sides or "")
        for each in logs
    ]  # fmt: skip
    if as_csv:
        print_csv(headings, rows)
    elif name is not None:
        for heading, cell in zip(headings, rows[0], strict=True):
            click.echo(f"{heading:>18}  {cell or 'not said'}")
        print_history(logs[0].history)
    elif rows:
        print_table(headings, rows)
    else:
        click.echo("The yard holds no log yet.", err=True)


def _log_data(log: LogFacts) -> dict[str, Any]:
    return {
        "log": log.name, "species": log.species, "slabs": log.slabs, "stood_at": log.stood_at, "metal": log.metal,
        "felled_on": log.felled_on and log.felled_on.isoformat(), "sawn_on": log.sawn_on and log.sawn_on.isoformat(),
        "trimmed_sides": log.trimmed_sides, "changes": [change_data(change) for change in log.history],
    }  # fmt: skip


@click.command()
@click.argument("what", required=False)
@click.option("--number", type=click.IntRange(1), help="A piece that is kept already, to tell more of it.")
@click.option("--log", help="The log it came from.")
@click.option("--length", type=LENGTH, metavar="LENGTH", help="Its length.")
@click.option("--width", type=LENGTH, metavar="LENGTH", help="Its width.")
@click.option("--thickness", type=THICKNESS, metavar="LENGTH", help="Its thickness.")
@click.option("--count", type=click.IntRange(1), default=1, show_default=True, help="How many alike.")
@click.option("--status", type=click.Choice(GIVEN), help="How it stands.")
@click.option("--shed", help="Where it lies.")
@click.option("--stack", help="The stack in it.")
@click.option("--owner", help="Whose it is.")
@click.option("--gone-too", is_flag=True, help="List those that are gone too.")
@click.option("--text", metavar="WORDS", help="List those of which these words, or parts of words, were said.")
@day_option
@note_option
@csv_option
@yard_option
@units_option
@json_option
def piece(what, number, gone_too, text, as_csv, yard: Path, units: str, as_json: bool, **given: Any) -> None:
    """Keep pieces that are no slabs: WHAT is a beam, a turning blank, a quarter-sawn offcut ...; or list them.

    As in `grainlog piece "turning blank" --log elm --length 12in --width 12in --thickness 3in --count 4`; later
    `grainlog piece --number 1 --status gone`.
    """
    life = {key: given[key] for key in ("status", "shed", "stack", "owner") if given[key] is not None}
    sizes = {f"{key}_mm": given[key] for key in ("length", "width", "thickness")}
    with Yard.open(yard) as opened:
        if what is not None and number is not None:
            raise WrongUse("Say what a new piece is, or give the --number of one that is kept, not both.")
        if text is not None and (what is not None or number is not None):
            raise WrongUse("--text looks for pieces; leave it out to keep one or to tell more of it.")
        if what is not None:
            made = opened.pieces.add(what, given["log"], count=given["count"], note=given["note"], **sizes)
            pieces = [opened.pieces.tell(made.id, day=given["day"], **life) if life else made]
        elif number is not None:
            pieces = [opened.pieces.tell(number, note=given["note"], day=given["day"], **life)]
        elif life or given["note"] or given["log"] or any(sizes.values()):
            raise WrongUse("Say what the piece is, or which one, by its --number.")
        else:
            pieces = opened.pieces.all(gone_too, text)
    headings = ("number", "what", "count", "log", "size", "board feet", "status", "place", "owner", "note")
    rows = [
        (str(each.id), each.kind, str(each.count), each.log or "", _size(each, units),
         "" if each.board_feet is None else format_board_feet(each.board_feet), status_text(each.life),
         place_text(each.life), each.life.owner or "", each.note)
        for each in pieces
    ]  # fmt: skip
    if as_json:
        click.echo(json.dumps([_piece_data(each) for each in pieces]))
    elif as_csv:
        print_csv(headings, rows)
    elif rows:
        print_table(headings, rows)
    else:
        click.echo("No other piece holds these words." if text else "No other pieces are kept.", err=True)


def _size(piece: OtherPiece, units: str) -> str:
    sizes = (piece.length_mm, piece.width_mm, piece.thickness_mm)
    return " x ".join("?" if size is None else format_length(size, units) for size in sizes) if any(sizes) else ""


def _piece_data(piece: OtherPiece) -> dict[str, Any]:
    told = life_data(1, piece.life)
    del told["slab"]
    return {"number": piece.id, "what": piece.kind, "count": piece.count, "log": piece.log,
            "length_mm": piece.length_mm,
            "width_mm": piece.width_mm, "thickness_mm": piece.thickness_mm, "board_feet": piece.board_feet,
            "note": piece.note, **told}  # fmt: skip
