"""The options by which a person overrules the wood edge: an outline, dabs, a point on the slab that is meant."""

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click
import numpy as np

from grainlog.cli.options import Points
from grainlog.errors import WrongUse
from grainlog.face.dab_file import read_dabs
from grainlog.face.dabs import Dabs
from grainlog.face.drawn_file import DrawnFileError, read_drawn_text
from grainlog.face.outline_file import read_outline
from grainlog.photo import Photo
from grainlog.survey import HandOutline, Request
from grainlog.survey.drawn import JOINED, named
from grainlog.survey.several import MOST_PHOTOS, tie_photos


class DrawnOn(click.ParamType):
    """A photo by its place among those given, or the picture that they are joined to."""

    name = "photo"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """1 to 4, or `JOINED`."""
        if isinstance(value, int) and not isinstance(value, bool):
            return value
        if value == "joined":
            return JOINED
        if value not in map(str, range(1, MOST_PHOTOS + 1)):
            self.fail(
                f"'{value}' is no photo: 1 is the first that is given, 2 the next; 'joined' is what --flat writes.",
                param,
                ctx,
            )
        return int(value)


@dataclass(frozen=True)
class Drawn:
    """What a person drew or dabbed, as files and a point that are read when the photos' sizes are known.

    at : ((x, y),) px, or None
        A point on the slab that is meant.
    on : int or None
        Which photo a file that names none, and the point, are drawn on; None: nobody said, so the first.
    """

    outline: Path | None = None
    as_drawn: bool = False
    dabs: tuple[Path, ...] = ()
    at: tuple | None = None
    on: int | None = None

    def __post_init__(self):
        if self.as_drawn and self.outline is None:
            raise WrongUse("--as-drawn says how to take a drawn outline, so it needs --outline FILE.")
        if self.outline is not None and (self.dabs or self.at is not None):
            raise WrongUse("A drawn outline says all there is to say: give --outline, or --dabs and --at, not both.")
        if self.on is not None and not self:
            raise WrongUse("--drawn-on says on which photo something is drawn, so it needs --outline, --dabs or --at.")

    def __bool__(self) -> bool:
        return self.outline is not None or bool(self.dabs) or self.at is not None

    def read(self, photos: Sequence[Photo], joined_size_px: Callable[[], tuple[int, int]]) -> dict:
        """The request's `outline` and `dabs`.

        joined_size_px : asked only where something is drawn on the joined picture.

        Raises WrongUse.
        """

        def size(photo: int) -> tuple[int, int]:
            if photo == JOINED and len(photos) > 1:
                return joined_size_px()
            if photo not in range(1, len(photos) + 1):
                what = "the joined picture" if photo == JOINED else f"photo {photo}"
                one = "only one photo is given" if len(photos) == 1 else f"{len(photos)} photos are given"
                raise WrongUse(
                    f"Something is drawn on {what}, but {one}: add the others with --and, or name one of these."
                )
            return photos[photo - 1].width, photos[photo - 1].height

        outline, dabs = None, Dabs()
        if self.outline is not None:
            photo = self._photo_of(self.outline, "outline")
            drawn = read_outline(self.outline, *size(photo))
            wood, *holes = (named(ring, photo) for ring in (drawn.wood_px, *drawn.wood_holes_px))
            outline = HandOutline(wood, tuple(holes), self.as_drawn)
        for file in self.dabs:
            photo = self._photo_of(file, "dabs")
            more = read_dabs(file, *size(photo)).moved(lambda stroke, photo=photo: named(stroke, photo))
            dabs = Dabs((*dabs.wood, *more.wood), (*dabs.other, *more.other))
        if self.at is not None:
            point, photo = np.array(self.at, float), 1 if self.on is None else self.on
            width, height = size(photo)
            if (point < -0.5).any() or (point > [width - 0.5, height - 0.5]).any():
                raise WrongUse(f"The point of --at lies outside the photo, which is {width} x {height} pixels.")
            dabs = Dabs((*dabs.wood, named(point, photo)), dabs.other)
        return {"outline": outline, "dabs": dabs}

    def _photo_of(self, file: Path, what: str) -> int:
        """The photo that a file is drawn on: as a JSON file says by "photo", else as the person says. Raises WrongUse."""
        _, text = read_drawn_text(file, what)
        try:
            content = json.loads(text)
        except (ValueError, RecursionError):
            content = None
        said = content.get("photo") if isinstance(content, dict) else None
        if said is None:
            return 1 if self.on is None else self.on
        if said == "joined":
            said = JOINED
        elif type(said) is not int or said not in range(1, MOST_PHOTOS + 1):
            raise DrawnFileError(
                f'The "photo" in \'{file.name}\' is none: give its number, 1 for the first, or "joined".'
            )
        if self.on not in (None, said):
            raise WrongUse(f"'{file.name}' names another photo than --drawn-on: say it once.")
        return said


def drawn_request(drawn: Drawn, photos: Sequence[Photo], request: Request) -> dict:
    """The `outline` and `dabs` that a request for these photos gets. Raises GrainlogError."""
    return drawn.read(photos, lambda: tie_photos(photos, request).viewer.plane.sheet.size_px)


def drawn_options(command: Callable) -> Callable:
    """The options by which a person overrules the wood edge."""
    file = click.Path(path_type=Path)
    for option in (
        click.option("--drawn-on", "drawn_on", type=DrawnOn(), metavar="PHOTO",
                     help="With --and: which photo --outline, --dabs and --at are drawn on: 1 (as if left out), 2, ..., or "
                          "'joined', the picture that --flat writes; a JSON file may say it itself by \"photo\"."),
        click.option("--at", type=Points(1), metavar="POINT", help="A point on the slab that is meant, photo px 'x,y'."),
        click.option("--dabs", type=file, multiple=True, metavar="FILE",
                     help="Dabs and strokes of what is wood and what is not, in photo pixels, JSON or SVG; repeat it for more."),
        click.option("--as-drawn", is_flag=True, help="Take the drawn outline as it is instead of refining it."),
        click.option("--outline", type=file, metavar="FILE",
                     help="Hand-drawn wood edge in photo pixels, JSON or SVG, to go by."),
    ):  # fmt: skip
        command = option(command)
    return command
