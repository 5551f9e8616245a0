"""The wood of two slabs as the faces show it that met at the kerf, and the book they make."""

from collections.abc import Sequence
from typing import Protocol

import shapely
from shapely import affinity
from sqlalchemy import Connection, select

from grainlog.drying.dry_size import ScaleFactors
from grainlog.fit.defects import NO_WISHES, Wishes
from grainlog.fit.pairs import Pair, book
from grainlog.fit.region import Region
from grainlog.yard.drying_wood import logs_wood
from grainlog.yard.fit_slab import SlabWood, read_wood
from grainlog.yard.schema import slabs, surveys


class Faced(Protocol):
    """A slab's number, one of its surveys, and the face that this shows."""

    number: int
    survey: int
    side: str | None


def seen_wood(
    connection: Connection, two: Sequence[Faced], sides: Sequence[str | None], wishes: Wishes = NO_WISHES,
    end_checks_out: bool = False, dried: Sequence[ScaleFactors | None] = (None, None),
) -> tuple[list[SlabWood], list[Region], bool]:  # fmt: skip
    """The wood of two slabs, what a piece may lie on as each of `sides` shows it, and whether both faces were named and
    surveyed. Raises OutlineRefused."""
    woods, seen, known = [], [], True
    for slab, side, dry in zip(two, sides, dried, strict=True):
        survey, mirrored = _survey_of(connection, slab, side)
        known = known and not mirrored and side is not None
        woods.append(read_wood(connection, slab.number, survey, wishes, end_checks_out, dry))
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
    pith = getattr(logs_wood(connection, [row.log_id]).get(row.log_id), "pith_order", None)
    if pith is None:
        return None, None
    if row.order_in_log < pith:
        # The next one lies nearer the pith, or holds it.
        return "heart", "bark" if row.order_in_log + 1 != pith else None
    return ("bark" if row.order_in_log != pith else None), "heart"


def _survey_of(connection: Connection, candidate: Faced, side: str | None) -> tuple[int, bool]:
    """The survey that shows a face, newest first, and whether it shows the other face instead."""
    if side is None:
        return candidate.survey, False
    query = select(surveys.c.id).where(surveys.c.slab_number == candidate.number, surveys.c.side == side)
    query = query.where(surveys.c.before_cut == 0)
    found = connection.execute(query.order_by(surveys.c.surveyed_at.desc(), surveys.c.id.desc()).limit(1)).scalar()
    return (found, False) if found is not None else (candidate.survey, candidate.side is not None)
