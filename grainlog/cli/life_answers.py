"""How the yard's life is written: where a slab stands and lies, what happened to it, what lies above it."""

from typing import Any

import click

from grainlog.yard.life_changes import Change
from grainlog.yard.life_state import FIELDS, Life
from grainlog.yard.life_words import change_text
from grainlog.yard.tags import tag_of


def life_data(number: int, life: Life) -> dict[str, Any]:
    """Where a slab stands as plain data."""
    told = {name: getattr(life, name) for name in FIELDS}
    told["until"] = life.until and life.until.isoformat()
    return {"slab": tag_of(number), **told, "present": life.present}


def change_data(change: Change) -> dict[str, Any]:
    """A change as plain data."""
    return {"day": change.day.isoformat(), "what": change.what, **dict(change.value), "note": change.note,
            "entered_at": change.entered_at}  # fmt: skip


def print_history(changes: tuple[Change, ...]) -> None:
    """Changes line by line, the oldest first."""
    for change in changes:
        text = change_text(change)
        click.echo(f"{change.day}  {change.what}{': ' + text if text else ''}")
