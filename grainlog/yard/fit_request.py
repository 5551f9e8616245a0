"""What may be looked for, and the slabs of the yard that may hold it by their curves alone."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import (
    Column,
    ColumnElement,
    Connection,
    Select,
    and_,
    func,
    or_,
    select,
)

from grainlog.drying.dry_size import ScaleFactors
from grainlog.fit.curve import CURVE_VERSION, DIGITS, bound_at, digits_for, entry_for
from grainlog.fit.defects import Wishes
from grainlog.fit.drying_outline import Change
from grainlog.fit.errors import PieceRefused
from grainlog.fit.piece import Piece
from grainlog.units.quantity import Quantity
from grainlog.yard.errors import QueryRefused
from grainlog.yard.filing import folded
from grainlog.yard.fit_tables import outline_curves
from grainlog.yard.life_tables import slab_life
from grainlog.yard.schema import logs, slabs, surveys

#: Misses of more than this are of no use to anybody, mm (our choice, no source).
NEAR_MM = 75.0
CHECKS = ("any", "trim-ends", "none")
NOBODY_LOOKED = "nobody looked for checks on it yet"
NO_DRY_SIZE = "the size at that moisture is not known"
#: What wood loses across the grain from green to dry at the very most, and what it gains the other way, by which the
#: curve (of the outline as measured) is eased when a dry size is asked for; our own limits, wider than any species' total.
_MOST_SHRINKAGE, _MOST_SWELLING = 0.15, 0.15
_EASED = Change((1 - 0.01, 1 + 0.01), (1 - _MOST_SHRINKAGE, 1 + _MOST_SWELLING))


@dataclass(frozen=True, eq=False)
class FindRequest:
    """What to look for.

    pieces : one, or several that come out of one slab.
    trim, kerf : left around each piece, and between two, mm.
    thickness, flattening : finished thickness, and what flattening takes off both faces together, mm; None: any.
    moisture : the pieces' sizes are meant at this moisture, a fraction; None: at the sizes last measured.
    species, log : part of the name. status : a status. place : part of the shed's or stack's name.
    slabs : only these; empty: all that are there.
    show_face : "bark" or "heart", the face to be seen, whose newest survey is taken; None: the slab's newest survey.
    checks : "any"; "trim-ends": end checks are avoided, no other may have been seen on the face; "none" may.
    wishes : what is to be done about defects.
    limit, misses : at most so many answers, and near misses.
    """

    pieces: tuple[Piece, ...]
    trim: float = 0.0
    kerf: float = 3.0
    thickness: float | None = None
    flattening: float = 0.0
    moisture: float | None = None
    species: str | None = None
    log: str | None = None
    status: str | None = None
    place: str | None = None
    slabs: tuple[int, ...] = ()
    show_face: str | None = None
    checks: str = "any"
    wishes: Wishes = field(default_factory=Wishes)
    limit: int = 5
    misses: int = 2

    def sound(self) -> None:
        """Raises PieceRefused, QueryRefused for a request that cannot be meant."""
        if not self.pieces:
            raise PieceRefused("Nothing to look for; say the size of the piece, as in 72x34in.")
        if min(self.trim, self.kerf, self.flattening, self.wishes.margin) < 0:
            raise PieceRefused("An allowance cannot be less than nothing.")
        if self.thickness is not None and self.thickness <= 0:
            raise PieceRefused("A piece needs a thickness greater than zero.")
        if self.checks not in CHECKS:
            raise QueryRefused(f"Checks can be {', '.join(CHECKS)}, not {self.checks!r}.")
        if self.limit < 1 or self.misses < 0:
            raise QueryRefused("A limit must let at least one slab through; give 1 or more.")


@dataclass(frozen=True)
class Candidate:
    """One outline that may hold what is looked for: its slab and survey, and what goes with them."""

    number: int
    survey: int
    side: str | None
    log: str
    species: str | None
    thickness_mm: float | None
    thickness_u: float | None
    area_mm2: float
    status: str | None
    place: str


COLUMNS = (
    slabs.c.number, outline_curves.c.survey_id, surveys.c.side, logs.c.name, logs.c.species, slabs.c.thickness_mm,
    slabs.c.thickness_mm_u, outline_curves.c.area_mm2, slab_life.c.status, slab_life.c.shed, slab_life.c.stack,
    slab_life.c.layer,
)  # fmt: skip


def candidates(connection: Connection, request: FindRequest, nearly: float = 0.0) -> Iterator[Candidate]:
    """Outlines that the curves do not rule out, the least wood first: for one size of piece that is the least waste.

    nearly : instead, those that the curves do rule out, but by no more than so many mm of width or of length; the widest first.
    """
    query = joined(select(*COLUMNS)).where(*filters(request))
    if nearly:
        entry = entry_for(_needed(request)[0][1])
        query = query.where(not_held(request), *_held(request, nearly))
        query = query.order_by(func.substr(outline_curves.c.straight, DIGITS * entry + 1, DIGITS).desc())
    else:
        query = query.where(*_held(request, 0.0)).order_by(outline_curves.c.area_mm2)
    for row in connection.execute(query, execution_options={"stream_results": True}):
        yield candidate_of(row)


def candidate_of(row: Sequence[Any]) -> Candidate:
    """A row of `COLUMNS`."""
    *head, shed, stack, layer = row
    return Candidate(*head, ", ".join(part for part in (shed, stack, f"layer {layer}" if layer else None) if part))


def joined(query: Select) -> Select:
    """A query of curves with their slabs, surveys, logs and where the slabs lie."""
    return (
        query.select_from(outline_curves)
        .join(slabs, slabs.c.number == outline_curves.c.slab_number)
        .join(surveys, surveys.c.id == outline_curves.c.survey_id)
        .join(logs, logs.c.id == slabs.c.log_id)
        .outerjoin(slab_life, slab_life.c.slab_number == slabs.c.number)
    )


@dataclass(frozen=True)
class Asked:
    """What a piece, with its trim, asks of an outline's curve: a straight strip, or a stretch with both live edges, mm."""

    live: bool
    length: float
    width: float

    @property
    def curve(self) -> Column:
        """The curve that says it."""
        return outline_curves.c.live if self.live else outline_curves.c.straight


def asked_of(request: FindRequest) -> list[Asked]:
    """All that the pieces ask of an outline's curves."""
    asked = []
    for piece in request.pieces:
        raw = piece.grown(request.trim)
        asked += [Asked(False, *sides) for sides in raw.inner_rectangles()]
        if raw.kind == "both live edges":
            asked.append(Asked(True, raw.length, raw.width))
    return asked


def wide_enough(curve: Column, length: float, width: float) -> ColumnElement[bool]:
    """That a curve does not rule out so much at such a length."""
    return func.substr(curve, DIGITS * entry_for(max(length, 0.0)) + 1, DIGITS) >= digits_for(max(width, 0.0))


def widest(connection: Connection, request: FindRequest) -> tuple[int, float] | None:
    """The slab that is widest over the length of a piece by the curves, and the width, mm, that it does not exceed.

    At the sizes last measured. For ovals and shapes of one's own it would say little: None, as where nothing is that long.
    """
    piece = request.pieces[0]
    if piece.kind in ("oval", "free"):
        return None
    if piece.kind == "round":
        most = outline_curves.c.round_mm
    else:
        asked = asked_of(request)[-1]
        most = func.substr(asked.curve, DIGITS * entry_for(asked.length) + 1, DIGITS)
    query = joined(select(slabs.c.number, most)).where(*filters(request)).order_by(most.desc()).limit(1)
    row = connection.execute(query).first()
    if row is None or not row[1]:
        return None
    return row[0], row[1] if piece.kind == "round" else bound_at(row[1], 0.0)


def area_asked(request: FindRequest) -> float:
    """Less wood than this holds no such pieces, mm2."""
    return sum(piece.area for piece in request.pieces)


def round_asked(request: FindRequest) -> float:
    """The widest round piece, with its trim, mm; 0 where none is asked for."""
    return max((piece.grown(request.trim).length for piece in request.pieces if piece.kind == "round"), default=0.0)


def _needed(request: FindRequest) -> list[tuple[Column, float, float]]:
    """(curve, length, width) that each piece asks of an outline, eased where its size is meant dry."""
    needed = []
    for asked in asked_of(request):
        length, width = asked.length, asked.width
        if request.moisture is not None:
            length, width = (_EASED.stretch_before if asked.live else _EASED.least_before)(length, width)
        needed.append((asked.curve, length, width))
    return needed


def _held(request: FindRequest, nearly: float) -> list[ColumnElement[bool]]:
    """What the curves say must hold, with `nearly` mm of width or of length forgiven."""
    held = [
        or_(wide_enough(column, length, width - nearly), wide_enough(column, length - nearly, width))
        if nearly
        else wide_enough(column, length, width)
        for column, length, width in _needed(request)
    ]
    if not nearly:
        least = area_asked(request) / ((1 + _MOST_SWELLING) ** 2 if request.moisture else 1)
        held.append(outline_curves.c.area_mm2 >= least)
        widest = round_asked(request)
        if widest:
            held.append(outline_curves.c.round_mm >= (widest / (1 + _MOST_SWELLING) if request.moisture else widest))
    return held


def not_held(request: FindRequest) -> ColumnElement[bool]:
    """Ruled out by a curve."""
    return ~and_(*_held(request, 0.0))


def filters(request: FindRequest) -> list[ColumnElement[bool]]:
    """Everything that has nothing to do with the outline's shape."""
    held: list[ColumnElement[bool]] = [
        outline_curves.c.version == CURVE_VERSION,
        surveys.c.before_cut == 0,
        or_(slab_life.c.present.is_(None), slab_life.c.present == 1),
    ]
    if request.slabs:
        held.append(slabs.c.number.in_(request.slabs))
    for column, text in ((logs.c.species_folded, request.species), (logs.c.name_folded, request.log)):
        if text:
            held.append(func.instr(column, folded(text)) > 0)
    if request.status:
        held.append(slab_life.c.status == request.status)
    if request.place:
        held.append(func.instr(slab_life.c.place_folded, folded(request.place)) > 0)
    if request.thickness is not None:
        least = request.thickness + request.flattening
        held.append(slabs.c.thickness_mm >= (least / (1 + _MOST_SWELLING) if request.moisture is not None else least))
    if request.show_face:
        held.append(surveys.c.side == request.show_face)
    return held


def thickness_spare(candidate: Candidate, request: FindRequest, dry: ScaleFactors | None) -> Quantity | None:
    """What is left of a slab's thickness, mm, at the moisture asked for; None where no thickness was asked for."""
    if request.thickness is None:
        return None
    # The query has left out slabs without a thickness.
    thickness = Quantity(float(candidate.thickness_mm or 0.0), float(candidate.thickness_u or 0.0))
    thickness = thickness if dry is None else dry.of_length(thickness, "thickness")
    return Quantity(thickness.value - request.thickness - request.flattening, thickness.u)


def checks_refused(checks: tuple[int, int] | None, request: FindRequest) -> bool:
    """Whether the (end, other) checks seen on a face are against the wish; where nobody looked they are not known to be."""
    ends, others = checks or (0, 0)
    return request.checks != "any" and bool(others or ends and request.checks == "none")
