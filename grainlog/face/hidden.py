"""What hides part of the slab: a person above all, a thing, a sheet. The network says where a face goes on behind something.

Only what hangs together with the found outline counts: another slab behind somebody is not this one, and what the outline
holds is measured. And it has to look unlike the ground: a plain ground may pass for a sheet over the slab. What lies beside
the edge (`beside`) tells some of those that the network misses.
"""

from dataclasses import dataclass

import cv2
import numpy as np
import shapely

from grainlog.notes import Note
from grainlog.scale.flat import FlatView
from grainlog.units.factors import MM2_PER_SQUARE_FOOT

from . import beside
from .opinion import colour_features, cover

#: A face is thought to go on where it is so likely, and where a pixel is not black: into a black shadow slabs are thought to go on
#: too. By eye on ten rendered photos and 120 made views, with and without a person.
_LIKELY, _BLACK = 0.3, 20
#: In the midst of what hides a slab the network is surer: two thresholds, as Canny's (1986) for edges. Of 72 people told in those
#: photos and views the least sure comes to 0.82; the doubt about a dark fork or shadow stays grey all over.
_SURE = 0.75
#: So much is worth telling, mm2; on the ten photos without anybody it comes to 1,900 at most.
TOLD_MM2 = 5_000.0
#: What the confidence is at most where something hides the slab: as likely as not (no source).
SURE_AT_MOST = 0.6
#: What is hidden begins so near to the outline, mm: the flank of somebody's leg may lie between.
_NEAR_MM = 60.0
#: Ground is what lies so far from the outline and from what seems to hide it, mm: the body above the feet goes on outwards.
_OFF_SLAB_MM, _OFF_THING_MM = 100.0, 250.0
#: Colours are alike within such steps of log light, red/green, blue/green (as in `beside`, by eye), after so much blur, mm.
_VISIBLE, _BLUR_MM = np.array([0.30, 0.06, 0.09]), 10.0
#: This share of what hides the slab has colours three times as frequent there as on the ground. On those photos and views a person's
#: share was 0.88 or more, that of ground taken for a sheet 0.5 or less, with single exceptions beside a second slab.
_OWN_COLOUR, _AS_FREQUENT = 0.85, 3.0


@dataclass(frozen=True)
class Hidden:
    """How much of the slab is hidden.

    area_mm2 : of the face beyond the found outline
    beside_mm : along so much of the outline something goes on outwards that the ground is not
    """

    area_mm2: float
    beside_mm: float

    @property
    def is_told(self) -> bool:
        """Whether a person is told of it."""
        return self.area_mm2 >= TOLD_MM2 or self.beside_mm >= beside.HIDING_MM

    @property
    def sure_at_most(self) -> float:
        """What the confidence is at most."""
        return SURE_AT_MOST if self.is_told else 1.0

    def in_sight(self, wood: np.ndarray) -> float:
        """Share of the face that is in sight, 0 to 1. wood : (n, 2) float64, mm."""
        face = shapely.make_valid(shapely.Polygon(wood)).area
        return float(face / max(face + self.area_mm2, 1e-6))


def what_hides(wood: np.ndarray, view: FlatView, hidden: np.ndarray, asked: FlatView) -> Hidden:
    """How much of a slab is hidden.

    wood : (n, 2) float64, plane frame, mm
    view, hidden : the whole photo, for it shows all of a person, and the network's (h, w) probability that a face goes on there
        behind something
    asked : a view with 150 mm around the slab
    """
    return Hidden(hidden_mm2(wood, view, hidden), beside.hidden_mm(wood, asked))


def hidden_mm2(wood: np.ndarray, view: FlatView, hidden: np.ndarray) -> float:
    """Area, mm2, where the face goes on hidden beyond its outline `wood`; see `what_hides`."""
    likely = (hidden > _LIKELY) & view.seen & (view.rgb.max(-1) >= _BLACK) & (cover(wood, view) < 0.5)
    for card in view.cards:
        likely &= cover(card, view) < 0.1
    near = likely & _within(wood, _NEAR_MM, view)
    if not near.any():
        return 0.0
    _, part = cv2.connectedComponents(likely.astype(np.uint8))
    thing = np.isin(part, np.intersect1d(part[near], part[likely & (hidden > _SURE)]))
    if not thing.any():
        return 0.0
    return float(thing.sum()) * view.mm_per_px**2 if _own_colour(wood, view, thing) >= _OWN_COLOUR else 0.0


def _within(wood: np.ndarray, reach: float, view: FlatView) -> np.ndarray:
    """(h, w) bool: in the outline or so near to it, mm."""
    biggest = max(shapely.get_parts(shapely.make_valid(shapely.Polygon(wood)).buffer(reach)), key=lambda one: one.area)
    return cover(shapely.get_coordinates(biggest.exterior)[:-1], view) > 0.5


def _own_colour(wood: np.ndarray, view: FlatView, thing: np.ndarray) -> float:
    """Share of a thing, (h, w) bool, in colours that the ground hardly has, 0 to 1."""
    size = 2 * round(_OFF_THING_MM / view.mm_per_px) + 1
    around = cv2.dilate(thing.astype(np.uint8), cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))) > 0
    ground = view.seen & ~around & ~_within(wood, _OFF_SLAB_MM, view)
    for card in view.cards:
        ground &= cover(card, view) == 0
    colour = colour_features(cv2.GaussianBlur(view.rgb, (0, 0), _BLUR_MM / view.mm_per_px)) / _VISIBLE
    _, step = np.unique(np.round(colour).reshape(-1, 3), axis=0, return_inverse=True)
    step = step.reshape(thing.shape)
    there, elsewhere = (np.bincount(step[part], minlength=step.max() + 1) / max(part.sum(), 1) for part in (thing, ground))
    return float((there > _AS_FREQUENT * elsewhere)[step[thing]].mean())


def hidden_notes(hidden: Hidden) -> tuple[Note, ...]:
    """What a person should be told of it."""
    if hidden.area_mm2 < TOLD_MM2:
        return beside.hidden_notes(hidden.beside_mm)
    feet, metres = hidden.area_mm2 / MM2_PER_SQUARE_FOOT, hidden.area_mm2 / 1e6
    return (
        Note(
            "slab-hidden",
            f"Somebody or something in front of the slab hides about {feet:.1f} sq ft ({metres:.2f} m2) of it: step out of the "
            "picture, take it away, and take the photo again.",
        ),
    )
