"""Looking for the most even division of lots among people, in whole numbers: to the end, in pairs, and by a solver."""

import os
import sys
from collections.abc import Hashable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import lil_matrix


@dataclass(frozen=True)
class Lot:
    """Items that go to one person together: their worth in hundredths, and who it has to be, if anybody."""

    items: tuple[Hashable, ...]
    worth: int
    person: int | None


class Search:
    """Complete greedy search: each lot to the person with least so far first, branches that cannot win cut off."""

    def __init__(self, lots: Sequence[Lot], people: int, floor: int, nodes: int):
        self._lots, self._people, self._floor, self._nodes = lots, people, floor, nodes
        self._rest = [0] * (len(lots) + 1)
        for index in range(len(lots) - 1, -1, -1):
            self._rest[index] = self._rest[index + 1] + lots[index].worth
        self._total = self._rest[0]
        self._owners = [0] * len(lots)
        self._sums = [0] * people
        self.best: int | None = None
        self.best_owners = [0] * len(lots)

    def run(self) -> tuple[list[int], int, bool]:
        """(who gets each lot, the difference, whether that is proved to be the best)."""
        self._go(0)
        assert self.best is not None
        return self.best_owners, self.best, self.best <= self._floor or self._nodes > 0

    def _go(self, index: int) -> None:
        # At least one division is always found, however few nodes are allowed.
        if self.best is not None and (self._nodes <= 0 or self.best <= self._floor):
            return
        self._nodes -= 1
        if index == len(self._lots):
            gap = max(self._sums) - min(self._sums)
            if self.best is None or gap < self.best:
                self.best, self.best_owners = gap, list(self._owners)
            return
        if self.best is not None and self._bound(index) >= self.best:
            return
        lot = self._lots[index]
        for person in self._candidates(lot):
            self._sums[person] += lot.worth
            self._owners[index] = person
            self._go(index + 1)
            self._sums[person] -= lot.worth

    def _candidates(self, lot: Lot) -> list[int]:
        if lot.person is not None:
            return [lot.person]
        seen, candidates = set(), []
        for person in sorted(range(self._people), key=lambda person: self._sums[person]):
            # Everything that is decided by wishes is decided already, so equal sums have equal futures.
            if self._sums[person] not in seen:
                seen.add(self._sums[person])
                candidates.append(person)
        return candidates

    def _bound(self, index: int) -> float:
        most, least = max(self._sums), min(self._sums)
        even = most - (self._total - most) / (self._people - 1)
        return max(even, most - least - self._rest[index])


def even_out(lots: Sequence[Lot], owners: Sequence[int], people: int, floor: int) -> tuple[list[int], int]:
    """Divide what two people have anew between them, as evenly as can be, as long as that brings all closer together.

    Returns (who gets each lot, the difference).
    """
    owners = list(owners)
    sums = [sum(lot.worth for lot, owner in zip(lots, owners, strict=True) if owner == who) for who in range(people)]
    improved = True
    while improved and max(sums) - min(sums) > floor:
        improved = False
        ordered = sorted(range(people), key=lambda who: sums[who])
        pairs = sorted(combinations(ordered, 2), key=lambda pair: sums[pair[0]] - sums[pair[1]])
        for poor, rich in pairs:
            gap = abs(sums[rich] - sums[poor])
            free = [k for k, lot in enumerate(lots) if owners[k] in (poor, rich) and lot.person is None]
            fixed = sums[poor] - sum(lots[k].worth for k in free if owners[k] == poor)
            goal = (sums[poor] + sums[rich]) / 2 - fixed
            chosen = _subset_near([lots[k].worth for k in free], goal)
            poorer = fixed + sum(lots[free[k]].worth for k in chosen)
            if abs(sums[poor] + sums[rich] - 2 * poorer) < gap:
                sums[poor], sums[rich] = poorer, sums[poor] + sums[rich] - poorer
                for place, k in enumerate(free):
                    owners[k] = poor if place in chosen else rich
                improved = True
                break
    return owners, max(sums) - min(sums)


def _subset_near(worths: Sequence[int], goal: float) -> set[int]:
    """Places of the numbers whose sum comes closest to `goal`: all sums there are, as bits of one long number."""
    reached = [1]
    for worth in worths:
        reached.append(reached[-1] | reached[-1] << worth)
    sums = reached[-1]
    below = sums & ((1 << max(0, int(goal) + 1)) - 1)
    above = sums >> max(0, int(goal) + 1)
    choices = []
    if below:
        choices.append(below.bit_length() - 1)
    if above:
        choices.append(max(0, int(goal) + 1) + (above & -above).bit_length() - 1)
    wanted = min(choices, key=lambda total: abs(total - goal))
    chosen = set()
    for place in range(len(worths) - 1, -1, -1):
        if not reached[place] >> wanted & 1:
            chosen.add(place)
            wanted -= worths[place]
    return chosen


@contextmanager
def _silent() -> Iterator[None]:
    """HiGHS writes a word of its own to standard output now and then, where a command's answer has to stand alone."""
    sys.stdout.flush()
    kept = os.dup(1)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


def solve(lots: Sequence[Lot], people: int, seconds: float) -> tuple[list[int], int, bool] | None:
    """The same as a mixed-integer program: (who gets each lot, a bound on the difference, whether it is proved)."""
    count = len(lots)
    # Variables: lot to person (binary), then the greatest and the least total.
    size = count * people + 2
    matrix, low, high = lil_matrix((count + 2 * people, size)), [], []
    for lot in range(count):
        for person in range(people):
            matrix[lot, lot * people + person] = 1
        low.append(1.0)
        high.append(1.0)
    for person in range(people):
        for row, column, sign in ((count + 2 * person, size - 2, -1), (count + 2 * person + 1, size - 1, -1)):
            for lot in range(count):
                matrix[row, lot * people + person] = lots[lot].worth
            matrix[row, column] = sign
        low += [-np.inf, 0.0]
        high += [0.0, np.inf]
    cost = np.zeros(size)
    cost[-2:] = 1.0, -1.0
    least, most = np.zeros(size), np.ones(size)
    most[-2:] = np.inf
    for lot, each in enumerate(lots):
        if each.person is not None:
            least[lot * people + each.person] = 1.0
    whole = np.ones(size)
    whole[-2:] = 0
    with _silent():
        found = milp(
            cost, integrality=whole, bounds=Bounds(least, most),
            constraints=LinearConstraint(matrix.tocsr(), np.array(low), np.array(high)),
            options={"time_limit": seconds, "mip_rel_gap": 0.0},
        )  # fmt: skip
    if found.x is None:
        return None
    owners = np.argmax(found.x[: count * people].reshape(count, people), axis=1).tolist()
    # Totals are whole hundredths, so the bound rounds up.
    bound = 0 if found.mip_dual_bound is None else int(np.ceil(found.mip_dual_bound - 1e-6))
    return owners, bound, found.status == 0
