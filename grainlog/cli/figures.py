"""A survey's numbers as a table for people: value and interval of two standard uncertainties."""

from collections.abc import Mapping

import click

from grainlog.units import Quantity, format_quantity
from grainlog.yard.figure_words import check_lines, figure_lines


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
    if profile := scale["camera"].get("profile"):
        whose = "learned from" if profile["from"] == "own" else "comes with grainlog, from"
        named = " ".join(part for part in (profile["make"], profile["model"]) if part)
        click.echo(f"{'lens':>18}  by the profile of {named} ({whose} {profile['photos']} photos, {profile['day']})")
    for overlap in (record.get("photos") or {}).get("overlaps", ()):
        first, second = (record["photos"]["joined"][index]["name"] for index in overlap["photos"])
        apart = format_quantity(Quantity(overlap["apart_mm"]["value"], 0.0), units)
        click.echo(f"{'joined':>18}  {first} and {second}; their wood lies {apart} apart where they overlap")
    click.echo(f"{'confidence':>18}  {face['confidence']:.2f} that the outline is the wood edge")
    for warning in record["warnings"]:
        click.echo(f"! {warning['message']}")
