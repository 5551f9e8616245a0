"""The wood a piece may lie on: the outline less voids and less what the maker of the piece does not want in it."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from grainlog.fit.errors import OutlineRefused

#: The search runs on a simplified outline; what it finds is settled and checked on the whole one. mm per mm of size.
SIMPLER_BY = 1e-4


@dataclass(frozen=True, eq=False)
class Region:
    """Wood to cut from.

    whole : shapely Polygon or MultiPolygon
        Slab frame (x along, y across), mm; valid, with area.
    """

    whole: shapely.Geometry

    @cached_property
    def size(self) -> float:
        """Diagonal of the box around it, mm."""
        left, low, right, high = self.whole.bounds
        return float(np.hypot(right - left, high - low))

    @cached_property
    def simple(self) -> shapely.Geometry:
        """The same within `SIMPLER_BY` of its size, with far fewer corners."""
        return self.whole.simplify(SIMPLER_BY * self.size)

    @cached_property
    def edges(self) -> np.ndarray:
        """(n, 4) float64: x, y of both ends of every edge of every ring, mm."""
        return _edges(self.whole)

    @cached_property
    def simple_edges(self) -> np.ndarray:
        """(m, 4) float64: the edges of the simplified region, mm."""
        return _edges(self.simple)

    @property
    def parts(self) -> list[shapely.Polygon]:
        """Its polygons."""
        return [part for part in shapely.get_parts(self.whole) if part.geom_type == "Polygon" and part.area > 0]

    @property
    def is_whole(self) -> bool:
        """One polygon with nothing cut out of it."""
        return self.whole.geom_type == "Polygon" and not self.whole.interiors

    def without(self, taken: shapely.Geometry) -> "Region | None":
        """What is left when `taken` is cut away; None where nothing is."""
        left = polygons_of(self.whole.difference(taken))
        return None if left.is_empty else Region(left)

    def holds(self, piece: shapely.Geometry) -> bool:
        """Whether the piece lies wholly on this wood; a thousandth of a millimetre of rounding is allowed."""
        return bool(self.whole.buffer(1e-3).covers(piece)) and piece.difference(self.whole).area <= 1e-6 * piece.area


def region_of(wood: np.ndarray, holes: Iterable[np.ndarray] = (), keep_out: shapely.Geometry | None = None) -> Region:
    """The wood left for a piece.

    wood : (n, 2) float64, mm
        Outline of the wood, bark taken off.
    holes : (m, 2) float64 each, mm
        Rings that are no wood for this piece.
    keep_out : shapely geometry, optional
        What else the piece may not touch, mm.

    Raises OutlineRefused for an outline that crosses itself or has no area, and where nothing is left.
    """
    outer = outline_polygon(wood)
    cut = [shapely.make_valid(shapely.Polygon(hole)) for hole in holes if len(hole) >= 3]
    if keep_out is not None and not keep_out.is_empty:
        cut.append(keep_out)
    left = polygons_of(outer.difference(shapely.union_all(cut))) if cut else outer
    if left.is_empty:
        raise OutlineRefused("Nothing of the slab is left once what is to be avoided is taken out; avoid less.")
    return Region(left)


def outline_polygon(points: np.ndarray) -> shapely.Polygon:
    """A ring of points as a polygon. Raises OutlineRefused for one that crosses itself or has no area."""
    ring = np.asarray(points, np.float64)
    if ring.ndim != 2 or ring.shape[-1] != 2 or len(ring) < 3 or not np.isfinite(ring).all():
        raise OutlineRefused("The slab has no outline to lay a piece on; measure a photo of it again.")
    polygon = shapely.Polygon(ring)
    if not polygon.is_valid:
        # Measured outlines can touch themselves in a hair's breadth; a figure of eight is no slab.
        mended = polygons_of(shapely.make_valid(polygon))
        largest = max(shapely.get_parts(mended), key=lambda part: part.area, default=shapely.Polygon())
        if largest.area < 0.99 * mended.area or mended.area == 0:
            raise OutlineRefused("The slab's outline crosses itself; draw it again as one simple line round.")
        polygon = largest
    if not polygon.area > 0:
        raise OutlineRefused("The slab's outline has no area; measure a photo of it again.")
    return polygon


def polygons_of(shape: shapely.Geometry) -> shapely.Geometry:
    """The polygons in a geometry, as one Polygon or MultiPolygon; stray points and lines are left out."""
    parts = [part for part in shapely.get_parts(shape, return_index=False) if part.geom_type == "Polygon"]
    parts += [
        inner
        for part in shapely.get_parts(shape)
        if part.geom_type in ("MultiPolygon", "GeometryCollection")
        for inner in shapely.get_parts(part)
        if inner.geom_type == "Polygon"
    ]
    parts = [part for part in parts if part.area > 0]
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)


def _edges(shape: shapely.Geometry) -> np.ndarray:
    rings = [
        shapely.get_coordinates(ring)
        for part in shapely.get_parts(shape)
        if part.geom_type == "Polygon"
        for ring in (part.exterior, *part.interiors)
    ]
    return np.concatenate([np.hstack([ring[:-1], ring[1:]]) for ring in rings])
