"""From a view of the face to its outlines: decide at low resolution, place the edges at full resolution, judge.

`find_face` is the whole pipeline; `refine_outline` starts from an outline that a person has drawn.
"""

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np
import shapely
from scipy.ndimage import grey_closing, grey_opening
from scipy.spatial import cKDTree
from skimage import measure as skimage_measure

from grainlog.notes import Note
from grainlog.scale.flat import FlatView, Viewer

from . import confidence, judge, network, opinion
from . import dabs as dab
from .crease import SPACING_MM
from .dabs import Dabs
from .decide import Region, decide
from .edge import GROUND, NOT_WOOD, WOOD, Lines, two_lines
from .edge import LEARNED_WEIGHT as EDGE_LEARNED_WEIGHT
from .flank import long_edges, without_bare_flank
from .found import EdgeUncertainty, FaceNotFound, Features, FoundFace
from .hidden import hidden_notes, what_hides
from .holes import find_holes
from .seam import SURE_AT_MOST, TWO_SLABS, seam_notes, seam_of
from .sharpen import sharpen
from .strip import Strip, evenly, linear_light, smooth_ring, unroll

_COARSE_PIXELS = 200_000
_FINE_MM = 1.0
_MOST_WOOD_IN_VOID = 0.5  # what the network takes for wood, a knot above all, is no void
_LEARNED_MM = 4.0
NO_DABS = Dabs()
_SPIKE_MM, _DENT_MM = 66.0, 160.0  # stickers are 20 to 40 mm wide (common practice, no source)


@dataclass(frozen=True)
class Rough:
    """A view of the whole photo, looked at once; dabs and hints are tried on it in a moment.

    looks : opinion.Looks
    learned : (h, w) float32
        The network's log odds of the face.
    hidden : (h, w) float32
        Its probability that a face goes on there behind something.
    """

    looks: opinion.Looks
    learned: np.ndarray
    hidden: np.ndarray

    @classmethod
    def of(cls, viewer: Viewer) -> "Rough":
        """Look at a photo: sort its looks and ask the network."""
        looks = opinion.sort_looks(_coarse_view(viewer))
        # The decision needs no more than the view has, up to what the network is quick at.
        coarse_mm = float(np.clip(looks.view.mm_per_px, network.BEST_MM_PER_PX, network.QUICK_MM_PER_PX))
        said = network.looked_at(looks.view, coarse_mm)
        return cls(looks, network.face_odds(said.classes), said.hidden)

    def region(self, hint: np.ndarray | None = None, dabs: Dabs = NO_DABS) -> Region:
        """The slab's region; dabs and hint in plane-frame mm. Raises FaceNotFound."""
        view = self.looks.view
        learned = self.learned + dab.leaning(view, dabs)
        return decide(self.looks, learned, None if hint is None else view.to_px(hint), dab.pins(view, dabs))

    def outline(self, hint: np.ndarray | None = None, dabs: Dabs = NO_DABS) -> np.ndarray:
        """(n, 2) mm, plane frame: the outline at low resolution, for a person to see what their dabs do.

        Raises FaceNotFound.
        """
        return _trace(self.region(hint, dabs).soft, self.looks.view)


def find_face(
    viewer: Viewer,
    thickness_mm: float | None = None,
    hint: np.ndarray | None = None,
    dabs: Dabs = NO_DABS,
    rough: Rough | None = None,
) -> FoundFace:
    """Find the slab's upper face in a view.

    thickness_mm : float, optional
        Tells how much of the flank can show; 60 mm is assumed for that where it is not given.
    hint : (n, 2) float, optional
        A rough polygon around the slab, plane frame, mm.
    dabs : Dabs
        What a person says is wood and what is not, plane frame, mm; of several slabs the dabbed one is found.
    rough : Rough, optional
        `Rough.of(viewer)`, where it is there already.

    Raises FaceNotFound.
    """
    rough = rough or Rough.of(viewer)
    region = rough.region(None if hint is None else np.asarray(hint, float), dabs)
    coarse = _trace(region.soft, rough.looks.view)
    return _place(viewer, coarse, thickness_mm, region, rough, dabs)


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
    overlap = judge.overlap(wood, drawn)
    features = Features(1.0, float((contrast > 1).mean()), 0.0, overlap, judge.solidity(wood), *[1.0] * 6)
    u = EdgeUncertainty(1.0, 2.0)
    moved = " and moved to the nearest clear edge." if within_mm else "."
    note = Note("outline-drawn", "The outline was drawn by hand" + moved)
    return FoundFace(wood, (), wood, wood, confidence.DRAWN, features, u, u, (note,))


def _place(viewer: Viewer, coarse: np.ndarray, thickness_mm, region: Region, first: Rough, dabs: Dabs) -> FoundFace:
    view = viewer.flat_view(_FINE_MM, _around(coarse, 90))
    asked = viewer.flat_view(_LEARNED_MM, _around(coarse, 160))
    scores = network.class_scores(asked)
    three = network.three_ways(scores)
    three[..., WOOD] += dab.leaning(asked, dabs) / EDGE_LEARNED_WEIGHT
    pinned = dab.pins(view, dabs)
    lines, strip, ends = _bands(view, coarse, thickness_mm, (asked, three), pinned)
    rough = strip.at(lines.wood)
    wood, contrast = _sharp(view, rough)
    ring = unroll(view, wood, SPACING_MM, np.zeros(1), 12.0)
    mended = without_bare_flank(view, wood, long_edges(ring.points, _on_ends(ring)), asked, scores)
    wood = mended.wood
    outer = strip.at(np.maximum(lines.outer, lines.wood))
    silhouette = joined(wood, outer)
    shown = _flank_shown(strip, view.cameras_over(strip.points), thickness_mm)
    bark = joined(wood, strip.at(np.maximum(lines.wood, lines.outer - np.maximum(shown, 0))), mended.beside)
    holes = find_holes(first.looks, region.odds, view, wood)
    holes = tuple(hole for hole in holes if _mean_inside(scores[..., network.WOOD], hole, asked) < _MOST_WOOD_IN_VOID)
    hidden = what_hides(wood, first.looks.view, first.hidden, asked)
    features = judge.features_of(lines, contrast, region, first.looks, wood, coarse, asked, scores, holes, hidden)
    sure = min(confidence.chance_of_sound(features), hidden.sure_at_most)
    seam = seam_of(wood, asked, scores)
    sure = min(sure, SURE_AT_MOST) if seam >= TWO_SLABS else sure
    edge_u, end_u = judge.edge_uncertainty(lines)
    notes = judge.notes_of(view, asked, scores, wood, features, sure, lines, ends, region, bool(dabs.wood))
    notes += judge.notes_of_flank(mended)
    notes = (*seam_notes(seam), *hidden_notes(hidden), *notes)
    if dabs:
        notes = (Note("dabbed", "The outline was mended with dabs by hand."), *notes)
    return FoundFace(wood, holes, bark, silhouette, sure, features, mended.widened(edge_u), end_u, notes)


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


def _mean_inside(values: np.ndarray, ring: np.ndarray, view: FlatView) -> float:
    share = opinion.cover(ring, view)
    return float((values * share).sum() / max(share.sum(), 1e-6))


def _bands(view: FlatView, coarse: np.ndarray, thickness_mm, learned, pinned: np.ndarray) -> tuple[Lines, Strip, np.ndarray]:
    """The two lines, with the strip they lie in: found in a wide band, then again, finer, about the first result."""
    wide = unroll(view, smooth_ring(coarse, 12.0, 4.0), 6.0, np.arange(-91.5, 61.0, 3.0), 25.0)
    first = _lines(wide, view, thickness_mm, learned, pinned, 3, None)
    ring = _largest(wide.at(first.wood))
    if ring is None:
        raise FaceNotFound("No clear edge of the slab was found; draw its outline by hand and give it.")
    strip = unroll(view, ring, 6.0, np.arange(-29.0, 80.0, 2.0), 12.0)
    _, nearest = cKDTree(wide.at(first.wood)).query(strip.points)
    none = np.zeros(len(strip.points))
    return _lines(strip, view, thickness_mm, learned, pinned, 2, (none, (first.outer - first.wood)[nearest])), strip, _on_ends(strip)


def _lines(strip: Strip, view: FlatView, thickness_mm, learned, pinned, rounds: int, start) -> Lines:
    shown = _flank_shown(strip, view.cameras_over(strip.points), thickness_mm)
    ends = _on_ends(strip)
    lines = two_lines(strip, ends, _known(strip, view, pinned), shown, strip.sample(*learned), rounds, start)
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


def _known(strip: Strip, view: FlatView, pinned: np.ndarray) -> np.ndarray:
    known = np.full(strip.seen.shape, -1, np.int8)
    # Beside a card the samples mix its white with what lies there.
    for card in view.cards:
        wider = shapely.Polygon(card).buffer(14, join_style="mitre")
        known[strip.cover(shapely.get_coordinates(wider.exterior)[:-1])] = -2
    for card, on_face in zip(view.cards, view.cards_on_face):
        known[strip.cover(card)] = WOOD if on_face else GROUND
    dabbed = strip.sample(view, pinned.astype(np.float32))
    known[dabbed > 0.5] = WOOD
    known[dabbed < -0.5] = NOT_WOOD
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
    pull = depth / (camera_mm[..., 2] + depth)
    return pull * ((camera_mm[..., :2] - strip.points) * strip.normals).sum(1)


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


def joined(inner: np.ndarray, outer: np.ndarray, without: shapely.Geometry | None = None) -> np.ndarray:
    """The outer ring, nowhere inside the inner one; `without` is taken off the outer one first."""
    whole = shapely.make_valid(shapely.Polygon(outer))
    if without is not None:
        whole = whole.difference(without)
    whole = whole.union(shapely.make_valid(shapely.Polygon(inner)))
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
