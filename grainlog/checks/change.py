"""How one check has changed from look to look, as far as both photos show it; and why one is not seen.

Nothing is claimed that the uncertainty does not support, nor that a card, end wax or a cut may feign.
"""

from dataclasses import dataclass, replace

import numpy as np
import shapely

from grainlog.checks.found import Check
from grainlog.checks.tips import line_of, tip_moved

#: Two sightings of one check lie this near each other over their common stretch, mm.
NEAR_MM = 6.0
#: No growth or closing is claimed within this many standard uncertainties.
CLAIMED_U = 2.0
#: A cut is placed to about this, mm (common practice, no source).
CUT_U_MM = 2.0
#: Where a photo shows less than this share of a check's place, the check is out of sight, not gone.
LEAST_SEEN = 0.5

#: A check of which less than this share lies where the other photo shows wood is not compared in length.
WHOLLY_SEEN = 0.93

STATES = (
    "new", "grown", "shorter", "narrower", "unchanged", "not compared", "not visible", "hidden by end wax", "cut off", "joined",
)  # fmt: skip


@dataclass(frozen=True)
class Change:
    """How a check has changed since it was seen before.

    state : one of STATES
    growth_mm, growth_u_mm : float or None
    per_week_mm, per_week_u_mm : float or None
        None on a first sighting, and where less than a day has passed.
    widening_mm, widening_u_mm : float or None
    days : float or None, since it was seen before
    why : str
        A clause that says why it is not seen or not compared; else empty.
    into : str or None
        Of a check that joined another: which.
    """

    state: str
    growth_mm: float | None = None
    growth_u_mm: float | None = None
    per_week_mm: float | None = None
    per_week_u_mm: float | None = None
    widening_mm: float | None = None
    widening_u_mm: float | None = None
    days: float | None = None
    why: str = ""
    into: str | None = None


@dataclass(frozen=True)
class CheckLook:
    """The checks of one dated look.

    day : float
        Days on any common scale.
    checks : tuple of Check, in the look's own slab frame
    to_first : (2, 3) float64
        The look's slab frame to that of the first look, mm (identity for the first one; `Registration.matrix`).
    shown : polygon or None
        Where this look shows wood, in the first look's frame; None: everywhere.
    outline : polygon or None
        The wood at this look, whether it shows or not, in the first look's frame: what lies outside it was cut off. None:
        nothing was cut off.
    waxed : frozenset of {"butt", "top"}
        Ends that carry wax on this day, which hides what checks there.
    least_mm : float
        The smallest check that this look is claimed to show.
    """

    day: float
    checks: tuple[Check, ...]
    to_first: np.ndarray
    shown: shapely.Geometry | None = None
    outline: shapely.Geometry | None = None
    waxed: frozenset[str] = frozenset()
    least_mm: float = 0.0


#: The frame of the first look on itself.
IDENTITY = np.array([[1.0, 0, 0], [0, 1.0, 0]])


def change_of(day_before: float, before: Check, day: float, now: Check, tip: tuple[float, float] | None = None) -> Change:
    """How a check has changed between two sightings; `tip` is how far its tip has moved by both together, and its u, if known."""
    growth, growth_u = now.length - before.length, float(np.hypot(now.length_u, before.length_u))
    if tip is not None:
        growth, growth_u = _together((growth, growth_u), tip)
    widening, widening_u = now.max_width - before.max_width, float(np.hypot(now.max_width_u, before.max_width_u))
    days = day - day_before
    weeks = days / 7 if days >= 1 else None
    if growth > CLAIMED_U * growth_u:
        state = "grown"
    elif widening < -CLAIMED_U * widening_u:
        state = "narrower"
    elif growth < -CLAIMED_U * growth_u:
        state = "shorter"
    else:
        state = "unchanged"
    rate = (growth / weeks, growth_u / weeks) if weeks else (None, None)
    return Change(state, growth, growth_u, *rate, widening, widening_u, days)


def _together(one: tuple[float, float], two: tuple[float, float]) -> tuple[float, float]:
    """Two answers from the same photos as one, weighted: no surer than the surer one, and what they disagree by stays in doubt."""
    first, second = 1 / one[1] ** 2, 1 / two[1] ** 2
    value = (one[0] * first + two[0] * second) / (first + second)
    return value, float(np.hypot(min(one[1], two[1]), (one[0] - two[0]) / 2))


def _tip(before: CheckLook, check: Check, look: CheckLook, now: Check) -> tuple[float, float] | None:
    if check.end is None or check.end != now.end:
        return None
    lines = line_of(check, before.to_first), line_of(now, look.to_first)
    return None if lines[0] is None or lines[1] is None else tip_moved(*lines)


def compared(before: CheckLook, check: Check, look: CheckLook, now: Check) -> Change:
    """How a check has changed from one look to another, as far as both photos show all of it.

    What was cut off since is left out of both; a length is not compared where a card, the rim of the photo or end wax
    hides part of the check from one of them.
    """
    tip = _tip(before, check, look, now)
    if look.outline is not None:
        path = moved(check.path, before.to_first)
        left = shapely.intersection(shapely.LineString(path), look.outline).length / max(length_of(path), 1e-9)
        if left < 0.98:
            tip = None
            check = replace(check, length=check.length * left, length_u=float(np.hypot(check.length_u, CUT_U_MM)))
    change = change_of(before.day, check, look.day, now, tip)
    hidden = ""
    if change.state == "shorter" and (now.end or check.end) in look.waxed:
        hidden = "end wax hides part of it in this photo"
    elif change.state == "grown" and (now.end or check.end) in before.waxed:
        hidden = "end wax hid part of it before"
    elif change.state == "shorter" and not _wholly_seen(moved(check.path, before.to_first), look):
        hidden = "this photo does not show all of it"
    elif change.state == "grown" and not _wholly_seen(moved(now.path, look.to_first), before):
        hidden = "the photo before did not show all of it"
    if not hidden:
        return change
    return Change("not compared", widening_mm=change.widening_mm, widening_u_mm=change.widening_u_mm, days=change.days, why=hidden)


def _wholly_seen(path: np.ndarray, look: CheckLook) -> bool:
    if look.shown is None:
        return True
    where = look.shown if look.outline is None else look.shown.union(shapely.box(*look.shown.bounds).difference(look.outline))
    line = shapely.LineString(path)
    return bool(shapely.intersection(line, where.buffer(NEAR_MM)).length >= WHOLLY_SEEN * line.length)


def unseen(path: np.ndarray, check: Check, joined: str | None, look: CheckLook) -> Change:
    """Why a check that is known is not among those of a look."""
    if joined is not None:
        return Change("joined", why=f"it runs together with {joined}", into=joined)
    if look.outline is not None and out_of_sight(path, look.outline.buffer(NEAR_MM)):
        return Change("cut off", why="it lies on what was cut off")
    if out_of_sight(path, look.shown):
        return Change("not visible", why="a card or the rim of the photo hides its place")
    if check.end in look.waxed:
        return Change("hidden by end wax", why=f"the {check.end} end is waxed")
    if check.max_width < 1.5 * look.least_mm:
        return Change("not visible", why="it may be too fine for this photo; it has not healed")
    return Change("not visible", why="it may have closed up, or dust, shade or wet hides it; it has not healed")


def out_of_sight(path: np.ndarray, shown: shapely.Geometry | None) -> bool:
    """Whether a look hides most of the place (n, 2; first look's frame) where a check lies: under a card, a tag, the rim."""
    if shown is None:
        return False
    line = shapely.LineString(path)
    return bool(shapely.intersection(line, shown).length < LEAST_SEEN * line.length)


def moved(path: np.ndarray, matrix: np.ndarray) -> np.ndarray:
    """(n, 2) points through a (2, 3) map, such as from a look's slab frame to the first look's, mm."""
    return np.asarray(path, float) @ matrix[:, :2].T + matrix[:, 2]


def length_of(path: np.ndarray) -> float:
    """Length along a path (n, 2), mm."""
    return float(np.linalg.norm(np.diff(path, axis=0), axis=1).sum())
