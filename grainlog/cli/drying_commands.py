"""`grainlog drying`, `ready`, `sawn` and `insects`: where slabs stand in drying, and what they will be."""

import csv
import json
import sys
from datetime import date
from pathlib import Path

import click

from grainlog.cli.drying_answers import drying_data, forecast_data, print_drying
from grainlog.cli.drying_options import SPOT, plain, target_option
from grainlog.cli.options import DAY, json_option, units_option, yard_option
from grainlog.cli.tables import TAG, csv_option, print_table
from grainlog.drying import format_moisture
from grainlog.drying.assess import Assessed
from grainlog.drying.heat import FACTS
from grainlog.drying.progress import DUE_DAYS, Progress, progress
from grainlog.errors import WrongUse
from grainlog.yard import SlabQuery, SlabRow, Yard
from grainlog.yard.drying_words import READING_HEADINGS, reading_cells
from grainlog.yard.tags import tag_of


@click.command()
@click.argument("slab", type=TAG)
@target_option("What dry means this time; the yard's own target if left out.")
@click.option("--picture", type=click.Path(path_type=Path, dir_okay=False), help="Draw the drying into a PNG or SVG file.")
@yard_option
@units_option
@json_option
@csv_option
def drying(
    slab: int, target: float | None, picture: Path | None, yard: Path, units: str, as_json: bool, as_csv: bool
) -> None:
    """Show how dry slab SLAB is, when it will be dry, and what it will be then: sizes, weight, what it finishes at.

    With --csv only its readings are printed.
    """
    with Yard.open(yard) as opened:
        told = opened.drying.slab(slab, target)
    if picture is not None:
        # matplotlib is slow to load.
        from grainlog.picture.drying_plot import draw_drying

        entry = told.entry
        title = f"Slab {tag_of(entry.number)}, {entry.species or 'species not said'}, number {entry.order} of log {entry.log}"
        drawn = draw_drying(told.assessed, title, picture.suffix.lstrip(".").lower())
        try:
            picture.write_bytes(drawn)
        except OSError as error:
            raise WrongUse(f"The picture could not be written to {picture} ({error.strerror}).") from error
    if as_json:
        click.echo(json.dumps(drying_data(told) | {"picture": None if picture is None else str(picture)}))
        return
    if as_csv:
        writer = csv.writer(sys.stdout)
        writer.writerow(READING_HEADINGS)
        writer.writerows(reading_cells(one, units) for one in told.entries)
        return
    print_drying(told, units)
    if picture is not None:
        click.echo(f"Drew {picture}.")


_HEADINGS = ("slab", "species", "log", "order", "moisture", "read on", "core", "forecast", "state", "why")


@click.command()
@target_option("What dry means this time; the yard's own target if left out.")
@click.option("--only", type=click.Choice(["ready", "due", "behind"]), help="Only slabs that are so.")
@click.option(
    "--due-after", type=click.IntRange(1), default=DUE_DAYS, show_default=True, metavar="DAYS",
    help="Days without a survey or a reading after which a slab is due for a look.",
)  # fmt: skip
@click.option("--log", help="Part of the log's name.")
@yard_option
@units_option
@json_option
@csv_option
def ready(
    target: float | None, only: str | None, due_after: int, log: str | None, yard: Path, units: str, as_json: bool, as_csv: bool
) -> None:
    """List which slabs are ready to use, due for a look, or behind, and how dry each is.

    A slab is ready when its core was read at or below the target; a reading near the surface never says that.
    """
    with Yard.open(yard) as opened:
        aim = opened.drying.wood.target if target is None else target
        told = [
            (row, seen, progress(seen, due_after)) for row, seen in opened.drying.all(SlabQuery(log=log), target)
        ]
    told = [one for one in told if only is None or getattr(one[2], only)]
    if as_json:
        click.echo(json.dumps([_data(*one) for one in told]))
    elif as_csv:
        writer = csv.writer(sys.stdout)
        writer.writerow(_HEADINGS)
        writer.writerows(_cells(*one) for one in told)
    elif told:
        _print([_cells(*one) for one in told])
        click.echo(f"Dry means {format_moisture(aim)} here; --to says otherwise for once, 'grainlog allowances' for good.", err=True)
    else:
        click.echo("No slab in the yard is so." if only or log else "The yard holds no slab yet.", err=True)


def _cells(row: SlabRow, seen: Assessed, where: Progress) -> tuple[str, ...]:
    now = seen.now.moisture
    forecast = seen.forecast
    day = "no curve" if forecast is None else "not in this air" if forecast.day is None else f"{forecast.day}"
    late = "" if forecast is None or forecast.day is None else f" (to {forecast.late or 'never'})"
    core = seen.core
    return (
        row.tag, row.species or "not said", row.log, str(row.order),
        "not known" if now is None else format_moisture(now),
        seen.readings[-1].day.isoformat() if seen.readings else "never",
        "not read" if core is None else format_moisture(core.quantity),
        day + late, _state(where), "; ".join(where.why),
    )  # fmt: skip


def _print(rows: list[tuple[str, ...]]) -> None:
    """One line a slab in a pipe; on a terminal fewer columns, with the rest below."""
    if not sys.stdout.isatty():
        print_table(_HEADINGS, rows)
        return
    print_table(
        ("slab", "species, log", "moisture", "core", "forecast", "state"),
        [
            (tag, f"{species}\n{log}, {order}", f"{now}\n{day}", core, forecast.replace(" (", "\n("), f"{state}\n{why}")
            for tag, species, log, order, now, day, core, forecast, state, why in rows
        ],
    )


def _state(where: Progress) -> str:
    words = [word for word, so in (("ready", where.ready), ("behind", where.behind), ("due", where.due)) if so]
    return ", ".join(words) or "drying"


def _data(row: SlabRow, seen: Assessed, where: Progress) -> dict:
    return {
        "slab": row.number,
        "tag": row.tag,
        "log": row.log,
        "order": row.order,
        "species": row.species,
        "target": seen.target,
        "moisture_now": plain(seen.now),
        "core": plain(seen.core),
        "forecast": forecast_data(seen.forecast),
    } | plain(where)


@click.command()
@click.argument("log", required=False)
@click.option("--on", "sawn_on", type=DAY, metavar="DAY", help="The day the log was sawn.")
@click.option("--felled", "felled_on", type=DAY, metavar="DAY", help="The day the tree was felled, or fell.")
@click.option("--pith-in", "pith_order", type=click.IntRange(1), metavar="NUMBER", help="Which slab of the log holds the pith.")
@click.option("--slab", type=TAG, help="A slab of which you say --rings or --pith.")
@click.option("--rings", type=click.Choice(["flat", "between", "quarter"]), help="How the rings stand at its end.")
@click.option("--pith", "pith_mm", type=SPOT, metavar="LENGTH", help="From the middle of its thickness to the pith.")
@yard_option
@units_option
@json_option
def sawn(
    log: str | None, sawn_on: date | None, felled_on: date | None, pith_order: int | None, slab: int | None, rings: str | None,
    pith_mm: float | None, yard: Path, units: str, as_json: bool,
) -> None:  # fmt: skip
    """Say when LOG was sawn and felled and where its pith lies, or how one slab lay in it.

    A slab surveyed within two weeks of sawing is taken as green; with the pith known, width and thickness shrink as they
    should, otherwise both as much as can be.
    """
    of_log, of_slab = (sawn_on, felled_on, pith_order) != (None,) * 3, (rings, pith_mm) != (None, None)
    if (of_log and log is None and slab is None) or (of_slab and slab is None):
        raise WrongUse("Name the log for --on, --felled and --pith-in, and give --slab for --rings and --pith.")
    if not of_log and not of_slab:
        raise WrongUse("Nothing was said; give --on, --felled or --pith-in of a log, or --rings or --pith of a --slab.")
    told = {}
    with Yard.open(yard) as opened:
        wood = opened.drying.wood
        if of_log:
            name = log if log is not None else wood.log_of(slab or 0)
            told |= {"log": name} | plain(wood.set_log(name, date.today(), felled_on, sawn_on, pith_order))
        if of_slab and slab is not None:
            told |= {"slab": tag_of(slab)} | plain(wood.set_slab(slab, rings, pith_mm))
    if as_json:
        click.echo(json.dumps(told))
    else:
        said = ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in told.items() if value is not None)
        click.echo(f"Remembered: {said}.")


@click.command()
@json_option
def insects(as_json: bool) -> None:
    """Facts about heat against insects in wood, each with where it was read; no promise, and no instruction."""
    if as_json:
        click.echo(json.dumps(plain(FACTS)))
        return
    for fact in FACTS:
        click.echo(f"- {fact.text}\n    [{fact.source}]")
