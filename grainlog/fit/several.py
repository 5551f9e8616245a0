"""Several pieces from one slab: a plain packing that says what it placed and what it did not.

The largest piece is laid first, pushed to one end and one side of the clear wood so that the rest stays whole, then the
next on what is left, a saw kerf away. A few orders and pushes are tried and the best kept: most pieces, then most area.
No proof that nothing better exists: pieces that are not placed may still be placed by a clever person. What no layout can
exceed is told by `at_most`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from grainlog.fit.curved import laid_at, lay_free, lay_oval, lay_round
from grainlog.fit.envelope import envelope
from grainlog.fit.errors import PieceRefused
from grainlog.fit.live_edge import widest_stretch
from grainlog.fit.piece import Piece
from grainlog.fit.rectangle import Strip, clear_strips, widest_strip
from grainlog.fit.region import Region

#: Towards which end and which side pieces are pushed.
_PUSHES = ((0.0, 0.0), (1.0, 1.0))
MOST_PIECES = 12
_ROUNDING = 2e-4


@dataclass(frozen=True, eq=False)
class Packed:
    """What was placed.

    placed : tuple of (index of the piece as asked, its shape, its shape with trim, its angle), slab frame, mm, radians
    left_out : indices of pieces that were not placed
    waste_mm2 : wood that is in no piece
    """

    placed: tuple[tuple[int, shapely.Polygon, shapely.Polygon, float], ...]
    left_out: tuple[int, ...]
    waste_mm2: float


def pack(region: Region, pieces: Sequence[Piece], trim: float = 0.0, kerf: float = 0.0) -> Packed:
    """Lay several pieces on one slab.

    trim : left around each piece, mm; kerf : between two pieces, mm. Raises PieceRefused for none or too many pieces.
    """
    if not 1 <= len(pieces) <= MOST_PIECES:
        raise PieceRefused(f"One slab is asked for 1 to {MOST_PIECES} pieces at a time; ask for fewer.")
    best: list[tuple[int, shapely.Polygon, shapely.Polygon, float]] = []
    for order in _orders(pieces):
        for end, side in _PUSHES:
            placed = _one_way(region, pieces, order, trim, kerf, end, side)
            if _merit(placed) > _merit(best):
                best = placed
            if len(best) == len(pieces):
                return _packed(region, pieces, best)
    return _packed(region, pieces, best)


def at_most(region: Region, pieces: Sequence[Piece], trim: float = 0.0, kerf: float = 0.0) -> int:
    """How many of the pieces any layout can hold, however clever: 0 to their number.

    A piece that the wood cannot hold even alone (by the bound of `envelope`) is none of them. Pieces a kerf apart stay apart
    when each grows by half a kerf all round, and lie on the wood grown likewise; so their grown areas together cannot exceed
    its.
    """
    seen = envelope(region)
    # A circle is drawn with corners, on the piece as around the wood.
    room = region.whole.buffer(kerf / 2, quad_segs=64).area * (1 + _ROUNDING)
    areas = []
    for piece in pieces:
        raw = piece.grown(trim)
        if all(seen.bound(length) >= width for length, width in raw.inner_rectangles()):
            areas.append(raw.shape.buffer(kerf / 2).area)
    held = 0
    for area in sorted(areas):
        room -= area
        held += room >= 0
    return held


def _packed(region: Region, pieces: Sequence[Piece], placed: list) -> Packed:
    done = {index for index, *_ in placed}
    used = sum(shape.area for _, shape, *_ in placed)
    return Packed(
        tuple(sorted(placed, key=lambda one: one[0])),
        tuple(index for index in range(len(pieces)) if index not in done),
        float(region.whole.area - used),
    )


def _orders(pieces: Sequence[Piece]) -> list[list[int]]:
    """Largest first, longest first, and narrowest first, which places more pieces where not all can be."""
    ways = [lambda piece: -piece.area, lambda piece: -piece.length, lambda piece: piece.width]
    orders: list[list[int]] = []
    for way in ways:
        order = sorted(range(len(pieces)), key=lambda index: way(pieces[index]))
        if order not in orders:
            orders.append(order)
    return orders


def _merit(placed: list) -> tuple[int, float]:
    return len(placed), sum(shape.area for _, shape, *_ in placed)


def _one_way(region: Region, pieces: Sequence[Piece], order, trim, kerf, end, side) -> list:
    left: Region | None = region
    placed = []
    for index in order:
        if left is None:
            break
        found = _pushed(left, pieces[index], trim, end, side)
        if found is None:
            continue
        shape, cut, angle = found
        if not region.holds(cut) or any(cut.distance(other) < kerf - 1e-3 for _, _, other, _ in placed):
            continue
        placed.append((index, shape, cut, angle))
        # Room for a later cut's rounding, so that the next piece is never found a thousandth too near.
        left = left.without(cut.buffer(kerf + 1e-3, join_style="mitre"))
    return placed


def _pushed(left: Region, piece: Piece, trim: float, end: float, side: float):
    """The piece, its cut and its angle on what is left, pushed towards an end (0 or 1) and a side (0 or 1); None where it fits nowhere."""
    raw = piece.grown(trim)
    if piece.kind in ("round", "oval", "free"):
        lay = {"round": lambda: lay_round(left, raw.width), "oval": lambda: lay_oval(left, raw.length, raw.width)}
        spot = lay.get(piece.kind, lambda: lay_free(left, raw.shape))()
        return None if spot.spare < 0 else (laid_at(piece.shape, spot), laid_at(raw.shape, spot), spot.angle)
    if piece.kind == "both live edges":
        stretch = widest_stretch(left, raw.length)
        return (
            None if stretch is None or stretch.width < raw.width else (stretch.polygon, stretch.polygon, stretch.angle)
        )
    strip = widest_strip(left, raw.length, enough=raw.width)
    if strip is None or strip.width < raw.width:
        return None
    strip = _slid(left, strip, raw.width, end)
    low = side * (strip.width - raw.width)
    cut = strip.part(0.0, low, raw.length, raw.width)
    return strip.part(trim, low + trim, piece.length, piece.width), cut, strip.angle


def _slid(left: Region, strip: Strip, width: float, end: float) -> Strip:
    """The strip moved along its own direction as far towards one end as it keeps the width."""
    best, step = strip, left.size / 8 * (1 if end else -1)
    while abs(step) > 0.5:
        strips = clear_strips(left.edges, best.angle, best.start + step, best.length)
        wide = strips[(strips[:, 1] - strips[:, 0]) >= width]
        if len(wide):
            low, high = max(wide, key=lambda gap: gap[1] - gap[0])
            best = Strip(best.angle, best.start + step, float(low), best.length, float(high - low))
        else:
            step /= 2
    return best
