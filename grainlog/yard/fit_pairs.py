"""Pairs of slabs for one top: neighbours from one log opened like a book, or two slabs with a gap between live edges."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, islice
from typing import Protocol

import numpy as np
import shapely
from shapely import affinity
from sqlalchemy import Connection, func, select

from grainlog.fit.curve import DIGITS, digits_for, entry_for
from grainlog.fit.defects import NO_WISHES, Wishes
from grainlog.fit.errors import OutlineRefused, PieceRefused
from grainlog.fit.pairs import Pair, beside, book
from grainlog.fit.piece import straight
from grainlog.fit.region import Region
from grainlog.units.quantity import Quantity
from grainlog.yard.database import Database
from grainlog.yard.drying_wood import logs_wood
from grainlog.yard.errors import QueryRefused
from grainlog.yard.fit_curves import enter_missing
from grainlog.yard.fit_request import Candidate, FindRequest, candidates
from grainlog.yard.fit_slab import SlabWood, read_wood
from grainlog.yard.fit_tables import outline_curves
from grainlog.yard.schema import slabs, surveys

KINDS = ("book", "gap")
#: Pairs looked at closely in one search.
MOST_PAIRS = 25


class Faced(Protocol):
    """A slab's number, one of its surveys, and the face that this shows."""

    number: int
    survey: int
    side: str | None


@dataclass(frozen=True, eq=False)
class PairRequest:
    """A top from two slabs.

    kind : "book" or "gap"
    length, width : of the top, mm
    straight : for "book": outer edges sawn straight; else they stay live and the width is the least
    gap : between the live edges at their nearest, for "gap", mm
    search : filters, allowances and wishes; its pieces are not looked at
    """

    kind: str
    length: float
    width: float
    search: FindRequest
    straight: bool = True
    gap: float = 0.0


@dataclass(frozen=True, eq=False)
class FoundPair:
    """Two slabs and the top they make; `spare` by how much it is wider than asked, negative: too narrow, mm.

    faces_known : for "book": whether both met faces are surveyed; else an outline was mirrored from the other face, which
        misses the slope of the live edges.
    """

    first: Candidate
    second: Candidate
    woods: tuple[SlabWood, SlabWood]
    pair: Pair
    spare: Quantity
    waste_mm2: float
    faces_known: bool

    @property
    def waste_share(self) -> float:
        """The part of both faces' wood that is not in the top, 0 to 1."""
        return self.waste_mm2 / sum(wood.wood_mm2 for wood in self.woods)

    def above_each_other(self) -> tuple[tuple[shapely.Geometry, ...], tuple[shapely.Polygon, ...]]:
        """Both outlines, the first above, and in each the part that goes into the top, mm."""
        first, second = (wood.outline for wood in self.woods)
        down = first.bounds[1] - second.bounds[3] - 0.06 * (first.bounds[2] - first.bounds[0])
        return (
            (first, affinity.translate(second, 0, down)),
            (self.pair.first.shape, affinity.translate(self.pair.second.shape, 0, down)),
        )


@dataclass(frozen=True, eq=False)
class FoundPairs:
    """Pairs that make the top, least waste first, those that nearly do, and how many were looked at."""

    answers: tuple[FoundPair, ...]
    misses: tuple[FoundPair, ...]
    looked_at: int
    stopped: bool


def find_pairs(database: Database, request: PairRequest) -> FoundPairs:
    """Search for pairs. Raises PieceRefused, QueryRefused, YardError."""
    if request.kind not in KINDS:
        raise QueryRefused(f"A pair is a {' or a '.join(KINDS)}, not a {request.kind!r}.")
    if min(request.length, request.width) <= 0 or request.gap < 0:
        raise PieceRefused(
            "A top needs a length and a width greater than zero, and a gap that is not less than nothing."
        )
    enter_missing(database)
    length = request.length + 2 * request.search.trim
    width = request.width + 2 * request.search.trim
    found: list[FoundPair] = []
    with database.reading() as connection:
        tried = list(islice(_two(connection, request, length, width), MOST_PAIRS + 1))
        for first, second in tried[:MOST_PAIRS]:
            one = _looked_at(connection, request, first, second, length, width)
            if one is not None:
                found.append(one)
            # Pairs for a gap come by how much wood they are, so the first that do are those with the least waste.
            enough = sum(other.spare.value >= 0 for other in found) >= request.search.limit
            if request.kind == "gap" and enough:
                break
    answers = sorted((one for one in found if one.spare.value >= 0), key=lambda one: one.waste_mm2)
    misses = sorted((one for one in found if one.spare.value < 0), key=lambda one: -one.spare.value)
    search = request.search
    return FoundPairs(
        tuple(answers[: search.limit]), tuple(misses[: search.misses]), min(len(tried), MOST_PAIRS),
        len(tried) > MOST_PAIRS,
    )  # fmt: skip


def _two(connection: Connection, request: PairRequest, length: float, width: float) -> Iterator[tuple]:
    """Two slabs whose curves do not rule the top out: neighbours in a log for "book", any two for "gap"."""
    rows = _long_enough(connection, request, length)
    by_slab = {candidate.number: (candidate, bound) for candidate, bound in rows}
    if request.kind == "gap":
        # The gap widens the top, and live edges that bulge towards each other keep the slabs apart; what the outer edges
        # can be apart is bounded by whole widths, not by what is straight.
        couples = combinations(sorted(by_slab.values(), key=lambda pair: pair[0].area_mm2), 2)
        couples = sorted(couples, key=lambda two: two[0][0].area_mm2 + two[1][0].area_mm2)
        for (one, _), (two, _) in couples:
            if one.area_mm2 + two.area_mm2 >= (request.width - request.gap) * request.length * 0.5:
                yield one, two
        return
    rows = connection.execute(select(slabs.c.log_id, slabs.c.order_in_log, slabs.c.number).where(slabs.c.number > 0))
    place = {(log, order): number for log, order, number in rows if number in by_slab}
    for (of, at), number in sorted(place.items()):
        neighbour = place.get((of, at + 1))
        if neighbour is not None and by_slab[number][1] + by_slab[neighbour][1] >= width / 2:
            yield by_slab[number][0], by_slab[neighbour][0]


def _long_enough(connection: Connection, request: PairRequest, length: float) -> list[tuple[Candidate, float]]:
    """The slabs that meet the filters and are long enough, each with the bound on its width at that length, mm."""
    # A strip no wider than a finger: only the length counts here.
    search = replace(request.search, pieces=(straight(length, min(length, 20.0)),), trim=0.0)
    newest: dict[int, Candidate] = {}
    for candidate in candidates(connection, search):
        query = select(surveys.c.id).where(surveys.c.slab_number == candidate.number, surveys.c.before_cut == 0)
        first = query.order_by(surveys.c.surveyed_at.desc(), surveys.c.filed_at.desc(), surveys.c.id.desc()).limit(1)
        if connection.execute(first).scalar() == candidate.survey:
            newest[candidate.number] = candidate
    column = func.substr(outline_curves.c.straight, DIGITS * entry_for(length) + 1, DIGITS)
    query = select(outline_curves.c.slab_number, column).where(
        outline_curves.c.survey_id.in_([candidate.survey for candidate in newest.values()]), column >= digits_for(20.0)
    )
    return [(newest[number], int(digits, 16) / 10) for number, digits in connection.execute(query)]


def _looked_at(
    connection: Connection, request: PairRequest, first: Candidate, second: Candidate, length: float, width: float
) -> FoundPair | None:
    search = request.search
    sides = met_faces(connection, first.number) if request.kind == "book" else (None, None)
    try:
        woods, seen, known = seen_wood(connection, (first, second), sides, search.wishes, search.checks == "trim-ends")
    except OutlineRefused:
        return None
    if request.kind == "book":
        pair = opened(seen, known, length, request.straight)
    else:
        pair = beside(seen[0], seen[1], length, request.gap)
    if pair is None:
        return None
    u = np.hypot(*(wood.sureness.across(-np.inf, np.inf, 0.0) for wood in woods))
    used = request.length * request.width if request.kind == "book" and request.straight else sum(
        part.area for part in pair.drawn
    )  # fmt: skip
    waste = max(sum(wood.wood_mm2 for wood in woods) - used, 0.0)
    spare = Quantity(pair.width - width, float(u))
    return FoundPair(first, second, (woods[0], woods[1]), pair, spare, waste, known or request.kind == "gap")


def seen_wood(
    connection: Connection, two: Sequence["Faced"], sides: Sequence[str | None], wishes: Wishes = NO_WISHES,
    end_checks_out: bool = False,
) -> tuple[list[SlabWood], list[Region], bool]:  # fmt: skip
    """The wood of two slabs, what a piece may lie on as each of `sides` shows it, and whether both faces were named and
    surveyed. Raises OutlineRefused."""
    woods, seen, known = [], [], True
    for slab, side in zip(two, sides, strict=True):
        survey, mirrored = _survey_of(connection, slab, side)
        known = known and not mirrored and side is not None
        woods.append(read_wood(connection, slab.number, survey, wishes, end_checks_out, None))
        # Seen from its other face, an outline is the mirror image of the one that was surveyed.
        whole = woods[-1].region.whole
        seen.append(_mirrored(whole) if mirrored else woods[-1].region)
    return woods, seen, known


def opened(seen: Sequence[Region], known: bool, length: float, straight: bool) -> Pair | None:
    """Two neighbours opened like a book, or None where they are not so long; `known`: as `seen_wood` says."""
    # Where nobody said which faces met, the outlines themselves do, by how well one covers the other.
    ways = [seen[1]] if known else [seen[1], _mirrored(seen[1].whole)]
    pairs = [made for way in ways if (made := book(seen[0], way, length, straight)) is not None]
    return max(pairs, key=lambda made: made.overlap, default=None)


def _mirrored(whole: shapely.Geometry) -> Region:
    return Region(affinity.scale(whole, 1, -1, origin=(0, 0)))


def met_faces(connection: Connection, first: int) -> tuple[str | None, str | None]:
    """Which faces of a slab and the next one of its log met at the kerf: one's heart side and the other's bark side, or two heart sides.

    A slab's bark side looks away from the pith. Where the pith lies between the two, two heart sides met; on one side of
    it, the heart side of the outer slab met the bark side of the inner one. Without the log's pith nobody can say, and
    (None, None) comes back.
    """
    row = connection.execute(select(slabs.c.log_id, slabs.c.order_in_log).where(slabs.c.number == first)).one()
    pith = getattr(logs_wood(connection).get(row.log_id), "pith_order", None)
    if pith is None:
        return None, None
    if row.order_in_log < pith:
        # The next one lies nearer the pith, or holds it.
        return "heart", "bark" if row.order_in_log + 1 != pith else None
    return ("bark" if row.order_in_log != pith else None), "heart"


def _survey_of(connection: Connection, candidate: "Faced", side: str | None) -> tuple[int, bool]:
    """The survey that shows a face, newest first, and whether it shows the other face instead."""
    if side is None:
        return candidate.survey, False
    query = select(surveys.c.id).where(surveys.c.slab_number == candidate.number, surveys.c.side == side)
    query = query.where(surveys.c.before_cut == 0)
    found = connection.execute(query.order_by(surveys.c.surveyed_at.desc(), surveys.c.id.desc()).limit(1)).scalar()
    return (found, False) if found is not None else (candidate.survey, candidate.side is not None)
