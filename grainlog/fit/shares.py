"""Sharing a haul: slabs divided among people so that the shares differ as little as can be.

Dividing numbers evenly is multi-way number partitioning. Small hauls are searched to the end (complete greedy search
with pruning: R. E. Korf, "A complete anytime algorithm for number partitioning", Artificial Intelligence 106, 1998);
where that takes too long, shares are evened out two by two over all subsets, and a mixed-integer program (HiGHS, by
way of scipy) looks further. Either way the answer says whether it is the best there is, or how much better the best
could be at most.
"""

import math
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass

from grainlog.errors import WrongUse
from grainlog.fit.share_search import Lot, Search, even_out, solve

#: Amounts are compared in whole hundredths (of a board foot, or of money): finer than any slab is measured.
PER_UNIT = 100
NODES = 300_000
SECONDS = 5.0
#: A difference of so many hundredths is not worth a long wait.
_TRIFLE = 5
_MOST_PEOPLE, _MOST_ITEMS = 50, 400


class ShareRefused(WrongUse):
    """A haul that cannot be shared as asked."""


@dataclass(frozen=True)
class Division:
    """How a haul is divided.

    shares : for each person their items, in the order given. totals : what each share comes to.
    difference : greatest total less the least. bound : no division can have a smaller difference than this.
    how : "searched to the end", "solved", or "best found".
    """

    shares: Mapping[str, tuple[Hashable, ...]]
    totals: Mapping[str, float]
    difference: float
    bound: float
    how: str

    @property
    def best(self) -> bool:
        """Whether no division is more even."""
        return self.difference <= self.bound


def divide(
    worth: Mapping[Hashable, float],
    people: Sequence[str],
    together: Sequence[Sequence[Hashable]] = (),
    wishes: Mapping[Hashable, str] | None = None,
    nodes: int = NODES,
    seconds: float = SECONDS,
) -> Division:
    """Divide items among people as evenly as possible.

    worth : of each item, in board feet or money, not negative. together : groups of items that stay with one person.
    wishes : item to the person who gets it. nodes, seconds : limits of the search and of the mixed-integer program.
    Raises ShareRefused for fewer than two people, a name twice, an unknown item or person, or wishes that contradict.
    """
    _check(worth, people, together, wishes or {})
    lots = _lots(worth, people, together, wishes or {})
    total = sum(lot.worth for lot in lots)
    floor = 0 if total % len(people) == 0 else 1
    floor = max(floor, _forced(lots, len(people), total))
    owners, difference, done = Search(lots, len(people), floor, nodes).run()
    if not done:
        owners, difference = even_out(lots, owners, len(people), floor)
        # Between two people that is every subset there is.
        done = len(people) == 2
    bound, how = (difference, "searched to the end") if done else (floor, "best found")
    if not done and difference > max(floor, _TRIFLE) and (solved := solve(lots, len(people), seconds)) is not None:
        other, solver_bound, proved = solved
        other, gap = even_out(lots, other, len(people), floor)
        if gap < difference:
            owners, difference = other, gap
        bound = difference if proved else max(bound, min(solver_bound, difference))
    if not done and difference <= bound:
        how = "solved"
    return _division(lots, owners, people, worth, difference, bound, how)


def _check(
    worth: Mapping[Hashable, float], people: Sequence[str], together: Sequence[Sequence[Hashable]],
    wishes: Mapping[Hashable, str],
) -> None:  # fmt: skip
    if len(people) < 2:
        raise ShareRefused("A haul is shared among at least two people; name them.")
    if len(people) > _MOST_PEOPLE:
        raise ShareRefused(f"A haul is shared among at most {_MOST_PEOPLE} people here.")
    if len(set(people)) < len(people):
        raise ShareRefused("Each person is named once.")
    if not worth:
        raise ShareRefused("There is nothing to share.")
    if len(worth) > _MOST_ITEMS:
        raise ShareRefused(f"More than {_MOST_ITEMS} slabs are too many to share at once; share haul by haul.")
    for item, amount in worth.items():
        if not (math.isfinite(amount) and amount >= 0):
            raise ShareRefused(f"What slab {item} is worth is not known, so it cannot be shared evenly.")
    for item in [item for group in together for item in group] + list(wishes):
        if item not in worth:
            raise ShareRefused(f"Slab {item} is not one of those to be shared.")
    for person in wishes.values():
        if person not in people:
            raise ShareRefused(f"{person} wishes for a slab but is not among those who share.")


def _lots(
    worth: Mapping[Hashable, float], people: Sequence[str], together: Sequence[Sequence[Hashable]],
    wishes: Mapping[Hashable, str],
) -> list[Lot]:  # fmt: skip
    """Items joined by their groups, the most worth first."""
    root = {item: item for item in worth}

    def find(item: Hashable) -> Hashable:
        while root[item] != item:
            item = root[item]
        return item

    for group in together:
        for item in group[1:]:
            root[find(item)] = find(group[0])
    members: dict[Hashable, list[Hashable]] = {}
    for item in worth:
        members.setdefault(find(item), []).append(item)
    lots = []
    for items in members.values():
        wanted = sorted({wishes[item] for item in items if item in wishes})
        if len(wanted) > 1:
            kept = " and ".join(str(item) for item in items)
            raise ShareRefused(f"Slabs {kept} stay together, but {' and '.join(wanted)} both wish for one of them.")
        amount = round(sum(worth[item] for item in items) * PER_UNIT)
        lots.append(Lot(tuple(items), amount, people.index(wanted[0]) if wanted else None))
    # Wishes first: they are no choice.
    return sorted(lots, key=lambda lot: (lot.person is None, -lot.worth))


def _forced(lots: Sequence[Lot], people: int, total: int) -> int:
    """A difference that no division avoids: somebody must have the largest lot, or what they wish for."""
    least = [0] * people
    for lot in lots:
        if lot.person is not None:
            least[lot.person] += lot.worth
    most = max([*least, *(lot.worth for lot in lots)])
    # The others share the rest; the least of them has at most its even part.
    return max(0, most - (total - most) // (people - 1))


def _division(
    lots: Sequence[Lot], owners: Sequence[int], people: Sequence[str], worth: Mapping[Hashable, float],
    difference: int, bound: int, how: str,
) -> Division:  # fmt: skip
    owner_of = {item: people[person] for lot, person in zip(lots, owners, strict=True) for item in lot.items}
    shares = {person: tuple(item for item in worth if owner_of[item] == person) for person in people}
    totals = {person: float(sum(worth[item] for item in items)) for person, items in shares.items()}
    return Division(shares, totals, difference / PER_UNIT, bound / PER_UNIT, how)
