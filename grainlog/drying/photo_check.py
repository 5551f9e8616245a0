"""Shrinkage seen in photos beside shrinkage predicted: a cross-check of meter and species.

The width across the grain in two surveys of the same face gives a measured scale; the moistures and the species give
a predicted one. Both have a doubt; where they differ by more than it explains, one of the four is wrong.
"""

import math
from dataclasses import dataclass

from grainlog.drying.errors import DryingError
from grainlog.units import Quantity


@dataclass(frozen=True)
class ShrinkageCheck:
    """Measured and predicted scale across the grain (later width over earlier), and how they go together.

    apart : their difference in units of its own standard uncertainty. agree : whether that is at most two.
    telling : whether the doubt is smaller than the shrinkage predicted; else agreement says little.
    message : for people.
    """

    measured: Quantity
    predicted: Quantity
    apart: float
    agree: bool
    telling: bool
    message: str


def width_scale(earlier_mm: Quantity, later_mm: Quantity) -> Quantity:
    """Later over earlier width of the same face. Errors of the two photos are taken as independent.

    Raises DryingError for widths that are not greater than zero.
    """
    if not (earlier_mm.value > 0 and later_mm.value > 0):
        raise DryingError("Two widths greater than zero are needed to see how far a slab has shrunk.")
    value = later_mm.value / earlier_mm.value
    return Quantity(value, value * math.hypot(earlier_mm.u / earlier_mm.value, later_mm.u / later_mm.value))


def check_shrinkage(measured: Quantity, predicted: Quantity) -> ShrinkageCheck:
    """Compare a measured scale across the grain with a predicted one; both later over earlier size, with u."""
    u = math.hypot(measured.u, predicted.u)
    apart = (measured.value - predicted.value) / u if u > 0 else math.copysign(math.inf, measured.value - predicted.value)
    if measured.value == predicted.value:
        apart = 0.0
    agree = abs(apart) <= 2
    telling = 2 * u < 1 - predicted.value
    said = (
        f"The photos say {_shrunk(measured)} across the grain, meter and species {_shrunk(predicted)}"
    )  # fmt: skip
    if not agree:
        end = "that is more apart than their doubts: look at the meter's species setting, the species, and the photos."
    elif telling:
        end = "they agree."
    else:
        end = "they agree, but the doubt is as large as the shrinkage, so that says little yet."
    return ShrinkageCheck(measured, predicted, apart, agree, telling, f"{said}; {end}")


def _shrunk(scale: Quantity) -> str:
    percent, interval = 100 * (1 - scale.value), 200 * scale.u
    change = "shrunk" if percent >= 0 else "grown"
    return f"{change} by {abs(percent):.1f} ± {interval:.1f} %"
