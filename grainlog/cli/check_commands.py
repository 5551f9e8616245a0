"""`grainlog checks`, `running` and `look`: how far the checks have run, which still run, and looks without a photo."""

import json
from datetime import date
from pathlib import Path

import click

from grainlog.cli.check_histories import (
    HISTORY_HEADINGS,
    RUNNING_HEADINGS,
    history_data,
    history_rows,
    print_history,
    running_data,
    running_rows,
)
from grainlog.cli.options import (
    DAY,
    LENGTH,
    LIFT,
    json_option,
    units_option,
    yard_option,
)
from grainlog.cli.progress import counting, watching
from grainlog.cli.tables import TAG, csv_option, print_csv, print_table
from grainlog.errors import WrongUse
from grainlog.yard import Yard
from grainlog.yard.tags import tag_of

_FILE = click.Path(path_type=Path, dir_okay=False)


@click.command()
@click.argument("slab", type=TAG)
@click.option("--all-dates", is_flag=True, help="Every look at every check, not only the newest.")
@click.option("--picture", type=_FILE, metavar="FILE", help="Draw the photos under one another, each check in its colour, as PNG.")
@click.option("--plot", type=_FILE, metavar="FILE", help="Draw the length of each check over time, as PNG or SVG.")
@click.option("--face", type=click.Choice(["bark", "heart"]), help="Which face --picture shows; the one with most photos if left out.")
@yard_option
@units_option
@json_option
@csv_option
def checks(
    slab: int, all_dates: bool, picture: Path | None, plot: Path | None, face: str | None, yard: Path, units: str, as_json: bool,
    as_csv: bool,
) -> None:  # fmt: skip
    """Show the checks of slab SLAB: where they are, how long and wide, and how they have changed from photo to photo.

    Each check keeps its name for life: E for one first seen at an end, S for one on the face. What a photo does not show is
    not taken as gone. With --csv every look is printed.
    """
    with Yard.open(yard) as opened, watching(f"Following the checks of slab {tag_of(slab)}") as progress:
        progress("laying the photos on each other")
        history = opened.checks.slab(slab, units)
        made = []
        for file, kinds, draw in (
            (picture, ("png",), lambda: opened.checks.side_by_side(slab, face, units)),
            (plot, ("png", "svg"), lambda: opened.checks.growth_plot(slab, units, plot.suffix.lstrip(".").lower())),
        ):
            if file is not None:
                if file.suffix.lstrip(".").lower() not in kinds:
                    raise WrongUse(f"That picture is written as {' or '.join(kinds)}; name the file so, as in checks.{kinds[0]}.")
                progress("drawing")
                _write(file, draw())
                made.append(file)
    if as_json:
        click.echo(json.dumps(history_data(history) | {"pictures": [str(file) for file in made]}))
    elif as_csv:
        print_csv(HISTORY_HEADINGS, history_rows(history))
    else:
        print_history(history, units, all_dates)
        for file in made:
            click.echo(f"Drew {file}.")


@click.command()
@yard_option
@units_option
@json_option
@csv_option
def running(yard: Path, units: str, as_json: bool, as_csv: bool) -> None:
    """List the slabs whose checks still run by their newest photos, the fastest first.

    A check runs when it has grown by more than the photos leave open within ten weeks before the newest one.
    """
    with Yard.open(yard) as opened:
        with counting("Following checks", len(opened.checks.followed())) as advance:
            told = opened.checks.running(lambda done, of: advance(), units)
    if as_json:
        click.echo(json.dumps([running_data(history) for history in told]))
    elif as_csv:
        print_csv(RUNNING_HEADINGS, [row for history in told for row in running_rows(history, units)])
    elif told:
        print_table(RUNNING_HEADINGS, [row for history in told for row in running_rows(history, units)])
        for sentence in told[0].advice:
            click.echo(sentence, err=True)
    else:
        click.echo("No check is seen to run. Two photos of the same face, some weeks apart, are needed to see one.", err=True)


@click.command()
@click.argument("slab", type=TAG, required=False)
@click.option("--on", "day", type=DAY, metavar="DAY", help="Day of the look; today if left out.")
@click.option("--butt-check", type=LIFT, metavar="LENGTH", help="Longest check at the butt end, by tape; 0mm where there is none.")
@click.option("--top-check", type=LIFT, metavar="LENGTH", help="Longest check at the top end, by tape.")
@click.option("--tape", type=(str, LENGTH), multiple=True, metavar="CHECK LENGTH", help="One check by its name, as in --tape E1 12in.")
@click.option("--wax", type=click.Choice(["butt", "top", "both"]), help="This end carries end wax from this day on.")
@click.option("--wax-off", type=click.Choice(["butt", "top", "both"]), help="The wax of this end is off again.")
@click.option("--left-bark", type=click.Choice(["on", "partly", "off"]), help="Bark of the edge on the left, seen from the butt end.")
@click.option("--right-bark", type=click.Choice(["on", "partly", "off"]), help="Bark of the edge on the right, seen from the butt end.")
@click.option("--cup", type=LIFT, metavar="LENGTH", help="Hollow across the slab under a straight edge; kept with the readings.")
@click.option("--twist", type=LIFT, metavar="LENGTH", help="How far one corner stands off a flat floor; kept with the readings.")
@click.option("--note", default="", help="Anything to remember.")
@click.option("--take-back", metavar="NAME", help="Take a look back, by its name in the slab's checks (as k12).")
@yard_option
@units_option
@json_option
def look(slab: int | None, yard: Path, units: str, as_json: bool, **given) -> None:
    """Enter what was seen of slab SLAB without a photo: end checks by tape, end wax, bark, cup and twist.

    In a stack only ends and edges can be seen. End wax hides checks: while it is on, an end check that a photo does not show
    is not taken as gone.
    """
    with Yard.open(yard) as opened:
        if given["take_back"]:
            back = opened.checks.hand.take_back(given["take_back"])
            told = {"taken_back": given["take_back"], "slab": tag_of(back.slab)}
            click.echo(json.dumps(told) if as_json else f"Took back {given['take_back']}.")
            return
        if slab is None:
            raise WrongUse("Say which slab was looked at, as in: grainlog look 12 --butt-check 9in")
        names = _kept(opened, slab, given)
    click.echo(json.dumps({"slab": tag_of(slab), "kept": names}) if as_json else f"Kept {', '.join(names)} for slab {tag_of(slab)}.")


def _kept(opened: Yard, slab: int, given: dict) -> list[str]:
    """Keep all that was given; returns the entries' names."""
    from grainlog.checks.history import HandLook
    from grainlog.drying.finish import Warp
    from grainlog.yard.readings import WarpEntry

    day, note = given["day"] or date.today(), given["note"]
    looks = [HandLook(slab, day, end, length_mm=given[f"{end}_check"], note=note) for end in ("butt", "top")
             if given[f"{end}_check"] is not None]  # fmt: skip
    looks += [HandLook(slab, day, check=_known(opened, slab, name), length_mm=length, note=note) for name, length in given["tape"]]
    for option, on in (("wax", True), ("wax_off", False)):
        ends = {"both": ("butt", "top")}.get(given[option], (given[option],))
        looks += [HandLook(slab, day, end, wax=on, note=note) for end in ends if end]
    bark = {edge: given[f"{edge}_bark"] for edge in ("left", "right") if given[f"{edge}_bark"]}
    if bark:
        looks.append(HandLook(slab, day, bark=bark, note=note))
    warp = Warp(given["cup"], None, given["twist"])
    if not looks and not warp.read:
        raise WrongUse("Nothing was seen; give --butt-check, --top-check, --tape, --wax, --left-bark, --right-bark, --cup or --twist.")
    names = list(opened.checks.hand.add(looks)) if looks else []
    if warp.read:
        names += opened.drying.readings.add([WarpEntry(slab, day, warp, note)], date.today()).names
    return names


def _known(opened: Yard, slab: int, name: str) -> str:
    """The name of a check of this slab. Raises WrongUse where it has none such."""
    names = {one.name for seen in opened.checks.slab(slab).looks for one in seen.sightings}
    if name.upper() not in names:
        has = f"it has {', '.join(sorted(names))}" if names else "no photo of it showed any"
        raise WrongUse(f"Slab {tag_of(slab)} has no check {name}; {has}.")
    return name.upper()


def _write(file: Path, data: bytes) -> None:
    try:
        file.write_bytes(data)
    except OSError as error:
        raise WrongUse(f"The picture could not be written to {file} ({error.strerror}).") from error
