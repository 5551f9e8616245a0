"""A slab lying down with the pieces laid on it, or the two slabs of a pair: what the find page draws."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from grainlog.web.wall_shapes import closed_path, grain_lines, open_curve, simplified
from grainlog.web.wood_tones import tone
from grainlog.yard.finding import FoundSlab
from grainlog.yard.fit_pairs import FoundPair

#: What simplifying may move an edge by, mm: below what can be seen at this size.
_COARSE_MM = 1.5


@dataclass(frozen=True)
class LaidDrawing:
    """A drawing, x to the right along the slab and y down, in mm from its upper left corner.

    wood : (path, grain, tone) of each slab. pieces, missed : paths. treated : (path, treatment) of defects.
    """

    width_mm: float
    height_mm: float
    wood: tuple[tuple[str, str, str], ...]
    pieces: str
    missed: str
    treated: tuple[tuple[str, str], ...]


def of_found(found: FoundSlab) -> LaidDrawing:
    """An answer or a near miss of a search for one slab."""
    pieces = [laid.shape for laid in found.laid if laid.shape is not None]
    missed = [laid.tried for laid in found.laid if laid.shape is None and laid.tried is not None]
    treated = [(defect.shape, treatment) for defect, treatment in found.treated]
    return _drawing([(found.wood.outline, found.candidate.species)], pieces, missed, treated)


def of_pair(found: FoundPair) -> LaidDrawing:
    """A pair: both slabs above each other with the part that goes into the top."""
    woods, parts = found.above_each_other()
    species = (found.first.species, found.second.species)
    return _drawing(list(zip(woods, species, strict=True)), parts, (), ())


def _drawing(
    woods: Sequence[tuple[shapely.Geometry, str | None]],
    pieces: Iterable[shapely.Geometry],
    missed: Iterable[shapely.Geometry],
    treated: Iterable[tuple[shapely.Geometry, str]],
) -> LaidDrawing:
    pieces, missed = list(pieces), list(missed)
    # A piece that misses reaches out over the wood.
    left, low, right, high = shapely.union_all([*(wood for wood, _ in woods), *pieces, *missed]).bounds

    def placed(points: np.ndarray) -> np.ndarray:
        return np.column_stack([points[:, 0] - left, high - points[:, 1]])

    def path(shape: shapely.Geometry) -> str:
        parts = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon" and not part.is_empty]
        rings = [ring for part in parts for ring in (part.exterior, *part.interiors)]
        return "".join(
            closed_path(simplified(placed(shapely.get_coordinates(ring)[:-1]), _COARSE_MM)) for ring in rings
        )

    drawn = tuple(
        (path(wood), "".join(open_curve(placed(line)) for line in grain_lines(_outer(wood))), tone(species))
        for wood, species in woods
    )
    return LaidDrawing(
        right - left, high - low, drawn, "".join(map(path, pieces)), "".join(map(path, missed)),
        tuple((path(shape), treatment) for shape, treatment in treated),
    )  # fmt: skip


def _outer(wood: shapely.Geometry) -> np.ndarray:
    largest = max(shapely.get_parts(wood), key=lambda part: part.area)
    return shapely.get_coordinates(largest.exterior)[:-1]
