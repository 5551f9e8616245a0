"""All that can be said of a slab's drying from what is known of it; each missing thing is named, never guessed."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from grainlog.drying.air_drying import RuleOfThumb, published, year_an_inch
from grainlog.drying.climate import ShedAir
from grainlog.drying.dry_size import ScaleFactors, scale_factors
from grainlog.drying.errors import DryingError
from grainlog.drying.finish import Warp
from grainlog.drying.forecast import DryingCurve, Forecast, fit_curve
from grainlog.drying.grain import RingShare, cautious, from_pith, from_rings
from grainlog.drying.moisture import FIBRE_SATURATION
from grainlog.drying.reading import Reading, reading_u, warnings
from grainlog.drying.species import Species
from grainlog.drying.weighing import Weighing, oven_dry_from, readings_by_weight
from grainlog.drying.weight import green_moisture
from grainlog.notes import Note
from grainlog.units import Quantity

#: A survey within so many days of felling or sawing is of green wood (common practice, no source).
GREEN_DAYS = 14
#: A reading speaks for a day at most so far from its own (common practice, no source).
_NEAR_DAYS = 30
#: What a month may change in a slab that dries (common practice, no source).
_MONTH_U = 0.02
#: Green where the species' own average is not known: anything well above fibre saturation.
_GREEN_ANY = Quantity(0.7, 0.15)


@dataclass(frozen=True)
class SlabInShed:
    """What is known of one slab.

    thickness_mm, width_mm : as surveyed, None where not known. surveyed_on : day of the survey that measured them.
    species : None with the reason in `species_why`. rings, pith_mm : how it lay in the log, as far as somebody said.
    readings, weighings : in any order. warp : as last read.
    """

    number: int
    species: Species | None
    species_why: str
    surveyed_on: date
    thickness_mm: Quantity | None = None
    width_mm: Quantity | None = None
    felled_on: date | None = None
    sawn_on: date | None = None
    rings: str | None = None
    pith_mm: float | None = None
    readings: tuple[Reading, ...] = ()
    weighings: tuple[Weighing, ...] = ()
    warp: Warp = field(default_factory=Warp)


@dataclass(frozen=True)
class Known:
    """A moisture with the ground it stands on, or None with the reason why not."""

    moisture: Quantity | None
    why: str


@dataclass(frozen=True)
class Assessed:
    """What can be said of a slab's drying on a day, for a target moisture.

    then, now : moisture on the survey's day and today. factors : from the survey's sizes to the target, None with the
    reason in `factors_why`. curve, forecast : None with fewer than three days of comparable readings. rules : what is said
    of such wood in general. oven_dry_kg : from weighings and readings together. core : the newest core reading.
    """

    slab: SlabInShed
    target: float
    today: date
    air: ShedAir
    then: Known
    now: Known
    rings: RingShare
    factors: ScaleFactors | None
    factors_why: str
    curve: DryingCurve | None
    forecast: Forecast | None
    rules: tuple[RuleOfThumb, ...]
    oven_dry_kg: Quantity | None
    readings: tuple[Reading, ...]
    core: Reading | None
    notes: tuple[Note, ...]


def assess(slab: SlabInShed, target: float, today: date, air: ShedAir) -> Assessed:
    """Put together what is known of a slab. Raises DryingError only for a target that is no moisture."""
    thickness = slab.thickness_mm.value if slab.thickness_mm else None
    oven_dry, readings, curve = _all_readings(slab, air)
    then = moisture_on(slab.surveyed_on, slab, readings, curve)
    rings = ring_share(slab)
    factors, why = factors_to(target, slab, then, rings)
    return Assessed(
        slab, target, today, air, then, moisture_on(today, slab, readings, curve), rings, factors, why, curve,
        curve.reaches(target) if curve else None,
        (published(slab.species, thickness), year_an_inch(thickness)) if thickness else (),
        oven_dry, readings, next((one for one in reversed(readings) if one.of_core(thickness)), None),
        tuple(warnings(readings, air.equilibrium if air.measured else None, slab.species)),
    )  # fmt: skip


def _all_readings(slab: SlabInShed, air: ShedAir) -> tuple[Quantity | None, tuple[Reading, ...], DryingCurve | None]:
    """Oven-dry mass where weighings tell it, every reading in order of days, and the curve through them."""
    thickness = slab.thickness_mm.value if slab.thickness_mm else None
    oven_dry = oven_dry_from(slab.weighings, slab.readings)
    by_weight = readings_by_weight(slab.weighings, oven_dry) if oven_dry else []
    readings = tuple(sorted((*slab.readings, *by_weight), key=lambda one: one.day))
    return oven_dry, readings, fit_curve(readings, air.equilibrium, thickness)


def factors_to(target: float, slab: SlabInShed, then: Known, rings: RingShare) -> tuple[ScaleFactors | None, str]:
    """Factors from the survey's sizes to a moisture, or None and why not."""
    if slab.species is None:
        return None, slab.species_why
    if then.moisture is None:
        return None, f"its moisture at the survey is not known: {then.why}"
    try:
        return scale_factors(slab.species, then.moisture, target, rings), ""
    except DryingError as error:
        return None, str(error)


def survey_factors(slab: SlabInShed, target: float, air: ShedAir) -> tuple[ScaleFactors | None, str]:
    """What `assess` says of a slab's factors, without the rest: for very many slabs."""
    then = moisture_on(slab.surveyed_on, slab, (), None)
    if then.moisture is None and (slab.readings or slab.weighings):
        readings, curve = _all_readings(slab, air)[1:]
        then = moisture_on(slab.surveyed_on, slab, readings, curve)
    return factors_to(target, slab, then, ring_share(slab))


def ring_share(slab: SlabInShed) -> RingShare:
    """How the slab lay in the log: as seen at its end, from the pith, or the cautious case."""
    if slab.rings is not None:
        return from_rings(slab.rings)
    if slab.pith_mm is not None and slab.width_mm is not None:
        return from_pith(slab.pith_mm, slab.width_mm.value)
    return cautious()


def moisture_on(day: date, slab: SlabInShed, readings: Sequence[Reading], curve: DryingCurve | None) -> Known:
    """The mean moisture of a slab on a day, or why it is not known."""
    fresh = [
        (word, since) for word, on in (("sawn", slab.sawn_on), ("felled", slab.felled_on))
        if on is not None and 0 <= (since := (day - on).days) <= GREEN_DAYS
    ]  # fmt: skip
    if fresh:
        green = (green_moisture(slab.species) if slab.species else None) or _GREEN_ANY
        # However far the average is out, wood fresh from the saw is not below fibre saturation as a whole.
        sure = Quantity(max(green.value, FIBRE_SATURATION), green.u)
        return Known(sure, f"green: {fresh[0][0]} {_ago(fresh[0][1])}")
    if curve is not None and day >= curve.first:
        return Known(curve.at(day), f"from the curve through {len(curve.used)} readings")
    near = min(readings, key=lambda one: (abs((one.day - day).days), reading_u(one)), default=None)
    if near is not None and (away := abs((near.day - day).days)) <= _NEAR_DAYS:
        u = reading_u(near) + _MONTH_U * away / 30
        return Known(Quantity(near.moisture, u), f"from the {near.method} reading of {near.day.isoformat()}")
    return Known(
        None,
        f"no reading within {_NEAR_DAYS} days of {day.isoformat()}, and nobody said that the log was felled or sawn within "
        f"{GREEN_DAYS} days before",
    )


def _ago(days: int) -> str:
    return {0: "that day", 1: "the day before"}.get(days, f"{days} days before")
