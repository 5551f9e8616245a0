"""A free shape from a file: SVG or DXF, its one closed line, in true size.

SVG: size and viewBox give the scale (SVG 2, sections 7.8 and 8.2); without a stated unit a user unit is 1/96 inch (CSS
Values 3, section 6). DXF: `$INSUNITS` of the header, else millimetres. Curves become chords within 0.1 mm.
"""

import re
from pathlib import Path

import numpy as np
import shapely

from grainlog.fit.errors import PieceRefused

MOST_BYTES = 5_000_000
_CHORD_MM = 0.1
_PX_MM = 25.4 / 96
# DXF reference, header variable $INSUNITS: drawing units.
_DXF_UNITS_MM = {0: 1.0, 1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0}


def read_top(path: Path) -> np.ndarray:
    """The outline in a file, (n, 2) float64, mm. Raises PieceRefused.

    Where several closed lines are drawn, the largest is taken when it surrounds the others (which are then details or
    holes of the top, and not looked at); lines side by side are refused.
    """
    name = "".join(sign if sign.isprintable() else "?" for sign in path.name)
    try:
        if path.stat().st_size > MOST_BYTES:
            raise PieceRefused(f"The shape '{name}' is far too large a file; draw the outline alone.")
        data = path.read_bytes()
    except OSError as error:
        raise PieceRefused(f"The shape '{name}' cannot be read ({error.strerror}); check that it is there.") from error
    suffix = path.suffix.lower()
    if suffix not in (".svg", ".dxf"):
        raise PieceRefused(f"The shape '{name}' is neither SVG nor DXF; save it as one of these.")
    return _top_of(data, suffix, name)


def top_in(data: bytes, name: str) -> np.ndarray:
    """The outline in a file's bytes, whatever its name says it is, (n, 2) float64, mm. Raises PieceRefused as `read_top`."""
    name = "".join(sign if sign.isprintable() else "?" for sign in name)[:100]
    if len(data) > MOST_BYTES:
        raise PieceRefused(f"The shape '{name}' is far too large a file; draw the outline alone.")
    beginning = data[:4096].removeprefix(b"\xef\xbb\xbf").lstrip()
    if beginning.startswith(b"<") and b"<svg" in data[:65536]:
        return _top_of(data, ".svg", name)
    if beginning[:1] in b"0 9" and b"SECTION" in beginning:
        return _top_of(data, ".dxf", name)
    raise PieceRefused(f"'{name}' is neither an SVG nor a DXF drawing; save the shape as one of these.")


def _top_of(data: bytes, suffix: str, name: str) -> np.ndarray:
    try:
        rings = _svg_rings(data) if suffix == ".svg" else _dxf_rings(data)
    except ValueError as error:
        raise PieceRefused(f"The shape '{name}' cannot be used: {error}.") from None
    return _outermost(rings, name)


def _outermost(rings: list[np.ndarray], name: str) -> np.ndarray:
    polygons = [shapely.Polygon(ring) for ring in rings if len(ring) >= 3 and np.isfinite(ring).all()]
    polygons = [polygon for polygon in polygons if polygon.convex_hull.area > 0]
    if not polygons:
        raise PieceRefused(f"The shape '{name}' has no closed line in it; draw the outline all the way round.")
    # By the hull: a line that crosses itself can enclose as much one way round as the other, which is no area at all.
    largest = max(polygons, key=lambda polygon: polygon.convex_hull.area)
    if not largest.is_valid:
        raise PieceRefused(f"The line in '{name}' crosses itself; draw it as one simple line round.")
    if not all(largest.covers(other) for other in polygons if other.is_valid):
        raise PieceRefused(f"The shape '{name}' has several outlines side by side; keep one in a file.")
    return shapely.get_coordinates(largest.exterior)[:-1]


def _svg_rings(data: bytes) -> list[np.ndarray]:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise ValueError("it is not text in UTF-8") from None
    if re.search(r"<!\s*(DOCTYPE|ENTITY)", text, re.IGNORECASE):
        raise ValueError("it has a document type or entities, which a drawing does not need; save it as plain SVG")
    import io

    from svgelements import SVG, Shape
    from svgelements import Path as SvgPath

    try:
        # 96 pixels to the inch, so that stated units come out true to size.
        drawing = SVG.parse(io.StringIO(text), ppi=96, reify=True)
    except Exception:  # noqa: BLE001 - the parser raises whatever its reading of a broken attribute stumbles over
        raise ValueError("it is not well-formed SVG; save it again") from None
    rings = []
    for element in drawing.elements():
        if not isinstance(element, Shape) or element.values.get("visibility") == "hidden":
            continue
        for part in SvgPath(element).as_subpaths():
            line = SvgPath(part)
            length = float(line.length(error=1e-3))
            if length <= 0 or not np.isfinite(length):
                continue
            points: list[tuple[float, float]] = []
            for segment in line:
                if type(segment).__name__ == "Move" or segment.start is None or segment.end is None:
                    continue
                straight = type(segment).__name__ in ("Line", "Close")
                count = 1 if straight else _chords(float(segment.length(error=1e-2)) * _PX_MM)
                points += [(segment.point(share).x, segment.point(share).y) for share in np.arange(count) / count]
            points.append((line[-1].end.x, line[-1].end.y))
            ring = np.array(points, np.float64) * _PX_MM
            if len(ring) >= 3 and np.hypot(*(ring[0] - ring[-1])) <= max(0.5, 1e-3 * length * _PX_MM):
                # SVG counts y down, a slab's frame up; a mirrored top would have its grain on the wrong side.
                rings.append(ring * [1.0, -1.0])
    return rings


def _chords(length_mm: float) -> int:
    """Chords for a curve: enough that one of a quarter circle so long strays no more than `_CHORD_MM`."""
    radius = max(length_mm / (np.pi / 2), 1.0)
    return int(np.clip(np.ceil(length_mm / np.sqrt(8 * radius * _CHORD_MM)), 4, 2000))


def _dxf_rings(data: bytes) -> list[np.ndarray]:
    import io

    import ezdxf
    from ezdxf import path as dxf_path
    from ezdxf import recover

    try:
        document, _ = recover.read(io.BytesIO(data))
    except (ezdxf.DXFError, OSError, ValueError, IndexError, KeyError, UnicodeDecodeError):
        raise ValueError("it is not a DXF drawing that can be read; save it again") from None
    unit = _DXF_UNITS_MM.get(int(document.header.get("$INSUNITS", 0)))
    if unit is None:
        raise ValueError("its drawing unit is not millimetres, centimetres, metres, inches or feet")
    paths = []
    for entity in document.modelspace().query("LWPOLYLINE POLYLINE LINE ARC CIRCLE ELLIPSE SPLINE"):
        try:
            paths.append(dxf_path.make_path(entity))
        except (TypeError, ValueError):
            continue
    closed = [path for path in paths if path.is_closed]
    # An outline of single lines and arcs that meet end to end.
    lines = [shapely.LineString(_flat(path, unit)) for path in paths if not path.is_closed]
    lines = [line for line in lines if line.length > 0]
    rings = [_flat(path, unit) for path in closed]
    if lines:
        snapped = shapely.set_precision(shapely.MultiLineString(lines), 0.01)
        rings += [shapely.get_coordinates(part.exterior) for part in shapely.get_parts(shapely.polygonize([snapped]))]
    return rings


def _flat(path, unit: float) -> np.ndarray:
    return np.array([(point.x, point.y) for point in path.flattening(_CHORD_MM / unit)], np.float64) * unit
