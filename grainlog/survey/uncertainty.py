"""From an outline in pixels to measures that say how sure they are.

Standard uncertainties (k = 1) by JCGM 100:2008: what corners and priors of the scale solution leave open, traced
through the whole measurement, and in quadrature what the corners cannot see: where the outline lies, and that a face
is not quite flat.
"""

from dataclasses import dataclass, replace

import numpy as np
import shapely

from grainlog.face.frame import slab_frame
from grainlog.face.measures import (
    OutlineMeasures,
    board_feet_exact,
    board_feet_three_width,
    measure_outline,
)
from grainlog.scale.plane import FacePlane
from grainlog.units import Quantity

#: Edges of a face over its middle (cup) and ends over its middle (bow), mm, standard deviation before anybody laid a
#: straightedge on it. Freshly sawn slabs; common practice, no source.
CUP_MM, BOW_MM = 2.0, 2.0
#: A cup is read to about this with a straightedge and a rule, mm; common practice, no source.
CUP_READ_U_MM = 1.0
#: The random part of the edge's place is taken as independent from one stretch of this length to the next, mm.
EDGE_STRETCH_MM = 150.0
#: Vertices closer to the line than this do not matter to how a measure changes, mm.
COARSE_MM = 1.0


@dataclass(frozen=True)
class EdgeDoubt:
    """How far the outline may lie from the true wood edge, standard deviations, mm.

    side_common, end_common : float
        Shared by all of the long edges, or both ends: all too far out, or all too far in.
    side_local, end_local : float
        Different from stretch to stretch.
    """

    side_common: float
    side_local: float
    end_common: float
    end_local: float


@dataclass(frozen=True)
class Measured:
    """The measures of a face: `quantities` by the record's names, and the width at each station.

    station_x_mm, station_width_mm, station_u_mm : (n,) float64
    station_ends_px : (n, 2, 2) float64
        Lower and upper end of each width, photo px.
    """

    outline: OutlineMeasures
    quantities: dict[str, Quantity]
    station_x_mm: np.ndarray
    station_width_mm: np.ndarray
    station_u_mm: np.ndarray
    station_ends_px: np.ndarray


def measure_face(
    plane: FacePlane,
    wood_mm: np.ndarray,
    holes_mm: tuple[np.ndarray, ...],
    bark_mm: np.ndarray | None,
    doubt: EdgeDoubt,
    butt: str | None = None,
    cup_mm: float | None = None,
) -> Measured:
    """Measure a face and say how sure each number is.

    Parameters
    ----------
    plane : FacePlane
    wood_mm, holes_mm, bark_mm : (n, 2) float64
        Outlines in the plane frame, mm.
    doubt : EdgeDoubt
    butt : str or None
        See `slab_frame`.
    cup_mm : float or None
        How far a person read the face to be cupped. Which way is not known, nor whether the plane runs through the edges or
        the middle of the face, so it is all doubt: edges that stand higher by it look wider by cup / camera height.

    Returns
    -------
    Measured
        Volume and board feet only where the thickness was given.
    """
    frame = slab_frame(wood_mm, butt)
    bark = None if bark_mm is None else frame.to_slab(bark_mm)
    measures = measure_outline(frame.to_slab(wood_mm), [frame.to_slab(hole) for hole in holes_mm], bark)
    stations = measures.stations
    ends_mm = np.stack([stations[:, [0, 1]], stations[:, [0, 2]]], 1)
    ends_px = plane.to_px(frame.to_plane(ends_mm.reshape(-1, 2)))

    coarse = [plane.to_px(_coarse(ring)) for ring in (wood_mm, *holes_mm)]
    coarse_bark = None if bark_mm is None else plane.to_px(_coarse(bark_mm))
    thick = plane.thickness_mm is not None
    wooden = stations[:, 3] / (stations[:, 2] - stations[:, 1])  # less than 1 where a station spans an open fork

    def everything(other: FacePlane) -> np.ndarray:
        wood, *holes = (other.to_mm(ring) for ring in coarse)
        bark_ring = None if coarse_bark is None else other.to_mm(coarse_bark)
        slab = slab_frame(wood, butt)
        rings = [slab.to_slab(ring) for ring in holes]
        seen = measure_outline(slab.to_slab(wood), rings, None if bark_ring is None else slab.to_slab(bark_ring))
        ends = other.to_mm(ends_px).reshape(-1, 2, 2)
        widths = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1) * wooden
        # Same stations whichever way the frame turns: near an end a new station would be another place, not doubt.
        seen = replace(seen, width_min_mm=widths.min(), width_mean_mm=widths.mean(), width_max_mm=widths.max())
        return np.concatenate([list(_scalars(seen, other.thickness_mm).values()), widths])

    values = _scalars(measures, plane.thickness_mm)
    _, budget = plane.spread(everything)
    height = float(plane.camera_mm[2])
    cup = CUP_MM if cup_mm is None else float(np.hypot(cup_mm, CUP_READ_U_MM))
    outline = _outline_doubt(measures, doubt, plane.thickness_mm if thick else None)
    quantities = {}
    for position, (name, value) in enumerate(values.items()):
        parts = {source: float(spread[position]) for source, spread in budget.items()}
        bent = value * _bend_mm(name, cup) / height
        parts["tilt and cup"] = float(np.hypot(parts.get("tilt and cup", 0.0), bent))
        parts["outline"] = outline[name]
        quantities[name] = Quantity(value, float(np.sqrt(sum(part**2 for part in parts.values()))), parts)
    station_spread = np.sqrt(sum(spread[len(values) :] ** 2 for spread in budget.values()))
    station_u = np.sqrt(
        station_spread**2 + (stations[:, 3] * cup / height) ** 2 + _single_width_doubt(doubt) ** 2
    )
    return Measured(measures, quantities, stations[:, 0], stations[:, 3], station_u, ends_px.reshape(-1, 2, 2))


def _scalars(measures: OutlineMeasures, thickness_mm: float | None) -> dict[str, float]:
    values = measures.scalars()
    if thickness_mm is not None:
        values["volume_mm3"] = measures.area_mm2 * thickness_mm
        values["board_feet"] = board_feet_exact(measures.area_mm2, thickness_mm)
        values["board_feet_three_width"] = board_feet_three_width(
            measures.length_mm, measures.width_three_mm, thickness_mm
        )
    return values


def _bend_mm(name: str, cup: float) -> float:
    """Rise (mm) of what a measure hangs on: a raised edge or end looks farther out by rise / camera height."""
    if name.startswith("length"):
        return BOW_MM
    if name.startswith(("area", "volume", "board_feet", "bark")):
        return float(np.hypot(cup, BOW_MM))
    return cup


def _outline_doubt(measures: OutlineMeasures, doubt: EdgeDoubt, thickness_mm: float | None) -> dict[str, float]:
    """What the outline's own doubt does to each measure, in the unit of the measure."""
    length, width = measures.length_mm, measures.width_mean_mm
    stretches = max(1.0, 2 * length / EDGE_STRETCH_MM)
    one_width = _single_width_doubt(doubt)
    mean_width = float(np.hypot(2 * doubt.side_common, 2 * doubt.side_local / np.sqrt(stretches)))
    three = float(np.hypot(2 * doubt.side_common, np.sqrt(2 / 3) * doubt.side_local))
    along = float(np.hypot(2 * doubt.end_common, np.sqrt(2) * doubt.end_local))
    area = float(np.hypot(mean_width * length, along * width / np.sqrt(max(1.0, width / EDGE_STRETCH_MM))))
    out = {
        "length_mm": along,
        "length_square_mm": along,
        "width_min_mm": one_width,
        "width_mean_mm": mean_width,
        "width_max_mm": one_width,
        "width_three_mm": three,
        "area_mm2": area,
    }
    if measures.bark_area_mm2 is not None:
        out["bark_area_mm2"] = area * np.sqrt(2)
    if thickness_mm is not None:
        out["volume_mm3"] = area * thickness_mm
        out["board_feet"] = board_feet_exact(area, thickness_mm)
        out["board_feet_three_width"] = float(
            np.hypot(
                board_feet_three_width(along, measures.width_three_mm, thickness_mm),
                board_feet_three_width(length, three, thickness_mm),
            )
        )
    return {name: float(value) for name, value in out.items()}


def _single_width_doubt(doubt: EdgeDoubt) -> float:
    return float(np.hypot(2 * doubt.side_common, np.sqrt(2) * doubt.side_local))


def _coarse(ring: np.ndarray) -> np.ndarray:
    """Fewer vertices, the same shape to `COARSE_MM`: only how it changes is wanted."""
    simple = shapely.Polygon(ring).simplify(COARSE_MM, preserve_topology=True)
    return np.asarray(simple.exterior.coords)[:-1]
