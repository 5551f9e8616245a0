"""Follow checks from look to look: which one is which, how each has changed, and what may be said of it.

A check keeps the name of its first sighting for life: E and a number where it was first seen as an end check, S for a
surface check. Matching is by place, on the first look's frame, where shrinkage has been taken out.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import linear_sum_assignment

from grainlog.checks.change import (
    CLAIMED_U,
    IDENTITY,
    NEAR_MM,
    STATES,
    Change,
    CheckLook,
    change_of,
    compared,
    length_of,
    moved,
    out_of_sight,
    unseen,
)
from grainlog.checks.found import Check

__all__ = [
    "CLAIMED_U", "IDENTITY", "STATES", "Change", "CheckLook", "Known", "Match", "Sighting", "change_of", "compared", "follow",
    "match_checks", "out_of_sight",
]  # fmt: skip

#: Two sightings of one check share at least this much of the shorter one, and lie within `NEAR_MM` of each other there.
LEAST_SHARED = 0.4


@dataclass(frozen=True)
class Known:
    """A check by name, where it was last seen.

    name : str
    path : (n, 2) float64, frame of the first look, mm
    """

    name: str
    path: np.ndarray


@dataclass(frozen=True)
class Match:
    """What one look's checks are called.

    names : tuple of str, one per check of the look
    missing : tuple of str
        Known names that no check of this look has.
    joined : dict of str to str
        Of the missing, those whose place now belongs to another check, and which.
    """

    names: tuple[str, ...]
    missing: tuple[str, ...]
    joined: dict[str, str]


@dataclass(frozen=True)
class Sighting:
    """One check at one look: its name, what it is now (None where it is not seen) and how it changed.

    widest_mm, widest_u_mm : float
        The greatest width ever seen: a check that closes has not healed.
    """

    name: str
    check: Check | None
    change: Change
    widest_mm: float
    widest_u_mm: float


def match_checks(known: Sequence[Known], checks: Sequence[Check], to_first: np.ndarray) -> Match:
    """Give each check of a look its name: that of the known check whose place it has, else the next free one.

    The assignment that puts the most length on its own place is taken (Kuhn 1955, `scipy.optimize.linear_sum_assignment`).
    """
    paths = [moved(check.path, to_first) for check in checks]
    worth = np.zeros((len(known), len(checks)))
    for i, old in enumerate(known):
        for j, path in enumerate(paths):
            shared, away = _shared(old.path, path)
            shorter = min(length_of(old.path), length_of(path))
            if away <= NEAR_MM and shared >= LEAST_SHARED * shorter:
                worth[i, j] = shared * (1.5 - away / NEAR_MM)
    names: list[str | None] = [None] * len(checks)
    if worth.size:
        for i, j in zip(*linear_sum_assignment(-worth)):
            if worth[i, j] > 0:
                names[j] = known[i].name
    taken = {old.name for old in known}
    for j, check in enumerate(checks):
        if names[j] is None:
            names[j] = _next_name("E" if check.kind == "end" else "S", taken)
            taken.add(names[j])
    missing = tuple(old.name for old in known if old.name not in names)
    joined = {}
    for i, old in enumerate(known):
        if old.name in missing and len(checks) and worth[i].max() > 0:
            joined[old.name] = names[int(worth[i].argmax())]
    return Match(tuple(names), missing, joined)


def follow(looks: Sequence[CheckLook]) -> tuple[tuple[Sighting, ...], ...]:
    """The whole history, look by look in the order of their days; names never change when looks are added at the end.

    Each look has a sighting of every check that is known by then, by name in the order of first sighting.
    """
    known: dict[str, Known] = {}
    last: dict[str, tuple[CheckLook, Check]] = {}
    widest: dict[str, tuple[float, float]] = {}
    history = []
    for look in looks:
        match = match_checks(list(known.values()), look.checks, look.to_first)
        now = dict(zip(match.names, look.checks))
        for name, check in now.items():
            known[name] = Known(name, moved(check.path, look.to_first))
            if check.max_width > widest.get(name, (0.0, 0.0))[0]:
                widest[name] = check.max_width, check.max_width_u
        sightings = []
        for name in known:
            if name in now:
                change = compared(*last[name], look, now[name]) if name in last else Change("new")
            else:
                change = unseen(known[name].path, last[name][1], match.joined.get(name), look)
            sightings.append(Sighting(name, now.get(name), change, *widest[name]))
        for name, check in now.items():
            last[name] = look, check
        history.append(tuple(sightings))
    return tuple(history)


def _shared(one: np.ndarray, two: np.ndarray) -> tuple[float, float]:
    """Length along x that two paths share, mm, and the mean distance across between them there."""
    one, two = (path[np.argsort(path[:, 0])] for path in (one, two))
    low, high = max(one[0, 0], two[0, 0]), min(one[-1, 0], two[-1, 0])
    if high - low < 3:
        return 0.0, np.inf
    x = np.linspace(low, high, 40)
    away = np.interp(x, one[:, 0], one[:, 1]) - np.interp(x, two[:, 0], two[:, 1])
    return float(high - low), float(np.abs(away).mean())


def _next_name(letter: str, taken: set[str]) -> str:
    number = 1
    while f"{letter}{number}" in taken:
        number += 1
    return f"{letter}{number}"
