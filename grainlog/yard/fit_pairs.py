"""Pairs of slabs for one top: neighbours from one log opened like a book, or two slabs with a gap between live edges."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from itertools import combinations

import numpy as np
import shapely
from shapely import affinity
from sqlalchemy import Connection, func, select

from grainlog.drying.dry_size import ScaleFactors
from grainlog.fit.curve import DIGITS, digits_for, entry_for
from grainlog.fit.errors import OutlineRefused, PieceRefused
from grainlog.fit.pairs import Pair, beside
from grainlog.fit.piece import straight
from grainlog.units.quantity import Quantity
from grainlog.yard.database import Database
from grainlog.yard.drying import Drying
from grainlog.yard.errors import QueryRefused
from grainlog.yard.fit_curves import enter_missing
from grainlog.yard.fit_pair_wood import met_faces, opened, seen_wood
from grainlog.yard.fit_request import (
    NO_DRY_SIZE,
    NOBODY_LOOKED,
    Candidate,
    FindRequest,
    candidates,
    checks_refused,
    thickness_spare,
)
from grainlog.yard.fit_slab import SlabWood
from grainlog.yard.fit_tables import outline_curves
from grainlog.yard.query import slabs_numbered
from grainlog.yard.schema import slabs, surveys
from grainlog.yard.tags import tag_of

KINDS = ("book", "gap")
#: Pairs looked at closely in one search.
MOST_PAIRS = 25
#: Slabs asked for their dry size in one search of pairs.
_MOST_DRIED = 400
#: By how much a dry length and width may exceed the measured ones at the very most (our own limits, see `fit_request`).
_LONGER, _WIDER = 1.01, 1.15


@dataclass(frozen=True, eq=False)
class PairRequest:
    """A top from two slabs.

    kind : "book" or "gap"
    length, width : of the top, mm
    straight : for "book": outer edges sawn straight; else they stay live and the width is the least
    gap : between the live edges at their nearest, for "gap", mm
    search : filters, allowances, moisture, thickness and wishes; its pieces are not looked at
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
    thickness_spare : what is left of the thinner one's thickness, mm; None where none was asked for.
    dried : factors of both to the moisture asked for; None for sizes as measured.
    """

    first: Candidate
    second: Candidate
    woods: tuple[SlabWood, SlabWood]
    pair: Pair
    spare: Quantity
    waste_mm2: float
    faces_known: bool
    thickness_spare: Quantity | None = None
    dried: tuple[ScaleFactors, ScaleFactors] | None = None

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
    """Pairs that make the top, least waste first, those that nearly do, and how many were looked at.

    left_out : why and how many slabs were left out for want of something known; why_no_dry_size : of the first, in full.
    """

    answers: tuple[FoundPair, ...]
    misses: tuple[FoundPair, ...]
    looked_at: int
    stopped: bool
    left_out: dict[str, int] = field(default_factory=dict)
    why_no_dry_size: str = ""


def find_pairs(database: Database, request: PairRequest, drying: Callable[[], Drying] | None = None) -> FoundPairs:
    """Search for pairs. `drying` is asked for a search at a moisture. Raises PieceRefused, QueryRefused, YardError."""
    request.search.sound()
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
        look = _Look(connection, request, length, width, drying)
        stopped = False
        for first, second in _two(connection, request, length, width):
            if stopped := look.count == MOST_PAIRS or look.asked >= _MOST_DRIED:
                break
            one = look.at(first, second)
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
        tuple(answers[: search.limit]), tuple(misses[: search.misses]), look.count, stopped,
        {why: len(numbers) for why, numbers in look.left_out.items()}, look.why_no_dry_size,
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
    length, wider = (length, 1.0) if search.moisture is None else (length / _LONGER, _WIDER)
    column = func.substr(outline_curves.c.straight, DIGITS * entry_for(length) + 1, DIGITS)
    query = select(outline_curves.c.slab_number, column).where(
        outline_curves.c.survey_id.in_([candidate.survey for candidate in newest.values()]), column >= digits_for(20.0)
    )
    return [(newest[number], wider * int(digits, 16) / 10) for number, digits in connection.execute(query)]


class _Look:
    """Looking closely at one pair after the other.

    left_out : numbers of slabs by why they were left out. asked : how many slabs were asked for their dry size.
    """

    def __init__(
        self, connection: Connection, request: PairRequest, length: float, width: float,
        drying: Callable[[], Drying] | None,
    ):  # fmt: skip
        self.count = 0
        self.left_out: dict[str, set[int]] = {}
        self.why_no_dry_size = ""
        self._connection, self._request = connection, request
        self._length, self._width = length, width
        if request.search.moisture is not None and drying is None:
            raise ValueError("a search for a dry size needs what the yard knows of drying")
        self._drying = None if request.search.moisture is None or drying is None else drying()
        self._factors: dict[int, ScaleFactors | None] = {}

    @property
    def asked(self) -> int:
        """How many slabs were asked for their dry size."""
        return len(self._factors)

    def at(self, first: Candidate, second: Candidate) -> FoundPair | None:
        """The top that two slabs make; None where they make none, or something that is asked for is not known."""
        request, search, length = self._request, self._request.search, self._length
        dried = self._dried(first), self._dried(second)
        if self._drying is not None and None in dried:
            return None
        spares = [thickness_spare(slab, search, dry) for slab, dry in zip((first, second), dried, strict=True)]
        thinner = min((spare for spare in spares if spare is not None), key=lambda spare: spare.value, default=None)
        if thinner is not None and thinner.value < 0:
            return None
        sides = met_faces(self._connection, first.number) if request.kind == "book" else (None, None)
        try:
            woods, seen, known = seen_wood(
                self._connection, (first, second), sides, search.wishes, search.checks == "trim-ends", dried
            )
        except OutlineRefused:
            return None
        for slab, wood in zip((first, second), woods, strict=True):
            if search.checks != "any" and wood.checks is None:
                self._leave_out(slab, NOBODY_LOOKED)
                return None
            if checks_refused(wood.checks, search):
                return None
        self.count += 1
        if request.kind == "book":
            pair = opened(seen, known, length, request.straight)
        else:
            pair = beside(seen[0], seen[1], length, request.gap)
        if pair is None:
            return None
        halves = (pair.first, pair.second)
        u = np.hypot(
            *(wood.sureness.across(-np.inf, np.inf, half.strip.width) for wood, half in zip(woods, halves, strict=True))
        )
        used = request.length * request.width if request.kind == "book" and request.straight else sum(
            part.area for part in pair.drawn
        )  # fmt: skip
        waste = max(sum(wood.wood_mm2 for wood in woods) - used, 0.0)
        return FoundPair(
            first, second, (woods[0], woods[1]), pair, Quantity(pair.width - self._width, float(u)), waste,
            known or request.kind == "gap", thinner, None if None in dried else dried,
        )  # fmt: skip

    def _dried(self, slab: Candidate) -> ScaleFactors | None:
        if self._drying is None:
            return None
        if slab.number not in self._factors:
            moisture = self._request.search.moisture
            told = self._drying.factors_of(self._connection, slabs_numbered(self._connection, [slab.number]), moisture)
            self._factors[slab.number] = told[slab.number].factors
            if told[slab.number].factors is None:
                self._leave_out(slab, NO_DRY_SIZE)
                self.why_no_dry_size = self.why_no_dry_size or f"slab {tag_of(slab.number)}: {told[slab.number].why}"
        return self._factors[slab.number]

    def _leave_out(self, slab: Candidate, why: str) -> None:
        self.left_out.setdefault(why, set()).add(slab.number)
