"""Log rules: what a log is said to give in inch boards. They stand beside a sawing plan and never judge slabs.

Diameters are those of the small end inside bark. Each rule is a formula of its own time and saw; none of them knows of
thick slabs, whose kerfs are fewer.
"""

import math

from grainlog.units.factors import MM_PER_FOOT, MM_PER_INCH

_SECTION_FT = 4.0
_TAPER_IN = 0.5


def doyle(small_end_mm: float, length_mm: float) -> float | None:
    """Board feet by Doyle: ((D - 4) / 4)^2 L; None for 4 in and less, which the rule does not know.

    Source: University of Missouri forestry functions, and a printed Doyle table (both read).
    """
    diameter, length = small_end_mm / MM_PER_INCH, length_mm / MM_PER_FOOT
    return ((diameter - 4) / 4) ** 2 * length if diameter > 4 else None


def scribner(small_end_mm: float, length_mm: float) -> float | None:
    """Board feet by the Scribner formula: (0.79 D^2 - 2 D - 4) L / 16; None where that is nothing or less.

    It only approximates Scribner's diagram table. Source: University of Missouri forestry functions (read).
    """
    diameter, length = small_end_mm / MM_PER_INCH, length_mm / MM_PER_FOOT
    feet = (0.79 * diameter**2 - 2 * diameter - 4) * length / 16
    return feet if feet > 0 else None


def international_quarter(small_end_mm: float, length_mm: float) -> float | None:
    """Board feet by International 1/4 in: the sum over 4 ft sections of 0.905 (0.22 D^2 - 0.71 D), 1/2 in taper each.

    A last section shorter than 4 ft counts by its share of 4 ft (common practice, no source). None where it is nothing.
    Source: Michigan Compiled Laws 290.401 (read; it prints 0.904762) and a public transcription with 0.905 (read).
    """
    diameter, left = small_end_mm / MM_PER_INCH, length_mm / MM_PER_FOOT
    feet = 0.0
    # A tenth of an inch of length that came from rounding is no section of its own.
    while left > 1e-6:
        share = min(1.0, left / _SECTION_FT)
        feet += share * 0.905 * (0.22 * diameter**2 - 0.71 * diameter)
        diameter += _TAPER_IN
        left -= _SECTION_FT
    return feet if feet > 0 else None


def to_nearest_5(feet: float) -> int:
    """As International tables print it: to the nearest 5 board feet."""
    return 5 * math.floor(feet / 5 + 0.5)


RULES = {
    "International 1/4 in": international_quarter,
    "Doyle": doyle,
    "Scribner formula": scribner,
}
