"""One name for life: the names that sightings were given stay, whatever looks are added between, moved or taken away."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from grainlog.checks.follow import Sighting

#: A check of a look: which look (any key) and its place in the look's list.
Place = tuple[int, int]


def kept_names(
    history: Sequence[tuple[Sighting, ...]], places: Sequence[Mapping[int, Place]], given: Mapping[Place, str], ever: set[str]
) -> dict[str, str]:
    """From the names that `follow` gave afresh to those for life.

    places : for each look, by id() of its checks, where they stand
    given : names that sightings have had
    ever : every name that was ever given on this slab, by any face; a new one is none of them

    A check takes the name that most of its sightings have had, the earliest of equals; of two that claim one name, the one
    seen first.
    """
    members: dict[str, list[Place]] = {}
    for sightings, where in zip(history, places):
        for sighting in sightings:
            members.setdefault(sighting.name, [])
            if sighting.check is not None:
                members[sighting.name].append(where[id(sighting.check)])
    names: dict[str, str] = {}
    used: set[str] = set()
    for fresh, its in members.items():
        had = [given[place] for place in its if place in given and given[place] not in used]
        if had:
            names[fresh] = max(dict.fromkeys(had), key=had.count)
            used.add(names[fresh])
    for fresh in members:
        if fresh not in names:
            number = 1
            while f"{fresh[0]}{number}" in ever | used:
                number += 1
            names[fresh] = f"{fresh[0]}{number}"
            used.add(names[fresh])
    return names


def renamed(sightings: Sequence[Sighting], names: Mapping[str, str]) -> tuple[Sighting, ...]:
    """The same sightings under other names."""
    told = []
    for sighting in sightings:
        change = sighting.change
        if change.into is not None:
            change = replace(change, into=names[change.into], why=f"it runs together with {names[change.into]}")
        told.append(replace(sighting, name=names[sighting.name], change=change))
    return tuple(told)
