"""Where slabs stand in drying: ready, due for a look, behind."""

import math
from dataclasses import dataclass
from datetime import date

from grainlog.drying.assess import Assessed
from grainlog.drying.reading import at_least, reading_u

#: Days without a survey or a reading after which a slab is due for a look (common practice, no source).
DUE_DAYS = 60
#: A reading older than this does not say that a slab is ready (common practice, no source).
_FRESH_DAYS = 120
#: So long without a fall that can be told from nothing, and a wet slab is behind (common practice, no source).
_STUCK_DAYS = 90


@dataclass(frozen=True)
class Progress:
    """Where one slab stands.

    ready : its core was read at or below the target, not long ago. due, behind : as their sentences say.
    seen_on : last survey or reading. why : sentences for people, the most useful first.
    """

    ready: bool
    due: bool
    behind: bool
    seen_on: date
    why: tuple[str, ...]


def progress(assessed: Assessed, due_days: int = DUE_DAYS) -> Progress:
    """Where a slab stands on the day it was assessed for."""
    slab, today, target = assessed.slab, assessed.today, assessed.target
    looks = [slab.surveyed_on, *(one.day for one in slab.readings), *(one.day for one in slab.weighings)]
    seen = max(looks)
    why = []
    core = assessed.core
    ready = core is not None and core.moisture <= target and (today - core.day).days <= _FRESH_DAYS
    last = assessed.readings[-1] if assessed.readings else None
    if ready and core is not None:
        why.append(f"its core was read at {100 * core.moisture:.0f} % on {core.day.isoformat()}")
    elif core is not None and core.moisture <= target:
        why.append(f"its core was dry enough on {core.day.isoformat()}; read it again before you use it")
    elif last is not None and last.moisture <= target:
        why.append("dry enough near the surface; only a reading in the core can say that it is ready")
    behind = "" if ready else _behind(assessed)
    if behind:
        why.append(behind)
    away = (today - seen).days
    due = not ready and away >= due_days
    if due:
        why.append(f"nobody has looked at it for {away} days")
    if not slab.readings and not slab.weighings:
        why.append("it has no reading yet")
    return Progress(ready, due, bool(behind), seen, tuple(why))


def _behind(assessed: Assessed) -> str:
    """Why a slab is behind, or nothing: slower than the slow end of the published range, or no fall for a season."""
    slab, today = assessed.slab, assessed.today
    last = assessed.readings[-1] if assessed.readings else None
    if last is None:
        return ""
    for rule in assessed.rules:
        if rule.to_moisture is None or slab.sawn_on is None:
            continue
        spent = (last.day - slab.sawn_on).days
        if spent > rule.most_days and at_least(last) > rule.to_moisture:
            return (
                f"still {100 * last.moisture:.0f} % after {spent} days, where the slow end of the published range to "
                f"{100 * rule.to_moisture:.0f} % is {rule.most_days:.0f}"
            )
    for before in assessed.readings:
        alike = (before.method, before.depth_mm, before.core) == (last.method, last.depth_mm, last.core)
        if alike and (last.day - before.day).days >= _STUCK_DAYS and (today - last.day).days <= _FRESH_DAYS:
            told_apart = 2 * math.hypot(reading_u(before), reading_u(last))
            near_end = last.moisture - assessed.air.equilibrium.value <= told_apart
            if last.moisture > assessed.target and not near_end and before.moisture - last.moisture < told_apart:
                return f"no fall that can be told from nothing since {before.day.isoformat()}; is air getting through the stack?"
    return ""
