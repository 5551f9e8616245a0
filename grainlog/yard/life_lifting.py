"""What has to be lifted off to reach a slab, and what it weighs: by drying, else by volume as if as heavy as water."""

import math
from dataclasses import dataclass

from grainlog.drying.errors import DryingError
from grainlog.drying.weight import Caution, caution
from grainlog.units import Quantity
from grainlog.yard.drying import Drying
from grainlog.yard.places import Places

#: Green wood of most trees is about as heavy as water, dry wood lighter (common practice, no source): a cautious value
#: for a slab whose species or moisture nobody said.
WATER_KG_PER_MM3, WATER_U = 1e-6, 0.2


@dataclass(frozen=True)
class Lifted:
    """One slab to be lifted off: its number and layer, its weight in kg or None, and what the weight rests on."""

    number: int
    layer: int | None
    mass_kg: Quantity | None
    basis: str


@dataclass(frozen=True)
class Lifting:
    """What lies above a slab, the topmost first; None where nobody said in which layer it lies.

    total_kg : of those whose weight is known, their errors taken as fully correlated; None where none is.
    unknown : numbers whose weight is not known. caution : for the heaviest, None with nothing to lift or no weight.
    """

    above: tuple[Lifted, ...] | None
    total_kg: Quantity | None
    unknown: tuple[int, ...]
    caution: Caution | None


def what_to_lift(places: Places, drying: Drying, number: int) -> Lifting:
    """What has to be lifted off to reach a slab. Raises NoSuchSlab."""
    lying = places.above(number)
    if lying is None:
        return Lifting(None, None, (), None)
    above = tuple(Lifted(other.number, other.layer, *_weight(drying, other.number)) for other in lying)
    known = [each.mass_kg for each in above if each.mass_kg is not None]
    total = None
    if known:
        total = Quantity(math.fsum(mass.value for mass in known), math.fsum(mass.u for mass in known))
    heaviest = max(known, key=lambda mass: mass.value + 2 * mass.u, default=None)
    unknown = tuple(each.number for each in above if each.mass_kg is None)
    return Lifting(above, total, unknown, None if heaviest is None else caution(heaviest))


def _weight(drying: Drying, number: int) -> tuple[Quantity | None, str]:
    volume = None
    try:
        slab = drying.slab(number)
        volume = slab.entry.figures["volume_mm3"]
        if slab.outcome.now_kg is not None:
            return slab.outcome.now_kg, "as it dries"
        if slab.outcome.green_kg is not None:
            return slab.outcome.green_kg, "as if freshly sawn"
    except DryingError:
        pass
    if volume is None:
        return None, "not known: no thickness"
    mass = volume.value * WATER_KG_PER_MM3
    return Quantity(mass, math.hypot(mass * WATER_U, volume.u * WATER_KG_PER_MM3)), "as if as heavy as water"
