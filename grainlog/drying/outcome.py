"""What comes of a slab: dry sizes, weight now and dry, and what it will finish at."""

from dataclasses import dataclass

from grainlog.drying.assess import Assessed
from grainlog.drying.dry_size import of_volume
from grainlog.drying.errors import DryingError
from grainlog.drying.finish import Allowances, Finished, finish
from grainlog.drying.weight import (
    Caution,
    caution,
    green_moisture,
    mass_at,
    oven_dry_mass,
    with_bark,
)
from grainlog.units import Quantity

#: A weighing of so few days ago is what the slab weighs now (common practice, no source).
_WEIGHED_LATELY_DAYS = 7


@dataclass(frozen=True)
class Measured:
    """A slab's figures as surveyed, mm, mm2, mm3; None where not known.

    length_mm : square-end length; width_mm, width_least_mm : mean and least width; thickness_least_mm : the least reading.
    """

    length_mm: Quantity | None = None
    width_mm: Quantity | None = None
    width_least_mm: Quantity | None = None
    thickness_mm: Quantity | None = None
    thickness_least_mm: Quantity | None = None
    volume_mm3: Quantity | None = None
    board_feet: Quantity | None = None
    area_mm2: Quantity | None = None
    bark_mm2: Quantity | None = None


@dataclass(frozen=True)
class Outcome:
    """What comes of a slab at its target moisture; None where not known, with the reason in `why` under the same name.

    now_kg is to be lifted, bark included; green_kg is the most it weighs, fresh from the saw, with bark; dry_kg is the wood
    without bark, which falls off or is taken off. The caution goes by now_kg, or by green_kg where that is not known.
    """

    length_mm: Quantity | None
    width_mm: Quantity | None
    thickness_mm: Quantity | None
    board_feet: Quantity | None
    now_kg: Quantity | None
    green_kg: Quantity | None
    dry_kg: Quantity | None
    caution: Caution | None
    finished: Finished | None
    why: dict[str, str]


def outcome(assessed: Assessed, measured: Measured, allowances: Allowances) -> Outcome:
    """Dry sizes, weights and finished sizes of an assessed slab."""
    why: dict[str, str] = {}
    factors = assessed.factors
    if factors is None:
        why["size"] = assessed.factors_why
    sizes = [
        factors.of_length(size, direction) if factors and size else None
        for size, direction in (
            (measured.length_mm, "along"), (measured.width_mm, "across"), (measured.thickness_mm, "thickness")
        )
    ]  # fmt: skip
    feet = of_volume(measured.board_feet, factors) if factors and measured.board_feet else None
    finished = None
    if factors and measured.length_mm and measured.width_least_mm and measured.thickness_least_mm:
        finished = finish(
            measured.length_mm, measured.width_least_mm, measured.thickness_least_mm, factors, assessed.slab.warp, allowances
        )
    elif factors:
        why["finished"] = "the slab's thickness is not known; measure it and survey the slab again with it"
    now, green, dry = _weights(assessed, measured, why)
    lifted = now or green
    return Outcome(*sizes, feet, now, green, dry, caution(lifted) if lifted else None, finished, why)


def _weights(
    assessed: Assessed, measured: Measured, why: dict[str, str]
) -> tuple[Quantity | None, Quantity | None, Quantity | None]:
    """Mass to be lifted now and green, with bark, and of the dry wood; weighings come before the book."""
    oven_dry = assessed.oven_dry_kg
    if oven_dry is None:
        if measured.volume_mm3 is None:
            why["weight"] = "the slab's volume is not known without a thickness"
        elif assessed.slab.species is None:
            why["weight"] = assessed.slab.species_why
        elif assessed.then.moisture is None:
            why["weight"] = f"its moisture at the survey is not known: {assessed.then.why}"
        else:
            try:
                oven_dry = oven_dry_mass(measured.volume_mm3, assessed.then.moisture, assessed.slab.species)
            except DryingError as error:
                why["weight"] = str(error)
    newest = max(assessed.slab.weighings, key=lambda one: one.day, default=None)
    weighed = newest is not None and (assessed.today - newest.day).days <= _WEIGHED_LATELY_DAYS
    now = newest.quantity if newest is not None and weighed else None
    if oven_dry is None:
        return now, None, None

    def with_its_bark(mass: Quantity) -> Quantity:
        # A weighed slab was weighed with what bark it has.
        if assessed.oven_dry_kg is None and measured.area_mm2 and measured.bark_mm2:
            return with_bark(mass, measured.area_mm2.value, measured.bark_mm2.value)
        return mass

    if now is None and assessed.now.moisture is not None:
        now = with_its_bark(mass_at(oven_dry, assessed.now.moisture))
    elif now is None:
        why["weight now"] = assessed.now.why
    green = green_moisture(assessed.slab.species) if assessed.slab.species else None
    return now, with_its_bark(mass_at(oven_dry, green)) if green else None, mass_at(oven_dry, Quantity(assessed.target, 0.0))
