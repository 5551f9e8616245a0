"""`grainlog mark`: what is wrong in a slab and where, for `find` to keep clear of."""

import json
from pathlib import Path
from typing import Any

import click

from grainlog.cli.options import LIFT, json_option, units_option, yard_option
from grainlog.cli.tables import TAG, print_table
from grainlog.errors import WrongUse
from grainlog.fit.defects import KINDS, kind_named
from grainlog.units import format_length
from grainlog.yard import Yard
from grainlog.yard.fit_defects import Drawn
from grainlog.yard.tags import tag_of


class Spots(click.ParamType):
    """Points in the slab frame: 'x,y x,y'."""

    name = "points"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Tuple of (x, y), mm."""
        if not isinstance(value, str):
            return value
        try:
            points = tuple(tuple(float(part) for part in pair.split(",")) for pair in value.split())
        except ValueError:
            points = ()
        if not points or any(len(pair) != 2 for pair in points):
            self.fail(
                f"'{value}' is not a row of points; write mm along and across the slab, as in '310,-40 420,-35'.",
                param,
                ctx,
            )
        return points


@click.command()
@click.argument("slab", type=TAG)
@click.argument("kind", required=False)
@click.option("--at", "points", type=Spots(), metavar="'X,Y ...'",
              help="Where, in mm along the slab from its first end and across from its middle line: one point, a line, or a ring.")  # fmt: skip
@click.option("--across", "size", type=LIFT, default="0", metavar="LENGTH", help="Size of a point, or width of a line.")
@click.option("--ring", is_flag=True, help="The points go all the way round it.")
@click.option("--note", default="", help="A few words kept with it.")
@click.option("--take-back", type=click.IntRange(1), metavar="NUMBER", help="Take back a mark made by mistake.")
@yard_option
@units_option
@json_option
def mark(slab: int, kind: str | None, points: Any, size: float, ring: bool, note: str, take_back: int | None, yard: Path,
         units: str, as_json: bool) -> None:  # fmt: skip
    """Mark a defect on SLAB (12 knot --at 310,-40 --across 2in), or list its marks.

    KIND is one of: check, pith, knot, bark pocket, void, shake, rot, metal, iron stain, old insect holes, insect holes with
    fresh dust. Points are in the slab's own frame, in which `find --json` and `show --json` give outlines: x from the end
    that lay left in the photo (or the butt, where it was said), y from the middle, away from the photo's lower edge.
    """
    with Yard.open(yard) as opened:
        if take_back is not None:
            if kind or points:
                raise WrongUse("A mark is either made or taken back; leave the kind and --at out.")
            drawn, done = [opened.fits.defects.take_back(take_back)], "taken back"
        elif kind is None:
            if points:
                raise WrongUse(f"Say what it is: one of {', '.join(KINDS)}.")
            opened.slab(slab)
            drawn, done = opened.fits.defects.of(slab), ""
        else:
            kind_named(kind)
            if not points:
                raise WrongUse("Say where it is, as in --at 310,-40 (mm along the slab, mm across).")
            drawn, done = [opened.fits.defects.draw(slab, kind, points, size, ring, note)], "kept"
    if as_json:
        click.echo(json.dumps([_data(one) for one in drawn]))
    elif done:
        click.echo(f"Mark {drawn[0].number} on slab {tag_of(drawn[0].slab)}, {drawn[0].defect.kind}: {done}.")
    elif drawn:
        print_table(("mark", "kind", "where", "across", "face", "note"), [_row(one, units) for one in drawn])
    else:
        click.echo(f"Nothing is marked on slab {tag_of(slab)}.")


def _row(one: Drawn, units: str) -> tuple[str, ...]:
    x, y = one.defect.points.mean(axis=0)
    size = format_length(one.defect.size, units) if one.defect.size else "ring" if one.defect.area else "not said"
    where = f"{format_length(float(x), units)} along, {format_length(abs(float(y)), units)} {'above' if y >= 0 else 'below'} the middle"
    return str(one.number), one.defect.kind, where, size, one.side or "not said", one.note


def _data(one: Drawn) -> dict[str, Any]:
    return {
        "mark": one.number, "slab": tag_of(one.slab), "survey": one.survey, "face": one.side, "kind": one.defect.kind,
        "points_mm": one.defect.points.tolist(), "across_mm": one.defect.size, "ring": one.defect.area, "note": one.note,
        "entered_at": one.entered_at,
    }  # fmt: skip
