"""Tables: aligned on a terminal, tab-separated lines for a pipe, CSV for a spreadsheet; and tags as an argument."""

import csv
import io
import sys
from collections.abc import Sequence
from typing import Any

import click
from rich.console import Console
from rich.table import Table

from grainlog.errors import WrongUse
from grainlog.yard.tags import number_of


class Tag(click.ParamType):
    """What stands on a slab: 12, or 12A for a piece."""

    name = "slab"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """The slab's number."""
        if isinstance(value, int):
            return value
        try:
            return number_of(value)
        except WrongUse as wrong:
            self.fail(str(wrong), param, ctx)


TAG = Tag()

csv_option = click.option("--csv", "as_csv", is_flag=True, help="Print CSV.")


def print_csv(headings: Sequence[str], rows: Sequence[Sequence[Any]]) -> None:
    """Rows as CSV (RFC 4180) with a heading."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(headings)
    writer.writerows(rows)
    click.echo(out.getvalue(), nl=False)


def print_table(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """A table on a terminal, tab-separated lines elsewhere."""
    if not sys.stdout.isatty():
        for line in (headings, *rows):
            click.echo("\t".join(cell.replace("\t", " ").replace("\n", "; ") for cell in line))
        return
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    for heading in headings:
        table.add_column(heading)
    for row in rows:
        table.add_row(*row)
    # Names are data: a bracket in one must not be taken for a style.
    Console(markup=False, highlight=False, emoji=False).print(table)
