"""A colour for each check of a slab, the same on photos and plots; beyond ten, the colours come again in another stroke.

Chosen to stand apart on wood, dark or pale, with a dark casing, and on white; names always stand beside them.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from grainlog.picture.palette import Colour, Style

COLOURS: tuple[Colour, ...] = (
    (0, 190, 214), (232, 62, 140), (96, 196, 40), (255, 150, 20), (128, 104, 232),
    (240, 224, 40), (214, 44, 40), (40, 128, 236), (236, 140, 200), (20, 150, 120),
)  # fmt: skip


@dataclass(frozen=True)
class Stroke:
    """How one check is drawn: on photos and, in matplotlib's words, in a plot."""

    colour: Colour
    dashed: bool

    @property
    def style(self) -> Style:
        """On a photo."""
        return Style(self.colour, 1.7, dash=6.0, gap=3.5) if self.dashed else Style(self.colour, 1.7)

    @property
    def plain(self) -> str:
        """As '#rrggbb'."""
        return "#{:02x}{:02x}{:02x}".format(*self.colour)

    @property
    def on_white(self) -> str:
        """The same, dark enough to be read on white."""
        return "#{:02x}{:02x}{:02x}".format(*(round(0.78 * part) for part in self.colour))


def strokes_of(names: Iterable[str]) -> dict[str, Stroke]:
    """A stroke for each name, in the order of the names."""
    return {
        name: Stroke(COLOURS[place % len(COLOURS)], bool(place // len(COLOURS) % 2)) for place, name in enumerate(dict.fromkeys(names))
    }
