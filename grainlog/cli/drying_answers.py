"""How the drying of a slab is written: for people, and as plain data."""

from typing import Any

import click

from grainlog.cli.drying_options import plain
from grainlog.cli.tables import print_table
from grainlog.drying import format_moisture
from grainlog.drying.forecast import Forecast
from grainlog.yard.drying import SlabDrying
from grainlog.yard.drying_words import (
    READING_HEADINGS,
    dry_lines,
    lifting_caution,
    moisture_lines,
    reading_cells,
    weight_lines,
)
from grainlog.yard.readings import name_of
from grainlog.yard.tags import tag_of


def print_drying(told: SlabDrying, units: str) -> None:
    """One slab's drying for a person: where it is, where it goes, what it will be, and what stands in doubt."""
    entry, seen = told.entry, told.assessed
    species = seen.slab.species.name if seen.slab.species else f"{entry.species or 'species not said'} (not known here)"
    click.echo(f"Slab {tag_of(entry.number)}: {species}, number {entry.order} of log {entry.log}")
    _print_lines(moisture_lines(told))
    click.echo(f"\nAt {format_moisture(seen.target)} (rings: {seen.rings.why})")
    _print_lines([*dry_lines(told, units), *weight_lines(told, units)])
    level, caution = lifting_caution(told)
    if caution:
        click.echo(f"! {caution}" if level else caution)
    if told.entries:
        click.echo("")
        print_table(READING_HEADINGS, [reading_cells(one, units) for one in told.entries])
    for check in told.photo_checks:
        click.echo(f"! {check.message}" if not check.agree else check.message)
    for note in seen.notes:
        click.echo(f"! {note.message}")


def _print_lines(lines: list[tuple[str, str]]) -> None:
    for name, text in lines:
        click.echo(f"{name:>14}  {text}")


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
