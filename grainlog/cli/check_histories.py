"""How the checks of a slab over time are written: tables for people, rows for CSV, plain data for JSON."""

import math
from typing import Any

import click

from grainlog.checks.follow import Change, Sighting
from grainlog.checks.history import TAPE_U_MM, CheckHistory, FaceLook, HandLook
from grainlog.checks.telling import growth_text
from grainlog.cli.tables import print_table
from grainlog.units import Quantity, format_quantity

HISTORY_HEADINGS = (
    "check", "kind", "end", "face", "day", "survey", "state", "length_mm", "length_u_mm", "max_width_mm", "max_width_u_mm",
    "widest_ever_mm", "growth_mm", "growth_u_mm", "per_week_mm", "per_week_u_mm", "from_butt_mm", "why",
)  # fmt: skip
RUNNING_HEADINGS = ("slab", "check", "where", "face", "grew", "a week", "from", "to")
_TODAY = ("check", "where", "length", "widest", "since before", "grew", "a week")


def history_rows(history: CheckHistory) -> list[list]:
    """Rows under HISTORY_HEADINGS: every look at every check, and what was read by tape."""
    rows = [_row(look, one) for look in history.looks for one in look.sightings]
    for hand in history.hand:
        if hand.length_mm is not None:
            said = [hand.check or "", "", hand.end or "", "", hand.day.isoformat(), "", "by tape", round(hand.length_mm, 1), TAPE_U_MM]
            rows.append(said + [""] * (len(HISTORY_HEADINGS) - len(said)))
    return rows


def _row(look: FaceLook, one: Sighting) -> list:
    check, change = one.check, one.change
    size = [check.length, check.length_u, check.max_width, check.max_width_u] if check else [None] * 4
    grown = [change.growth_mm, change.growth_u_mm, change.per_week_mm, change.per_week_u_mm]
    return [
        one.name, check.kind if check else "", (check.end if check else None) or "", look.face or "", look.day.isoformat(), look.survey,
        change.state, *map(_hundredths, [*size, one.widest_mm, *grown, check and _from_butt(check)]), change.why,
    ]  # fmt: skip


def _hundredths(value: float | None) -> float | str:
    return "" if value is None else round(value, 2)


def _from_butt(check) -> float:
    return max(float(check.path[:, 0].min()), 0.0)


def print_history(history: CheckHistory, units: str, all_dates: bool = False) -> None:
    """A slab's checks for a person: what the newest photos show, what changed, what should be known."""
    looks = history.looks if all_dates else history.newest()
    if not looks and not history.hand:
        click.echo(f"Slab {history.tag} has no photo of its own in which checks were looked for.")
    for look in looks:
        face = f", {look.face} side" if look.face else ""
        smallest = "" if look.least_mm is None else f"; checks are seen from about {_plain(look.least_mm, 'mm')} wide"
        click.echo(f"Slab {history.tag}{face}, photo of {look.day}{smallest}")
        if look.sightings:
            print_table(_TODAY, [_cells(one, units) for one in sorted(look.sightings, key=_by_length)])
        else:
            click.echo("No check is seen." if look.counts else f"Not matched: {look.why}")
    for hand in history.hand:
        click.echo(f"By hand, {hand.day}: {hand_text(hand, units)}")
    for notice in history.notices:
        click.echo(f"! {notice.message}")
    for look in history.looks:
        if look.code in ("another-slab", "too-little-figure"):
            click.echo(f"If it shows another slab, move it: grainlog misfiled {look.survey} --to SLAB")
    for sentence in history.advice:
        click.echo(sentence)


def _by_length(one: Sighting) -> tuple:
    return (one.check is None, -one.check.length if one.check else 0.0)


def _cells(one: Sighting, units: str) -> tuple[str, ...]:
    check, change = one.check, one.change
    since = change.state + (f": {change.why}" if change.why else "")
    if check is None:
        return (one.name, "", "", f"once {_sure(one.widest_mm, one.widest_u_mm, units)}", since, "", "")
    where = f"{check.end} end" if check.end else f"{_plain(_from_butt(check), units)} from the butt end"
    width = _sure(check.max_width, check.max_width_u, units)
    if one.widest_mm > check.max_width + 2 * math.hypot(check.max_width_u, one.widest_u_mm):
        width += f", once {_plain(one.widest_mm, units)}"
    grew = growth_text(change.growth_mm, change.growth_u_mm, units) if change.state == "grown" else ""
    fast = change.state == "grown" and change.per_week_mm is not None
    a_week = growth_text(change.per_week_mm, change.per_week_u_mm, units) if fast else ""
    return (one.name, where, _sure(check.length, check.length_u, units), width, since, grew, a_week)


def hand_text(hand: HandLook, units: str) -> str:
    """A look by hand in words, with its name."""
    said = []
    if hand.length_mm is not None:
        which = hand.check or f"longest check of the {hand.end} end"
        said.append(f"{which} {_sure(hand.length_mm, TAPE_U_MM, units)} by tape")
    if hand.wax is not None:
        said.append(f"wax of the {hand.end} end {'on' if hand.wax else 'off'}" if hand.end else f"wax {'on' if hand.wax else 'off'}")
    said += [f"{edge} bark {state}" for edge, state in hand.bark.items()]
    return "; ".join(said) + (f"; {hand.note}" if hand.note else "") + (f" (k{hand.id})" if hand.id is not None else "")


def running_rows(history: CheckHistory, units: str) -> list[tuple[str, ...]]:
    """Rows under RUNNING_HEADINGS of one slab."""
    return [
        (
            history.tag, one.name, f"{one.end} end" if one.end else "on the face", one.face or "not said",
            growth_text(one.change.growth_mm, one.change.growth_u_mm, units),
            growth_text(one.change.per_week_mm, one.change.per_week_u_mm, units), one.since.isoformat(), one.until.isoformat(),
        )
        for one in history.running
    ]  # fmt: skip


def _sure(value: float, u: float, units: str) -> str:
    return format_quantity(Quantity(value, u), units)


def _plain(value: float, units: str) -> str:
    return format_quantity(Quantity(value, 0.0), units)


def running_data(history: CheckHistory) -> dict[str, Any]:
    """One slab with its running checks as plain data."""
    return {
        "slab": history.number,
        "tag": history.tag,
        "running": [
            {"check": one.name, "kind": one.kind, "end": one.end, "face": one.face, "since": one.since.isoformat(),
             "until": one.until.isoformat(), **_change_data(one.change)}
            for one in history.running
        ],
        "notices": _notes_data(history.notices),
    }  # fmt: skip


def history_data(history: CheckHistory) -> dict[str, Any]:
    """A slab's checks over time as plain data; lengths in mm, paths in each survey's own slab frame."""
    return running_data(history) | {
        "looks": [_look_data(look) for look in history.looks],
        "by_hand": [
            {"name": f"k{hand.id}", "day": hand.day.isoformat(), "end": hand.end, "check": hand.check, "length_mm": hand.length_mm,
             "wax": hand.wax, "bark": hand.bark, "note": hand.note}
            for hand in history.hand
        ],
        "advice": list(history.advice),
    }  # fmt: skip


def _notes_data(notes) -> list[dict[str, str]]:
    return [{"code": note.code, "message": note.message} for note in notes]


def _look_data(look: FaceLook) -> dict[str, Any]:
    return {
        "survey": look.survey,
        "day": look.day.isoformat(),
        "face": look.face,
        "standing": look.standing,
        "code": look.code,
        "why": look.why,
        "notes": _notes_data(look.notes),
        "shrinkage": None if look.shrinkage is None else {"value": look.shrinkage.value, "u": look.shrinkage.u},
        "residual_mm": look.residual_mm,
        "smallest_claimed_mm": look.least_mm,
        "bark": look.bark,
        "to_first": look.to_first.tolist(),
        "checks": [_sighting_data(one) for one in look.sightings],
    }


def _sighting_data(one: Sighting) -> dict[str, Any]:
    check = one.check
    seen = None if check is None else {
        "kind": check.kind, "end": check.end, "length_mm": check.length, "length_u_mm": check.length_u,
        "max_width_mm": check.max_width, "max_width_u_mm": check.max_width_u, "path_mm": check.path.tolist(),
    }  # fmt: skip
    widest = {"widest_ever_mm": one.widest_mm, "widest_ever_u_mm": one.widest_u_mm}
    return {"name": one.name, "seen": seen, **widest, **_change_data(one.change)}


def _change_data(change: Change) -> dict[str, Any]:
    names = ("growth_mm", "growth_u_mm", "per_week_mm", "per_week_u_mm", "widening_mm", "widening_u_mm", "days")
    told = {name: getattr(change, name) for name in names}
    return {"state": change.state, "why": change.why, "joined": change.into, **told}
