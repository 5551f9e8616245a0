"""Dabs: a person's "this is wood" and "this is not", as points or strokes, and what they tell about the pixels nearby.

Where a dab lies it is believed. Around it, what looks like it and lies within reach is leaned the same way; the cut and
the edge then carry it on to where the picture says that it ends.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from grainlog.scale.flat import FlatView

from .opinion import colour_features

#: How wide a stroke counts, mm: a thumb on a phone's picture of a slab; no source.
STROKE_MM = 16.0
#: How far a dab leans its surroundings (a standard deviation), mm, and by how much where they look the same, nats.
REACH_MM, LEAN = 180.0, 6.0
#: A visible difference of log light, red/green, blue/green; as in `opinion`, by eye.
_STEP = np.array([0.30, 0.06, 0.09], np.float32)

Strokes = tuple[np.ndarray, ...]


@dataclass(frozen=True)
class Dabs:
    """What a person dabbed, each stroke (n, 2) float64 (one point is a dab), all in px of the photo or all in mm.

    wood : strokes on the face of the slab that is meant
    other : strokes on anything else: bark, flank, ground, another slab
    """

    wood: Strokes = ()
    other: Strokes = ()

    def __bool__(self) -> bool:
        return bool(self.wood or self.other)

    def moved(self, change) -> "Dabs":
        """The same strokes with their points put through `change`, (n, 2) to (n, 2)."""
        return Dabs(*(tuple(change(stroke) for stroke in kind) for kind in (self.wood, self.other)))


def pins(view: FlatView, dabs: Dabs) -> np.ndarray:
    """(h, w) int8: 1 where wood was dabbed, -1 where something else was, 0 elsewhere; dabs in plane-frame mm."""
    pinned = np.zeros(view.seen.shape, np.int8)
    for kind, value in ((dabs.wood, 1), (dabs.other, -1)):
        for stroke in kind:
            pinned[_painted(view, stroke)] = value
    return pinned


def leaning(view: FlatView, dabs: Dabs) -> np.ndarray:
    """(h, w) float32: nats by which the dabs lean each pixel towards wood (above 0) or away from it."""
    lean = np.zeros(view.seen.shape, np.float32)
    if not dabs:
        return lean
    colour = colour_features(view.rgb)
    for kind, sign in ((dabs.wood, 1.0), (dabs.other, -1.0)):
        for stroke in kind:
            inside = _painted(view, stroke)
            looks = colour[inside]
            # As wide as the stroke's own spread, so that a stroke across rings takes both of their colours.
            width = np.maximum(looks.std(0), _STEP)
            like = np.exp(-0.5 * (((colour - looks.mean(0)) / width) ** 2).sum(-1))
            away = cv2.distanceTransform((~inside).astype(np.uint8), cv2.DIST_L2, 5) * view.mm_per_px
            lean += sign * LEAN * like * np.exp(-0.5 * (away / REACH_MM) ** 2)
    return np.clip(lean, -LEAN, LEAN)


def _painted(view: FlatView, stroke: np.ndarray) -> np.ndarray:
    """(h, w) bool: the pixels of a stroke, one at least that the photo shows where it lies inside the view."""
    mask = np.zeros(view.seen.shape, np.uint8)
    at = np.round(np.clip(view.to_px(stroke), -4000, 20000)).astype(np.int32)
    width = max(1, round(STROKE_MM / view.mm_per_px))
    cv2.polylines(mask, [at.reshape(-1, 1, 2)], False, 1, width)
    if len(at) == 1:
        cv2.circle(mask, at[0].tolist(), width // 2, 1, cv2.FILLED)
    if not mask.any():
        h, w = mask.shape
        x, y = np.clip(at[0], 0, [w - 1, h - 1])
        mask[y, x] = 1
    return mask > 0
