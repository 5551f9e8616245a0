"""The slab as polygons and surfaces in the slab frame: live-edge outline, bark, flank, sawn ends, checks.

The upper face lies at z = 0; everything else is below it.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon, box

from . import noise
from .scene import Slab, Wood

STEP_MM = 3.0
ROWS = 10
LIVE, END, VOID = 0, 1, 2


@dataclass(frozen=True)
class Skirt:
    """A closed wall around one ring of the outline, from the face down.

    points : (rows, n, 3) mm; kind : (n,) LIVE, END or VOID; bark : (n,) mm of bark at the top.
    """

    points: np.ndarray
    kind: np.ndarray
    bark: np.ndarray


@dataclass(frozen=True)
class Check:
    """One drying crack: `path` (n, 2) mm, `width` (n,) mm across it, kind "end" or "surface"."""

    path: np.ndarray
    width: np.ndarray
    kind: str

    @property
    def length_mm(self) -> float:
        """Length along the path."""
        return float(np.linalg.norm(np.diff(self.path, axis=0), axis=1).sum())


@dataclass(frozen=True)
class Solid:
    """The built slab: wood and bark polygons of the upper face, the walls below, the checks on it.

    `grown` is the wood at the level of the face before the ends were sawn off (for the rings; it is never seen).
    """

    grown: Polygon
    wood: Polygon
    bark: Polygon
    skirts: tuple[Skirt, ...]
    checks: tuple[Check, ...]
    thickness_mm: float


def build(slab: Slab, wood: Wood) -> Solid:
    """Grow the log, saw the slab, let it crack."""
    rng = np.random.default_rng(slab.seed)
    body = _body(slab, rng)
    cut, ends = _ends(slab)
    barked = _barked(body, slab, rng)
    wood_face = _largest(body.intersection(cut))
    bark_face = _largest(shapely.union(barked.intersection(cut), wood_face).buffer(0))
    if slab.void:
        hole = _void(wood_face, rng)
        wood_face, bark_face = wood_face.difference(hole), bark_face.difference(hole)
    wood_face = Polygon(wood_face.exterior, wood_face.interiors).segmentize(4.0)
    bark_face = Polygon(bark_face.exterior, bark_face.interiors).segmentize(STEP_MM)
    walls = [_skirt(np.asarray(bark_face.exterior.coords)[:-1], slab, ends, wood_face, rng)]
    walls += [_void_wall(np.asarray(ring.coords)[:-1], slab, rng) for ring in bark_face.interiors]
    checks = _checks(wood_face, wood, slab, np.random.default_rng(wood.seed + 1))
    return Solid(body, wood_face, bark_face, tuple(walls), checks, slab.thickness_mm)


def _body(slab: Slab, rng) -> Polygon:
    """The wood of the slab, longer than the sawn piece, its two live edges wobbling as trees do."""
    half, length = slab.width_mm / 2, slab.length_mm
    along = np.arange(-0.62 * length, 0.62 * length, 8.0)
    middle = noise.line(along, 900, rng) * slab.wobble_mm * 0.8
    if slab.form == "hook":
        bend = np.clip((along - 0.12 * length) / (0.5 * length), 0, None)
        middle = middle + 0.55 * slab.width_mm * bend**2 * rng.choice([-1, 1])
    width = half * (1 - slab.taper * along / length)
    if slab.form == "flare":
        width = width * (1 + 0.45 * np.exp(-(along + 0.5 * length) / (0.16 * length)).clip(0, 2))
    body = _swept(along, middle, width)
    if slab.form == "crotch":
        fork = rng.uniform(0.05, 0.18) * length
        trunk = _swept(*(a[along < fork + 0.1 * length] for a in (along, middle, width)))
        branches = []
        for side, lean, thick in zip((1, -1), rng.uniform(0.17, 0.32, 2), rng.uniform(0.5, 0.68, 2), strict=True):
            part = along[along > fork - 0.25 * length]
            out = np.clip(part - fork + 0.1 * length, 0, None)
            run = np.interp(part, along, middle) + side * (0.1 * half + lean * out)
            branches.append(_swept(part, run, half * thick * (1 - 0.15 * out / length)))
        body = shapely.union_all([trunk, *branches])
    body = _largest(body.buffer(28).buffer(-56).buffer(28))
    ring, normal, position = _walk(body, 5.0)
    push = sum(
        noise.line(position, wave, rng, period=position[-1] + 5.0) * slab.wobble_mm * share
        for wave, share in ((420, 0.55), (170, 0.25), (70, 0.09), (26, 0.035))
    )
    return _largest(Polygon(ring + normal * push[:, None]).buffer(0))


def _swept(along, middle, half_width) -> Polygon:
    """The region within `half_width` of a centre line, measured square to it."""
    spine = np.column_stack([along, middle])
    tangent = np.gradient(spine, axis=0)
    normal = np.column_stack([-tangent[:, 1], tangent[:, 0]]) / np.linalg.norm(tangent, axis=1, keepdims=True)
    edges = [spine + normal * half_width[:, None], spine - normal * half_width[:, None]]
    return Polygon(np.vstack([edges[0], edges[1][::-1]])).buffer(0)


def _walk(shape: Polygon, step: float):
    """Even points round a ring, (n, 2), their smooth outward normals, and the way walked so far, mm."""
    ring = shapely.geometry.polygon.orient(shape).exterior
    count = int(ring.length / step)
    position = np.arange(count) * ring.length / count
    points = shapely.get_coordinates(shapely.line_interpolate_point(ring, position))
    return points, _normals(points, 4), position


def _normals(points: np.ndarray, reach: int) -> np.ndarray:
    """Outward normals of a counter-clockwise ring, from neighbours `reach` away."""
    tangent = np.roll(points, -reach, axis=0) - np.roll(points, reach, axis=0)
    tangent /= np.maximum(np.linalg.norm(tangent, axis=1, keepdims=True), 1e-9)
    return np.column_stack([tangent[:, 1], -tangent[:, 0]])


def _ends(slab: Slab):
    """The strip between the two saw cuts, and each cut as (point on it, outward normal)."""
    reach = 4 * slab.width_mm + 1000
    cuts = []
    for side, skew in zip((-1, 1), slab.end_skew_rad, strict=True):
        cuts.append((np.array([side * slab.length_mm / 2, 0.0]), side * np.array([np.cos(skew), np.sin(skew)])))
    corners = []
    for point, normal in cuts:
        run = np.array([-normal[1], normal[0]]) * reach
        corners += [point + run, point - run]
    return Polygon(corners).convex_hull, cuts


def _barked(body: Polygon, slab: Slab, rng) -> Polygon:
    """The wood and the bark around it, missing in stretches."""
    ring, normal, position = _walk(body, STEP_MM)
    period = position[-1] + STEP_MM
    rough = sum(
        noise.line(position, wave, rng, period=period) * share for wave, share in ((60, 0.16), (22, 0.14), (9, 0.10))
    )
    thick = slab.bark_mm * np.clip(1 + rough, 0.35, 2.0)
    stretch = noise.line(position, 330, rng, period=period) + 0.25 * noise.line(position, 40, rng, period=period)
    level = np.quantile(stretch, slab.bark_missing) if slab.bark_missing > 0 else stretch.min() - 1
    thick = thick * noise.smoothstep(stretch, level, level + 0.18)
    return _largest(shapely.union(Polygon(ring + normal * thick[:, None]).buffer(0), body))


def _void(wood: Polygon, rng) -> Polygon:
    """A hole right through, longer along the grain than across."""
    reach_x, reach_y = rng.uniform(70, 130), rng.uniform(18, 38)
    angle = np.linspace(0, 2 * np.pi, 160, endpoint=False)
    radius = 1 + sum(
        noise.line(angle, wave, rng, period=2 * np.pi) * share for wave, share in ((1.5, 0.12), (0.4, 0.05))
    )
    left, _, right, _ = wood.bounds
    for _ in range(200):
        x = rng.uniform(left * 0.6, right * 0.6)
        across = shapely.intersection(wood, LineString([(x, -3000), (x, 3000)]))
        low, high = across.bounds[1], across.bounds[3]
        y = rng.uniform(low + 0.3 * (high - low), high - 0.3 * (high - low))
        hole = Polygon(np.column_stack([x + reach_x * radius * np.cos(angle), y + reach_y * radius * np.sin(angle)]))
        if wood.contains(hole.buffer(40)):
            return hole.buffer(0)
    return hole.intersection(wood.buffer(-60))


def _skirt(ring: np.ndarray, slab: Slab, ends, wood: Polygon, rng) -> Skirt:
    """The flank and the sawn ends as one closed strip below the outer ring."""
    if not shapely.LinearRing(ring).is_ccw:
        ring = ring[::-1]
    count = len(ring)
    reach = [np.abs((ring - point) @ normal) < 0.02 for point, normal in ends]
    kind = np.where(reach[0] | reach[1], END, LIVE)
    bark = shapely.distance(shapely.points(ring), wood)
    position = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(ring, axis=0), axis=1))])
    period = position[-1] + np.linalg.norm(ring[0] - ring[-1])
    normal = _normals(ring, 6)
    lean = slab.flank_mm * (1 + 0.35 * noise.line(position, 380, rng, period=period))
    furrow = noise.field((ROWS, count), (1.7, 30), rng) + 0.8 * noise.field((ROWS, count), (1.2, 6), rng)
    lumps = noise.field((ROWS, count), (5, 50), rng) * slab.wobble_mm * 0.12
    share = np.clip(bark / max(slab.bark_mm, 1), 0.06, 1)
    layers = np.empty((ROWS, count, 3))
    for row in range(ROWS):
        depth = row / (ROWS - 1)
        ramp = min(1.0, depth / 0.2)
        out = lean * (1.25 * depth - 0.25 * depth**2) + ramp * (lumps[row] + 0.2 * slab.bark_mm * share * furrow[row])
        layers[row, :, :2] = ring + normal * out[:, None]
        layers[row, :, 2] = -depth * slab.thickness_mm
    for (point, outward), on_cut in zip(ends, reach, strict=True):
        _keep_inside(layers, point, outward)
        _flatten_end(layers, ring, on_cut, point, outward)
    return Skirt(layers, kind, bark)


def _keep_inside(layers, point, outward):
    """Nothing of the flank reaches past the saw cut."""
    past = np.clip((layers[..., :2] - point) @ outward, 0, None)
    layers[..., :2] -= past[..., None] * outward


def _flatten_end(layers, ring, on_cut, point, outward):
    """Between its two corners a sawn end is a flat wall in the cut."""
    count = len(ring)
    starts = [i for i in range(count) if on_cut[i] and not on_cut[i - 1]]
    for start in starts:
        run = [start]
        while on_cut[(run[-1] + 1) % count]:
            run.append((run[-1] + 1) % count)
        if len(run) < 2:
            continue
        first, last = run[0], run[-1]
        share = np.linalg.norm(ring[run] - ring[first], axis=1) / max(np.linalg.norm(ring[last] - ring[first]), 1e-9)
        for corner, inner in ((first, first - 1), (last, (last + 1) % count)):
            shift = layers[:, inner, :2] - layers[0, inner, :2]
            shift = shift - (shift @ outward)[:, None] * outward
            layers[:, corner, :2] = ring[corner] + shift
        for index, t in zip(run, share, strict=True):
            layers[:, index, :2] = (1 - t) * layers[:, first, :2] + t * layers[:, last, :2]


def _void_wall(ring: np.ndarray, slab: Slab, rng) -> Skirt:
    """The inside of a hole."""
    count = len(ring)
    centre = ring.mean(axis=0)
    layers = np.empty((ROWS, count, 3))
    ripple = noise.field((ROWS, count), (3, 8), rng) * 0.02
    for row in range(ROWS):
        depth = row / (ROWS - 1)
        layers[row, :, :2] = centre + (ring - centre) * (1 - 0.12 * depth + min(1, depth * 5) * ripple[row])[:, None]
        layers[row, :, 2] = -depth * slab.thickness_mm
    return Skirt(layers, np.full(count, VOID), np.zeros(count))


def _checks(wood: Polygon, what: Wood, slab: Slab, rng) -> tuple[Check, ...]:
    """Cracks along the grain: from the sawn ends, wide, tapering in; on the face, narrow, tapering both ways."""
    made = []
    inner = wood.buffer(-18)
    for _ in range(what.end_checks * 12):
        if sum(c.kind == "end" for c in made) == what.end_checks:
            break
        side = rng.choice([-1, 1])
        length = rng.uniform(45, 300) * min(1, slab.length_mm / 2000)
        start_y = rng.uniform(-0.42, 0.42) * slab.width_mm
        skew = slab.end_skew_rad[0 if side < 0 else 1]
        end_x = side * slab.length_mm / 2 - start_y * np.tan(skew)
        made += _one_check(wood, inner, end_x, start_y, -side, length, rng.uniform(1.5, 8.0), "end", made, rng)
    for _ in range(what.surface_checks * 12):
        if sum(c.kind == "surface" for c in made) == what.surface_checks:
            break
        x = rng.uniform(-0.42, 0.42) * slab.length_mm
        y = rng.uniform(-0.35, 0.35) * slab.width_mm
        made += _one_check(wood, inner, x, y, 1, rng.uniform(35, 260), rng.uniform(0.7, 2.0), "surface", made, rng)
    return tuple(made)


def _one_check(wood, inner, x, y, way, length, greatest, kind, others, rng) -> list[Check]:
    """One check starting at (x, y) and running `way` along the grain, or nothing if it does not fit."""
    t = np.linspace(0, 1, max(8, int(length / 4)))
    wander = noise.line(t * length, 70, rng) * 1.6 + noise.line(t * length, 18, rng) * 0.35
    slope = rng.normal(0, 0.02)
    path = np.column_stack([x + way * t * length, y + wander - wander[0] + slope * t * length])
    if kind == "end":
        width = greatest * (1 - t) ** 0.8 * (1 + 0.12 * noise.line(t * length, 40, rng)).clip(0.6, 1.4)
        path = path[path[:, 0] * -way <= abs(x)]
        width = width[: len(path)]
        body = LineString(path[2:])
    else:
        width = greatest * np.sin(np.pi * t) ** 0.6
        body = LineString(path)
    # The end of a check counts where it is still a quarter of a millimetre wide; a hairline has no end.
    fits = inner if kind == "surface" else inner.union(wood.intersection(box(x - 30, -5000, x + 30, 5000)).buffer(-4))
    clear = all(LineString(other.path).distance(body) > 14 for other in others)
    if not (
        fits.buffer(12 if kind == "end" else 0).contains(body)
        and clear
        and wood.exterior.distance(LineString(path[3:])) > 3
    ):
        return []
    return [Check(path, np.maximum(width, 0.25), kind)]


def _largest(shape) -> Polygon:
    """The greatest polygon of whatever a set operation gave."""
    if shape.geom_type == "Polygon":
        return shape
    return max((part for part in shape.geoms if part.geom_type == "Polygon"), key=lambda part: part.area)
