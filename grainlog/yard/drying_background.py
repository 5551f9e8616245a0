"""What the yard knows of slabs in their shed, read together for one slab, for some, or for all: what drying is worked out from."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from sqlalchemy import Connection, select

from grainlog.drying.assess import SlabInShed
from grainlog.drying.climate import ShedAir, shed_air
from grainlog.drying.errors import DryingError
from grainlog.drying.finish import Warp
from grainlog.drying.grain import pith_distance
from grainlog.drying.species import Species, find_species
from grainlog.yard.drying_shed import days_of
from grainlog.yard.drying_wood import (
    LogWood,
    SlabWood,
    logs_wood,
    own_species_of,
    slabs_wood,
)
from grainlog.yard.query import SlabRow
from grainlog.yard.readings import (
    Entry,
    MoistureEntry,
    WarpEntry,
    WeighingEntry,
    day_of,
    entries_of,
)
from grainlog.yard.schema import slabs
from grainlog.yard.tags import root_of


@dataclass(frozen=True)
class Background:
    """What holds for the whole yard at one moment."""

    own: list[Species]
    entries: dict[int, list[Entry]]
    cut_from: dict[int, int]
    logs: dict[int, LogWood]
    slabs: dict[int, SlabWood]
    log_of: dict[int, int]
    by_place: dict[tuple[int, int], float | None]
    air: ShedAir
    # Looked up once for each name: the table has many names to compare.
    species: dict[str | None, tuple[Species | None, str]] = field(default_factory=dict)


def background_of(connection: Connection, numbers: Sequence[int] | None = None) -> Background:
    """For all slabs, or as far as some of them need it."""
    columns = (
        slabs.c.number,
        slabs.c.log_id,
        slabs.c.order_in_log,
        slabs.c.thickness_mm,
        slabs.c.piece_of,
    )
    query = select(*columns)
    wanted = of_logs = None
    if numbers is not None:
        wanted = sorted({one for number in numbers for one in (number, root_of(number))})
        of_logs = (
            connection.execute(select(slabs.c.log_id).where(slabs.c.number.in_(wanted)).distinct()).scalars().all()
        )
        query = query.where(slabs.c.log_id.in_(of_logs))
    places = list(connection.execute(query))
    return Background(
        own_species_of(connection),
        entries_of(connection, wanted),
        {row.number: root_of(row.number) for row in places if row.piece_of is not None},
        logs_wood(connection, of_logs),
        slabs_wood(connection, wanted),
        {row.number: row.log_id for row in places},
        {(row.log_id, row.order_in_log): row.thickness_mm for row in places if row.piece_of is None},
        shed_air(days_of(connection)),
    )


def entries_of_slab(number: int, background: Background) -> list[Entry]:
    """The entries of a slab, and for a piece the moisture readings of the slab it was cut from."""
    own = background.entries.get(number, [])
    whole = background.cut_from.get(number)
    before = [] if whole is None else background.entries.get(whole, [])
    return sorted([*(one for one in before if isinstance(one, MoistureEntry)), *own], key=day_of)


def in_shed(row: SlabRow, background: Background) -> SlabInShed:
    """One slab as drying looks at it."""
    entries = entries_of_slab(row.number, background)
    log = background.log_of[row.number]
    of_log = background.logs.get(log, LogWood())
    said = background.slabs.get(row.number) or background.slabs.get(background.cut_from.get(row.number, 0), SlabWood())
    if row.species not in background.species:
        background.species[row.species] = _species(row.species, background.own)
    species, why = background.species[row.species]
    warp = Warp()
    for entry in entries:
        if isinstance(entry, WarpEntry):
            # The newest word on each counts.
            warp = Warp(*(
                new if new is not None else old
                for new, old in (
                    (entry.warp.cup_mm, warp.cup_mm), (entry.warp.bow_mm, warp.bow_mm), (entry.warp.twist_mm, warp.twist_mm)
                )
            ))  # fmt: skip
    return SlabInShed(
        row.number,
        species,
        why,
        row.surveyed_at.date(),
        row.thickness_mm,
        row.width_mean_mm,
        of_log.felled_on,
        of_log.sawn_on,
        said.rings,
        said.pith_mm if said.pith_mm is not None else _from_order(log, row.order, of_log.pith_order, background),
        tuple(entry.reading for entry in entries if isinstance(entry, MoistureEntry)),
        tuple(entry.weighing for entry in entries if isinstance(entry, WeighingEntry)),
        warp,
    )


def _species(name: str | None, own: list[Species]) -> tuple[Species | None, str]:
    if name is None:
        return None, "the species of its log was not said"
    try:
        return find_species(name, own), ""
    except DryingError as error:
        return None, str(error)


def _from_order(log: int, order: int, pith_order: int | None, background: Background) -> float | None:
    """Distance to the pith from the places in the log, where every slab between is there with its thickness."""
    if pith_order is None:
        return None
    between = range(min(order, pith_order), max(order, pith_order) + 1)
    thicknesses = [background.by_place.get((log, place)) for place in between]
    known = [thickness for thickness in thicknesses if thickness]
    return pith_distance(order, pith_order, known) if len(known) == len(thicknesses) else None
