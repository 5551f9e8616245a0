"""`grainlog species`, `shed` and `allowances`: the woods, the air, and what is taken off."""

import json
from datetime import date, datetime, time
from pathlib import Path

import click

from grainlog.cli.drying_options import (
    HUMIDITY,
    MOISTURE,
    SPOT,
    TEMPERATURE,
    plain,
    show_problems,
)
from grainlog.cli.options import DAY, json_option, units_option, yard_option
from grainlog.cli.tables import print_table
from grainlog.drying import Species, emc, format_moisture, species_table
from grainlog.drying.climate import AirLine
from grainlog.drying.errors import DryingError
from grainlog.drying.logger_file import read_logger
from grainlog.drying.species import VALUES
from grainlog.errors import WrongUse
from grainlog.units import format_length
from grainlog.units.mass import format_temperature
from grainlog.yard import Yard
from grainlog.yard.keeping import DATABASE

#: Names of the values on the command line; gravities are plain numbers, all others percent.
_WORDS = {name.replace("_", "-"): name for name in VALUES}


@click.command()
@click.argument("name", required=False)
@click.option("--set", "given", multiple=True, metavar="VALUE=NUMBER",
              help=f"A value of your own, as in radial=4.2 (percent; gravity as a number): {', '.join(_WORDS)}.")  # fmt: skip
@click.option("--like", metavar="SPECIES", help="Take what you do not give from this species of the table.")
@click.option("--source", default="", help="Where you have it from.")
@yard_option
@json_option
def species(name: str | None, given: tuple[str, ...], like: str | None, source: str, yard: Path, as_json: bool) -> None:
    """List the woods, show one with the source of each value, or keep values of your own in the yard.

    A name can stand either way round ("white oak", "Oak, white"). A word that several woods share ("elm") gives their mean,
    less sure by the spread between them.
    """
    if given or like:
        if name is None:
            raise WrongUse("Name the species whose values you give.")
        values = dict(_value(one) for one in given)
        with Yard.open(yard) as opened:
            shown = [opened.drying.wood.set_species(name, values, source or (f"like {like}" if like else ""), like)]
    else:
        own: list[Species] = []
        if (yard / DATABASE).is_file():
            with Yard.open(yard) as opened:
                own = opened.drying.wood.own_species()
        shown = [_found(name, own)] if name else [*own, *species_table()]
    if as_json:
        click.echo(json.dumps(plain(shown if name is None else shown[0])))
    elif name is not None:
        _print_species(shown[0])
    else:
        print_table(
            ("species", "botanical", "radial", "tangential", "gravity green", "green moisture"),
            [
                (one.name, one.botanical or "", _percent(one.radial, 1), _percent(one.tangential, 1),
                 "not known" if one.gravity_green is None else f"{one.gravity_green:.2f}", _percent(one.green_wood, 0))
                for one in shown
            ],
        )  # fmt: skip


def _found(name: str, own: list[Species]) -> Species:
    from grainlog.drying import find_species

    return find_species(name, own)


def _value(text: str) -> tuple[str, float]:
    word, sign, number = text.partition("=")
    key = _WORDS.get(word.strip().lower().replace("_", "-"))
    if not sign or key is None:
        raise WrongUse(f"'{text}' is no value of a species; write for example radial=4.2. Values: {', '.join(_WORDS)}.")
    try:
        value = float(number.replace(",", ".").rstrip("% "))
    except ValueError as error:
        raise WrongUse(f"'{number}' is not a number; write for example {word}=4.2.") from error
    return key, value if key.startswith("gravity") else value / 100


def _print_species(one: Species) -> None:
    click.echo(f"{one.name}" + (f" ({one.botanical})" if one.botanical else ""))
    for word, key in _WORDS.items():
        value = getattr(one, key)
        figure = "not known" if value is None else f"{value:.2f}" if key.startswith("gravity") else _percent(value, 1)
        click.echo(f"{word:>16}  {figure:>9}  {one.sources.get(key, '')}")
    spread = f"spread between trees: shrinkage {100 * one.shrinkage_spread:.0f} %, gravity {100 * one.gravity_spread:.0f} %"
    click.echo(f"{spread} of the value, one standard uncertainty (Wood Handbook, from memory)")
    if one.note:
        click.echo(f"note: {one.note}")


def _percent(value: float | None, digits: int) -> str:
    return "not known" if value is None else f"{100 * value:.{digits}f} %"


@click.command()
@click.option("--temperature", type=TEMPERATURE, metavar="TEMPERATURE", help="As in 12C or 54F.")
@click.option("--humidity", type=HUMIDITY, metavar="PERCENT", help="Relative humidity, as in 65%.")
@click.option("--on", "day", type=DAY, metavar="DAY", help="The day you looked; today if left out.")
@click.option("--file", "file", type=click.Path(path_type=Path, exists=True, dir_okay=False), help="A logger's CSV file.")
@click.option("--fahrenheit", is_flag=True, help="The file is in Fahrenheit and does not say so.")
@click.option("--day-first/--month-first", default=None, help="How 3/4/2026 is meant in the file.")
@click.option("--keep-good", is_flag=True, help="Keep the good rows of a file even where others are not understood.")
@yard_option
@units_option
@json_option
def shed(
    temperature: float | None, humidity: float | None, day: date | None, file: Path | None, fahrenheit: bool,
    day_first: bool | None, keep_good: bool, yard: Path, units: str, as_json: bool,
) -> None:  # fmt: skip
    """Tell the yard how warm and damp its shed is, by hand or from a logger, or show what wood comes to in it."""
    if (temperature is None) != (humidity is None):
        raise WrongUse("Temperature and humidity go together: give both.")
    with Yard.open(yard) as opened:
        book = opened.drying.shed
        if file is not None:
            found = read_logger(file.read_bytes(), file.name, datetime.now(), fahrenheit, day_first)
            show_problems(found.problems, file.name, keep_good)
            kept = book.add_logger(found.days, file.name)
            if not as_json:
                click.echo(f"Read {found.rows} rows of {file.name}: {kept.new} days are new, {kept.already} were there already.")
                for remark in found.remarks:
                    click.echo(f"! {remark}")
        elif temperature is not None and humidity is not None:
            today = date.today()
            book.look(AirLine(datetime.combine(day or today, time(12)), temperature, humidity), today)
            if not as_json:
                _print_look(temperature, humidity, units)
        days, air = book.days(), book.air()
    if as_json:
        click.echo(json.dumps({"air": plain(air), "days": plain(days)}))
        return
    outside = sum(one.emc is None for one in days)
    click.echo(f"Wood comes to {format_moisture(air.equilibrium)} in this shed, {air.why}.")
    if outside:
        click.echo(f"{outside} days lay outside the handbook's table (below 30 F, or outside 5 to 95 % humidity) and do not count.")


def _print_look(temperature: float, humidity: float, units: str) -> None:
    where = f"At {format_temperature(temperature, units)} and {100 * humidity:.0f} % humidity wood comes to"
    try:
        click.echo(f"{where} {format_moisture(emc(temperature, humidity), 1)}.")
    except DryingError as error:
        click.echo(f"{where} what is not known here: {error}")


@click.command()
@click.option("--dry", type=MOISTURE, metavar="PERCENT", help="The moisture that dry means in this yard.")
@click.option("--trim-end", type=SPOT, metavar="LENGTH", help="Cut off each end.")
@click.option("--trim-edge", type=SPOT, metavar="LENGTH", help="Taken off each edge.")
@click.option("--skim", type=SPOT, metavar="LENGTH", help="Planed off each face once it is flat.")
@click.option("--unread-warp", type=SPOT, metavar="LENGTH", help="Taken off for cup, bow and twist while nobody read them.")
@yard_option
@units_option
@json_option
def allowances(
    dry: float | None, trim_end: float | None, trim_edge: float | None, skim: float | None, unread_warp: float | None,
    yard: Path, units: str, as_json: bool,
) -> None:  # fmt: skip
    """Show or set what is taken off on the way from dry slab to finished one, and what dry means."""
    with Yard.open(yard) as opened:
        wood = opened.drying.wood
        changed = wood.allowances.changed(
            trim_each_end_mm=trim_end, trim_each_edge_mm=trim_edge, skim_each_face_mm=skim, unread_warp_mm=unread_warp
        )
        if changed != wood.allowances:
            wood.set_allowances(changed)
        if dry is not None:
            wood.set_target(dry)
        target = wood.target
    if as_json:
        click.echo(json.dumps(plain(changed) | {"dry": target}))
        return
    click.echo(f"{'dry':>14}  {format_moisture(target)}")
    for name, mm in (
        ("each end", changed.trim_each_end_mm),
        ("each edge", changed.trim_each_edge_mm),
        ("each face", changed.skim_each_face_mm),
        ("unread warp", changed.unread_warp_mm),
    ):
        click.echo(f"{name:>14}  {format_length(mm, units)}")
    click.echo("These are common practice without a source until you say your own.")
