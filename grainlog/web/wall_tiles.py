"""The slabs of the wall one by one: drawing, words, and a top laid on where it fits."""

import math
import time
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from threading import Lock

from grainlog.fit.piece import Piece
from grainlog.units import format_length
from grainlog.units.factors import MM_PER_FOOT
from grainlog.web.wall_order import Order
from grainlog.web.wall_shapes import Shape, Shapes
from grainlog.web.wall_wish import SCALES
from grainlog.web.wood_tones import tone
from grainlog.yard import SlabRow, Yard
from grainlog.yard.finding import NEAR_MM, FoundSlab
from grainlog.yard.fit_request import FindRequest
from grainlog.yard.fit_words import miss_text, spare_text

#: What a ruler's step is, mm, and how its marks are numbered.
STEPS = {"in": (MM_PER_FOOT, 1.0, "ft"), "mm": (500.0, 0.5, "m")}
#: Answers of the solver kept in memory.
_KEPT = 2_000


@dataclass(frozen=True)
class Tile:
    """One slab on the wall.

    tag, label : what stands on the wood; the whole in words. length, width : in short. tone : see `wood_tones`.
    shape : None where the slab has no outline. piece, missed : paths of pieces that fit, and of one that nearly does.
    state : "" without a top, else "fits", "nearly", "no", or "waits" while nobody has laid it on. said : how it fits.
    """

    number: int
    tag: str
    label: str
    length: str
    width: str
    tone: str
    shape: Shape | None
    state: str = ""
    said: str = ""
    piece: str = ""
    missed: str = ""


@dataclass(frozen=True)
class Stand:
    """What all slabs of a wall share.

    mm_per_px : the one scale. height_px : of the wall above the floor. step_px : of the ruler. marks : (px above the
    floor, what stands there).
    """

    mm_per_px: float
    height_px: int
    step_px: float
    marks: tuple[tuple[float, str], ...]


def stand(tallest_mm: float, scale: str, units: str) -> Stand:
    """The stand of a wall: whole steps of the ruler, so that the longest slab stays below its top."""
    step_mm, step, unit = STEPS[units]
    steps = max(2, math.ceil(tallest_mm * 1.02 / step_mm))
    mm_per_px = MM_PER_FOOT / SCALES[scale][1]
    step_px = step_mm / mm_per_px
    marks = tuple((place * step_px, f"{place * step:g} {unit}") for place in range(1, steps))
    return Stand(mm_per_px, math.ceil(steps * step_px), step_px, marks)


def spoken(mm: float, units: str) -> str:
    """A length to the whole inch or centimetre: 8 ft 2 in, or 249 cm."""
    return f"{mm / 10:.0f} cm" if units == "mm" else format_length(mm, units, 1)


def in_short(mm: float, units: str) -> str:
    """The same as short as can be: 8′ 2″."""
    return _signs(spoken(mm, units))


def slightly(mm: float, units: str) -> str:
    """A small length in short: 1/4″ or 6 mm."""
    written = f"{mm:.0f} mm" if units == "mm" else _signs(format_length(mm, units, 8))
    return "a hair" if written.startswith("0") and not written.startswith("0.") else written


def _signs(written: str) -> str:
    return written.replace(" ft", "′").replace(" in", "″")


class Tiles:
    """The tiles of one yard's wall."""

    def __init__(self, yard: Yard):
        self._yard = yard
        self._shapes = Shapes(yard.outlines)
        self._laid: OrderedDict[tuple, FoundSlab | None] = OrderedDict()
        self._lock = Lock()

    def of(
        self, rows: Sequence[SlabRow], order: Order, pieces: tuple[Piece, ...], units: str, patience: float = math.inf
    ) -> list[Tile]:  # fmt: skip
        """The tiles of some slabs, those first that hold the top.

        patience : seconds for laying pieces on; at least one slab is tried. Raises PieceRefused, QueryRefused, YardError.
        """
        newest = self._yard.outlines.newest([row.number for row in rows])
        shapes = self._shapes.of(list(newest.values()))
        drawn = [_tile(row, shapes.get(newest.get(row.number, -1)), units) for row in rows]
        if not pieces:
            return drawn
        until = time.monotonic() + patience
        laid: list[Tile] = []
        tried = False
        for tile in drawn:
            if tile.number not in order.may_hold and tile.number not in order.nearly:
                laid.append(replace(tile, state="no", label=f"{tile.label}, too small for the top"))
                continue
            key = _key(order, tile.number, pieces)
            if key not in self._laid and tried and time.monotonic() > until:
                laid.append(replace(tile, state="waits", said="not tried yet"))
                continue
            tried = True
            laid.append(_with(tile, self._found(key, tile.number, pieces), units))
        rank = {"fits": 0, "nearly": 1, "waits": 2, "no": 3}
        return sorted(laid, key=lambda tile: rank[tile.state])

    def states(self, order: Order, pieces: tuple[Piece, ...]) -> list[str]:
        """The state of every slab that may hold a top, or nearly, as far as it was tried (see `Tile`)."""
        tried = [row.number for row in order.rows if row.number in order.may_hold or row.number in order.nearly]
        with self._lock:
            kept = [self._laid.get(_key(order, number, pieces), "waits") for number in tried]
        return [one if isinstance(one, str) else _state(one) for one in kept]

    def _found(self, key: tuple, number: int, pieces: tuple[Piece, ...]) -> FoundSlab | None:
        with self._lock:
            if key in self._laid:
                return self._laid[key]
        found = self._yard.fits.find(FindRequest(pieces=pieces, slabs=(number,), limit=1, misses=1))
        one = next(iter((*found.answers, *found.misses)), None)
        with self._lock:
            self._laid[key] = one
            while len(self._laid) > _KEPT:
                self._laid.popitem(last=False)
        return one


def _key(order: Order, number: int, pieces: tuple[Piece, ...]) -> tuple:
    return order.stamp, number, tuple((piece.kind, piece.length, piece.width) for piece in pieces)


def _state(found: FoundSlab | None) -> str:
    """What the solver's answer comes to."""
    if found is None or not found.fits and (found.left_out or found.miss_mm > NEAR_MM):
        return "no"
    return "fits" if found.fits else "nearly"


def _tile(row: SlabRow, shape: Shape | None, units: str) -> Tile:
    said = f"slab {row.tag}, {row.species or 'species not said'}"
    sizes = [figure.value for figure in (row.length_mm, row.width_mean_mm) if figure is not None]
    if len(sizes) < 2:
        return Tile(row.number, row.tag, said, "", "", tone(row.species), shape)
    said += ", " + " by ".join(spoken(size, units) for size in sizes)
    return Tile(row.number, row.tag, said, *(in_short(size, units) for size in sizes), tone(row.species), shape)


def _with(tile: Tile, found: FoundSlab | None, units: str) -> Tile:
    """The tile with what the solver found on its slab."""
    state = _state(found)
    if found is None or state == "no":
        return replace(tile, state="no", label=f"{tile.label}, too small for the top")
    if state == "fits":
        least = min(found.laid, key=lambda laid: laid.spare.value)
        path = (
            "".join(tile.shape.path(laid.shape) for laid in found.laid if laid.shape is not None) if tile.shape else ""
        )
        spare = spare_text(least, units)
        by = f"{slightly(least.spare.value, units)} to spare" + ("" if least.sure else "?")
        return replace(tile, state="fits", said=by, piece=path, label=f"{tile.label}, holds the top, to spare {spare}")
    laid = found.laid[0]
    missed = tile.shape.path(laid.tried) if tile.shape and laid.tried is not None else ""
    if laid.short is not None and laid.short < -laid.spare.value:
        by = f"{slightly(laid.short, units)} short"
    else:
        by = f"{slightly(-laid.spare.value, units)} narrow"
    return replace(
        tile,
        state="nearly",
        said=by,
        missed=missed,
        label=f"{tile.label}, nearly holds the top: {miss_text(found, units)}",
    )
