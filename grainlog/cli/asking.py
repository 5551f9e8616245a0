"""What `measure` and `add` ask of the person, as options or, on a terminal, as questions asked once."""

import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import click

from grainlog.cli.options import LENGTH, LIFT, SHEET, THICKNESS, Points
from grainlog.errors import WrongUse
from grainlog.face.measures import Thickness
from grainlog.scale.at_hand import (
    KnownRectangle,
    TwoPoints,
    known_rectangle,
    two_points,
)
from grainlog.scale.rectangle import Rectangle
from grainlog.survey import Request
from grainlog.survey.request import FirstFace
from grainlog.units import parse_length
from grainlog.yard import Yard
from grainlog.yard.adding import Known
from grainlog.yard.keeping import DATABASE

#: Setting under which a yard remembers that the bars were asked for and not measured.
BARS_ASKED = "print_bars_asked"

_OPTIONS = (
    click.option(
        "--thickness", "thickness", type=THICKNESS, multiple=True, metavar="LENGTH",
        help="Thickness of the slab, as in 63.5mm or 2 1/2in; repeat it for several readings around the slab.",
    ),
    click.option(
        "--cards-on", type=click.Choice(["floor", "slab"]), default="floor", show_default=True,
        help="Where the scale cards lie.",
    ),
    click.option(
        "--slab-card", "slab_cards", type=int, multiple=True, metavar="NUMBER",
        help="A card that lies on the slab although the others lie on the floor; repeat it for more.",
    ),
    click.option(
        "--lift", type=LIFT, metavar="LENGTH",
        help="Height of the slab's underside above the surface the floor cards lie on: 0mm, or the stickers' thickness.",
    ),
    click.option(
        "--ground", type=click.Choice(["hard", "soft"]),
        help="What the floor cards lie on: hard (concrete, planks) or soft (grass, gravel); judged from the photo if left out.",
    ),
    click.option("--face", "side", type=click.Choice(["bark", "heart"]), help="Which face is up: bark side or heart side."),
    click.option(
        "--sheet", type=SHEET, metavar="SIZE",
        help="No card: a white sheet (a4, letter) or a board (600x300mm) lies on the face instead; a sheet is found.",
    ),
    click.option(
        "--corners", type=Points(4), metavar="POINTS",
        help="Where the photo shows the corners of --sheet, px: 'x,y x,y x,y x,y'.",
    ),
    click.option(
        "--between", type=Points(2), metavar="POINTS",
        help="No card: two points on the face, px, 'x,y x,y', as seen from straight above; needs --distance.",
    ),
    click.option("--distance", type=LENGTH, metavar="LENGTH", help="Distance between the two points on the slab."),
    click.option(
        "--butt", type=click.Choice(["left", "right", "bottom", "top"]), help="Where the photo shows the butt end."
    ),
    click.option(
        "--cup", type=LIFT, metavar="LENGTH",
        help="How far the face is cupped, read with a straightedge across it; widens the widths' intervals.",
    ),
    click.option("--no-checks", is_flag=True, help="Do not look for checks; a second faster."),
)  # fmt: skip


def slab_options(command: Callable) -> Callable:
    """The options that say how slab and cards lie."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


@dataclass(frozen=True)
class Lay:
    """How slab and cards lie, as asked once for a photo or a batch."""

    thickness: tuple[float, ...]
    cards_on: str
    slab_cards: tuple[int, ...]
    lift: float | None
    ground: str | None
    side: str | None
    butt: str | None
    sheet: Rectangle | None = None
    corners: tuple | None = None
    between: tuple | None = None
    distance: float | None = None
    cup: float | None = None
    no_checks: bool = False

    def complete(self, thickness_known: bool = False) -> "Lay":
        """Ask on a terminal for what is needed and was not given; elsewhere leave it for the request to refuse."""
        thickness, lift = self.thickness, self.lift
        at_hand = self.sheet is not None or self.between is not None
        if self.cards_on == "floor" and not at_hand and sys.stdin.isatty():
            if not thickness and not thickness_known:
                thickness = (click.prompt("Thickness of the slab (as in 63.5mm or 2 1/2in)", type=THICKNESS, err=True),)
            if lift is None:
                question = "How high is its underside above the surface the cards lie on (0mm, or the stickers' thickness)"
                lift = click.prompt(question, type=LIFT, err=True)
        return replace(self, thickness=thickness, lift=lift)

    def request(self, known: Known, first: FirstFace | None = None, **drawn) -> Request:
        """The survey's request; `drawn` as `drawn_options.Drawn.read` gives it."""
        return Request(
            cards_on=self.cards_on,
            slab_cards=frozenset(self.slab_cards),
            thickness=Thickness.from_readings(self.thickness) if self.thickness else None,
            lift_mm=self.lift,
            ground=self.ground,
            print=known.prints,
            side=self.side,
            butt=self.butt,
            cameras=known.cameras,
            reference=_reference(self.sheet, self.corners, self.between, self.distance),
            first=first,
            cup_mm=self.cup,
            checks=not self.no_checks,
            **drawn,
        )


def ask_bars(yard: Yard) -> None:
    """On a terminal, ask once in a yard's life for the measured bars of the prints; the yard remembers the answer."""
    if not sys.stdin.isatty() or yard.settings.print_bars or yard.settings.get(BARS_ASKED):
        return
    click.echo("Hold a ruler to the two 100 mm bars on one of your printed cards (Enter to do it another day).", err=True)
    lengths = []
    for which in ("bar across the paper", "bar along the paper"):
        answer = click.prompt(f"  {which}, as in 99.8mm", default="", show_default=False, err=True)
        if not answer.strip():
            break
        lengths.append(parse_length(answer, default_unit="mm"))
    if len(lengths) == 2:
        yard.settings.set_print_bars(*lengths)
    else:
        yard.settings.set(BARS_ASKED, True)
        click.echo("Not measured: 0.3 % is allowed for the print. Say it any time with 'grainlog bars'.", err=True)


def _reference(sheet, corners, between, distance) -> KnownRectangle | TwoPoints | Rectangle | None:
    """What gives the scale where there is no card, from the options that name it."""
    if sheet is not None and between is not None:
        raise WrongUse("Name one thing that gives the scale: a sheet or board (--sheet), or two points (--between).")
    if sheet is not None:
        return sheet if corners is None else known_rectangle(corners, sheet)
    if corners is not None:
        raise WrongUse("--corners needs to know of what: add --sheet a4, --sheet letter, or a size as in --sheet 600x300mm.")
    if (between is None) != (distance is None):
        raise WrongUse("Two points and their distance belong together: give --between and --distance.")
    return None if between is None else two_points(between, distance)


def known_at(folder: Path | None) -> Known:
    """What the yard in a folder remembers for every photo; nothing where there is no yard."""
    if folder is None or not (folder / DATABASE).is_file():
        return Known()
    with Yard.open(folder) as yard:
        return Known.of(yard)
