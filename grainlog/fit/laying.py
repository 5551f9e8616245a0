"""One piece on one slab: where it lies, by how much it fits or misses, how sure that is, and what is wasted."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from grainlog.fit.curved import laid_at, lay_free, lay_oval, lay_round
from grainlog.fit.defects import NO_WISHES, Defect, Wishes
from grainlog.fit.envelope import envelope
from grainlog.fit.live_edge import along_live_edge, widest_stretch
from grainlog.fit.piece import Piece
from grainlog.fit.rectangle import Strip, clear_strips, widest_strip
from grainlog.fit.region import Region
from grainlog.units.quantity import Quantity

#: How well a missing length is found, mm.
_LENGTH_STEP = 2.0


@dataclass(frozen=True, eq=False)
class Sureness:
    """How sure the outline is.

    x, u : (n,) float64, mm
        Places along the slab and the standard uncertainty of the width there.
    length_u : float
        Standard uncertainty of the length, mm.
    scale_u : float
        Relative standard uncertainty of the width where the outline was scaled (to a dry one).
    """

    x: np.ndarray
    u: np.ndarray
    length_u: float
    scale_u: float = 0.0

    def across(self, low: float, high: float, width: float) -> float:
        """Standard uncertainty of a width somewhere between two places along the slab, mm: the greatest there."""
        near = (self.x >= low) & (self.x <= high)
        measured = float(self.u[near].max()) if near.any() else float(self.u.max(initial=0.0))
        return math.hypot(measured, width * self.scale_u)


@dataclass(frozen=True, eq=False)
class Laid:
    """A piece laid on a slab.

    piece : Piece
    shape : shapely Polygon or None
        Where it lies in the slab frame, allowances not included, mm; None where it does not fit.
    cut : shapely Polygon or None
        The same with its allowances.
    angle : float
        Of its length in the slab frame, radians.
    spare : Quantity
        By how much wider it could be, mm; negative: by how much it is too wide.
    short : float or None
        Where it misses: by how much the wood is too short at the piece's width, mm, if that is the lesser miss.
    where : float or None
        Where it misses: the place along the slab where the wood is too narrow, mm.
    met : tuple of (kind, treatment)
        Defects in it that are to be filled or left.
    tried : shapely Polygon or None
        Where it misses: where it would come nearest to fitting, mm.
    """

    piece: Piece
    shape: shapely.Polygon | None
    cut: shapely.Polygon | None
    angle: float
    spare: Quantity
    short: float | None = None
    where: float | None = None
    met: tuple[tuple[str, str], ...] = ()
    tried: shapely.Polygon | None = None

    @property
    def fits(self) -> bool:
        """Whether there is a place for it, by the outline as measured."""
        return self.shape is not None

    @property
    def sure(self) -> bool:
        """Whether that (or the miss) is clear of two standard uncertainties."""
        return abs(self.spare.value) >= 2 * self.spare.u


def lay(
    region: Region, piece: Piece, sureness: Sureness, trim: float = 0.0,
    defects: Sequence[Defect] = (), wishes: Wishes = NO_WISHES,
) -> Laid:  # fmt: skip
    """Lay a piece where it has most to spare.

    trim : what is left around the piece to be cut off later, mm on every side that is cut
    defects, wishes : to name what lies in the piece; what is avoided must already be out of `region`

    What is said to fit has been checked to lie on the wood.
    """
    raw = piece.grown(trim)
    if piece.kind in ("round", "oval", "free"):
        laid = _spotted(region, piece, raw)
    elif piece.kind == "both live edges":
        laid = _stretched(region, piece, raw, trim, sureness)
    else:
        laid = _stripped(region, piece, raw, trim, sureness)
    shape, cut, angle, spare, by_length, extent = laid
    u = math.hypot(sureness.across(*extent, raw.width), by_length)
    if shape is not None and (spare < 0 or not region.holds(cut)):
        shape = cut = None
        spare = min(spare, -1e-6)
    quantity = Quantity(spare, u)
    if shape is not None:
        return Laid(piece, shape, cut, angle, quantity, met=wishes.met_by(shape, defects))
    return Laid(piece, None, None, angle, quantity, where=_where_missing(region, raw, angle, laid[1]), tried=laid[1])


def missing_length(region: Region, piece: Piece, most: float, trim: float = 0.0) -> float | None:
    """By how much the wood is too short for a straight or live-edge piece at its own width, mm.

    Found by halving, to `_LENGTH_STEP`; None where it is not too short, or by more than `most` mm.
    """
    raw = piece.grown(trim)
    if raw.kind not in ("straight", "one live edge", "both live edges"):
        return None
    seen = envelope(region)

    def holds(length: float) -> bool:
        if raw.kind == "both live edges":
            found = widest_stretch(region, length)
        elif seen.bound(length) < raw.width:
            return False
        else:
            found = widest_strip(region, length, seen, enough=raw.width)
        return found is not None and found.width >= raw.width

    low, high = raw.length - most, raw.length
    if low <= 0 or not holds(low):
        return None
    while high - low > _LENGTH_STEP:
        middle = (low + high) / 2
        low, high = (middle, high) if holds(middle) else (low, middle)
    return raw.length - low


def _stripped(region: Region, piece: Piece, raw: Piece, trim: float, sureness: Sureness) -> tuple:
    strip = widest_strip(region, raw.length)
    if strip is None:
        return None, None, 0.0, -raw.width, 0.0, (-math.inf, math.inf)
    cut, shape = _least_off(region, strip, raw.width), None
    if strip.width >= raw.width:
        cut = strip.middle(raw.width)
        if piece.kind == "one live edge":
            shape, cut = _one_live(region, strip, raw, trim)
        else:
            inner = (strip.width - piece.width) / 2
            shape = strip.part(trim, inner, piece.length, piece.width)
    left, _, right, _ = cut.bounds if cut is not None else strip.polygon.bounds
    return shape, cut, strip.angle, strip.width - raw.width, _lost(region, strip, sureness), (left, right)


def _least_off(region: Region, strip: Strip, width: float) -> shapely.Polygon:
    """A piece too wide for its strip, moved across it so that least of it lies off the wood."""
    over = strip.width - width
    tried = [strip.part(0.0, share * over, strip.length, width) for share in (0.0, 0.5, 1.0)]
    return min(tried, key=lambda shape: shape.difference(region.whole).area)


def _one_live(region: Region, strip: Strip, raw: Piece, trim: float) -> tuple:
    """The piece from a straight cut to the live edge on the side where less is wasted; nothing where defects forbid both."""
    sides = []
    for upper in (True, False):
        across = strip.width - raw.width if upper else 0.0
        narrowed = Strip(strip.angle, strip.start, strip.low + across, strip.length, raw.width)
        cut = along_live_edge(region, narrowed, upper)
        if cut is None or cut.interiors:
            continue
        shape = along_live_edge(
            region,
            Strip(strip.angle, strip.start + trim, narrowed.low + (trim if upper else 0.0), strip.length - 2 * trim,
                  raw.width - trim),
            upper,
        )  # fmt: skip
        if shape is not None:
            sides.append((cut.area, shape, cut))
    return min(sides, key=lambda side: side[0])[1:] if sides else (None, None)


def _stretched(region: Region, piece: Piece, raw: Piece, trim: float, sureness: Sureness) -> tuple:
    stretch = widest_stretch(region, raw.length)
    if stretch is None:
        return None, None, 0.0, -raw.width, 0.0, (-math.inf, math.inf)
    inner = Strip(stretch.angle, stretch.start + trim, -2 * region.size, piece.length, 4 * region.size).polygon
    left, _, right, _ = stretch.polygon.bounds
    shape = stretch.polygon.intersection(inner) if trim else stretch.polygon
    longer = widest_stretch(region, raw.length + 2 * sureness.length_u)
    lost = max(0.0, stretch.width - (longer.width if longer else 0.0)) / 2
    return shape, stretch.polygon, stretch.angle, stretch.width - raw.width, lost, (left, right)


def _spotted(region: Region, piece: Piece, raw: Piece) -> tuple:
    if piece.kind == "round":
        spot = lay_round(region, raw.width)
    elif piece.kind == "oval":
        spot = lay_oval(region, raw.length, raw.width)
    else:
        spot = lay_free(region, raw.shape)
    cut = laid_at(raw.shape, spot)
    left, _, right, _ = cut.bounds
    return laid_at(piece.shape, spot), cut, spot.angle, spot.spare, 0.0, (left, right)


def _lost(region: Region, strip: Strip, sureness: Sureness) -> float:
    """Standard uncertainty of a strip's width that comes from the doubt about the slab's length, mm.

    Half of what two standard uncertainties more length cost, the strip slid either way; all of it at the end of the wood.
    """
    by = 2 * sureness.length_u
    if by <= 0:
        return 0.0
    widest = 0.0
    for slide in (0.0, 0.5, 1.0):
        strips = clear_strips(region.edges, strip.angle, strip.start - slide * by, strip.length + by)
        widest = max(widest, float((strips[:, 1] - strips[:, 0]).max(initial=0.0)))
    return max(0.0, strip.width - widest) / 2


def _where_missing(region: Region, raw: Piece, angle: float, cut: shapely.Polygon | None) -> float | None:
    """Along the slab, the middle of the largest part of the piece that lies off the wood, mm."""
    if cut is None:
        return None
    if raw.kind == "both live edges":
        strip = shapely.affinity.rotate(raw.shape, angle, origin=(0, 0), use_radians=True)
        cut = shapely.affinity.translate(strip, cut.centroid.x, cut.centroid.y)
    off = [part for part in shapely.get_parts(cut.difference(region.whole)) if part.area > 0]
    return float(max(off, key=lambda part: part.area).centroid.x) if off else None
