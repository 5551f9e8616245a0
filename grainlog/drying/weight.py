"""What a slab weighs, now and dry, and when to say that it is too heavy to lift.

Density at moisture M is rho_w G_M (1 + M), with G_M the specific gravity on the volume at M: G_M = G_b / (1 - S_M), S_M
the volumetric shrinkage to M (Wood Handbook Eqs. 4-11 and 4-14, verified in a public transcription of GTR-282);
rho_w = 1000 kg/m3. Where the volumetric shrinkage is not known it is 26.5 % of G_b (Eq. 4-12, Stamm 1964, the same).
"""

import math
from dataclasses import dataclass

from grainlog.drying.dry_size import shrinkage
from grainlog.drying.errors import DryingError
from grainlog.drying.species import Species
from grainlog.units import Quantity

WATER_KG_PER_MM3 = 1e-6
STAMM = 0.265

#: Bark is taken to be as heavy as the wood, less sure (common practice, no source).
BARK_U = 0.3
#: Green moisture differs much within a tree ("variability is considerable", Wood Handbook ch. 4, verified); a fifth of
#: the average for one standard uncertainty (common practice, no source).
GREEN_SPREAD = 0.2

#: Load constant of the revised NIOSH lifting equation (DHHS (NIOSH) Publication 94-110, verified): 23 kg, 51 lb, one
#: person, ideal conditions. A slab is never held in ideal conditions.
LOAD_CONSTANT_KG = 23.0


@dataclass(frozen=True)
class Caution:
    """Whether a weight calls for a caution: `level` 0 none, 1 not for one person, 2 not for two; and what to say."""

    level: int
    message: str


def gravity(species: Species, moisture: float) -> float:
    """Specific gravity on the volume at `moisture` (fraction). Raises DryingError where the species has none."""
    basic = species.gravity_green
    if basic is None:
        raise DryingError(
            f"The specific gravity of {species.name} is not known here, so its weight is not; "
            "give it as a species of your own, or weigh the slab."
        )
    total = species.volumetric if species.volumetric is not None else STAMM * basic
    return basic / (1 - shrinkage(total, moisture))


def density(species: Species, moisture: float) -> float:
    """kg per mm3 of wood at `moisture`: oven-dry wood and water together, of the volume at that moisture."""
    return WATER_KG_PER_MM3 * gravity(species, moisture) * (1 + moisture)


def green_moisture(species: Species) -> Quantity | None:
    """Average green moisture: between heartwood and sapwood, with half their distance in the doubt; None if not known."""
    heart, sap, both = species.green_heartwood, species.green_sapwood, species.green_wood
    known = [value for value in (heart, sap) if value is not None]
    if both is None and not known:
        return None
    value = both if both is not None else sum(known) / len(known)
    reach = max((abs(one - value) for one in known), default=0.0)
    return Quantity(value, math.hypot(GREEN_SPREAD * value, reach / 2))


def oven_dry_mass(volume_mm3: Quantity, moisture_then: Quantity, species: Species) -> Quantity:
    """Oven-dry mass, kg, of a volume measured at `moisture_then`; the mass that drying does not change.

    Raises DryingError where the specific gravity is not known.
    """
    middle = gravity(species, moisture_then.value)
    value = volume_mm3.value * density(species, moisture_then.value) / (1 + moisture_then.value)
    low = max(moisture_then.value - moisture_then.u, 0.0)
    budget = {
        "volume": value * volume_mm3.u / volume_mm3.value,
        "spread between trees": value * species.gravity_spread,
        "moisture at the survey": value
        * abs(gravity(species, low) - gravity(species, moisture_then.value + moisture_then.u))
        / (2 * middle),
    }
    return Quantity(value, math.hypot(*budget.values()), budget)


def mass_at(oven_dry: Quantity, moisture: Quantity) -> Quantity:
    """Mass, kg, at a moisture: the oven-dry mass and its water."""
    value = oven_dry.value * (1 + moisture.value)
    budget = {name: u * (1 + moisture.value) for name, u in oven_dry.budget.items()} or {
        "oven-dry mass": oven_dry.u * (1 + moisture.value)
    }
    budget["moisture"] = oven_dry.value * moisture.u
    return Quantity(value, math.hypot(*budget.values()), budget)


def with_bark(wood: Quantity, wood_mm2: float, bark_mm2: float) -> Quantity:
    """The mass to be lifted, kg: wood and the bark around it, from the areas of both on the face."""
    if not (wood_mm2 > 0 and bark_mm2 >= 0):
        raise DryingError("The areas of wood and bark are needed to weigh a slab with its bark.")
    bark = wood.value * bark_mm2 / wood_mm2
    budget = {**(wood.budget or {"wood": wood.u}), "bark": bark * BARK_U}
    budget = {name: u * (1 + bark_mm2 / wood_mm2) if name != "bark" else u for name, u in budget.items()}
    return Quantity(wood.value + bark, math.hypot(*budget.values()), budget)


def caution(mass: Quantity) -> Caution:
    """A plain caution by what the slab may weigh, the interval's upper end."""
    most = mass.value + 2 * mass.u
    limits = (
        "NIOSH's lifting equation starts at 51 lb (23 kg) for one person in ideal conditions and comes to well below it "
        "for a load as long and wide as a slab. Local rules and whoever is trained for lifting come first."
    )
    if most <= LOAD_CONSTANT_KG:
        return Caution(0, "Still lift with care: " + limits)
    if most <= 2 * LOAD_CONSTANT_KG:
        return Caution(1, "It may be too heavy for one person. " + limits)
    return Caution(
        2, "It may be too heavy for two people: use a hoist, rollers, a dolly or more hands, and keep out from under it. "
        + limits
    )  # fmt: skip
