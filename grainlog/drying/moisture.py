"""Moisture content: reading what people write, writing it, and the oven-dry arithmetic it is defined by.

Moisture content is the mass of water over the oven-dry mass of the wood (ASTM D4442; it can exceed 1). Inside it is
a fraction; people write and read percent. A bare `0.12` is refused with an explanation, because it is either a slip
for 12 or an impossible reading, and nobody but the person can say which.
"""

import math
import re

from grainlog.drying.errors import DryingError
from grainlog.units import Quantity

#: Fibre saturation: 30 % where nothing better is known, "varying several points by species and piece" (Wood Handbook
#: GTR-190, ch. 4, verified; FPL R1424: 25 to 30 %). Two points are taken for one standard uncertainty of a piece.
FIBRE_SATURATION = 0.30
FIBRE_SATURATION_U = 0.02

#: Nothing in the handbook's Table 4-1 is wetter (western redcedar sapwood, 249 %).
WETTEST = 2.5
_NUMBER = re.compile(r"([+-]?[0-9]+(?:[.,][0-9]+)?|[+-]?[.,][0-9]+)\s*(%|percent|per cent)?", re.IGNORECASE)


def parse_moisture(text: str) -> float:
    """Read a moisture content written in percent (`12`, `12.5%`, `12,5 %`) as a fraction of oven-dry mass.

    Raises DryingError for what is no number, for less than 1 without a percent sign (12 was probably meant), for a
    negative one, and for more than 250 %.
    """
    found = _NUMBER.fullmatch(text.strip())
    if not found:
        raise DryingError(f"'{text}' is not a moisture content; write percent of the dry weight, as in 12 or 12%.")
    percent = float(found.group(1).replace(",", "."))
    if percent < 0:
        raise DryingError(f"'{text}' is negative; a moisture content is at least 0 %.")
    if 0 < percent < 1 and not found.group(2):
        raise DryingError(
            f"'{text}' is less than one percent; moisture is written in percent here, so write "
            f"{100 * percent:g}% if that was meant, or {percent:g}% if it is really so dry."
        )
    return checked_moisture(percent / 100, text)


def checked_moisture(moisture: float, text: str | None = None) -> float:
    """The fraction itself where a piece of wood can have it. Raises DryingError outside 0 to 250 %."""
    said = text if text is not None else f"{100 * moisture:g} %"
    if not math.isfinite(moisture) or moisture < 0:
        raise DryingError(f"'{said}' is not a moisture content; it is at least 0 % and a number.")
    if moisture > WETTEST:
        raise DryingError(f"'{said}' is wetter than any wood in the table (250 %); look at the number again.")
    return moisture


def format_moisture(moisture: Quantity | float, digits: int = 0) -> str:
    """Write a moisture content: `12 %`, or `12 ± 3 %` with two standard uncertainties, rounded up."""
    if isinstance(moisture, Quantity):
        interval = 200 * moisture.u
        if interval > 0:
            return f"{100 * moisture.value:.{digits}f} ± {max(1, math.ceil(interval - 0.1))} %"
        moisture = moisture.value
    return f"{100 * moisture:.{digits}f} %"


def oven_dry_moisture(wet_kg: float, dry_kg: float) -> float:
    """Moisture content of a sample from its mass when cut and its constant mass at 103 C, by ASTM D4442.

    wet_kg, dry_kg : any one unit of mass. Returns (wet - dry) / dry. Raises DryingError where the dry sample is not
    lighter, weighs nothing, or the result is beyond any wood.
    """
    if not (math.isfinite(wet_kg) and math.isfinite(dry_kg) and wet_kg > 0 and dry_kg > 0):
        raise DryingError("A sample's weights have to be greater than zero, wet first, then oven-dry.")
    if dry_kg > wet_kg:
        raise DryingError("The sample weighs more dry than wet; give the weight when cut first, then the oven-dry one.")
    return checked_moisture((wet_kg - dry_kg) / dry_kg)
