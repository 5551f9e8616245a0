"""Slabs that may hold a piece at a moisture: curves of the measured outlines and bounds on shrinkage decide first.

Drying changes an outline by factors that are the slab's own (`yard.drying`), which takes a millisecond to work out. But a
log's species bounds them, and for a slab that was surveyed green (most are) almost says them. So the database is asked with
the bounds, and only the slabs that may hold the piece by these get their own factors and are asked again. They come in the
order of their dry wood, the least first: an area that cannot be less than so much waits until no smaller one can come.

A slab that was not surveyed green and has neither reading nor weighing has no dry size; such slabs are only counted.
"""

import heapq
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import count, islice
from typing import Any

import numpy as np
from sqlalchemy import Connection, Select, and_, func, select

from grainlog.drying.dry_size import ScaleFactors
from grainlog.fit.curve import DIGITS, bound_at
from grainlog.fit.drying_outline import Change, most_to_spare
from grainlog.yard.drying import Drying
from grainlog.yard.fit_dry_bounds import DryBounds
from grainlog.yard.fit_request import (
    COLUMNS,
    NEAR_MM,
    Candidate,
    FindRequest,
    asked_of,
    candidate_of,
    filters,
    joined,
)
from grainlog.yard.fit_tables import outline_curves
from grainlog.yard.query import slabs_numbered
from grainlog.yard.schema import outlines, slabs
from grainlog.yard.tags import tag_of

#: Slabs whose factors are worked out at once.
_AT_ONCE, _FEW = 50, 8


@dataclass(frozen=True, eq=False)
class DryCandidate:
    """A slab that may hold the piece at the moisture asked for, with its factors to there.

    to_spare : by how much wider the piece could be at the very most, mm; negative: it surely does not fit.
    """

    candidate: Candidate
    factors: ScaleFactors
    to_spare: float


class DrySearch:
    """One search at a moisture, on a connection of its own.

    ruled_out : slabs that the bounds did not rule out but their own factors did, as met.
    unknown : why, for each slab that was met and has no dry size, by number.
    """

    def __init__(self, connection: Connection, drying: Drying, request: FindRequest):
        if request.moisture is None:
            raise ValueError("a search for a dry size needs a moisture")
        self.ruled_out: list[DryCandidate] = []
        self.unknown: dict[int, str] = {}
        self._connection, self._drying, self._request = connection, drying, request
        self._moisture = request.moisture
        self._asked = asked_of(request)
        self._bounds = DryBounds(connection, request)

    def candidates(self) -> Iterator[DryCandidate]:
        """Slabs that may hold the piece, the least dry wood first."""
        query = self._query(near=False).order_by(outline_curves.c.area_mm2 * self._bounds.group.c.area_factor)
        waiting: list[tuple[float, int, DryCandidate]] = []
        order = count()
        for some in self._rows(query, _AT_ONCE):
            surely = some[0].area_mm2 * some[0].area_factor
            while waiting and waiting[0][0] <= surely:
                yield heapq.heappop(waiting)[-1]
            for one in self._with_factors(some):
                if one.to_spare < 0:
                    self.ruled_out.append(one)
                    continue
                factors = one.factors
                area = one.candidate.area_mm2 * factors.along.value * factors.across.value
                heapq.heappush(waiting, (area, next(order), one))
        while waiting:
            yield heapq.heappop(waiting)[-1]

    def nearly(self) -> Iterator[DryCandidate]:
        """Slabs that the bounds rule out, but by no more than `NEAR_MM` of width or of length; the widest first.

        Those come first that their own factors ruled out on the way.
        """
        met = sorted(self.ruled_out, key=lambda one: -one.to_spare)
        yield from (one for one in met if one.to_spare >= -NEAR_MM)
        widest = func.substr(outline_curves.c.straight, self._bounds.group.c.at_0, DIGITS).desc()
        for some in self._rows(self._query(near=True).order_by(widest, outline_curves.c.survey_id), _FEW):
            yield from self._with_factors(some)

    def without_size(self) -> tuple[int, str]:
        """How many slabs that might hold the piece have no dry size, as far as was looked, and why, for one."""
        known = self._bounds.known
        query = joined(select(func.count(slabs.c.number.distinct()), func.min(slabs.c.number)))
        query = query.outerjoin(self._bounds.log, self._bounds.log.c.log_id == slabs.c.log_id)
        query = query.where(*filters(self._request), *self._bounds.loosest, known.is_(None))
        number, first = self._connection.execute(query).one()
        if self.unknown:
            first, why = next(iter(self.unknown.items()))
            return number + len(self.unknown), f"slab {tag_of(first)}: {why}"
        if not number:
            return 0, ""
        told = self._drying.factors_of(self._connection, slabs_numbered(self._connection, [first]), self._moisture)
        return number, f"slab {tag_of(first)}: {told[first].why}"

    def _query(self, near: bool) -> Select:
        bounds = self._bounds
        query = joined(
            select(
                *COLUMNS,
                outline_curves.c.straight,
                outline_curves.c.live,
                bounds.group.c.area_factor,
            )
        )
        query = query.join(bounds.log, bounds.log.c.log_id == slabs.c.log_id)
        query = query.join(bounds.group, bounds.group.c.id == bounds.known)
        held = and_(*bounds.held())
        limits = [~held, *bounds.nearly_held()] if near else [*bounds.loosest, held]
        if self._request.thickness is not None:
            least = self._request.thickness + self._request.flattening
            limits.append(slabs.c.thickness_mm * bounds.group.c.across_most >= least)
        return query.where(*filters(self._request), *limits)

    def _rows(self, query: Select, at_once: int) -> Iterator[list[Any]]:
        rows = iter(self._connection.execute(query, execution_options={"stream_results": True}))
        while some := list(islice(rows, at_once)):
            yield some

    def _with_factors(self, rows: Sequence[Any]) -> Iterator[DryCandidate]:
        numbers = list(dict.fromkeys(row.number for row in rows))
        told = self._drying.factors_of(self._connection, slabs_numbered(self._connection, numbers), self._moisture)
        for row in rows:
            dry = told[row.number]
            if dry.factors is None:
                self.unknown.setdefault(row.number, dry.why)
                continue
            candidate = candidate_of(row[: len(COLUMNS)])
            yield DryCandidate(candidate, dry.factors, self._to_spare(row, dry.factors))

    def _to_spare(self, row: Any, factors: ScaleFactors) -> float:
        """The least over all that is asked of the outline of what there is to spare at the very most, mm."""
        along, across = factors.along.value, factors.across.value
        change = Change((along, along), (across, across))
        spare, reach = np.inf, None
        for asked in self._asked:
            if asked.live:
                length, width = change.stretch_before(asked.length, asked.width)
                spare = min(spare, bound_at(row.live, length) - width)
                continue
            length, width = change.before(asked.length, asked.width)
            # Lying along the slab it may fit: then nothing is gained by asking how far the slab reaches.
            level = bound_at(row.straight, float(length[0])) - float(width[0])
            if level < 0:
                reach = self._reach(row.survey_id) if reach is None else reach
                level = most_to_spare(
                    row.straight,
                    asked.length,
                    asked.width,
                    change,
                    (reach[0] * along, reach[1] * across),
                )
            spare = min(spare, level)
        return float(spare)

    def _reach(self, survey: int) -> np.ndarray:
        """(2,) mm: how far the measured outline reaches along and across."""
        points = self._connection.execute(
            select(outlines.c.points_mm).where(
                outlines.c.survey_id == survey,
                outlines.c.kind == "wood",
                outlines.c.part == 0,
            )
        ).scalar_one()
        return np.ptp(np.array(json.loads(points), np.float64).reshape(-1, 2), axis=0)
