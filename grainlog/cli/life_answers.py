"""How the yard's life is written: where a slab stands and lies, what happened to it, what lies above it."""

from datetime import date
from typing import Any

import click

from grainlog.units.mass import format_mass
from grainlog.units.quantity import Quantity
from grainlog.yard.life_changes import Change
from grainlog.yard.life_state import FIELDS, Life
from grainlog.yard.tags import tag_of


def status_text(life: Life, today: date | None = None) -> str:
    """A status in words: "promised to Ann until 2026-10-01", "sold to Bob", "not said"."""
    if life.status is None:
        return "not said"
    said = life.status
    if life.for_whom:
        said += f" to {life.for_whom}"
    if life.until is not None:
        over = life.until < (today or date.today())
        said += f", but only until {life.until}, which is over" if over else f" until {life.until}"
    return said


def place_text(life: Life) -> str:
    """A place in words: "north shed, stack 2, layer 3 from the bottom"."""
    parts = [life.shed, life.stack and f"stack {life.stack}", life.layer and f"layer {life.layer} from the bottom"]
    return ", ".join(part for part in parts if part) or "not said"


def life_lines(life: Life) -> list[tuple[str, str]]:
    """(name, text) of what was said; nothing for what nobody said."""
    lines = [("status", status_text(life))] if life.status else []
    lines += [("place", place_text(life))] if life.shed or life.stack else []
    lines += [("face up", life.face_up)] if life.face_up else []
    lines += [("owner", life.owner)] if life.owner else []
    lines += [("price", f"{life.price:.2f} a board foot")] if life.price is not None else []
    return lines + ([("figure", life.figure)] if life.figure else [])


def life_data(number: int, life: Life) -> dict[str, Any]:
    """Where a slab stands as plain data."""
    told = {name: getattr(life, name) for name in FIELDS}
    told["until"] = life.until and life.until.isoformat()
    return {"slab": tag_of(number), **told, "present": life.present}


def change_data(change: Change) -> dict[str, Any]:
    """A change as plain data."""
    return {"day": change.day.isoformat(), "what": change.what, **dict(change.value), "note": change.note,
            "entered_at": change.entered_at}  # fmt: skip


def change_text(change: Change) -> str:
    """What changed, in words."""
    value = dict(change.value)
    said = []
    if change.what in ("laid down", "restacked", "came down"):
        said.append(place_text(Life().after({key: value.get(key) for key in ("shed", "stack", "layer")})))
    if value.get("for_whom"):
        said.append(f"to {value['for_whom']}")
    if value.get("until"):
        said.append(f"until {value['until']}")
    named = {"face_up": "face up", "stood_at": "stood at", "trimmed_sides": "trimmed sides", "owner": "owner",
             "price": "price", "figure": "figure", "metal": "metal", "status": "status"}  # fmt: skip
    for key, name in named.items():
        # The status is the name of its change already.
        if key in value and not (key == "status" and value[key] in (change.what, None)):
            said.append(f"{name} {'taken back' if value[key] is None else value[key]}")
    return "; ".join([*said, *([change.note] if change.note else [])])


def print_history(changes: tuple[Change, ...]) -> None:
    """Changes line by line, the oldest first."""
    for change in changes:
        text = change_text(change)
        click.echo(f"{change.day}  {change.what}{': ' + text if text else ''}")


def mass_text(mass: Quantity | None, units: str) -> str:
    """A weight, or that it is not known."""
    return "weight not known" if mass is None else format_mass(mass, units)
