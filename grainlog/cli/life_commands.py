"""`grainlog status`, `place`, `restack`, `work`, `note` and `history`: what happens to slabs after the survey."""

import json
from pathlib import Path

import click

from grainlog.cli.life_answers import change_data, life_data, print_history
from grainlog.cli.options import DAY, json_option, units_option, yard_option
from grainlog.cli.tables import TAG, csv_option, print_csv, print_table
from grainlog.errors import WrongUse
from grainlog.yard import Yard
from grainlog.yard.life import GIVEN, WORK
from grainlog.yard.life_words import change_text, life_lines, place_text, status_text
from grainlog.yard.lifting_words import lifting_lines
from grainlog.yard.tags import tag_of

slabs_argument = click.argument("slabs", type=TAG, nargs=-1, required=True, metavar="SLAB...")
day_option = click.option("--on", "day", type=DAY, metavar="DAY", help="The day it happened; today if left out.")
note_option = click.option("--note", default="", help="Anything else to remember.")


def _answer(opened: Yard, slabs: tuple[int, ...], as_json: bool) -> None:
    lives = {number: opened.lives.of(number) for number in slabs}
    if as_json:
        click.echo(json.dumps([life_data(number, life) for number, life in lives.items()]))
        return
    for number, life in lives.items():
        said = "; ".join(f"{name} {text}" for name, text in life_lines(life))
        click.echo(f"Slab {tag_of(number)}: {said or 'noted'}.")


@click.command()
@click.argument("slabs", type=TAG, nargs=-1, required=True, metavar="SLAB...")
@click.argument("status", type=click.Choice(GIVEN))
@click.option("--until", type=DAY, metavar="DAY", help="The last day of a promise.")
@click.option("--to", "for_whom", help="To whom it is promised or sold, or who has it.")
@day_option
@note_option
@yard_option
@units_option
@json_option
def status(slabs, status, until, for_whom, day, note, yard: Path, units: str, as_json: bool) -> None:
    """Say how SLABs stand: drying, ready, promised, kept, sold or gone.

    As in `grainlog status 12 14 promised --to Ann --until 2027-03-01`. What is gone leaves its stack, and lists leave
    it out; its entry stays.
    """
    with Yard.open(yard) as opened:
        opened.lives.set_status(slabs, status, day, until, for_whom, note)
        _answer(opened, slabs, as_json)


@click.command()
@click.argument("slabs", type=TAG, nargs=-1, metavar="[SLAB...]")
@click.option("--shed", help="The shed, barn or yard.")
@click.option("--stack", help="The stack in it.")
@click.option("--layer", type=click.IntRange(1), help="Layer from the bottom of the first SLAB; on top if left out.")
@click.option("--beside", is_flag=True, help="Lay them side by side in one layer.")
@day_option
@note_option
@csv_option
@yard_option
@units_option
@json_option
def place(slabs, shed, stack, layer, beside, day, note, as_csv, yard: Path, units: str, as_json: bool) -> None:
    """Lay SLABs on a stack, the first one lowest; or say where they lie and what has to be lifted off to reach them.

    `grainlog place 3 1 2 --shed barn --stack A` lays three slabs down, `grainlog place 1` says what lies above slab 1,
    `grainlog place --stack A --shed barn` lists a stack from the bottom, and `grainlog place` lists the stacks.
    """
    with Yard.open(yard) as opened:
        if slabs and (shed or stack):
            opened.places.lay(slabs, shed, stack, layer, beside, day, note)
            _answer(opened, slabs, as_json)
        elif layer or beside:
            raise WrongUse("A layer needs its stack; give --stack, and --shed where there are several sheds.")
        elif slabs:
            _reach(opened, slabs, units, as_json)
        elif shed or stack:
            _stack(opened, shed, stack, units, as_json, as_csv)
        else:
            _stacks(opened, as_json, as_csv)


def _reach(opened: Yard, slabs: tuple[int, ...], units: str, as_json: bool) -> None:
    told = []
    for number in slabs:
        life, lifting = opened.lives.of(number), opened.lifting(number)
        above = None if lifting.above is None else [
            {"slab": tag_of(each.number), "layer": each.layer, "weight_kg": each.mass_kg and
             {"value": each.mass_kg.value, "u": each.mass_kg.u}, "basis": each.basis}
            for each in lifting.above
        ]  # fmt: skip
        told.append(life_data(number, life) | {"above": above, "total_kg": lifting.total_kg and {
            "value": lifting.total_kg.value, "u": lifting.total_kg.u}})  # fmt: skip
        if as_json:
            continue
        click.echo(f"Slab {tag_of(number)}: {place_text(life)}.")
        for line in lifting_lines(lifting, units):
            click.echo(f"  {line}")
    if as_json:
        click.echo(json.dumps(told))


def _stack(opened: Yard, shed: str | None, stack: str | None, units: str, as_json: bool, as_csv: bool) -> None:
    rows = []
    for lying in opened.places.stack(shed, stack):
        entry, life = opened.slab(lying.number), opened.lives.of(lying.number)
        rows.append((lying.layer, entry.tag, entry.log, entry.species or "not said", status_text(life)))
    headings = ("layer", "slab", "log", "species", "status")
    if as_json:
        click.echo(json.dumps([dict(zip(headings, row, strict=True)) for row in rows]))
    elif as_csv:
        print_csv(headings, rows)
    else:
        print_table(headings, [tuple("not said" if cell is None else str(cell) for cell in row) for row in rows[::-1]])


def _stacks(opened: Yard, as_json: bool, as_csv: bool) -> None:
    rows = opened.places.stacks()
    headings = ("shed", "stack", "slabs")
    if as_json:
        click.echo(json.dumps([dict(zip(headings, row, strict=True)) for row in rows]))
    elif as_csv:
        print_csv(headings, rows)
    elif rows:
        print_table(headings, [(shed or "", stack or "", str(count)) for shed, stack, count in rows])
    else:
        click.echo(
            "No slab has a place yet; lay some down with grainlog place SLAB... --shed NAME --stack NAME.", err=True
        )


@click.command()
@click.argument("stack")
@click.option("--shed", help="The shed it stands in.")
@click.option("--to-shed", help="The shed it was moved to.")
@click.option("--to-stack", help="The stack it was moved to, on top of what lies there.")
@day_option
@note_option
@yard_option
@units_option
@json_option
def restack(stack, shed, to_shed, to_stack, day, note, yard: Path, units: str, as_json: bool) -> None:
    """Say that STACK was taken down and built again layer by layer: its order is then upside down.

    One command for the whole stack; every slab's history keeps it.
    """
    with Yard.open(yard) as opened:
        opened.places.restack(shed, stack, to_shed, to_stack, day, note)
        _stack(opened, to_shed or shed, to_stack or stack, units, as_json, False)


@click.command()
@slabs_argument
@click.argument("what", type=click.Choice(WORK))
@click.option("--face-up", type=click.Choice(["bark", "heart"]), help="The face that is up after turning.")
@day_option
@note_option
@yard_option
@units_option
@json_option
def work(slabs, what, face_up, day, note, yard: Path, units: str, as_json: bool) -> None:
    """Keep that WHAT was done to SLABs: turned, debarked, end-coated, treated for insects.

    What changes the outline or the thickness is `grainlog cut` and `grainlog flatten`.
    """
    with Yard.open(yard) as opened:
        opened.lives.worked(slabs, what, day, face_up, note)
        _answer(opened, slabs, as_json)


@click.command()
@slabs_argument
@click.option("--owner", help="Whose it is; '' takes it back.")
@click.option("--price", type=float, metavar="AMOUNT", help="Price of a board foot, in your own money.")
@click.option("--figure", help="What the grain shows: crotch, curl, burl, spalt ...; '' takes it back.")
@click.option("--note", default="", help="Anything else to remember and find again.")
@day_option
@yard_option
@units_option
@json_option
def note(slabs, owner, price, figure, note, day, yard: Path, units: str, as_json: bool) -> None:
    """Note who owns SLABs, the price of a board foot, the figure, or anything else; `list --text` finds it."""
    with Yard.open(yard) as opened:
        opened.lives.tell(slabs, owner, price, figure, note, day)
        _answer(opened, slabs, as_json)


@click.command()
@click.argument("slab", type=TAG)
@click.option("--take-back", is_flag=True, help="Take back the last change: what held before holds again; both stay in the history.")
@note_option
@csv_option
@yard_option
@units_option
@json_option
def history(slab: int, take_back: bool, note: str, as_csv: bool, yard: Path, units: str, as_json: bool) -> None:
    """Show everything that happened to SLAB since it was surveyed, the oldest first; or take the last change back."""
    if note and not take_back:
        raise WrongUse("A note here says why something is taken back; without --take-back use grainlog note.")
    with Yard.open(yard) as opened:
        if take_back:
            opened.lives.take_back([slab], note=note)
        changes, life = opened.lives.history(slab), opened.lives.of(slab)
    if as_json:
        click.echo(json.dumps(life_data(slab, life) | {"changes": [change_data(change) for change in changes]}))
    elif as_csv:
        rows = [(change.day, change.what, change_text(change), change.entered_at) for change in changes]
        print_csv(("day", "what", "said", "entered at"), rows)
    elif changes:
        print_history(changes)
    else:
        click.echo(f"Nobody has said anything of slab {tag_of(slab)} since it was surveyed.", err=True)
