"""One reading of how dry a slab is, how sure it is, and what it says against physics.

A meter infers moisture; pin and pinless ones need not agree, and each is calibrated against oven-drying (abstracts of
ASTM D4444 and D7438, verified). Useful range about 6 % to fibre saturation, above that only indicative; species and
temperature corrections are needed (from memory). One reading near the surface is not the core's.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from grainlog.drying.errors import DryingError
from grainlog.drying.moisture import FIBRE_SATURATION, checked_moisture
from grainlog.drying.species import Species
from grainlog.notes import Note
from grainlog.units import Quantity

METHODS = ("pin", "pinless", "oven-dry", "weight")

#: Standard uncertainties, fractions; common practice, no source, but that of oven-drying by secondary methods, which
#: ASTM D4442 (scope, verified) does not report finer than whole percent.
_METER_U = 0.012
_UNCORRECTED_U = 0.015
_OVEN_DRY_U = 0.005
_METER_LEAST, _METER_MOST = 0.06, FIBRE_SATURATION - 0.02
#: From this share of the thickness down, to a millimetre, a reading is the core's (common practice, no source).
CORE_SHARE, _CORE_SLACK_MM = 0.4, 1.0


@dataclass(frozen=True)
class Reading:
    """One dated reading of a slab.

    day : when. moisture : fraction. method : one of `METHODS`; "weight" is worked out from weighings.
    depth_mm : of the pin tips or of the pinless field, None where not said.
    core : whether the person says it is the core's; None leaves it to the depth.
    corrected : whether the species correction was applied; None where not said.
    temperature_c : of the wood or shed. place : where on the slab. u : standard uncertainty if it is known otherwise.
    """

    day: date
    moisture: float
    method: str = "pin"
    depth_mm: float | None = None
    core: bool | None = None
    corrected: bool | None = None
    temperature_c: float | None = None
    place: str = ""
    u: float | None = None

    def __post_init__(self) -> None:
        checked_moisture(self.moisture)
        if self.method not in METHODS:
            raise DryingError(f"'{self.method}' is no way of reading moisture here; use {', '.join(METHODS)}.")
        if self.depth_mm is not None and not (math.isfinite(self.depth_mm) and 0 <= self.depth_mm <= 500):
            raise DryingError("The depth of a reading has to be a length of up to 500 mm.")

    @property
    def quantity(self) -> Quantity:
        """The moisture with its standard uncertainty."""
        return Quantity(self.moisture, reading_u(self))

    def of_core(self, thickness_mm: float | None) -> bool:
        """Whether it speaks for the core of a slab so thick: an oven-dried section, or deep enough, or said so."""
        if self.core is not None:
            return self.core
        if self.method == "oven-dry":
            return True
        if self.depth_mm is None or thickness_mm is None:
            return False
        return self.depth_mm >= CORE_SHARE * thickness_mm - _CORE_SLACK_MM


def reading_u(reading: Reading) -> float:
    """Standard uncertainty of a reading, a fraction."""
    if reading.u is not None:
        return reading.u
    if reading.method == "oven-dry":
        return _OVEN_DRY_U
    u = math.hypot(_METER_U, 0.0 if reading.corrected else _UNCORRECTED_U)
    if reading.moisture > _METER_MOST:
        # Only indicative there: a meter shows 60 % or 45 % for the same wood.
        return math.hypot(u, 0.25 * reading.moisture)
    return u if reading.moisture >= _METER_LEAST else 2 * u


def at_least(reading: Reading) -> float:
    """The lower end of a reading's interval of two standard uncertainties; a meter beyond its range still says 'wet'."""
    low = reading.moisture - 2 * reading_u(reading)
    if reading.method in ("pin", "pinless") and reading.moisture > _METER_MOST:
        low = max(low, at_least(replace(reading, moisture=_METER_MOST)))
    return max(low, 0.0)


def wettest(species: Species) -> float | None:
    """The most water that the wood has room for: (1.54 - G) / (1.54 G), Wood Handbook Eq. 4-3, verified in a transcription."""
    basic = species.gravity_green
    return None if basic is None else (1.54 - basic) / (1.54 * basic)


def warnings(
    readings: Sequence[Reading], shed_emc: Quantity | None = None, species: Species | None = None
) -> list[Note]:
    """Where readings and physics disagree: below what the shed allows, rising, above green, or beyond the meter."""
    notes = []
    ordered = sorted(readings, key=lambda one: one.day)
    for one in ordered:
        said = f"{one.day.isoformat()}: {100 * one.moisture:.0f} %"
        if shed_emc and one.moisture + 2 * math.hypot(reading_u(one), shed_emc.u) < shed_emc.value:
            notes.append(Note("below-emc", (
                f"{said} is drier than the shed's air allows ({100 * shed_emc.value:.0f} %); look at the species setting "
                "of the meter, and whether the wood was colder than the meter takes it for."
            )))  # fmt: skip
        most = wettest(species) if species else None
        if most and one.moisture > most:
            notes.append(Note("above-full", (
                f"{said} is more water than {species.name} has room for ({100 * most:.0f} %); the reading or the species "
                "is wrong."
            )))  # fmt: skip
        green = species and max((species.green_heartwood or 0, species.green_sapwood or 0, species.green_wood or 0))
        if green and one.moisture - 2 * reading_u(one) > 1.5 * green:
            notes.append(Note("above-green", (
                f"{said} is far above green {species.name} (about {100 * green:.0f} %); the reading or the species is "
                "doubtful."
            )))  # fmt: skip
        if one.method in ("pin", "pinless") and one.moisture > FIBRE_SATURATION:
            notes.append(Note("beyond-meter", (
                f"{said} lies above what a meter can tell apart (about 30 %): take it for 'still wet'."
            )))  # fmt: skip
    for before, after in _pairs(ordered):
        if after.moisture - before.moisture > 2 * math.hypot(reading_u(before), reading_u(after)):
            notes.append(Note("rising", (
                f"The {after.method} reading rose from {100 * before.moisture:.0f} % ({before.day.isoformat()}) to "
                f"{100 * after.moisture:.0f} % ({after.day.isoformat()}): rain, a wet place in the stack, or another depth."
            )))  # fmt: skip
    return notes


def _pairs(ordered: Sequence[Reading]) -> list[tuple[Reading, Reading]]:
    """Neighbours in time that were read alike, so that the two can be compared."""
    last: dict[tuple, Reading] = {}
    pairs = []
    for one in ordered:
        key = (one.method, one.depth_mm, one.core, one.place.casefold())
        if key in last:
            pairs.append((last[key], one))
        last[key] = one
    return pairs
