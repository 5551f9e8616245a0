"""The shed's air day by day, and the moisture that wood comes to in it.

A thick slab does not notice the hour, so a logger's thousands of lines become one line a day: mean temperature, mean
humidity, and the mean of the equilibrium moisture of each line (which is not that of the means).
"""

import math
import statistics
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from grainlog.drying.emc import EMC_U, emc
from grainlog.drying.errors import DryingError
from grainlog.units import Quantity

#: Where nobody measured the shed's air: outdoors in the humid East wood ends near 12 % (from memory); wide on purpose.
UNKNOWN_AIR = Quantity(0.12, 0.03)
#: A year is needed to know a shed; what a season more or less may change (common practice, no source).
_YEAR_DAYS, _SEASON_U = 300, 0.015


@dataclass(frozen=True)
class AirLine:
    """One line of a logger, or one look at a hygrometer: humidity as a fraction."""

    at: datetime
    temperature_c: float
    humidity: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.temperature_c) and -60 <= self.temperature_c <= 80):
            raise DryingError(f"{self.temperature_c:g} C is no temperature of a shed; look at the number and its unit.")
        if not (math.isfinite(self.humidity) and 0 <= self.humidity <= 1):
            raise DryingError(f"A humidity of {100 * self.humidity:g} % cannot be; it lies between 0 and 100 %.")


@dataclass(frozen=True)
class AirDay:
    """A day in the shed: means of `count` lines; `emc` (fraction) of those within the handbook's range, else None."""

    day: date
    temperature_c: float
    humidity: float
    emc: float | None
    count: int


def by_day(lines: Iterable[AirLine]) -> list[AirDay]:
    """The lines of each day as one, in order."""
    days: dict[date, list[AirLine]] = {}
    for line in lines:
        days.setdefault(line.at.date(), []).append(line)
    return [_day(day, some) for day, some in sorted(days.items())]


def _day(day: date, lines: Sequence[AirLine]) -> AirDay:
    moistures = [moisture for line in lines if (moisture := _emc_or_none(line)) is not None]
    return AirDay(
        day,
        statistics.fmean(line.temperature_c for line in lines),
        statistics.fmean(line.humidity for line in lines),
        statistics.fmean(moistures) if moistures else None,
        len(lines),
    )


def _emc_or_none(line: AirLine) -> float | None:
    try:
        return emc(line.temperature_c, line.humidity)
    except DryingError:
        return None


@dataclass(frozen=True)
class ShedAir:
    """What wood comes to in the shed (fraction), how sure, and on what ground, for people."""

    equilibrium: Quantity
    measured: bool
    why: str


def shed_air(days: Sequence[AirDay]) -> ShedAir:
    """The equilibrium moisture of the shed from its last year of days; a wide guess, marked so, without any."""
    known = [one for one in days if one.emc is not None]
    if not known:
        return ShedAir(
            UNKNOWN_AIR, False, "nobody measured the shed's air: 12 ± 6 % is taken, as outdoors in the humid East"
        )
    last = max(one.day for one in known)
    year = [one for one in known if (last - one.day).days < 366]
    moistures = [one.emc for one in year if one.emc is not None]
    value = statistics.fmean(moistures)
    spread = statistics.stdev(moistures) if len(moistures) > 1 else 0.02
    season = 0.0 if len(year) >= _YEAR_DAYS else _SEASON_U
    u = math.sqrt(EMC_U**2 + season**2 + spread**2 / len(moistures))
    first = min(one.day for one in year)
    when = f"one day, {last}" if len(year) == 1 else f"{len(year)} days between {first} and {last}"
    return ShedAir(Quantity(value, u), True, f"from the air of {when}")
