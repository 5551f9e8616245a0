"""How the drying of a slab is written: for people, and as plain data."""

from typing import Any

import click

from grainlog.cli.drying_options import plain
from grainlog.cli.tables import print_table
from grainlog.cli.yard_answers import written
from grainlog.drying import format_moisture
from grainlog.drying.forecast import Forecast
from grainlog.units import Quantity, format_length
from grainlog.units.mass import format_mass, format_temperature
from grainlog.yard.drying import SlabDrying
from grainlog.yard.readings import (
    Entry,
    MoistureEntry,
    WeighingEntry,
    day_of,
    name_of,
)
from grainlog.yard.tags import tag_of

READING_HEADINGS = ("reading", "day", "what", "value", "where")


def print_drying(told: SlabDrying, units: str) -> None:
    """One slab's drying for a person: where it is, where it goes, what it will be, and what stands in doubt."""
    entry, seen, out = told.entry, told.assessed, told.outcome
    species = seen.slab.species.name if seen.slab.species else f"{entry.species or 'species not said'} (not known here)"
    click.echo(f"Slab {tag_of(entry.number)}: {species}, number {entry.order} of log {entry.log}")
    _line("moisture now", _known(seen.now.moisture, seen.now.why))
    _line("at its survey", _known(seen.then.moisture, seen.then.why))
    _line("shed's air", f"{format_moisture(seen.air.equilibrium)} {seen.air.why}")
    if seen.forecast is not None:
        _line("forecast", seen.forecast.sentence)
    else:
        _line("forecast", "not from its own readings: three days of readings of one kind are needed")
        for rule in seen.rules:
            _line("", f"{_span(rule.least_days, rule.most_days)}: {rule.standing}")
    click.echo(f"\nAt {format_moisture(seen.target)} (rings: {seen.rings.why})")
    if "size" in out.why:
        _line("sizes", f"not known: {out.why['size']}")
    else:
        for name, figure, kind in (
            ("length", out.length_mm, "length"),
            ("mean width", out.width_mm, "length"),
            ("thickness", out.thickness_mm, "length"),
            ("board feet", out.board_feet, "board_feet"),
        ):
            _line(name, written(figure, units, kind))
        _print_finished(told, units)
    _print_weight(told, units)
    if told.entries:
        click.echo("")
        print_table(READING_HEADINGS, [reading_cells(one, units) for one in told.entries])
    for check in told.photo_checks:
        click.echo(f"! {check.message}" if not check.agree else check.message)
    for note in seen.notes:
        click.echo(f"! {note.message}")


def _print_finished(told: SlabDrying, units: str) -> None:
    done = told.outcome.finished
    if done is None:
        _line("finishes at", f"not known: {told.outcome.why.get('finished', '')}")
        return
    if done.board_feet is None:
        _line("finishes at", "nothing is left after flattening and trimming")
    else:
        sizes = " x ".join(written(one, units) for one in (done.thickness_mm, done.width_mm, done.length_mm))
        _line("finishes at", f"{sizes}, {written(done.board_feet, units, 'board_feet')}")
    for assumed in done.assumed:
        _line("", assumed)


def _print_weight(told: SlabDrying, units: str) -> None:
    out = told.outcome
    now = out.why.get("weight now") or out.why.get("weight", "")
    _line("weight now", f"{format_mass(out.now_kg, units)}, bark included" if out.now_kg else f"not known: {now}")
    if out.green_kg:
        _line("weight green", f"{format_mass(out.green_kg, units)}, bark included: the most it weighs")
    _line("weight dry", format_mass(out.dry_kg, units) if out.dry_kg else f"not known: {out.why.get('weight', '')}")
    if out.caution is not None:
        click.echo(f"! {out.caution.message}" if out.caution.level else out.caution.message)
    elif out.now_kg is None:
        click.echo("! Its weight is not known, so take it to be too heavy for two people until you have weighed one like it.")


def _line(name: str, text: str) -> None:
    click.echo(f"{name:>14}  {text}")


def _known(moisture: Quantity | None, why: str) -> str:
    return f"not known: {why}" if moisture is None else f"{format_moisture(moisture)}, {why}"


def _span(least: float, most: float) -> str:
    return f"{least:.0f} days" if round(least) == round(most) else f"{least:.0f} to {most:.0f} days from sawing"


def reading_cells(entry: Entry, units: str) -> tuple[str, ...]:
    """One reading in the order of `READING_HEADINGS`."""
    name, day = name_of(entry), day_of(entry).isoformat()
    if isinstance(entry, WeighingEntry):
        return name, day, "weight", format_mass(entry.weighing.quantity, units), entry.note
    if isinstance(entry, MoistureEntry):
        one = entry.reading
        what = f"{one.method} {'core' if one.core else ''}".strip()
        deep = "" if one.depth_mm is None else f"{format_length(one.depth_mm, units)} deep"
        warm = "" if one.temperature_c is None else format_temperature(one.temperature_c, units)
        where = ", ".join(part for part in (deep, one.place, warm, entry.note) if part)
        return name, day, what, format_moisture(one.quantity), where
    warp = entry.warp
    parts = (("cup", warp.cup_mm), ("bow", warp.bow_mm), ("twist", warp.twist_mm))
    said = ", ".join(f"{word} {format_length(mm, units)}" for word, mm in parts if mm is not None)
    return name, day, "warp", said, entry.note


def drying_data(told: SlabDrying) -> dict[str, Any]:
    """One slab's drying as plain data: lengths mm, masses kg, moistures fractions."""
    seen = told.assessed
    return {
        "slab": told.entry.number,
        "tag": tag_of(told.entry.number),
        "log": told.entry.log,
        "species": seen.slab.species.name if seen.slab.species else None,
        "target": seen.target,
        "moisture_now": plain(seen.now),
        "moisture_at_survey": plain(seen.then),
        "air": plain(seen.air),
        "rings": plain(seen.rings),
        "factors": plain(seen.factors),
        "forecast": forecast_data(seen.forecast),
        "rules": plain(seen.rules),
        "at_target": plain(told.outcome),
        "outline_at_target_mm": None if told.outline_mm is None else told.outline_mm.round(2).tolist(),
        "readings": [{"name": name_of(one)} | plain(one) for one in told.entries],
        "photo_checks": plain(told.photo_checks),
        "warnings": plain(seen.notes),
    }


def forecast_data(forecast: Forecast | None) -> dict[str, Any] | None:
    """A forecast as plain data."""
    return None if forecast is None else plain(forecast) | {"sentence": forecast.sentence}
