"""Which slabs stand on the wall and in which order; kept for a moment, because the wall is fetched in parts."""

from collections import OrderedDict
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from threading import Lock

from grainlog.units import Quantity
from grainlog.web.wall_wish import Wish
from grainlog.yard import SlabRow, Yard
from grainlog.yard.fit_request import FindRequest
from grainlog.yard.fit_words import piece_name
from grainlog.yard.keeping import DATABASE

#: Orders kept; one holds about 2 kB for each slab.
_KEPT = 6


@dataclass(frozen=True, eq=False)
class Order:
    """The slabs of a wish from left to right.

    rows : all of them; with a top those first that may hold it, least wood first, then those that nearly may.
    may_hold, nearly : their numbers, by the outlines' curves alone; the pieces have still to be laid on.
    tallest_mm : length of the longest, 0 without any. dry_unknown : slabs left out because their moisture is not known.
    stamp : of the yard's file as it was; what is worked out from the yard is good for as long as it is the same.
    """

    rows: tuple[SlabRow, ...]
    may_hold: frozenset[int]
    nearly: frozenset[int]
    tallest_mm: float
    dry_unknown: int
    stamp: tuple[int, int]

    @classmethod
    def plain(cls, rows: Sequence[SlabRow]) -> "Order":
        """Some slabs as they come, without a top."""
        return cls(tuple(rows), frozenset(), frozenset(), tallest(rows), 0, (0, 0))


class Orders:
    """Orders of one yard; one stays good as long as the yard's file is the same and the day too."""

    def __init__(self, yard: Yard):
        self._yard = yard
        self._kept: OrderedDict[Hashable, Order] = OrderedDict()
        self._lock = Lock()

    def of(self, wish: Wish) -> Order:
        """The order of a wish. Raises QueryRefused, PieceRefused, YardError."""
        # The file changes with every commit: the yard keeps a rollback journal.
        stat = (self._yard.folder / DATABASE).stat()
        stamp = (stat.st_mtime_ns, stat.st_size)
        wished = tuple((piece.kind, piece.length, piece.width) for piece in wish.pieces)
        key = (stamp, date.today(), wish.query, wish.drier, wished)
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        order = _order(self._yard, wish, stamp)
        with self._lock:
            self._kept[key] = order
            while len(self._kept) > _KEPT:
                self._kept.popitem(last=False)
        return order


def _order(yard: Yard, wish: Wish, stamp: tuple[int, int]) -> Order:
    rows, unknown = _rows(yard, wish)
    may_hold: list[int] = []
    nearly: list[int] = []
    if wish.pieces:
        may_hold, nearly = yard.fits.may_hold(FindRequest(pieces=wish.pieces))
        by_number = {row.number: row for row in rows}
        first = [by_number.pop(number) for number in (*may_hold, *nearly) if number in by_number]
        rows = [*first, *by_number.values()]
    return Order(tuple(rows), frozenset(may_hold), frozenset(nearly), tallest(rows), unknown, stamp)


def tallest(rows: Iterable[SlabRow]) -> float:
    """Length of the longest, mm; 0 where none is known."""
    return max((row.length_mm.value for row in rows if row.length_mm is not None), default=0.0)


def _rows(yard: Yard, wish: Wish) -> tuple[list[SlabRow], int]:
    if wish.drier is None:
        return yard.slabs(wish.query), 0
    told = yard.drying.all(wish.query)
    known: list[tuple[SlabRow, Quantity]] = [
        (row, seen.now.moisture) for row, seen in told if seen.now.moisture is not None
    ]
    return [row for row, moisture in known if moisture.value <= wish.drier], len(told) - len(known)


def summary(wish: Wish, order: Order, units: str, states: Sequence[str]) -> str:
    """What the wall shows, in a sentence or two; `states` are those of the slabs that may hold the top (`Tiles.states`)."""
    count = len(order.rows)
    said = f"{count} slab{'' if count == 1 else 's'}{' like that' if wish.filtered else ''}."
    if order.dry_unknown:
        said += f" {order.dry_unknown} more may be, but their moisture is not known."
    if not wish.pieces:
        return said
    top = " and ".join(piece_name(piece, units) for piece in wish.pieces)
    holds, nearly, waits = (states.count(state) for state in ("fits", "nearly", "waits"))
    if waits:
        found = f" {holds} of them hold{'s' if holds == 1 else ''} {top} so far; {waits} more are tried as they come into view."
        return said + found
    said += f" {holds or 'None'} of them hold{'s' if holds <= 1 else ''} {top}"
    return f"{said}, {nearly} nearly (broken line)." if nearly else f"{said}."
