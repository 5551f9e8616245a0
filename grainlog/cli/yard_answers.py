"""How the yard's answers are written: tables for people, tab-separated lines for pipes, plain data for JSON."""

import sys
from collections.abc import Mapping, Sequence
from typing import Any

import click
from rich.console import Console
from rich.table import Table

from grainlog.units import Quantity
from grainlog.units import format_if_known as written
from grainlog.yard import Finding, SlabEntry, SlabRow, SurveyEntry
from grainlog.yard.figure_words import check_lines, figure_lines

FIGURES = ("length_mm", "width_min_mm", "width_mean_mm", "width_max_mm", "thickness_mm", "area_mm2", "volume_mm3",
           "board_feet")  # fmt: skip
LIST_HEADINGS = ("slab", "log", "order", "species", "length", "mean width", "thickness", "board feet", "face",
                 "surveyed")  # fmt: skip
ONE_FACE = "Board feet and volume rest on one face: survey the other face too, as the live edges slope between them."


def faces_text(faces: Sequence[str]) -> str:
    """Which faces were surveyed, in a word or two."""
    return "both" if len(faces) == 2 else faces[0] if faces else "not said"


def print_slabs(rows: Sequence[SlabRow], units: str) -> None:
    """A list of slabs: a table of two lines a slab on a terminal, tab-separated lines with a heading elsewhere."""
    cells = [slab_cells(row, units) for row in rows]
    if not sys.stdout.isatty():
        for line in (LIST_HEADINGS, *cells):
            click.echo("\t".join(cell.replace("\t", " ") for cell in line))
        return
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0), header_style="bold")
    for heading in ("slab", "log, order", "length", "mean width", "thickness", "board feet", "surveyed"):
        table.add_column(heading, no_wrap=heading != "log, order", justify="right" if heading == "slab" else "left")
    for number, log, order, species, *figures, face, day in cells:
        # The interval goes below its value, so that seven columns fit eighty letters.
        values = (figure.replace(" ±", "\n±") for figure in figures)
        table.add_row(number, f"{log}, {order}\n{species}", *values, f"{day}\n{face}")
    # Names are data: a bracket in one must not be taken for a style.
    Console(markup=False, highlight=False, emoji=False).print(table)


def slab_cells(row: SlabRow, units: str) -> list[str]:
    """The cells of one slab in a list, in the order of `LIST_HEADINGS`."""
    return [
        row.tag,
        row.log,
        str(row.order),
        row.species or "not said",
        written(row.length_mm, units),
        written(row.width_mean_mm, units),
        written(row.thickness_mm, units),
        written(row.board_feet, units, "board_feet"),
        faces_text(row.faces),
        row.surveyed_at.date().isoformat(),
    ]


def slab_data(slab: SlabRow | SlabEntry, figures: Mapping[str, Quantity | None]) -> dict[str, Any]:
    """What a list and an entry say alike, as plain data."""
    told = {
        "slab": slab.number,
        "tag": slab.tag,
        "log": slab.log,
        "order": slab.order,
        "species": slab.species,
        "faces": list(slab.faces),
        "one_face_only": slab.one_face_only,
    }
    for name in FIGURES:
        figure = figures[name]
        told[name] = None if figure is None else {"value": figure.value, "u": figure.u}
    return told


def row_data(row: SlabRow) -> dict[str, Any]:
    """One slab of a list as plain data."""
    told = slab_data(row, {name: getattr(row, name) for name in FIGURES})
    return told | {"surveyed_at": row.surveyed_at.isoformat()}


def entry_data(entry: SlabEntry) -> dict[str, Any]:
    """One slab with its surveys as plain data."""
    return slab_data(entry, entry.figures) | {"surveys": [_survey_data(survey) for survey in entry.surveys]}


def _survey_data(survey: SurveyEntry) -> dict[str, Any]:
    pictures = {"original": survey.original, "flat": survey.flat, "overlay": survey.overlay}
    return {
        "survey": survey.id,
        "side": survey.side,
        "surveyed_at": survey.surveyed_at.isoformat(),
        "filed_at": survey.filed_at.isoformat(),
        "photo_name": survey.photo_name,
        "note": survey.note,
        "cut_from": survey.cut_from,
        "before_cut": survey.before_cut,
        "thickness_readings_mm": list(survey.thickness_readings_mm),
        **{kind: None if path is None else str(path) for kind, path in pictures.items()},
        "record": dict(survey.record),
    }


def print_entry(entry: SlabEntry, units: str, life: Sequence[tuple[str, str]] = ()) -> None:
    """One slab for a person: what stands for it, then each survey with its pictures."""
    species = entry.species or "species not said"
    click.echo(f"Slab {entry.tag}: {species}, number {entry.order} of log {entry.log}")
    for name, text in life:
        click.echo(f"{name:>18}  {text}")
    face = {name: figure and figure.as_dict() for name, figure in entry.figures.items()}
    newest = entry.surveys[0].record
    for name, text in (*figure_lines(dict(newest["face"]) | face, units), *check_lines(newest, units)):
        click.echo(f"{name:>18}  {text}")
    click.echo("The intervals are two standard uncertainties (±2u). ", nl=False)
    click.echo(ONE_FACE if entry.one_face_only else "Board feet and volume are the mean of both faces.")
    for survey in entry.surveys:
        side = f"{survey.side} side" if survey.side else "face not said"
        how = ", worked out after a cut" if survey.cut_from is not None else ""
        how += ", before the last cut" if survey.before_cut else ""
        click.echo(f"\nSurvey {survey.id}, {survey.surveyed_at.date().isoformat()}, {side}, photo {survey.photo_name}{how}")
        if not entry.one_face_only:
            click.echo(f"{'board feet':>18}  {written(survey.board_feet, units, 'board_feet')} by this face")
        for name, path in (("picture", survey.overlay), ("flat view", survey.flat), ("original", survey.original)):
            if path is not None:
                click.echo(f"{name:>18}  {path}")
        if survey.note:
            click.echo(f"{'note':>18}  {survey.note}")
        for warning in survey.record.get("warnings", ()):
            click.echo(f"! {warning['message']}")


def print_findings(findings: Sequence[Finding], slabs: int | None) -> None:
    """What stock-taking found, worst first; the number of slabs where nothing is wrong."""
    wrong = [finding for finding in findings if finding.severity == "wrong"]
    untidy = [finding for finding in findings if finding.severity != "wrong"]
    for finding in (*wrong, *untidy):
        click.echo(f"{finding.severity}: {finding.what} {finding.to_do}")
        if finding.path is not None:
            click.echo(f"    {finding.path}")
    if wrong:
        click.echo("1 thing is wrong." if len(wrong) == 1 else f"{len(wrong)} things are wrong.")
    else:
        click.echo(f"Everything was read again; slabs: {slabs}; nothing is lost or changed.")


def finding_data(finding: Finding) -> dict[str, Any]:
    """One finding as plain data."""
    path = None if finding.path is None else str(finding.path)
    told = {"severity": finding.severity, "what": finding.what, "to_do": finding.to_do}
    return told | {"path": path, "slab": finding.slab}
