"""Writing sizes for people: millimetres, or feet, inches and fractions; each with how sure it is as +- 2u.

Two systems of units are known: "in" (feet, inches, square feet, board feet) and "mm" (millimetres, square and cubic
metres). A value is never written finer than its uncertainty deserves: JCGM 100:2008, 7.2.6, asks for at most two
digits of uncertainty, rounds it up rather than down, and rounds the value to match.
"""

import math
from fractions import Fraction

from grainlog.units.errors import UnitsError
from grainlog.units.factors import (
    MM2_PER_SQUARE_FOOT,
    MM2_PER_SQUARE_METRE,
    MM3_PER_CUBIC_FOOT,
    MM3_PER_CUBIC_METRE,
    MM_PER_INCH,
)
from grainlog.units.quantity import Quantity

SYSTEMS = ("in", "mm")

# Sawyers say widths in inches, lengths in feet and inches: from four feet up a bare count is hard to picture.
_INCHES_UNTIL_FEET = 48

# Uncertainty is rounded up, except over a trifle: the guide's own example takes 28.05 to 28 and 10.47 to 11.
_SLACK = Fraction(1, 10)

_SCALED = {
    ("area", "in"): (MM2_PER_SQUARE_FOOT, "sq ft", 0.1),
    ("area", "mm"): (MM2_PER_SQUARE_METRE, "m²", 0.001),
    ("volume", "in"): (MM3_PER_CUBIC_FOOT, "cu ft", 0.01),
    ("volume", "mm"): (MM3_PER_CUBIC_METRE, "m³", 0.0001),
    ("board_feet", "in"): (1.0, "BF", 0.1),
    ("board_feet", "mm"): (1.0, "BF", 0.1),
}


def format_quantity(quantity: Quantity, units: str, kind: str = "length") -> str:
    """Write a value and its interval of two standard uncertainties: `2412 ± 4 mm`, `7 ft 11 in ± 3/16 in`.

    quantity : Quantity
        In mm, mm2, mm3 or board feet, as `kind` says; u = 0 leaves the interval out.
    units : {"in", "mm"}
    kind : {"length", "area", "volume", "board_feet"}

    Raises UnitsError for an unknown `units` or `kind`, ValueError for a value or u that is not a finite number.
    """
    _known(units)
    value, interval = float(quantity.value), 2.0 * float(quantity.u)
    if not (math.isfinite(value) and math.isfinite(interval) and interval >= 0):
        raise ValueError(f"cannot write {quantity.value!r} with u = {quantity.u!r}")
    if kind == "length" and units == "in":
        if interval == 0:
            return format_length(value, units)
        step = _fraction_step(value / MM_PER_INCH, interval / MM_PER_INCH)
        shown = math.ceil(Fraction(interval / MM_PER_INCH) / step - _SLACK) * step
        return f"{_feet_and_inches(_to_step(value, step))} ± {_inches(max(shown, step))} in"
    if kind == "length":
        factor, name, finest = 1.0, "mm", 1.0 if abs(value) >= 100 else 0.1
    elif (kind, units) in _SCALED:
        factor, name, finest = _SCALED[kind, units]
    else:
        raise UnitsError(f"'{kind}' is not a kind of quantity that can be written.")
    return f"{_decimal(value / factor, interval / factor, finest)} {name}"


def format_if_known(quantity: Quantity | None, units: str, kind: str = "length") -> str:
    """A value with its interval, or that it is not known; see `format_quantity`."""
    return "not known" if quantity is None else format_quantity(quantity, units, kind)


def format_length(mm: float, units: str, denominator: int = 16) -> str:
    """Write one length without its uncertainty: `63.5 mm`, `2 1/2 in`, `7 ft 11 1/4 in` (feet from 4 ft up).

    Inches go to the nearest 1/`denominator` (halves away from zero), millimetres to 0.1 with no idle zero.
    """
    _known(units)
    if units == "mm":
        return f"{_trimmed(_round_half_up(mm, 0.1), 1)} mm"
    return _feet_and_inches(_to_step(mm, Fraction(1, denominator)))


def format_size(length_mm: float, width_mm: float, units: str, denominator: int = 8) -> str:
    """Write two lengths as `72 x 32 1/2 in` or `1829 x 826 mm`; feet are not used, so the two compare at a glance."""
    _known(units)
    if units == "mm":
        return f"{_round_half_up(length_mm, 1.0):.0f} x {_round_half_up(width_mm, 1.0):.0f} mm"
    step = Fraction(1, denominator)
    return f"{_inches(_to_step(length_mm, step))} x {_inches(_to_step(width_mm, step))} in"


def format_area(mm2: float, units: str) -> str:
    """Write one area without its uncertainty: `14.3 sq ft`, `1.329 m²`."""
    return format_quantity(Quantity(mm2, 0.0), units, "area")


def format_board_feet(board_feet: float) -> str:
    """Write board feet without their uncertainty: `24.6 BF`."""
    return format_quantity(Quantity(board_feet, 0.0), "in", "board_feet")


def _known(units: str) -> None:
    if units not in SYSTEMS:
        raise UnitsError(f"'{units}' is not a system of units here; use in or mm.")


def _fraction_step(value_in: float, interval_in: float) -> Fraction:
    """The coarsest binary fraction of an inch that is no more than half the interval, 1/16 at the finest.

    Half, so that rounding the interval up to a whole number of steps never doubles it. Below an inch (the width of a
    check) 1/32 is allowed.
    """
    finest = 5 if abs(value_in) < 1 else 4
    return next((step for step in (Fraction(1, 2**power) for power in range(finest)) if step <= interval_in / 2),
                Fraction(1, 2**finest))


def _to_step(mm: float, step: Fraction) -> Fraction:
    """Inches rounded to a whole number of steps, halves away from zero."""
    # A billionth of an inch keeps 63.5 / 25.4 and its kind from falling on the wrong side of a half.
    steps = math.floor(Fraction(round(abs(mm) / MM_PER_INCH, 9)) / step + Fraction(1, 2))
    return -steps * step if mm < 0 else steps * step


def _feet_and_inches(inches: Fraction) -> str:
    sign, size = ("-" if inches < 0 else ""), abs(inches)
    if size < _INCHES_UNTIL_FEET:
        return f"{sign}{_inches(size)} in"
    feet, rest = divmod(size, 12)
    return f"{sign}{feet} ft {_inches(rest)} in" if rest else f"{sign}{feet} ft"


def _inches(inches: Fraction) -> str:
    whole, part = divmod(inches, 1)
    if not part:
        return f"{whole}"
    fraction = f"{part.numerator}/{part.denominator}"
    return f"{whole} {fraction}" if whole else fraction


def _decimal(value: float, interval: float, finest: float) -> str:
    """Value and interval to the same decimal place; the value alone, to `finest`, where the interval is zero."""
    places = max(0, -math.floor(math.log10(finest) + 0.5))
    if interval == 0:
        return f"{_round_half_up(value, finest):.{places}f}"
    power = math.floor(math.log10(interval))
    # One digit for 2 to 9; two for 1.0 to 1.9, where one digit alone would be off by up to nearly a half.
    step = max(10.0 ** (power if interval / 10.0**power >= 2 else power - 1), finest)
    places = max(0, -math.floor(math.log10(step) + 0.5))
    shown = max(math.ceil(interval / step - float(_SLACK)), 1) * step
    return f"{_round_half_up(value, step):.{places}f} ± {shown:.{places}f}"


def _round_half_up(value: float, step: float) -> float:
    return math.copysign(math.floor(round(abs(value) / step, 9) + 0.5) * step, value)


def _trimmed(value: float, places: int) -> str:
    return f"{value:.{places}f}".rstrip("0").rstrip(".")
