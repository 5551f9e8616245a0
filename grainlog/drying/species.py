"""The species table: what the handbook says of each wood, value by value with its source.

`species.csv` holds one row per species; values come from the U.S. Forest Products Laboratory's Wood Handbook
(FPL-GTR-190, 2010, Tables 4-1, 4-3, 5-3; FPL-GTR-282, 2021) and the Forest Service's species reference table; the
column beside a value says where it was seen, or that it is from memory. Empty means nobody knows here.
"""

import csv
import math
import re
import statistics
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from grainlog.drying.errors import DryingError, SpeciesUnknown

#: Spread between trees of one species, one standard deviation as a share of the mean. Shrinkage: "about 15 %" (Wood
#: Handbook ch. 4, from memory). Specific gravity: 10 % (Wood Handbook Table 5-6, from memory).
SHRINKAGE_SPREAD = 0.15
GRAVITY_SPREAD = 0.10

#: Name of each value: its column in the file, the factor to what is kept inside, the column of its source, and the
#: least and greatest value that any wood has (wide, to catch slips only; common practice, no source).
VALUES: Mapping[str, tuple[str, float, str, float, float]] = MappingProxyType({
    "radial": ("shrink_radial_pct", 0.01, "shrinkage_source", 0.005, 0.20),
    "tangential": ("shrink_tangential_pct", 0.01, "shrinkage_source", 0.01, 0.25),
    "volumetric": ("shrink_volumetric_pct", 0.01, "shrinkage_source", 0.02, 0.35),
    "gravity_green": ("sg_green", 1.0, "sg_source", 0.1, 1.3),
    "gravity_12": ("sg_12", 1.0, "sg_source", 0.1, 1.4),
    "green_heartwood": ("green_heartwood_pct", 0.01, "green_source", 0.2, 2.5),
    "green_sapwood": ("green_sapwood_pct", 0.01, "green_source", 0.2, 2.5),
    "green_wood": ("green_wood_pct", 0.01, "green_wood_source", 0.2, 2.5),
})  # fmt: skip

# Names of the trade that are not a table name turned round; from memory.
_TRADE = {
    "hard maple": "Maple, sugar",
    "rock maple": "Maple, sugar",
    "tulip poplar": "Yellow-poplar",
    "tuliptree": "Yellow-poplar",
    "sycamore": "Sycamore, American",
    "white walnut": "Butternut",
    "red elm": "Elm, slippery",
    "white elm": "Elm, American",
    "black gum": "Tupelo, black",
    "red gum": "Sweetgum",
    "hedge": "Osage-orange",
    "bodark": "Osage-orange",
    "basswood": "Basswood, American",
    "linden": "Basswood, American",
}


@dataclass(frozen=True)
class Species:
    """One species; shrinkages and moistures as fractions, None where not known.

    radial, tangential, volumetric : shrinkage from green to oven-dry, of the green size.
    gravity_green, gravity_12 : oven-dry mass over the mass of water of the green volume, or of the volume at 12 %.
    green_heartwood, green_sapwood, green_wood : average moisture content of green heartwood, sapwood, and both.
    shrinkage_spread, gravity_spread : one standard deviation between trees, as a share of the mean.
    sources : for each known value, where it was seen.
    """

    name: str
    botanical: str | None = None
    group: str | None = None
    radial: float | None = None
    tangential: float | None = None
    volumetric: float | None = None
    gravity_green: float | None = None
    gravity_12: float | None = None
    green_heartwood: float | None = None
    green_sapwood: float | None = None
    green_wood: float | None = None
    shrinkage_spread: float = SHRINKAGE_SPREAD
    gravity_spread: float = GRAVITY_SPREAD
    sources: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    note: str = ""

    def with_values(self, values: Mapping[str, float], source: str, name: str | None = None) -> "Species":
        """A copy in which the values given, and their source, are the person's own. Raises DryingError."""
        for key, value in values.items():
            if key not in VALUES:
                raise DryingError(f"'{key}' is no value of a species; use one of {', '.join(VALUES)}.")
            least, greatest = VALUES[key][3:]
            if not least <= value <= greatest:
                raise DryingError(
                    f"{value:g} cannot be the {key.replace('_', ' ')} of a wood ({least:g} to {greatest:g}); "
                    "shrinkages and moistures are fractions here, 7 % is 0.07."
                )
        if not source.strip():
            raise DryingError("Say where the values come from: a book, a test of your own, a neighbour.")
        sources = MappingProxyType({**self.sources, **dict.fromkeys(values, source.strip())})
        return replace(self, name=name or self.name, sources=sources, **values)


@cache
def species_table() -> tuple[Species, ...]:
    """Every species of the package's table, in the order of the file."""
    text = (files("grainlog.drying") / "species.csv").read_text(encoding="utf-8")
    return tuple(_species(row) for row in csv.DictReader(text.splitlines()))


def find_species(name: str, own: Iterable[Species] = ()) -> Species:
    """The species a person means: their own first, then the table.

    The table's name either way round ("Oak, white", "white oak"), the botanical name, a name of the trade, or one
    word that only one species carries ("walnut"). A word that several of one genus carry ("elm") gives their mean,
    less sure by the spread between them. Raises SpeciesUnknown, which names candidates.
    """
    wanted = _key(name)
    for mine in own:
        if _key(mine.name) == wanted:
            return mine
    table = species_table()
    wanted = _key(_TRADE.get(" ".join(name.casefold().split()), name))
    for one in table:
        if wanted in (_key(one.name), _key(one.botanical or "")):
            return one
    words = set(wanted)
    near = [one for one in table if words and words <= set(_key(one.name))]
    if len(near) == 1:
        return near[0]
    if near and len({(one.botanical or "").split()[0] for one in near}) == 1:
        return _any_of(near, name)
    if near:
        raise SpeciesUnknown(
            f"'{name}' can be {_listed(near)}; say which one it is."
        )
    raise SpeciesUnknown(
        f"'{name}' is not in the table, so its shrinkage and weight are not known; give its values as a species of "
        "your own, or name the tree otherwise."
    )


def _any_of(some: list[Species], name: str) -> Species:
    """The mean of several species of one genus, with the spread between them added to that between trees."""
    values, sources, spread = {}, {}, {}
    for key in VALUES:
        known = [value for one in some if (value := getattr(one, key)) is not None]
        if known:
            values[key] = statistics.fmean(known)
            spread[key] = statistics.pstdev(known) / values[key]
            sources[key] = f"mean of {len(known)} species of the table that are called {name}"
    return Species(
        f"{name}, any of {len(some)}", f"{(some[0].botanical or '').split()[0]} spp.", some[0].group, **values,
        shrinkage_spread=math.hypot(SHRINKAGE_SPREAD, max(spread.get("radial", 0), spread.get("tangential", 0))),
        gravity_spread=math.hypot(GRAVITY_SPREAD, spread.get("gravity_green", 0)),
        sources=MappingProxyType(sources), note=_listed(some),
    )  # fmt: skip


def _listed(some: list[Species]) -> str:
    names = [one.name for one in some[:6]]
    return ", ".join(f"'{name}'" for name in names[:-1]) + (
        f" or '{names[-1]}'" if len(some) <= 6 else f", '{names[-1]}' or {len(some) - 6} more"
    )


def _key(name: str) -> tuple[str, ...]:
    """The words of a name without order, case, hyphens and commas, so that a name can stand either way round."""
    plain = unicodedata.normalize("NFKC", name).casefold()
    return tuple(sorted(re.findall(r"[^\W_]+", plain)))


def _species(row: Mapping[str, str]) -> Species:
    values = {
        key: round(float(row[column]) * factor, 6) for key, (column, factor, *_) in VALUES.items() if row[column]
    }
    sources = {key: row[VALUES[key][2]] for key in values}
    return Species(
        row["common_name"], row["botanical_name"], row["group"], **values, sources=MappingProxyType(sources),
        note=row["notes"],
    )
