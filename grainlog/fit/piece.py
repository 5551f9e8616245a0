"""What somebody wants out of a slab: straight, round, oval or free tops, with live edges or without."""

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely

from grainlog.fit.curve import Curve, bound_at
from grainlog.fit.errors import PieceRefused
from grainlog.fit.rectangle import widest_strip
from grainlog.fit.region import Region

KINDS = ("straight", "both live edges", "one live edge", "round", "oval", "free")


@dataclass(frozen=True, eq=False)
class Piece:
    """One piece.

    kind : one of `KINDS`
    length, width : float, mm
        Finished; both the diameter of a round one, the axes of an oval one, the least width of one with live edges. The
        longer of the two is the length, except where live edges say which is which.
    outline : (n, 2) float64, mm
        Of a free one: its corners, about their middle.
    """

    kind: str
    length: float
    width: float
    outline: np.ndarray | None = None

    def grown(self, by: float) -> "Piece":
        """The piece with `by` mm more on every side that is cut; a live edge is not cut."""
        if by <= 0:
            return self
        if self.kind == "free":
            return free(shapely.get_coordinates(shapely.Polygon(self.outline).buffer(by, join_style="mitre").exterior))
        more = {"both live edges": 0.0, "one live edge": by}.get(self.kind, 2 * by)
        return replace(self, length=self.length + 2 * by, width=self.width + more)

    @property
    def shape(self) -> shapely.Polygon:
        """Its least form about (0, 0), length along x, mm; with live edges the rectangle it surely holds."""
        if self.kind == "free":
            return shapely.Polygon(self.outline)
        if self.kind in ("round", "oval"):
            # Drawn round outside, so that a shape found to lie on the wood is never smaller than the piece.
            turns = np.arange(256) * (2 * math.pi / 256)
            circle = np.stack([np.cos(turns), np.sin(turns)], axis=1) / math.cos(math.pi / 256)
            return shapely.Polygon(circle * [self.length / 2, self.width / 2])
        return shapely.box(-self.length / 2, -self.width / 2, self.length / 2, self.width / 2)

    @property
    def area(self) -> float:
        """Least area, mm2."""
        if self.kind in ("round", "oval"):
            return math.pi * self.length * self.width / 4
        return float(self.shape.area)

    def inner_rectangles(self) -> list[tuple[float, float]]:
        """(length, width) of rectangles that any wood for this piece surely has room for, mm."""
        if self.kind in ("straight", "one live edge"):
            return [(self.length, self.width)]
        if self.kind in ("round", "oval"):
            turns = np.radians([30.0, 45.0, 60.0])
            return [(self.length * math.cos(turn), self.width * math.sin(turn)) for turn in turns]
        if self.kind == "free":
            region, reach = Region(shapely.Polygon(self.outline)), self.length
            strips = [(share * reach, widest_strip(region, share * reach)) for share in (0.4, 0.7, 0.9)]
            return [(length, strip.width) for length, strip in strips if strip is not None]
        return []

    def may_lie_on(self, curve: Curve) -> bool:
        """False where the slab's curve already shows that the piece does not fit."""
        if self.area > curve.area_mm2 or self.kind == "round" and self.length > curve.round_mm:
            return False
        if self.kind == "both live edges" and bound_at(curve.live, self.length) < self.width:
            return False
        return all(bound_at(curve.straight, length) >= width for length, width in self.inner_rectangles())


def straight(length: float, width: float) -> Piece:
    """A rectangle. Raises PieceRefused."""
    _sized(length, width)
    return Piece("straight", max(length, width), min(length, width))


def with_live_edges(length: float, width: float, edges: int) -> Piece:
    """A straight stretch that keeps both or one of its live edges; `width` is its least. Raises PieceRefused."""
    _sized(length, width)
    if edges not in (1, 2):
        raise PieceRefused("A top keeps one or both live edges; say one or both.")
    return Piece("both live edges" if edges == 2 else "one live edge", length, width)


def round_top(diameter: float) -> Piece:
    """A disc. Raises PieceRefused."""
    _sized(diameter, diameter)
    return Piece("round", diameter, diameter)


def oval(length: float, width: float) -> Piece:
    """An ellipse. Raises PieceRefused."""
    _sized(length, width)
    return Piece("oval", max(length, width), min(length, width))


def free(points: np.ndarray) -> Piece:
    """A shape of straight sides, (n, 2) mm. Raises PieceRefused for one that crosses itself or has no size."""
    ring = np.asarray(points, np.float64)
    if ring.ndim != 2 or ring.shape[-1] != 2 or len(ring) < 3 or not np.isfinite(ring).all():
        raise PieceRefused("A free shape needs at least three corners; draw it all the way round.")
    polygon = shapely.Polygon(ring)
    if not polygon.is_valid or not polygon.area > 0:
        raise PieceRefused("The shape of the piece crosses itself or has no area; draw it as one simple line round.")
    box = shapely.get_coordinates(shapely.oriented_envelope(polygon).exterior)
    sides = sorted(np.hypot(*np.diff(box, axis=0).T))
    _sized(sides[-1], sides[0])
    middle = (ring.min(axis=0) + ring.max(axis=0)) / 2
    corners = shapely.get_coordinates(polygon.exterior)[:-1] - middle
    return Piece("free", float(sides[-1]), float(sides[0]), corners)


def _sized(*sizes: float) -> None:
    if not all(math.isfinite(size) and size > 0 for size in sizes):
        raise PieceRefused("A piece needs a size greater than zero on every side, as in 72x34in.")
