"""Judging a found outline: the raw figures behind its confidence, and what a person should be told about it."""

import cv2
import numpy as np
import shapely
from scipy.ndimage import gaussian_filter1d

from grainlog.notes import Note
from grainlog.scale.flat import FlatView

from . import confidence, network, opinion
from .decide import Region
from .edge import Lines
from .flank import Mended
from .found import EdgeUncertainty, Features
from .hidden import Hidden
from .strip import evenly

#: Brighter than this in all three colours a pixel is burnt out, darker than that in all it is black, 8 bit.
_BURNT, _BLACK = 246, 14
#: Shares of the face, or of its edge, from which a person is told; by eye on generated and rendered views.
_GLARE, _NIGHT, _COVERED, _GOES_ON = 0.12, 0.35, 0.05, 0.10
#: A dent narrower than twice the first and deeper than the second, mm, and than this share of its width, is sharp; lined with
#: bark or flank along so much of it, it has grown there. By eye on generated views.
_DENT_REACH_MM, _DENT_MM, _DENT_STEEP, _DENT_LINED = 420.0, 25.0, 0.12, 0.4
_BROKEN = 0.015  # share of the face that such dents take, from which a person is told
_FLANK_MM = 100.0  # of edge, from which bare flank is worth a word
_RIVAL = 0.6  # `alone` below which a second slab is worth a word


def features_of(
    lines: Lines, contrast: np.ndarray, region: Region, looks, wood: np.ndarray, coarse: np.ndarray, asked: FlatView,
    scores: np.ndarray, holes: tuple[np.ndarray, ...], hidden: Hidden,
) -> Features:
    """The raw figures of an outline, see `Features`.

    wood, coarse : (n, 2) float64, plane frame, mm
    asked, scores : a view around the slab and the network's (h, w, 5) class scores of its pixels
    """
    inside = opinion.cover(wood, asked)
    for hole in holes:
        inside = inside * (1 - opinion.cover(hole, asked))
    free = asked.seen.copy()
    for card in asked.cards:
        free &= opinion.cover(card, asked) < 0.1
    clear = _clear(asked.rgb)
    return Features(
        separation=float(np.quantile(lines.separation, 0.25)),
        contrast=float((contrast > 1.5).mean()),
        margin=_margin(region, looks, wood),
        agreement=overlap(wood, coarse),
        solidity=solidity(wood),
        alone=1 - min(1.0, region.rival),
        learned=_learned_overlap(inside, free, scores, asked.mm_per_px),
        closed=1 - _wood_beyond(wood, asked, scores),
        clear=float((inside * clear * free).sum() / max((inside * free).sum(), 1e-6)),
        unbroken=1 - broken_share(wood, asked, scores),
        in_sight=hidden.in_sight(wood),
    )


def notes_of(
    view: FlatView, asked: FlatView, scores: np.ndarray, wood: np.ndarray, features: Features, sure: float, lines: Lines,
    ends: np.ndarray, region: Region, pointed: bool,
) -> tuple[Note, ...]:
    """What a person should be told, the weightiest first. pointed : whether they showed which slab is meant."""
    notes = []
    if sure < confidence.WARN_BELOW:
        notes.append(Note("outline-doubtful", _doubtful(sure)))
    inner = cv2.erode(view.seen.astype(np.uint8), np.ones((9, 9), np.uint8)) > 0
    at = np.clip(np.round(view.to_px(wood)).astype(int), 0, [view.seen.shape[1] - 1, view.seen.shape[0] - 1])
    if not inner[at[:, 1], at[:, 0]].all():
        notes.append(Note("face-touches-frame", "The slab runs out of the photo; step back so that all of it is seen."))
    if region.cut_off:
        notes.append(
            Note("largest-whole-slab", "A larger slab runs out of the photo, so the largest whole one was measured; point at "
                 "the one you mean (--at) or take the photo again."))  # fmt: skip
    elif features.alone < _RIVAL and not pointed:
        notes.append(
            Note("two-candidates", "Something else in the photo looks like a slab too; the largest was measured: check the "
                 "outline, and point at the one you mean (--at) if it is another."))  # fmt: skip
    notes += _covered(asked, scores, wood, features)
    notes += _cards_on_edge(view, wood)
    between = (lines.outer - lines.wood)[~ends]
    if len(between) and np.mean(between > 3) < 0.1:
        notes.append(Note("bark-not-separable", "No bark was told apart from the wood; the bark edge is taken as the wood edge."))
    return tuple(notes)


def notes_of_flank(mended: Mended) -> tuple[Note, ...]:
    """What a person should be told where bare flank passed for wood, or may still."""
    if mended.moved_mm + mended.open_mm < _FLANK_MM:
        return ()
    told = []
    if mended.moved_mm:
        told.append(f"Along {mended.moved_mm / 10:.0f} cm of the edge a bare flank has the colour of the wood; its crease was followed.")
    if mended.open_mm:
        told.append(f"Along {mended.open_mm / 10:.0f} cm flank may have been taken for wood.")
    return (Note("bare-flank", " ".join([*told, "Look at the edge on the marked photo, and dab or draw it where it is off."])),)


def _doubtful(sure: float) -> str:
    if sure < confidence.LOST_BELOW:
        return (
            f"Do not go by these numbers: the wood edge is probably wrong somewhere (confidence {sure:.2f}). Look at the marked "
            "photo and dab what is wood and what is not (--dabs), draw the edge (--outline), or take the photo again in even "
            "light on a ground of another colour."
        )
    return f"The outline may be wrong somewhere (confidence {sure:.2f}); check it on the marked photo, dab or draw it where it is."


def _covered(asked: FlatView, scores: np.ndarray, wood: np.ndarray, features: Features) -> list[Note]:
    inside = opinion.cover(wood, asked) > 0.5
    notes = []
    bright = (asked.rgb.min(-1) > _BURNT)[inside].mean() if inside.any() else 0.0
    dark = (asked.rgb.max(-1) < _BLACK)[inside].mean() if inside.any() else 0.0
    for card in asked.cards:
        inside &= opinion.cover(card, asked) < 0.1
    if bright > _GLARE:
        notes.append(Note("glare", f"Glare hides {100 * bright:.0f} % of the face; turn the camera or wait for cloud, and take it again."))
    if dark > _NIGHT or (inside.any() and np.median(asked.rgb[inside].max(-1)) < 2 * _BLACK):
        notes.append(Note("too-dark", "The photo is too dark to tell wood from ground; bring light from the side and take it again."))
    other = (scores[..., network.OTHER] > 0.6) & inside
    size = max(1, round(40 / asked.mm_per_px))
    thing = cv2.morphologyEx(other.astype(np.uint8), cv2.MORPH_OPEN, np.ones((size, size), np.uint8))
    if thing.sum() > _COVERED * max(inside.sum(), 1):
        notes.append(
            Note("face-covered", "Something other than wood lies or stands on the face; take it away, step out of the picture, and "
                 "take the photo again."))  # fmt: skip
    if 1 - features.unbroken > _BROKEN:
        notes.append(
            Note("sharp-dent", "The outline has a sharp dent without bark: look at it on the marked photo, and draw or dab the edge "
                 "there if the slab has no such dent."))  # fmt: skip
    if 1 - features.closed > _GOES_ON:
        notes.append(
            Note("wood-beyond-edge", f"Along {100 * (1 - features.closed):.0f} % of the outline wood goes on beyond it: another slab "
                 "touches this one, or the outline cuts through it; move them apart, or draw the edge (--outline)."))  # fmt: skip
    return notes


def _cards_on_edge(view: FlatView, wood: np.ndarray) -> list[Note]:
    edge = shapely.Polygon(wood).exterior
    notes = []
    for card, on_face in zip(view.cards, view.cards_on_face):
        if edge.intersects(shapely.Polygon(card)):
            where = "on the face" if on_face else "on the floor"
            notes.append(
                Note("edge-under-card", f"A scale card {where} and the wood edge cover one another; lay the card clear of the edge "
                     "and take the photo again."))  # fmt: skip
    return notes


def _clear(rgb: np.ndarray) -> np.ndarray:
    """(h, w) bool: neither burnt out nor black."""
    return (rgb.min(-1) <= _BURNT) & (rgb.max(-1) >= _BLACK)


def _learned_overlap(inside: np.ndarray, free: np.ndarray, scores: np.ndarray, mm_per_px: float) -> float:
    """IoU of the outline with what the network alone takes for the face, within a hand's breadth of the outline."""
    near = cv2.dilate((inside > 0.5).astype(np.uint8), np.ones((3, 3), np.uint8), iterations=max(1, round(60 / mm_per_px)))
    face = scores[..., network.WOOD] + scores[..., network.VOID]
    weight = (near > 0) & free
    both = np.minimum(face, inside)[weight].sum()
    either = np.maximum(face, inside)[weight].sum()
    return float(both / max(either, 1e-6))


def _wood_beyond(wood: np.ndarray, asked: FlatView, scores: np.ndarray) -> float:
    """Share of the edge beyond which, 15 to 60 mm out, the network sees wood."""
    ring = evenly(wood, 12.0)
    along = gaussian_filter1d(np.roll(ring, -1, axis=0) - np.roll(ring, 1, axis=0), 3, axis=0, mode="wrap")
    normal = np.column_stack([along[:, 1], -along[:, 0]]) / np.maximum(np.linalg.norm(along, axis=1), 1e-9)[:, None]
    beyond = np.zeros(len(ring))
    steps = np.arange(15.0, 61.0, 5.0)
    for step in steps:
        px = asked.to_px(ring + step * normal).astype(np.float32)[:, None]
        beyond += cv2.remap(scores[..., network.WOOD], px, None, cv2.INTER_LINEAR, borderValue=0)[:, 0] > 0.6
    return float((beyond > 0.7 * len(steps)).mean())


def broken_share(wood: np.ndarray, asked: FlatView, scores: np.ndarray) -> float:
    """Area of the sharp dents that no bark or flank lines, over that of the face: hardly a tree grows such ones.

    What stands over an edge cuts them, and so does an outline that went astray.

    wood : (n, 2) float64, mm; asked, scores : a view around it and the network's class scores, (h, w, 5)
    """
    face = shapely.make_valid(shapely.Polygon(wood))
    whole = face.buffer(_DENT_REACH_MM, quad_segs=6).buffer(-_DENT_REACH_MM, quad_segs=6)
    lost = 0.0
    for dent in shapely.get_parts(whole.difference(face).buffer(-4).buffer(4)):
        if dent.area < _DENT_MM**2:
            continue
        rim = shapely.points(shapely.get_coordinates(shapely.segmentize(dent.exterior, 10.0)))
        inner = rim[shapely.distance(rim, face) < 6.0]
        if not len(inner):
            continue
        depth = float(shapely.distance(inner, whole.boundary).max())
        if depth < _DENT_MM or depth**2 / dent.area < _DENT_STEEP:
            continue
        # Just off the wood, inside the dent.
        beside = shapely.get_coordinates(shapely.segmentize(face.buffer(12.0).exterior.intersection(dent), 8.0))
        px = asked.to_px(beside).astype(np.float32)[:, None]
        flank = cv2.remap(scores[..., network.FLANK], px, None, cv2.INTER_LINEAR, borderValue=0) if len(px) else np.zeros(1)
        if (flank > 0.4).mean() < _DENT_LINED:
            lost += dent.area
    return float(min(1.0, lost / max(face.area, 1e-6)))


def overlap(a: np.ndarray, b: np.ndarray) -> float:
    """IoU of two rings, (n, 2) each."""
    one, two = (shapely.make_valid(shapely.Polygon(ring)) for ring in (a, b))
    return float(one.intersection(two).area / one.union(two).area)


def solidity(ring: np.ndarray) -> float:
    """Area of a ring over that of its convex hull."""
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


def edge_uncertainty(lines: Lines) -> tuple[EdgeUncertainty, EdgeUncertainty]:
    """Of the long edges and of the ends; less clear edges lie less surely.

    Straight lines laid by eye through what 12 path-traced photos showed: RMS of the mean offset 0.9 mm where the
    separation was above 0.93, 3 mm where it was 0.8 to 0.9; spread along the edge 0.4 to 2 mm and 3 to 11 mm. Ends are
    taken as half that far off (not measured on their own).
    """
    doubt = 1 - float(np.clip(np.quantile(lines.separation, 0.25), 0, 1))
    systematic, random = 0.4 + 12 * doubt, 0.8 + 30 * doubt
    return EdgeUncertainty(systematic, random), EdgeUncertainty(systematic / 2, random / 2)
