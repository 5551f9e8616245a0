"""Kinds of values and options that several commands share."""

from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import click

from grainlog.errors import WrongUse
from grainlog.units import parse_area, parse_board_feet, parse_length, parse_thickness


class Size(click.ParamType):
    """A length, area or amount as a person writes it."""

    def __init__(self, name: str, parse: Callable[[str], float]):
        self.name = name
        self._parse = parse

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The value in mm, mm2 or board feet."""
        if isinstance(value, float):
            return value
        try:
            return self._parse(value)
        except WrongUse as wrong:
            self.fail(str(wrong), param, ctx)


class Day(click.ParamType):
    """A day such as 2025-03-04."""

    name = "day"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> date:
        """The day as a date."""
        if isinstance(value, date):
            return value
        try:
            return datetime.strptime(value, "%Y-%m-%d").date()
        except ValueError:
            self.fail(f"'{value}' is not a day; write it like 2025-03-04.", param, ctx)


class Sheet(click.ParamType):
    """A sheet of paper by its name, or the size of a rectangle."""

    name = "size"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The rectangle."""
        from grainlog.scale.rectangle import (
            read_rectangle,  # the scale room is slow to load, and few commands need it
        )

        try:
            return read_rectangle(value) if isinstance(value, str) else value
        except WrongUse as wrong:
            self.fail(str(wrong), param, ctx)


class Points(click.ParamType):
    """Points in photo pixels: 'x,y x,y'."""

    name = "points"

    def __init__(self, count: int):
        self.count = count

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """(count, 2) tuple of x and y."""
        if not isinstance(value, str):
            return value
        try:
            points = tuple(tuple(float(part) for part in pair.split(",")) for pair in value.split())
        except ValueError:
            points = ()
        if len(points) != self.count or any(len(pair) != 2 for pair in points):
            some = "a point" if self.count == 1 else f"{self.count} points"
            self.fail(f"'{value}' is not {some} in photo pixels; write it like '{' '.join(['120,80', '960.5,75'][: self.count])}'.", param, ctx)
        return points


SHEET = Sheet()
LENGTH, THICKNESS = Size("length", parse_length), Size("length", parse_thickness)
LIFT = Size("length", lambda text: parse_length(text, allow_zero=True))
AREA, BOARD_FEET, DAY = Size("area", parse_area), Size("board feet", parse_board_feet), Day()

yard_option = click.option(
    "--yard", type=click.Path(path_type=Path), default=Path("."), envvar="GRAINLOG_YARD", metavar="FOLDER",
    help="The yard's folder; if left out, what GRAINLOG_YARD names, else the folder you are in.",
)  # fmt: skip
units_option = click.option(
    "--units", type=click.Choice(["in", "mm"]), default="in", show_default=True,
    help="Inches and feet, or millimetres.",
)  # fmt: skip
json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON; lengths in mm, areas in mm2.")
