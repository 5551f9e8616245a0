"""Paper that people have in their printers, with its true size."""

from dataclasses import dataclass

from grainlog.units.factors import MM_PER_INCH

POINTS_PER_INCH = 72.0
POINTS_PER_MM = POINTS_PER_INCH / MM_PER_INCH


@dataclass(frozen=True)
class Paper:
    """One upright sheet: `width_mm` across, `height_mm` along; `title` as people call it."""

    title: str
    width_mm: float
    height_mm: float


#: By the word used on the command line. A4: ISO 216. Letter: ANSI/ASME Y14.1 size A, 8.5 x 11 in.
PAPERS = {
    "a4": Paper("A4", 210.0, 297.0),
    "letter": Paper("Letter", 8.5 * MM_PER_INCH, 11.0 * MM_PER_INCH),
}
