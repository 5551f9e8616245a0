"""Progress for people: on a terminal, to stderr, gone when the work is done."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rich.console import Console
from rich.progress import (
    BarColumn,
    MofNCompleteColumn,
    Progress,
    TextColumn,
    TimeElapsedColumn,
)


@contextmanager
def watching(title: str) -> Iterator[Callable[[str], None]]:
    """A line that names the step at hand."""
    console = Console(stderr=True)
    if not sys.stderr.isatty():
        yield lambda step: None
        return
    with console.status(title) as status:
        yield lambda step: status.update(f"{title}: {step}")


@contextmanager
def counting(title: str, total: int) -> Iterator[Callable[[], None]]:
    """A bar that moves one on at each call."""
    if not sys.stderr.isatty():
        yield lambda: None
        return
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(title, total=total)
        yield lambda: bar.advance(task)
