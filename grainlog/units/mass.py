"""Weights and temperatures: reading `82 lb`, `37.5kg`, `21 C`, `70F`, writing them back.

The avoirdupois pound is 0.45359237 kg exactly (international yard and pound agreement of 1959).
"""

import math
import re

from grainlog.units.errors import UnitsError
from grainlog.units.quantity import Quantity

KG_PER_POUND = 0.45359237

_MASS_UNITS = {"kg": 1.0, "g": 0.001, "lb": KG_PER_POUND, "lbs": KG_PER_POUND, "oz": KG_PER_POUND / 16,
               "pound": KG_PER_POUND, "pounds": KG_PER_POUND, "ounces": KG_PER_POUND / 16}  # fmt: skip
_MASS = re.compile(r"([0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)\s*([a-z]+)", re.IGNORECASE)
_TEMPERATURE = re.compile(r"([+−-]?\s*[0-9]+(?:[.,][0-9]+)?)\s*°?\s*([cf])", re.IGNORECASE)


def parse_mass(text: str) -> float:
    """Read one weight in kg: `82 lb`, `37.5kg`, `412 g`, `6 oz`. Raises UnitsError without a unit or for nothing."""
    found = _MASS.fullmatch(text.strip())
    factor = _MASS_UNITS.get(found.group(2).lower()) if found else None
    if found is None or factor is None:
        raise UnitsError(f"'{text}' is not a weight; write it with its unit, as in 82lb, 37.5kg or 412g.")
    value = float(found.group(1).replace(",", ".")) * factor
    if value <= 0:
        raise UnitsError(f"'{text}' is nothing at all; give a weight greater than zero.")
    if value > 20_000:
        raise UnitsError(f"'{text}' is heavier than any slab; look at the number and its unit again.")
    return value


def format_mass(mass: Quantity, units: str) -> str:
    """Write a weight in kg as `37 ± 4 kg` or, for units "in", `82 ± 9 lb`; the interval is two standard uncertainties."""
    factor, name = (KG_PER_POUND, "lb") if units == "in" else (1.0, "kg")
    value, interval = mass.value / factor, 2 * mass.u / factor
    if interval <= 0:
        return f"{value:.1f} {name}"
    step = max(10.0 ** (math.floor(math.log10(interval)) - 1), 1.0 if interval >= 2 else 0.1)
    places = 1 if step < 1 else 0
    shown = max(math.ceil(interval / step - 0.1), 1) * step
    return f"{round(value / step) * step:.{places}f} ± {shown:.{places}f} {name}"


def parse_temperature(text: str) -> float:
    """Read one temperature in C: `21C`, `70 F`, `-3 °C`. Raises UnitsError without a unit."""
    found = _TEMPERATURE.fullmatch(text.strip())
    if not found:
        raise UnitsError(f"'{text}' is not a temperature; write it with its unit, as in 18C or 64F.")
    value = float(found.group(1).replace(",", ".").replace("−", "-").replace(" ", ""))
    return value if found.group(2).lower() == "c" else (value - 32) / 1.8


def format_temperature(celsius: float, units: str) -> str:
    """Write a temperature in C as `18 C` or, for units "in", `64 F`."""
    return f"{celsius * 1.8 + 32:.0f} F" if units == "in" else f"{celsius:.0f} C"
