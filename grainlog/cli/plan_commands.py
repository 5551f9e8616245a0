"""`grainlog plan`: which slabs a log will give, before the first cut."""

import json
from pathlib import Path
from typing import Any

import click

from grainlog.cli.options import (
    LENGTH,
    LIFT,
    THICKNESS,
    json_option,
    units_option,
    yard_option,
)
from grainlog.cli.tables import csv_option, print_csv, print_table
from grainlog.cli.yard_answers import written
from grainlog.errors import WrongUse
from grainlog.units import format_length, format_quantity


@click.command()
@click.option(
    "--small-end", type=LENGTH, required=True, metavar="LENGTH", help="Diameter of the small end, inside bark."
)
@click.option(
    "--large-end", type=LENGTH, required=True, metavar="LENGTH", help="Diameter of the large end, inside bark."
)
@click.option("--length", type=LENGTH, required=True, metavar="LENGTH", help="Length of the log.")
@click.option("--thickness", type=THICKNESS, required=True, metavar="LENGTH", help="Thickness of the slabs.")
@click.option("--kerf", type=LIFT, required=True, metavar="LENGTH", help="Width of the saw's cut.")
@click.option("--mill", type=LENGTH, metavar="LENGTH",
              help="Its greatest cut: a 36 in bar leaves nearly 30 in (common practice, no source).")  # fmt: skip
@click.option(
    "--bark", type=LIFT, default="0", metavar="LENGTH", help="Thickness of the bark, which the mill cuts too."
)
@click.option("--trim", "sides", type=click.IntRange(1, 2), default=1, show_default=True,
              help="Sides to trim where the log is wider than the mill.")  # fmt: skip
@click.option("--first-cut", type=LIFT, metavar="LENGTH",
              help="Depth of the first face below the small end's top; even about the pith if left out.")  # fmt: skip
@click.option("--least-face", type=LIFT, default="4in", show_default=True, metavar="LENGTH",
              help="A slab with a narrower face at the small end is not counted.")  # fmt: skip
@click.option(
    "--picture", type=click.Path(path_type=Path), metavar="FILE", help="Draw the end view: a .png or .svg file."
)
@click.option("--title", default="Sawing plan", help="Title of the picture.")
@click.option("--beside", metavar="LOG", help="Show what photos measured of this log in the yard beside the plan.")
@csv_option
@yard_option
@units_option
@json_option
def plan(picture, title, beside, as_csv, yard: Path, units: str, as_json: bool, **given: Any) -> None:
    """Plan the cuts of a log: how many slabs, how wide, how many board feet, and which cuts exceed the mill.

    The log is taken for round and straight, tapering evenly; how far real ones differ is in the ±. Log rules stand
    beside it: they foretell inch boards, so they are another measure of the log and no check of slabs. Measure
    diameters inside the bark, the small end twice, across and along its widest.
    """
    from grainlog.fit.plan_words import mill_warnings, plan_text, rule_feet, rules_text
    from grainlog.fit.sawing_plan import Log, Mill
    from grainlog.fit.sawing_plan import plan as make

    if picture is not None and picture.suffix.lower() not in (".png", ".svg"):
        raise WrongUse(f"{picture.name} is not a picture that can be drawn; end its name in .png or .svg.")
    log = Log(given["small_end"], given["large_end"], given["length"], given["bark"])
    mill = Mill(given["thickness"], given["kerf"], given["mill"], given["sides"])
    made = make(log, mill, given["first_cut"], given["least_face"])
    rules = rule_feet(log)
    measured = [] if beside is None else _measured(yard, beside)
    if picture is not None:
        from grainlog.picture.end_view import draw_end_view

        _write(picture, draw_end_view(made, title, units, picture.suffix.lower()[1:]))
    if as_json:
        click.echo(json.dumps(_data(made, rules, measured)))
        return
    headings = ["slab", "width", "narrow face", "board feet"] + (
        ["measured width", "measured board feet"] if beside else []
    )
    rows = []
    for place, slab in enumerate(made.slabs):
        row = [str(place + 1) + (" (pith)" if slab.holds_pith else ""), format_quantity(slab.width_mm, units),
               format_length(slab.narrow_mm, units), format_quantity(slab.board_feet, units, "board_feet")]  # fmt: skip
        if beside:
            of = next((each for each in measured if each.order == place + 1), None)
            row += (
                ["", ""]
                if of is None
                else [written(of.width_mean_mm, units), written(of.board_feet, units, "board_feet")]
            )
        rows.append(row)
    if as_csv:
        print_csv(headings, rows)
        return
    print_table(headings, rows)
    click.echo(plan_text(made, units))
    for sentence in mill_warnings(made, units):
        click.echo(f"! {sentence}")
    click.echo(rules_text(log))
    if beside and len(measured) != len(made.slabs):
        click.echo(
            f"The yard has {len(measured)} slabs of {beside}; slab 1 of the plan is set beside number 1 of the log."
        )
    if picture is not None:
        click.echo(f"Drew {picture}.")


def _measured(yard: Path, log: str) -> list:
    from grainlog.yard import Yard

    with Yard.open(yard) as opened:
        return opened.logs.slabs(log)


def _write(path: Path, data: bytes) -> None:
    try:
        path.write_bytes(data)
    except OSError as error:
        raise WrongUse(f"{path} cannot be written ({error.strerror}); name another file.") from error


def _data(made, rules: dict, measured: list) -> dict[str, Any]:
    def plain(figure) -> dict | None:
        return figure and {"value": figure.value, "u": figure.u}

    return {
        "slabs": [
            {"top_mm": slab.top_mm, "bottom_mm": slab.bottom_mm, "width_mm": slab.width_mm.as_dict(),
             "narrow_face_mm": slab.narrow_mm, "wide_face_mm": slab.wide_mm, "board_feet": slab.board_feet.as_dict(),
             "pith": slab.holds_pith}
            for slab in made.slabs
        ],
        "cuts": [{"at_mm": cut.at_mm, "width_mm": cut.width_mm, "excess_mm": cut.excess_mm} for cut in made.cuts],
        "board_feet": plain(made.board_feet), "trim_mm": made.trim_mm, "trimmed_sides": made.sides,
        "log_rules_board_feet": rules,
        "measured": [
            {"slab": row.tag, "order": row.order, "width_mean_mm": plain(row.width_mean_mm),
             "board_feet": plain(row.board_feet)}
            for row in measured
        ],
    }  # fmt: skip
