"""How long air drying takes where a slab has no readings of its own: published ranges and the sawyers' rule.

Days to 20 % for 1 in stock, from memory of the Forest Products Laboratory's tables (such as Technical Note 233, 1960, of
which only the text was read: the shorter time is for stock stacked in good drying weather, the longer for stock stacked
too late in the year, which does not reach 20 % until the following spring). Simpson and Hart (2001, abstract, verified)
call such times of limited use, being tied to one place and season. Thickness counts more than in proportion (Dry Kiln
Operator's Manual ch. 1, verified); the exponent of 1.5 to 2 is from memory. "A year an inch" is a woodworkers' saying:
common practice, no source, and disputed.
"""

from dataclasses import dataclass

from grainlog.drying.errors import DryingError
from grainlog.drying.species import Species
from grainlog.units.factors import MM_PER_INCH

#: The moisture that the published times lead to.
PUBLISHED_TO = 0.20

_INCH_DAYS = {
    "Oak, northern red": (70, 200),
    "Oak, southern red": (100, 300),
    "Oak, white": (80, 320),
    "Walnut, black": (70, 200),
    "Cherry, black": (70, 200),
    "Maple, sugar": (50, 200),
    "Maple, silver": (30, 120),
    "Maple, red": (30, 120),
    "Ash, white": (60, 200),
    "Hickory, shagbark": (60, 200),
    "Birch, yellow": (70, 200),
    "Beech, American": (70, 200),
    "Elm, American": (50, 150),
    "Sycamore, American": (30, 150),
    "Yellow-poplar": (40, 150),
    "Basswood, American": (40, 150),
    "Pine, eastern white": (60, 200),
}
_EXPONENTS = (1.5, 2.0)


@dataclass(frozen=True)
class RuleOfThumb:
    """Days from sawing to a moisture by a rule, from `least` to `most`, with its standing for people."""

    to_moisture: float | None
    least_days: float
    most_days: float
    standing: str


def published(species: Species | None, thickness_mm: float) -> RuleOfThumb:
    """Days to 20 % by the published ranges, stretched for the thickness. Raises DryingError without a thickness."""
    inches = _inches(thickness_mm)
    listed = _listed(species)
    low = min(_INCH_DAYS[name][0] for name in listed or _INCH_DAYS)
    high = max(_INCH_DAYS[name][1] for name in listed or _INCH_DAYS)
    stretched = sorted(inches**power for power in _EXPONENTS)
    whose = " and ".join(listed) or "any species in the list"
    return RuleOfThumb(
        PUBLISHED_TO, low * stretched[0], high * stretched[1],
        f"published range for 1 in of {whose}, to 20 %, from memory, stretched by thickness to the power 1.5 to 2",
    )  # fmt: skip


def _listed(species: Species | None) -> list[str]:
    """The names in the list that a species stands for: its own, or those of the wood that is one of several."""
    if species is None:
        return []
    name, _, any_of = species.name.partition(", any of")
    if not any_of:
        return [name] if name in _INCH_DAYS else []
    wood = name.casefold().split()[-1]
    return [one for one in _INCH_DAYS if one.casefold().split(",")[0] == wood]


def year_an_inch(thickness_mm: float) -> RuleOfThumb:
    """A year for each inch, to air dry, whatever that is. Raises DryingError without a thickness."""
    days = 365 * _inches(thickness_mm)
    return RuleOfThumb(None, days, days, "about a year an inch: a saying, common practice, no source, disputed")


def _inches(thickness_mm: float) -> float:
    if not thickness_mm > 0:
        raise DryingError("A rule of thumb for drying needs the slab's thickness.")
    return thickness_mm / MM_PER_INCH
