"""`grainlog cut` and `flatten`: work that gives a slab a new outline or thickness."""

import json
from pathlib import Path

import click

from grainlog.cli.life_commands import day_option, note_option
from grainlog.cli.options import (
    LENGTH,
    LIFT,
    THICKNESS,
    json_option,
    units_option,
    yard_option,
)
from grainlog.cli.tables import TAG
from grainlog.cli.yard_answers import entry_data, written
from grainlog.errors import WrongUse
from grainlog.yard import SlabEntry, Yard
from grainlog.yard.tags import tag_of


@click.command()
@click.argument("slab", type=TAG)
@click.option("--across", type=LENGTH, metavar="LENGTH", help="Cut across the slab, this far from the start.")
@click.option("--along", type=LENGTH, metavar="LENGTH", help="Cut along the slab, this far from the left edge.")
@click.option(
    "--from", "side", type=click.Choice(["end", "right"]), help="Measured from the end, or the right edge, instead."
)
@click.option("--kerf", type=LIFT, default="3mm", show_default=True, metavar="LENGTH", help="Width of the saw's cut.")
@click.option("--keep", type=click.Choice(["start", "end", "left", "right"]),
              help="The part that stays SLAB, the other being waste; without it both get letters.")  # fmt: skip
@day_option
@note_option
@yard_option
@units_option
@json_option
def cut(slab, across, along, side, kerf, keep, day, note, yard: Path, units: str, as_json: bool) -> None:
    """Cut SLAB: in two pieces with letters (12A, 12B), or, with --keep, trimmed or ripped to one.

    The start is the end where x is 0: the butt where you said which it is, else the left end in the photo. Left and
    right are as you stand at the start and look along the slab, face up. The middle of the saw's cut is meant. Outlines
    are worked out from the last photo; photograph the pieces to measure them themselves (grainlog add --slab 12A).
    """
    if (across is None) == (along is None):
        raise WrongUse("Say where the cut went: --across or --along, one of the two.")
    from grainlog.yard.life_cut_shape import cut_from

    with Yard.open(yard) as opened:
        made = cut_from(opened.slab(slab).surveys[0].record, across, along, side, kerf)
        done = opened.cuts.cut(slab, made, keep, day, note)
        pieces = [opened.slab(number) for number in done.numbers]
    if as_json:
        click.echo(json.dumps({"slab": tag_of(slab), "pieces": [entry_data(piece) for piece in pieces],
                               "left_behind": list(done.left_behind), "lost_marks": list(done.lost_marks)}))  # fmt: skip
        return
    for piece in pieces:
        _say(piece, units)
    for face in done.left_behind:
        click.echo(
            f"The {face} face could not be laid on the other, so its outline was not carried over; photograph it again."
        )
    if done.lost_marks:
        marks = ", ".join(map(str, done.lost_marks))
        click.echo(f"Mark {marks} was drawn on a face that could not be laid on this one; draw it anew on the pieces.")


@click.command()
@click.argument("slab", type=TAG)
@click.option("--thickness", "readings", type=THICKNESS, multiple=True, required=True, metavar="LENGTH",
              help="Thickness after flattening; give it several times for several readings.")  # fmt: skip
@day_option
@note_option
@yard_option
@units_option
@json_option
def flatten(slab, readings, day, note, yard: Path, units: str, as_json: bool) -> None:
    """Say how thick SLAB is after it was flattened or planed; board feet follow."""
    with Yard.open(yard) as opened:
        opened.cuts.flatten(slab, tuple(readings), day, note)
        entry = opened.slab(slab)
    if as_json:
        click.echo(json.dumps(entry_data(entry)))
    else:
        _say(entry, units)


def _say(entry: SlabEntry, units: str) -> None:
    figures = entry.figures
    click.echo(
        f"Slab {entry.tag}: {written(figures['length_mm'], units)} long, "
        f"{written(figures['width_mean_mm'], units)} wide, {written(figures['thickness_mm'], units)} thick, "
        f"{written(figures['board_feet'], units, 'board_feet')}"
    )
