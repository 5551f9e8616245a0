"""Where a slab stands and what happened to it, in words: for the command line and the page alike."""

from datetime import date

from grainlog.yard.life_changes import Change
from grainlog.yard.life_state import Life


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
