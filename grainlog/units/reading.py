"""Reading the sizes people write: `63.5mm`, `2 1/2in`, `6' 4 1/2"`, `72x32in`, `63,5 mm`, `12 sq ft`, `40 BF`.

A number without its unit is never guessed: the caller either gives a default unit or the person is told. Arithmetic is
in exact fractions until the last step, so 2 1/2 in is 63.5 mm to the last bit.
"""

import re
from fractions import Fraction

from grainlog.units.errors import UnitsError

_INCH = Fraction(254, 10)
_FOOT = 12 * _INCH
_LENGTH_UNITS = {
    "mm": Fraction(1), "millimetre": Fraction(1), "millimeter": Fraction(1),
    "cm": Fraction(10), "centimetre": Fraction(10), "centimeter": Fraction(10),
    "m": Fraction(1000), "metre": Fraction(1000), "meter": Fraction(1000),
    "in": _INCH, "inch": _INCH, '"': _INCH,
    "ft": _FOOT, "foot": _FOOT, "feet": _FOOT, "'": _FOOT,
}
_AREA_UNITS = {"mm": Fraction(1), "cm": Fraction(100), "m": Fraction(10**6), "in": _INCH**2, "ft": _FOOT**2}
_VOLUME_UNITS = {"mm": Fraction(1), "cm": Fraction(1000), "m": Fraction(10**9), "in": _INCH**3, "ft": _FOOT**3}
_BOARD_FOOT = 144 * _INCH**3

# Nobody's slab is a kilometre long: such a figure is a slip of the keyboard.
_LONGEST_MM = 1_000_000
_LONGEST_TEXT = 60

_VULGAR = {"¼": "1/4", "½": "1/2", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_NUMBER = r"[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+"
_AMOUNT = rf"(?:[0-9]+(?:\s*-\s*|\s+))?[0-9]+\s*/\s*[0-9]+|{_NUMBER}"
_WORD = r"[a-z]+|'|\""
_ONE = re.compile(rf"({_AMOUNT})\s*({_WORD})?")
_FEET_AND_INCHES = re.compile(
    rf"({_AMOUNT})\s*(?:ft|foot|feet|')\s*-?\s*({_AMOUNT})\s*(?:in|inch|inches|\")?"
)
_SQUARED = re.compile(rf"({_AMOUNT})\s*(?:(?:sq|square)\s+({_WORD})|([a-z]+)2|sq([a-z]+))")
_CUBED = re.compile(rf"({_AMOUNT})\s*(?:(?:cu|cubic)\s+({_WORD})|([a-z]+)3)")
_BOARD_FEET = re.compile(rf"({_AMOUNT})\s*(?:bf|bd\s?ft|board\s?(?:foot|feet))?")
_BETWEEN = re.compile(r"\s*(?:x|×|\*|\bby\b)\s*")
_HOW = "write it like 63.5mm, 2 1/2in, 6' 4 1/2\" or 0.8m"


def parse_length(text: str, default_unit: str | None = None, allow_zero: bool = False) -> float:
    """Read one length in mm.

    text : str
        A number (decimal point or comma), a fraction or both, with its unit: mm, cm, m, in, ft and their usual signs;
        feet and inches together as in 6' 4 1/2" or 6ft 4in.
    default_unit : {"mm", "cm", "m", "in", "ft"}, optional
        Unit of a bare number; without it a bare number is refused.
    allow_zero : bool
        Whether nothing at all (`0`, with or without a unit) may be meant.

    Raises UnitsError, which quotes the text and says how to write it.
    """
    value, _unit = _length(_tidy(text), text, default_unit, allow_zero)
    return float(value)


def parse_thickness(text: str, default_unit: str | None = None) -> float:
    """Read one thickness in mm: as `parse_length`, and a bare count of quarter inches from 4/4 up (8/4 is 2 in).

    The quarter notation of rough hardwood is from memory, common practice.
    """
    quarters = re.fullmatch(r"([0-9]{1,2})\s*/\s*4", _tidy(text))
    if quarters and int(quarters.group(1)) >= 4:
        return float(Fraction(int(quarters.group(1)), 4) * _INCH)
    return parse_length(text, default_unit)


def parse_size(text: str, default_unit: str | None = None) -> tuple[float, float]:
    """Read two lengths in mm written as `72x32in`, `6' x 32"`, `1800 x 800 mm` or `72 by 32 in`, in the order written.

    A side without a unit takes the other side's; raises UnitsError as `parse_length` does.
    """
    sides = _BETWEEN.split(_tidy(text))
    if len(sides) != 2:
        raise UnitsError(f"'{text}' is not a size of two lengths; write it like 72x32in or 1800x800mm.")
    bare = [bool(re.fullmatch(_AMOUNT, side)) for side in sides]
    if all(bare):
        first, second = (_length(side, text, default_unit)[0] for side in sides)
    elif bare[0]:
        second, unit = _length(sides[1], text)
        first, _ = _length(sides[0], text, unit)
    else:
        first, unit = _length(sides[0], text)
        second, _ = _length(sides[1], text, unit)
    return float(first), float(second)


def parse_area(text: str, default_unit: str | None = None) -> float:
    """Read one area in mm2: `12 sq ft`, `12ft2`, `0.8m2`, `1800 sq in`.

    default_unit : {"mm2", "cm2", "m2", "in2", "ft2"}, optional
        Unit of a bare number. Raises UnitsError.
    """
    how = "write it like 12 sq ft, 1800 sq in or 0.8m2"
    return float(_power(text, _SQUARED, "2", _AREA_UNITS, default_unit, how))


def parse_volume(text: str, default_unit: str | None = None) -> float:
    """Read one volume in mm3: `0.1m3`, `3 cu ft`, `40 BF`, `40 board feet`.

    default_unit : {"mm3", "cm3", "m3", "in3", "ft3", "BF"}, optional
        Unit of a bare number. Raises UnitsError.
    """
    tidy = _tidy(text)
    feet = _BOARD_FEET.fullmatch(tidy)
    if feet and (feet.group(0) != feet.group(1) or (default_unit or "").lower() == "bf"):
        return float(_positive(_amount(feet.group(1), text), text) * _BOARD_FOOT)
    how = "write it like 40 BF, 3 cu ft or 0.1m3"
    return float(_power(text, _CUBED, "3", _VOLUME_UNITS, default_unit, how))


def parse_board_feet(text: str) -> float:
    """Read an amount of wood in board feet: `40`, `40 BF`, `40 board feet`, or any volume. Raises UnitsError."""
    return float(Fraction(parse_volume(text, default_unit="BF")) / _BOARD_FOOT)


def _tidy(text: str) -> str:
    """Lower case, one kind of quote mark, plain fractions, single blanks."""
    if len(text) > _LONGEST_TEXT:
        raise UnitsError(f"'{text[:20]}...' is too long for one size; {_HOW}.")
    tidy = text.strip().lower()
    for sign, plain in _VULGAR.items():
        tidy = tidy.replace(sign, f" {plain}")
    tidy = tidy.replace("⁄", "/").replace("−", "-").replace("²", "2").replace("³", "3")
    tidy = re.sub("[″”“]|''|’’|′′", '"', tidy)
    tidy = re.sub("[′’‘]", "'", tidy)
    return re.sub(r"\s+", " ", tidy).strip()


def _length(
    tidy: str, text: str, default_unit: str | None = None, allow_zero: bool = False
) -> tuple[Fraction, str | None]:
    """One length in exact mm and the unit it was written in (None for feet and inches together)."""
    if tidy.startswith("-") and re.match(rf"-\s*(?:{_AMOUNT})", tidy):
        raise UnitsError(f"'{text}' is negative; a length cannot be.")
    both = _FEET_AND_INCHES.fullmatch(tidy)
    if both:
        feet, inches = (_amount(part, text) for part in both.groups())
        if inches >= 12:
            raise UnitsError(f"'{text}' has a foot or more in its inches; carry it over, or write inches alone.")
        return _positive(feet * _FOOT + inches * _INCH, text, allow_zero), None
    one = _ONE.fullmatch(tidy)
    if not one:
        raise UnitsError(f"'{text}' is not a length; {_HOW}.")
    amount, word = _amount(one.group(1), text), one.group(2)
    if word is None and amount == 0 and allow_zero:
        return amount, None
    if word is None and default_unit is None:
        raise UnitsError(f"'{text}' has no unit; add one, as in {one.group(1)}mm or {one.group(1)}in.")
    unit = _singular(word or default_unit, _LENGTH_UNITS)
    if unit is None:
        raise UnitsError(f"'{text}' has a unit that is not known here; use mm, cm, m, in or ft.")
    return _positive(amount * _LENGTH_UNITS[unit], text, allow_zero), unit


def _power(text, pattern, exponent, units, default_unit, how) -> Fraction:
    """One area or volume in exact mm2 or mm3."""
    tidy = _tidy(text)
    found = pattern.fullmatch(tidy)
    if found:
        number, *words = found.groups()
        word = next(word for word in words if word)
    elif re.fullmatch(_AMOUNT, tidy):
        if default_unit is None:
            raise UnitsError(f"'{text}' has no unit; {how}.")
        number, word = tidy, default_unit.removesuffix(exponent)
    else:
        raise UnitsError(f"'{text}' cannot be read; {how}.")
    unit = _singular(word, _LENGTH_UNITS)
    if unit is None:
        raise UnitsError(f"'{text}' has a unit that is not known here; {how}.")
    factor = {_LENGTH_UNITS[name]: value for name, value in units.items()}[_LENGTH_UNITS[unit]]
    return _positive(_amount(number, text) * factor, text, largest=_LONGEST_MM ** int(exponent))


def _singular(word: str, units: dict) -> str | None:
    """The unit as the table has it, or None."""
    names = (word, *(name for name in (word.removesuffix("s"), word.removesuffix("es")) if len(name) > 2))
    return next((name for name in names if name in units), None)


def _amount(written: str, text: str) -> Fraction:
    """A decimal, a fraction, or a whole number with a fraction, exactly."""
    if "/" not in written:
        if re.fullmatch(r"[1-9][0-9]{0,2},[0-9]{3}", written):
            whole, thousandths = written.split(",")
            raise UnitsError(f"'{text}' can be read as {whole}{thousandths} or as {whole}.{thousandths}; "
                             "leave the comma out or write a point.")
        return Fraction("0" + written.replace(",", "."))
    *whole, top, bottom = (int(digits) for digits in re.findall("[0-9]+", written))
    if bottom == 0:
        raise UnitsError(f"'{text}' divides by zero; {_HOW}.")
    if whole and top >= bottom:
        raise UnitsError(f"'{text}' has a whole number and a fraction of one or more; write for example 2 1/2in.")
    return sum(whole) + Fraction(top, bottom)


def _positive(value: Fraction, text: str, allow_zero: bool = False, largest: int = _LONGEST_MM) -> Fraction:
    if value == 0 and not allow_zero:
        raise UnitsError(f"'{text}' is nothing at all; give a size greater than zero.")
    if value > largest:
        raise UnitsError(f"'{text}' is larger than any yard holds; look at the number and its unit again.")
    return value
