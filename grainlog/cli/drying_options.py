"""Kinds of values and small things that the drying commands share."""

import dataclasses
import math
import re
from collections.abc import Callable, Sequence
from datetime import date, datetime
from typing import Any

import click

from grainlog.cli.options import Size
from grainlog.drying.moisture import parse_moisture
from grainlog.errors import GrainlogError, WrongUse
from grainlog.units import parse_length
from grainlog.units.mass import parse_mass, parse_temperature


def _parse_humidity(text: str) -> float:
    found = re.fullmatch(r"\s*([0-9]+(?:[.,][0-9]+)?)\s*%?\s*", text)
    percent = float(found.group(1).replace(",", ".")) if found else math.nan
    if not 1 <= percent <= 100:
        raise WrongUse(f"'{text}' is not a relative humidity; write percent between 1 and 100, as in 65%.")
    return percent / 100


MOISTURE, MASS = Size("percent", parse_moisture), Size("weight", parse_mass)
TEMPERATURE, HUMIDITY = Size("temperature", parse_temperature), Size("percent", _parse_humidity)
SPOT = Size("length", lambda text: parse_length(text, allow_zero=True))


def target_option(what: str) -> Callable:
    """`--to`, a target moisture."""
    return click.option("--to", "target", type=MOISTURE, metavar="PERCENT", help=what)


class SomeProblems(GrainlogError):
    """A file had rows that were not understood, and nothing of it was kept."""


def show_problems(problems: Sequence[str], name: str, keep_good: bool) -> None:
    """Tell what was not understood. Raises SomeProblems unless the person said that the good rows are to be kept."""
    for problem in problems[:20]:
        click.echo(f"{name}, {problem}", err=True)
    if len(problems) > 20:
        click.echo(f"{name}: and {len(problems) - 20} more like these.", err=True)
    if problems and not keep_good:
        rows = "1 row was" if len(problems) == 1 else f"{len(problems)} rows were"
        raise SomeProblems(
            f"Nothing of {name} was kept, because {rows} not understood; correct it, or say --keep-good to keep the others."
        )


def plain(value: Any) -> Any:
    """Plain data for JSON: dataclasses as dicts, days as text; arrays are left out."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = {one.name: getattr(value, one.name) for one in dataclasses.fields(value)}
        return {name: plain(one) for name, one in fields.items() if not hasattr(one, "dtype")}
    if isinstance(value, (date, datetime)):
        return value.isoformat()
    if isinstance(value, (list, tuple)):
        return [plain(one) for one in value]
    if hasattr(value, "items"):
        return {str(name): plain(one) for name, one in value.items()}
    return value
