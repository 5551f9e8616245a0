"""Following moisture by weight: once the oven-dry mass of a slab is known, each weighing gives its mean moisture.

M = m / m0 - 1, and m0 = m / (1 + M) from one weighing with a trustworthy reading of the same days (ASTM D4442's
definition turned round). This is how kiln samples are followed (from memory, FPL AH-188).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from grainlog.drying.errors import DryingError
from grainlog.drying.moisture import FIBRE_SATURATION, WETTEST
from grainlog.drying.reading import Reading, reading_u
from grainlog.units import Quantity

#: A reading goes with a weighing at most so many days away (common practice, no source).
TOGETHER_DAYS = 7
#: One weighing of a slab on a bathroom or hanging scale (common practice, no source): a hundredth, half a kilogram.
_SHARE_U, _LEAST_U_KG = 0.01, 0.25


@dataclass(frozen=True)
class Weighing:
    """The slab's weight, kg, on a day; u_kg None takes a hundredth and at least a quarter kilogram."""

    day: date
    mass_kg: float
    u_kg: float | None = None

    def __post_init__(self) -> None:
        if not (math.isfinite(self.mass_kg) and 0 < self.mass_kg <= 20_000):
            raise DryingError("A slab's weight has to be greater than zero and less than 20 tonnes.")

    @property
    def quantity(self) -> Quantity:
        """The weight with its standard uncertainty, kg."""
        u = self.u_kg if self.u_kg is not None else math.hypot(_LEAST_U_KG, _SHARE_U * self.mass_kg)
        return Quantity(self.mass_kg, u)


def oven_dry_from(weighings: Sequence[Weighing], readings: Sequence[Reading]) -> Quantity | None:
    """The slab's oven-dry mass, kg, from the surest pair of a weighing and a reading below fibre saturation.

    None where there is no such pair within `TOGETHER_DAYS`. Oven-dried sections count whatever their moisture.
    """
    found = None
    for weighing in weighings:
        for reading in readings:
            trusted = reading.method == "oven-dry" or reading.moisture < FIBRE_SATURATION
            if not trusted or abs((weighing.day - reading.day).days) > TOGETHER_DAYS:
                continue
            mass = weighing.quantity
            value = mass.value / (1 + reading.moisture)
            u = math.hypot(mass.u / (1 + reading.moisture), value * reading_u(reading) / (1 + reading.moisture))
            if found is None or u / value < found.u / found.value:
                found = Quantity(value, u)
    return found


def readings_by_weight(weighings: Sequence[Weighing], oven_dry: Quantity) -> list[Reading]:
    """Each weighing as a reading of the whole slab's mean moisture; weighings below oven-dry are left out."""
    found = []
    for weighing in weighings:
        moisture = weighing.mass_kg / oven_dry.value - 1
        if 0 <= moisture <= WETTEST:
            u = (1 + moisture) * math.hypot(weighing.quantity.u / weighing.mass_kg, oven_dry.u / oven_dry.value)
            found.append(Reading(weighing.day, moisture, "weight", core=False, u=u))
    return found
