"""From a view of the face to its outlines: decide at low resolution, place the edges at full resolution, judge.

`find_face` is the whole pipeline; `refine_outline` starts from an outline that a person has drawn.
"""

import math
from dataclasses import replace

import cv2
import numpy as np
import shapely
from scipy.ndimage import grey_closing, grey_opening
from scipy.spatial import cKDTree
from skimage import measure as skimage_measure

from grainlog.scale.flat import FlatView, Viewer

from . import confidence, network, opinion
from .decide import Region, decide
from .edge import GROUND, WOOD, Lines, two_lines
from .found import EdgeUncertainty, FaceNotFound, Features, FoundFace, Note
from .holes import find_holes
from .sharpen import sharpen
from .strip import Strip, evenly, linear_light, smooth_ring, unroll

_COARSE_PIXELS = 200_000
_FINE_MM = 1.0
_MOST_WOOD_IN_VOID = 0.5  # what the network takes for wood, a knot above all, is no void
_LEARNED_MM = 4.0
_SPIKE_MM, _DENT_MM = 66.0, 160.0  # stickers are 20 to 40 mm wide (common practice, no source)


def find_face(viewer: Viewer, thickness_mm: float | None = None, hint: np.ndarray | None = None) -> FoundFace:
    """Find the slab's upper face in a view.

    thickness_mm : float, optional
        Tells how much of the flank can show; 60 mm is assumed for that where it is not given.
    hint : (n, 2) float, optional
        A rough polygon around the slab, plane frame, mm.

    Raises FaceNotFound.
    """
    looks = opinion.sort_looks(_coarse_view(viewer))
    # The decision needs no more than the view has, up to what the network is quick at.
    coarse_mm = float(np.clip(looks.view.mm_per_px, network.BEST_MM_PER_PX, network.QUICK_MM_PER_PX))
    learned = network.face_odds(network.class_scores(looks.view, coarse_mm))
    region = decide(looks, learned, None if hint is None else looks.view.to_px(np.asarray(hint, float)))
    coarse = _trace(region.soft, looks.view)
    return _place(viewer, coarse, thickness_mm, region, looks)


def refine_outline(viewer: Viewer, polygon_mm: np.ndarray, within_mm: float = 6.0) -> FoundFace:
    """Take a hand-drawn wood outline, moved to the nearest clear edge within a few millimetres.

    polygon_mm : (n, 2) float, plane frame
    within_mm : float
        0 takes the outline as it is.

    Raises FaceNotFound for an outline that is no polygon.
    """
    drawn = _largest(np.asarray(polygon_mm, float))
    if drawn is None:
        raise FaceNotFound(
            "The drawn outline has no area or crosses itself; draw it again, point after point around the wood."
        )
    wood, contrast = drawn, np.ones(1)
    if within_mm > 0:
        view = viewer.flat_view(_FINE_MM, _around(drawn, 40))
        offsets = np.arange(-within_mm - 4, within_mm + 4.01, 0.5)
        strip = unroll(linear_light(view), drawn, 2.0, offsets, 8.0)
        moved, contrast = sharpen(strip, within_mm + 3)
        moved = np.where(contrast > 1.0, np.clip(moved, -within_mm, within_mm), 0.0)
        wood = _largest(strip.at(moved))
        wood = drawn if wood is None else wood
    overlap = _overlap(wood, drawn)
    features = Features(1.0, float((contrast > 1).mean()), 0.0, overlap, _solidity(wood), 1.0)
    u = EdgeUncertainty(1.0, 2.0)
    moved = " and moved to the nearest clear edge." if within_mm else "."
    note = Note("outline-drawn", "The outline was drawn by hand" + moved)
    return FoundFace(wood, (), wood, wood, confidence.DRAWN, features, u, u, (note,))


def _place(viewer: Viewer, coarse: np.ndarray, thickness_mm, region: Region, looks) -> FoundFace:
    view = viewer.flat_view(_FINE_MM, _around(coarse, 90))
    asked, scores = _asked(viewer, coarse)
    lines, strip, ends = _bands(view, coarse, thickness_mm, (asked, network.three_ways(scores)))
    rough = strip.at(lines.wood)
    wood, contrast = _sharp(view, rough)
    outer = strip.at(np.maximum(lines.outer, lines.wood))
    silhouette = _joined(wood, outer)
    shown = _flank_shown(strip, view.camera_mm, thickness_mm)
    bark = _joined(wood, strip.at(np.maximum(lines.wood, lines.outer - np.maximum(shown, 0))))
    holes = find_holes(looks, region.odds, view, wood)
    holes = tuple(hole for hole in holes if _mean_inside(scores[..., network.WOOD], hole, asked) < _MOST_WOOD_IN_VOID)
    agreement = _overlap(wood, coarse)
    features = Features(
        separation=float(np.quantile(lines.separation, 0.25)),
        contrast=float((contrast > 1.5).mean()),
        margin=_margin(region, looks, wood),
        agreement=agreement,
        solidity=_solidity(wood),
        alone=1 - min(1.0, region.rival),
    )
    sure = confidence.expected_overlap(features)
    edge_u, end_u = _uncertainty(lines)
    return FoundFace(wood, holes, bark, silhouette, sure, features, edge_u, end_u,
                     _notes(view, wood, features, sure, lines, ends))


def _coarse_view(viewer: Viewer) -> FlatView:
    """The whole view with about four pixels for each one of the decision."""
    probe = viewer.flat_view(40.0)
    area = probe.rgb.shape[0] * probe.rgb.shape[1] * 40.0**2
    return viewer.flat_view(max(2.0, math.sqrt(area / _COARSE_PIXELS) / 2))


def _trace(soft: np.ndarray, view: FlatView) -> np.ndarray:
    """The outline of a soft region at one half: pixel centres, no half-pixel loss."""
    rings = skimage_measure.find_contours(np.pad(soft, 1), 0.5)
    if not rings:
        raise FaceNotFound("No slab stands out from the ground in this photo; draw its outline by hand and give it.")
    ring = max(rings, key=len)[:, ::-1] - 1
    return evenly(view.to_mm(ring), 4.0)


def _asked(viewer: Viewer, coarse: np.ndarray) -> tuple[FlatView, np.ndarray]:
    """A view around the slab and the network's scores of its pixels, (h, w, 5)."""
    view = viewer.flat_view(_LEARNED_MM, _around(coarse, 160))
    return view, network.class_scores(view)


def _mean_inside(values: np.ndarray, ring: np.ndarray, view: FlatView) -> float:
    share = opinion.cover(ring, view)
    return float((values * share).sum() / max(share.sum(), 1e-6))


def _bands(view: FlatView, coarse: np.ndarray, thickness_mm, learned) -> tuple[Lines, Strip, np.ndarray]:
    """The two lines, with the strip they lie in: found in a wide band, then again, finer, about the first result."""
    wide = unroll(view, smooth_ring(coarse, 12.0, 4.0), 6.0, np.arange(-91.5, 61.0, 3.0), 25.0)
    first = _lines(wide, view, thickness_mm, learned, 3, None)
    ring = _largest(wide.at(first.wood))
    if ring is None:
        raise FaceNotFound("No clear edge of the slab was found; draw its outline by hand and give it.")
    strip = unroll(view, ring, 6.0, np.arange(-29.0, 80.0, 2.0), 12.0)
    _, nearest = cKDTree(wide.at(first.wood)).query(strip.points)
    none = np.zeros(len(strip.points))
    return _lines(strip, view, thickness_mm, learned, 2, (none, (first.outer - first.wood)[nearest])), strip, _on_ends(strip)


def _lines(strip: Strip, view: FlatView, thickness_mm, learned, rounds: int, start) -> Lines:
    shown = _flank_shown(strip, view.camera_mm, thickness_mm)
    ends = _on_ends(strip)
    lines = two_lines(strip, ends, _known(strip, view), shown, strip.sample(*learned), rounds, start)
    return replace(lines, wood=_without_spikes(lines.wood, strip, ends))


def _without_spikes(offset: np.ndarray, strip: Strip, ends: np.ndarray) -> np.ndarray:
    """The wood edge without narrow steep bumps: stickers and battens that run out under it, checks that run in."""
    size = max(3, round(_SPIKE_MM / strip.step))
    reach = max(1, round(30 / strip.step))
    turn = (np.roll(strip.normals, reach, axis=0) * np.roll(strip.normals, -reach, axis=0)).sum(1)
    smooth = grey_closing(grey_opening(offset, size, mode="wrap"), size, mode="wrap")
    offset = np.where((np.abs(offset - smooth) > 5.0) & (turn > 0.75), smooth, offset)
    # A sawn end is straight, and checks run into it side by side: wider dents are closed there.
    filled = grey_closing(offset, max(3, round(_DENT_MM / strip.step)), mode="wrap")
    return np.where(ends & (filled - offset > 5.0) & (turn > 0.75), filled, offset)


def _known(strip: Strip, view: FlatView) -> np.ndarray:
    known = np.full(strip.seen.shape, -1, np.int8)
    # Beside a card the samples mix its white with what lies there.
    for card in view.cards:
        wider = shapely.Polygon(card).buffer(14, join_style="mitre")
        known[strip.cover(shapely.get_coordinates(wider.exterior)[:-1])] = -2
    for card, on_face in zip(view.cards, view.cards_on_face):
        known[strip.cover(card)] = WOOD if on_face else GROUND
    return known


def _on_ends(strip: Strip) -> np.ndarray:
    """Which places lie on a sawn end: the edge runs across the slab there, near one end of it."""
    (_, size, turn) = cv2.minAreaRect(strip.points.astype(np.float32))
    turn = math.radians(turn if size[0] >= size[1] else turn + 90)
    axis = np.array([math.cos(turn), math.sin(turn)])
    along = strip.points @ axis
    low, high = along.min(), along.max()
    near = np.minimum(along - low, high - along) < 0.12 * (high - low)
    return (np.abs(strip.normals @ axis) > 0.8) & near


def _flank_shown(strip: Strip, camera_mm: np.ndarray, thickness_mm) -> np.ndarray:
    """(n,) mm of an upright flank that the camera sees outside the face; negative where it hides under the face.

    A point at depth d below the face and horizontal place p appears at foot + (p - foot) H / (H + d).
    """
    depth = thickness_mm or 60.0
    pull = depth / (camera_mm[2] + depth)
    return pull * ((camera_mm[:2] - strip.points) * strip.normals).sum(1)


def _sharp(view: FlatView, ring: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The wood edge to a part of a pixel: once with a wide look, once more with a narrow one about the result."""
    view = linear_light(view)
    for reach, smooth in ((9.0, 3.0), (7.0, 1.5)):
        offsets = np.arange(-reach - 3, reach + 3.01, 0.5)
        strip = unroll(view, smooth_ring(evenly(ring, 3.0), smooth, 3.0), 3.0, offsets, 9.0)
        offset, contrast = sharpen(strip, reach)
        wood = _largest(strip.at(offset))
        if wood is None:
            break
        ring = wood
    return ring, contrast


def _joined(inner: np.ndarray, outer: np.ndarray) -> np.ndarray:
    """The outer ring, nowhere inside the inner one."""
    whole = shapely.make_valid(shapely.Polygon(outer)).union(shapely.make_valid(shapely.Polygon(inner)))
    if whole.geom_type != "Polygon":
        whole = max(whole.geoms, key=lambda part: part.area)
    return _ring(whole)


def _largest(ring: np.ndarray) -> np.ndarray | None:
    """The ring made simple: its largest part, anticlockwise, open; None where it has no area."""
    if ring.ndim != 2 or len(ring) < 3 or not np.isfinite(ring).all():
        return None
    whole = shapely.make_valid(shapely.Polygon(ring))
    parts = [part for part in shapely.get_parts(whole) if part.geom_type == "Polygon" and part.area > 0]
    parts += [inner for part in shapely.get_parts(whole) if part.geom_type == "MultiPolygon" for inner in part.geoms]
    return _ring(max(parts, key=lambda part: part.area)) if parts else None


def _ring(polygon: shapely.Polygon) -> np.ndarray:
    ring = shapely.get_coordinates(shapely.orient_polygons(shapely.Polygon(polygon.exterior)))[:-1]
    return ring


def _around(ring: np.ndarray, margin: float) -> tuple[float, float, float, float]:
    return (*np.floor(ring.min(0) - margin), *np.ceil(ring.max(0) + margin))


def _overlap(a: np.ndarray, b: np.ndarray) -> float:
    one, two = (shapely.make_valid(shapely.Polygon(ring)) for ring in (a, b))
    return float(one.intersection(two).area / one.union(two).area)


def _solidity(ring: np.ndarray) -> float:
    polygon = shapely.Polygon(ring)
    return float(polygon.area / polygon.convex_hull.area)


def _margin(region: Region, looks, wood: np.ndarray) -> float:
    inside = opinion.cover(wood, looks.view) > 0.5
    free = ~(looks.known_else | looks.known_wood)
    away = cv2.distanceTransform(1 - inside.astype(np.uint8), cv2.DIST_L2, 3) * looks.view.mm_per_px
    ring = (away > 45) & (away < 90)
    if not (inside & free).any() or not (ring & free).any():
        return 0.0
    return float(region.odds[inside & free].mean() - region.odds[ring & free].mean()) / 2


def _uncertainty(lines: Lines) -> tuple[EdgeUncertainty, EdgeUncertainty]:
    """Less clear edges lie less surely.

    Straight lines laid by eye through what 12 path-traced photos showed: RMS of the mean offset 0.9 mm where the
    separation was above 0.93, 3 mm where it was 0.8 to 0.9; spread along the edge 0.4 to 2 mm and 3 to 11 mm. Ends are
    taken as half that far off (not measured on their own).
    """
    doubt = 1 - float(np.clip(np.quantile(lines.separation, 0.25), 0, 1))
    systematic, random = 0.4 + 12 * doubt, 0.8 + 30 * doubt
    return EdgeUncertainty(systematic, random), EdgeUncertainty(systematic / 2, random / 2)


def _notes(view: FlatView, wood, features: Features, sure: float, lines: Lines, ends) -> tuple[Note, ...]:
    notes = []
    inner = cv2.erode(view.seen.astype(np.uint8), np.ones((9, 9), np.uint8)) > 0
    at = np.clip(np.round(view.to_px(wood)).astype(int), 0, [view.seen.shape[1] - 1, view.seen.shape[0] - 1])
    if not inner[at[:, 1], at[:, 0]].all():
        notes.append(Note("face-touches-frame", "The slab runs out of the photo; step back so that all of it is seen."))
    if features.alone < 0.4:
        notes.append(Note("two-candidates", "Something else in the photo looks as much like a slab; check the outline."))
    edge = shapely.Polygon(wood).exterior
    for card, on_face in zip(view.cards, view.cards_on_face):
        if edge.intersects(shapely.Polygon(card)):
            where = "on the face" if on_face else "on the floor"
            message = f"A scale card {where} covers part of the wood edge; move it and take the photo again."
            notes.append(Note("edge-under-card", message))
    between = (lines.outer - lines.wood)[~ends]
    if len(between) and np.mean(between > 3) < 0.1:
        notes.append(Note("bark-not-separable", "No bark was told apart from the wood; the bark edge is taken as the wood edge."))
    if sure < confidence.WARN_BELOW:
        message = f"The outline is doubtful (confidence {sure:.2f}); check it on the picture or draw it by hand."
        notes.append(Note("outline-doubtful", message))
    return tuple(notes)
