"""A survey's numbers as a table for people: value and interval of two standard uncertainties."""

from collections.abc import Mapping

import click

from grainlog.cli.check_answers import check_lines
from grainlog.units import Quantity, format_quantity

#: (name shown, key in the record's "face", kind)
ROWS = (
    ("length", "length_mm", "length"),
    ("square-end length", "length_square_mm", "length"),
    ("least width", "width_min_mm", "length"),
    ("mean width", "width_mean_mm", "length"),
    ("greatest width", "width_max_mm", "length"),
    ("three-width mean", "width_three_mm", "length"),
    ("thickness (given)", "thickness", "length"),
    ("wood area", "area_mm2", "area"),
    ("bark area", "bark_area_mm2", "area"),
    ("volume", "volume_mm3", "volume"),
    ("board feet", "board_feet", "board_feet"),
    ("by three widths", "board_feet_three_width", "board_feet"),
)


def figure_lines(face: Mapping, units: str) -> list[tuple[str, str]]:
    """(name, value +- 2u) of every figure; "not known" where the record has none."""
    lines = []
    for name, key, kind in ROWS:
        given = face.get(key)
        written = "not known" if given is None else format_quantity(Quantity(given["value"], given["u"]), units, kind)
        lines.append((name, written))
    return lines


def print_survey(record: Mapping, units: str) -> None:
    """Print a survey: numbers first, then what they stand on, then what weakens them."""
    face, scale = record["face"], record["scale"]
    for name, written in (*figure_lines(face, units), *check_lines(record, units)):
        click.echo(f"{name:>18}  {written}")
    cards = ", ".join(map(str, scale["cards"]))
    click.echo(
        f"{'scale':>18}  cards {cards}; corners fit to {scale['reprojection_px']:.2f} px; "
        f"{scale['mm_per_px']:.2f} mm a pixel; camera {format_quantity(Quantity(scale['camera_height_mm'], 0.0), units)} up"
    )
    for overlap in (record.get("photos") or {}).get("overlaps", ()):
        first, second = (record["photos"]["joined"][index]["name"] for index in overlap["photos"])
        apart = format_quantity(Quantity(overlap["apart_mm"]["value"], 0.0), units)
        click.echo(f"{'joined':>18}  {first} and {second}; their wood lies {apart} apart where they overlap")
    click.echo(f"{'confidence':>18}  {face['confidence']:.2f} that the outline is the wood edge")
    for warning in record["warnings"]:
        click.echo(f"! {warning['message']}")
