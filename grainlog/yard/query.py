"""Searching the yard: what may be asked, and the rows that come back."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    Row,
    Select,
    and_,
    case,
    func,
    select,
)

from grainlog.units.quantity import Quantity
from grainlog.yard.errors import QueryRefused
from grainlog.yard.filing import folded
from grainlog.yard.life_state import STATUSES
from grainlog.yard.life_tables import slab_life
from grainlog.yard.schema import FIGURES, logs, slabs
from grainlog.yard.tags import PER_LETTER, tag_of
from grainlog.yard.words import holding_all

SORTS = {
    # By tag: pieces, whose numbers lie below zero, come after the slab that they were cut from.
    "number": case((slabs.c.number > 0, slabs.c.number), else_=-slabs.c.number % PER_LETTER),
    "log": logs.c.name_folded,
    "species": logs.c.species_folded,
    "length": slabs.c.length_mm,
    "width": slabs.c.width_mean_mm,
    "thickness": slabs.c.thickness_mm,
    "area": slabs.c.area_mm2,
    "board-feet": slabs.c.board_feet,
    "date": slabs.c.surveyed_at,
}


# In the order of the fields of SlabRow.
_COLUMNS = (
    slabs.c.number,
    logs.c.name,
    slabs.c.order_in_log,
    logs.c.species,
    slabs.c.surveyed_at,
    slabs.c.faces,
    slabs.c.one_face_only,
    *(slabs.c[name + suffix] for name in FIGURES for suffix in ("", "_u")),
)


@dataclass(frozen=True)
class Span:
    """From `least` to `most`, both included; None leaves that side open."""

    least: float | None = None
    most: float | None = None


@dataclass(frozen=True)
class SlabQuery:
    """What to look for; everything given must hold.

    log, species : part of the name, whatever the case.
    text : words or parts of words, each to be found in the tag, log, species, photo name, a note, or anything else that
        was said of the slab (see `life_tables.SLAB_TEXT`).
    length_mm, width_mm (the mean width), width_least_mm, thickness_mm, area_mm2, board_feet : spans. A slab whose
        figure is unknown is not found by a span that asks for it.
    status : one of `life_state.STATUSES`. place : words to find in shed or stack. owner : part of the name.
    gone_too : also slabs that are gone or were cut up; a status that asks for such finds them anyway.
    surveyed_since, surveyed_until : days of the newest survey, both included.
    sort : a key of `SORTS`; unknown figures come last either way.
    limit : at most this many rows; None for all.
    """

    log: str | None = None
    species: str | None = None
    text: str | None = None
    length_mm: Span = Span()
    width_mm: Span = Span()
    width_least_mm: Span = Span()
    thickness_mm: Span = Span()
    area_mm2: Span = Span()
    board_feet: Span = Span()
    surveyed_since: date | None = None
    surveyed_until: date | None = None
    status: str | None = None
    place: str | None = None
    owner: str | None = None
    gone_too: bool = False
    sort: str = "number"
    descending: bool = False
    limit: int | None = None


@dataclass(frozen=True)
class SlabRow:
    """One slab in a list; figures as `standing.standing` finds them, in the order of `FIGURES`, None where unknown."""

    number: int
    log: str
    order: int
    species: str | None
    surveyed_at: datetime
    faces: tuple[str, ...]
    one_face_only: bool
    length_mm: Quantity | None = None
    width_min_mm: Quantity | None = None
    width_mean_mm: Quantity | None = None
    width_max_mm: Quantity | None = None
    thickness_mm: Quantity | None = None
    area_mm2: Quantity | None = None
    volume_mm3: Quantity | None = None
    board_feet: Quantity | None = None

    @property
    def tag(self) -> str:
        """What stands on the wood: "12", or "12A" for a piece."""
        return tag_of(self.number)


def find_slabs(connection: Connection, query: SlabQuery) -> list[SlabRow]:
    """The slabs that meet a query. Raises QueryRefused for a query that cannot be meant."""
    return [_row(found) for found in connection.execute(statement(query))]


def slabs_numbered(connection: Connection, numbers: Sequence[int]) -> list[SlabRow]:
    """The slabs of these numbers that the yard holds, in any order."""
    query = select(*_COLUMNS).join(logs, slabs.c.log_id == logs.c.id).where(slabs.c.number.in_(numbers))
    return [_row(found) for found in connection.execute(query)]


def slabs_of_logs(connection: Connection, log_ids: Sequence[int], still_there: bool = False) -> list[SlabRow]:
    """The slabs of some logs in their order: as they came off the mill, or what is still there of them, pieces too."""
    query = select(*_COLUMNS).join(logs, slabs.c.log_id == logs.c.id).where(slabs.c.log_id.in_(log_ids))
    query = query.outerjoin(slab_life, slab_life.c.slab_number == slabs.c.number)
    query = query.where(func.coalesce(slab_life.c.present, 1) == 1 if still_there else slabs.c.piece_of.is_(None))
    ordered = query.order_by(slabs.c.log_id, slabs.c.order_in_log, func.abs(slabs.c.number))
    return [_row(found) for found in connection.execute(ordered)]


def statement(query: SlabQuery) -> Select:
    """The query as one SELECT over slabs and logs."""
    if query.sort not in SORTS:
        raise QueryRefused(f"Slabs cannot be sorted by {query.sort!r}; sort by one of {', '.join(SORTS)}.")
    if query.limit is not None and query.limit < 1:
        raise QueryRefused("A limit must let at least one slab through; give 1 or more.")
    key = SORTS[query.sort]
    ordered = key.desc() if query.descending else key.asc()
    return (
        select(*_COLUMNS)
        .join(logs, slabs.c.log_id == logs.c.id)
        .outerjoin(slab_life, slab_life.c.slab_number == slabs.c.number)
        .where(and_(True, *_conditions(query)))
        .order_by(ordered.nulls_last(), func.abs(slabs.c.number))
        .limit(query.limit)
    )


def _conditions(query: SlabQuery) -> list[ColumnElement[bool]]:
    conditions: list[ColumnElement[bool]] = []
    if query.log:
        conditions.append(_contains(logs.c.name_folded, query.log))
    if query.species:
        conditions.append(_contains(logs.c.species_folded, query.species))
    conditions += holding_all(query.text or "")
    for column, span in (
        (slabs.c.length_mm, query.length_mm),
        (slabs.c.width_mean_mm, query.width_mm),
        (slabs.c.width_min_mm, query.width_least_mm),
        (slabs.c.thickness_mm, query.thickness_mm),
        (slabs.c.area_mm2, query.area_mm2),
        (slabs.c.board_feet, query.board_feet),
    ):
        if span.least is not None:
            conditions.append(column >= span.least)
        if span.most is not None:
            conditions.append(column <= span.most)
    if query.status is not None:
        if query.status not in STATUSES:
            raise QueryRefused(f"'{query.status}' is not a status here; use one of {', '.join(STATUSES)}.")
        conditions.append(slab_life.c.status == query.status)
    if query.place:
        conditions += [func.instr(slab_life.c.place_folded, word) > 0 for word in folded(query.place).split()]
    if query.owner:
        conditions.append(func.instr(slab_life.c.owner_folded, folded(query.owner)) > 0)
    if not query.gone_too and (query.status is None or STATUSES[query.status]):
        conditions.append(func.coalesce(slab_life.c.present, 1) == 1)
    # Moments are stored as ISO 8601 text, which sorts by time; a day ends before the next one begins.
    if query.surveyed_since is not None:
        conditions.append(slabs.c.surveyed_at >= query.surveyed_since.isoformat())
    if query.surveyed_until is not None:
        conditions.append(slabs.c.surveyed_at < (query.surveyed_until + timedelta(days=1)).isoformat())
    return conditions


def _contains(column: Any, text: str) -> ColumnElement[bool]:
    # instr has no wildcards, so % and _ in what a person types mean themselves.
    return func.instr(column, folded(text)) > 0


def _row(found: Row) -> SlabRow:
    # By position: ten thousand rows looked up by name take three times as long.
    number, log, order, species, surveyed_at, faces, one_face_only, *figures = found
    quantities = (
        None if value is None else Quantity(value, u) for value, u in zip(figures[::2], figures[1::2], strict=True)
    )
    return SlabRow(
        number, log, order, species, datetime.fromisoformat(surveyed_at), tuple(faces.split()), bool(one_face_only),
        *quantities,
    )
