"""The way along the stacks with a moisture meter: slabs by place, from the top of each stack down."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from grainlog.yard.life_state import Life, place_key
from grainlog.yard.query import SlabRow
from grainlog.yard.readings import Entry, MoistureEntry
from grainlog.yard.tags import root_of


@dataclass(frozen=True)
class Stop:
    """One slab on the way: where it lies, and its newest moisture reading, None where there is none."""

    row: SlabRow
    life: Life
    last: MoistureEntry | None


def stops(rows: Sequence[SlabRow], lives: Mapping[int, Life], entries: Mapping[int, Sequence[Entry]]) -> list[Stop]:
    """The slabs that are still there: shed by shed, stack by stack, the topmost first; those without a place last, by number."""
    found = []
    for row in rows:
        life = lives.get(row.number, Life())
        if life.present:
            moist = [one for one in entries.get(row.number, ()) if isinstance(one, MoistureEntry)]
            found.append(Stop(row, life, moist[-1] if moist else None))
    # A slab in a shed without a stack, or in a stack without a layer, comes after those that have one.
    return sorted(found, key=_order)


def _order(stop: Stop) -> tuple:
    life = stop.life
    place = place_key(life.shed, life.stack)
    return (not place, life.stack is None, place, life.layer is None, -(life.layer or 0), root_of(stop.row.number), stop.row.tag)
