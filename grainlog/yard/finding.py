"""Finding the slab for a piece: the curves rule out nearly all, the outline itself decides the rest, least waste first."""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from sqlalchemy import Connection, func, select

from grainlog.drying.dry_size import ScaleFactors
from grainlog.fit.defects import Defect
from grainlog.fit.errors import OutlineRefused, PieceRefused
from grainlog.fit.laying import Laid, lay, missing_length
from grainlog.fit.several import Packed, at_most, pack
from grainlog.units.quantity import Quantity
from grainlog.yard.database import Database
from grainlog.yard.errors import NoSuchSlab, QueryRefused, YardError
from grainlog.yard.filing import folded
from grainlog.yard.fit_curves import enter_missing
from grainlog.yard.fit_dry import DrySearch
from grainlog.yard.fit_request import (
    NEAR_MM,
    NO_DRY_SIZE,
    NOBODY_LOOKED,
    Candidate,
    FindRequest,
    candidates,
    checks_refused,
    thickness_spare,
    widest,
)
from grainlog.yard.fit_slab import SlabWood, read_wood
from grainlog.yard.fit_tables import outline_curves
from grainlog.yard.life_state import STATUSES
from grainlog.yard.life_tables import slab_life
from grainlog.yard.schema import outlines, surveys
from grainlog.yard.schema import slabs as slabs_table
from grainlog.yard.tags import tag_of

if TYPE_CHECKING:
    from grainlog.yard.drying import Drying

# A candidate, and its factors where a dry size is asked for.
_Candidate = tuple[Candidate, ScaleFactors | None]

#: Outlines looked at closely in one search; beyond this the answer says that it stopped.
MOST_LOOKED_AT = 150


@dataclass(frozen=True, eq=False)
class FoundSlab:
    """One slab that holds what was looked for, or nearly.

    candidate : the slab
    wood : what was laid on
    laid : the pieces as laid; for several pieces those that were placed
    left_out : pieces that could not be placed
    waste_mm2 : wood of the face that is in no piece
    thickness_spare : what is left of the thickness, mm; None where none was asked for
    dried : factors to the moisture asked for; None for sizes as measured
    treated : the slab's defects, each with what is wished about it
    at_most : of several pieces that were not all placed, how many any layout can hold; None where that was not worked out
    """

    candidate: Candidate
    wood: SlabWood
    laid: tuple[Laid, ...]
    left_out: tuple[int, ...]
    waste_mm2: float
    thickness_spare: Quantity | None
    dried: ScaleFactors | None
    treated: tuple[tuple[Defect, str], ...] = ()
    at_most: int | None = None

    @property
    def waste_share(self) -> float:
        """The part of the face's wood that is in no piece, 0 to 1."""
        return self.waste_mm2 / self.wood.wood_mm2

    @property
    def fits(self) -> bool:
        """Whether everything asked for has its place."""
        thick = self.thickness_spare is None or self.thickness_spare.value >= 0
        return thick and not self.left_out and all(laid.fits for laid in self.laid)

    @property
    def miss_mm(self) -> float:
        """By how much it misses, mm; infinite where a piece of several is left out."""
        if self.left_out:
            return float("inf")
        return max(min(-laid.spare.value, laid.short or float("inf")) for laid in self.laid)


@dataclass(frozen=True, eq=False)
class Found:
    """What a search found.

    answers : slabs that hold it, least waste first. misses : slabs that nearly do, nearest first.
    anything : whether the yard has outlines to search at all. looked_at : outlines that pieces were laid on.
    stopped : whether more might hold it than were looked at (limit reached or `MOST_LOOKED_AT`).
    left_out : why and how many slabs were left out for want of something known; why_no_dry_size : of the first, in full.
    partly : of several pieces, slabs on which not all found a place, most pieces first: no proof that they do not fit.
    widest : where nothing holds or nearly holds a piece: the slab that is widest over its length, and at most how wide, mm.
    """

    answers: tuple[FoundSlab, ...]
    misses: tuple[FoundSlab, ...]
    anything: bool
    looked_at: int
    stopped: bool
    left_out: dict[str, int] = field(default_factory=dict)
    why_no_dry_size: str = ""
    partly: tuple[FoundSlab, ...] = ()
    widest: tuple[int, float] | None = None


def find(
    database: Database, drying: Callable[[], "Drying"], request: FindRequest,
    progress: Callable[[int, int], None] | None = None,
) -> Found:  # fmt: skip
    """Search the yard. Raises PieceRefused, QueryRefused, NoSuchSlab, YardError."""
    request.sound()
    enter_missing(database, progress)
    if request.moisture is not None and not 0 < request.moisture < 1:
        raise PieceRefused("A moisture has to lie between 0 and 100 %.")
    look = _Look(request)
    with database.reading() as connection:
        _require(connection, request)
        anything = connection.execute(select(outline_curves.c.survey_id).limit(1)).first() is not None
        dry = None if request.moisture is None else DrySearch(connection, drying(), request)
        answers: list[FoundSlab] = []
        failed: list[FoundSlab] = []
        stopped = False
        for candidate, factors in _may_hold(connection, request, dry):
            if stopped := len(answers) == request.limit or look.count == MOST_LOOKED_AT:
                break
            found = look.at(connection, candidate, factors)
            if found is not None:
                (answers if found.fits else failed).append(found)
        if request.misses and len(request.pieces) == 1:
            for candidate, factors in _nearly_hold(connection, request, dry):
                if len(failed) >= 2 * request.misses:
                    break
                found = look.at(connection, candidate, factors)
                if found is not None and not found.fits:
                    failed.append(found)
        why_no_dry_size = "" if dry is None else look.leave_out_without_size(dry)
        answers.sort(key=lambda found: (found.waste_mm2, found.candidate.number))
        nearest = sorted((found for found in failed if not found.left_out), key=lambda found: found.miss_mm)
        misses = [_or_short(found, request.trim) for found in nearest[: 2 * request.misses]]
        misses = sorted((found for found in misses if found.miss_mm <= NEAR_MM), key=lambda found: found.miss_mm)
        alone = not answers and not misses and len(request.pieces) == 1
        broadest = widest(connection, request) if alone else None
    return Found(
        tuple(answers), tuple(misses[: request.misses]), anything, look.count, stopped, look.left_out,
        why_no_dry_size, _partly(failed, request), broadest,
    )  # fmt: skip


def _partly(failed: list[FoundSlab], request: FindRequest) -> tuple[FoundSlab, ...]:
    some = sorted((one for one in failed if one.left_out), key=lambda one: (len(one.left_out), one.waste_mm2))
    return tuple(
        replace(one, at_most=at_most(one.wood.region, request.pieces, request.trim, request.kerf))
        for one in some[: request.misses]
    )


def _may_hold(connection: Connection, request: FindRequest, dry: DrySearch | None) -> Iterator[_Candidate]:
    if dry is None:
        return ((candidate, None) for candidate in candidates(connection, request))
    return ((one.candidate, one.factors) for one in dry.candidates())


def _nearly_hold(connection: Connection, request: FindRequest, dry: DrySearch | None) -> Iterator[_Candidate]:
    if dry is None:
        return ((candidate, None) for candidate in candidates(connection, request, NEAR_MM))
    return ((one.candidate, one.factors) for one in dry.nearly())


class _Look:
    """Looking closely at one candidate after the other."""

    def __init__(self, request: FindRequest):
        self.request = request
        self.count = 0
        self.left_out: dict[str, int] = {}
        self._seen: set[int] = set()

    def at(self, connection: Connection, candidate: Candidate, factors: ScaleFactors | None) -> FoundSlab | None:
        """The pieces laid on a candidate; None for another survey than the one that counts, or something not known."""
        request = self.request
        if candidate.number in self._seen or not _is_chosen(connection, candidate, request.show_face):
            return None
        self._seen.add(candidate.number)
        try:
            wood = read_wood(
                connection, candidate.number, candidate.survey, request.wishes, request.checks == "trim-ends", factors
            )
        except OutlineRefused as error:
            return self._leave_out(str(error))
        if request.checks != "any" and wood.checks is None:
            return self._leave_out(NOBODY_LOOKED)
        if checks_refused(wood.checks, request):
            return None
        spare = thickness_spare(candidate, request, factors)
        if spare is not None and spare.value < 0:
            return None
        self.count += 1
        laid, left_out = _laid(wood, request)
        treated = tuple((defect, request.wishes.treatment(defect)) for defect in wood.defects)
        used = sum(one.shape.area for one in laid if one.shape is not None)
        return FoundSlab(candidate, wood, laid, left_out, max(wood.wood_mm2 - used, 0.0), spare, factors, treated)

    def leave_out_without_size(self, dry: DrySearch) -> str:
        """Count the slabs without a dry size; why, for one of them."""
        number, why = dry.without_size()
        if number:
            self.left_out[NO_DRY_SIZE] = number
        return why

    def _leave_out(self, why: str) -> None:
        self.left_out[why] = self.left_out.get(why, 0) + 1


def _laid(wood: SlabWood, request: FindRequest) -> tuple[tuple[Laid, ...], tuple[int, ...]]:
    if len(request.pieces) == 1:
        piece = request.pieces[0]
        laid = lay(wood.region, piece, wood.sureness, request.trim, wood.defects, request.wishes)
        return (laid,), ()
    # With more than two standard uncertainties of a width to spare around each piece first: what has room for that is sure to fit.
    u = max(wood.sureness.across(-math.inf, math.inf, piece.width) for piece in request.pieces)
    packed: Packed = pack(wood.region, request.pieces, request.trim + 1.5 * u, request.kerf)
    guard = 3 * u
    if packed.left_out:
        packed, guard = pack(wood.region, request.pieces, request.trim, request.kerf), 0.0
    placed = [
        Laid(
            request.pieces[index], shape, cut, angle, Quantity(guard, u), met=request.wishes.met_by(shape, wood.defects)
        )
        for index, shape, cut, angle in packed.placed
    ]
    return tuple(placed), packed.left_out


def _or_short(found: FoundSlab, trim: float) -> FoundSlab:
    """A miss with how much too short the wood is, where that is the lesser miss."""
    laid = found.laid[0]
    if laid.fits or -laid.spare.value <= NEAR_MM / 3:
        return found
    short = missing_length(found.wood.region, laid.piece, NEAR_MM, trim)
    return found if short is None or short >= -laid.spare.value else replace(found, laid=(replace(laid, short=short),))


def _is_chosen(connection: Connection, candidate: Candidate, face: str | None) -> bool:
    """Whether the candidate's survey is the newest of its slab, or of the face to be seen."""
    query = select(surveys.c.id).where(surveys.c.slab_number == candidate.number, surveys.c.before_cut == 0)
    query = query.where(surveys.c.side == face) if face else query
    newest = query.order_by(surveys.c.surveyed_at.desc(), surveys.c.filed_at.desc(), surveys.c.id.desc()).limit(1)
    return connection.execute(newest).scalar() == candidate.survey


def _require(connection: Connection, request: FindRequest) -> None:
    """Raises NoSuchSlab, YardError for a slab without an outline, QueryRefused for a status or place that there is not."""
    if request.status and request.status not in STATUSES:
        raise QueryRefused(f"'{request.status}' is no status of a slab; use one of {', '.join(STATUSES)}.")
    if request.place:
        held = func.instr(slab_life.c.place_folded, folded(request.place)) > 0
        if connection.execute(select(slab_life.c.slab_number).where(held).limit(1)).first() is None:
            raise QueryRefused(
                f"No slab lies in a place called '{request.place}'; say part of the shed's or stack's name."
            )
    for number in request.slabs:
        if connection.execute(select(slabs_table.c.number).where(slabs_table.c.number == number)).first() is None:
            raise NoSuchSlab(f"There is no slab {tag_of(number)} in this yard; list the slabs to see which there are.")
        drawn = select(outlines.c.id).join(surveys, surveys.c.id == outlines.c.survey_id)
        if connection.execute(drawn.where(surveys.c.slab_number == number, outlines.c.kind == "wood")).first() is None:
            raise YardError(f"Slab {tag_of(number)} has no outline to lay a piece on; measure a photo of it.")
