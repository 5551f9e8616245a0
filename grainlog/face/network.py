"""A learned opinion on each pixel of a flat view: a small convolutional network of our own, run by OpenCV on one core.

The weights, `face_model.onnx`, come from `calibration/face_model` (see the model card there); nothing here trains.
"""

import math
from dataclasses import dataclass
from functools import cache
from importlib import resources

import cv2
import numpy as np

from grainlog.scale.flat import FlatView

CLASSES = ("wood face", "bark or flank", "check or hole", "card or tag", "everything else")
WOOD, FLANK, VOID, CARD, OTHER = range(5)

#: Trained at 3.2 to 6.5 mm/px: best at the first of these, quick at the second.
BEST_MM_PER_PX, QUICK_MM_PER_PX = 4.0, 6.0
_MOST_PIXELS = 560_000
#: The U-Net halves its picture five times.
_MULTIPLE = 32
_MOST_SLANT = 2.0


@dataclass(frozen=True)
class Opinion:
    """What the network says of each pixel of a view.

    classes : (h, w, 5) float32
        Probability of each class, in the order of `CLASSES`; adds up to 1. What is not seen counts as everything else.
    hidden : (h, w) float32
        Probability that a face goes on there behind something, 0 where nothing is seen.
    """

    classes: np.ndarray
    hidden: np.ndarray


@dataclass(frozen=True)
class FaceNetwork:
    """The network with its weights; get the one that is loaded once from `face_network`."""

    net: cv2.dnn.Net

    def looked_at(self, view: FlatView, mm_per_px: float = BEST_MM_PER_PX) -> Opinion:
        """What each pixel of a view shows, and what it hides.

        The network works at `mm_per_px` (coarser for a very large view), whatever the view's own resolution. What the photo
        does not show, and cards that were found, are told to the network, and so is where the camera stands: a flank shows
        on the side that faces it.

        Method: Ronneberger, Fischer and Brox 2015, "U-Net: Convolutional Networks for Biomedical Image Segmentation".
        """
        h, w = view.seen.shape
        mm_per_px = max(mm_per_px, view.mm_per_px * math.sqrt(h * w / _MOST_PIXELS))
        factor = view.mm_per_px / mm_per_px
        size = max(1, round(w * factor)), max(1, round(h * factor))
        picture = _padded(_picture(view, size))
        self.net.setInput(picture)
        said = self.net.forward()[0, :, : size[1], : size[0]]
        logits, odds = said[: len(CLASSES)], said[len(CLASSES)]
        scores = np.exp(logits - logits.max(0))
        scores /= scores.sum(0)
        back = cv2.resize(np.ascontiguousarray(scores.transpose(1, 2, 0)), (w, h), interpolation=cv2.INTER_LINEAR)
        back[~view.seen] = np.eye(len(CLASSES))[OTHER]
        hidden = cv2.resize(1 / (1 + np.exp(-np.clip(odds, -30, 30))), (w, h), interpolation=cv2.INTER_LINEAR)
        hidden[~view.seen] = 0
        return Opinion(back / back.sum(-1, keepdims=True), hidden)


def face_odds(scores: np.ndarray) -> np.ndarray:
    """(h, w, 5) class scores to (h, w) float32 log odds of the face, voids in it included, against everything else."""
    face = scores[..., [WOOD, VOID]].sum(-1)
    return np.log((face + 0.05) / (1 - face + 0.05))


def three_ways(scores: np.ndarray) -> np.ndarray:
    """(h, w, 5) class scores to (h, w, 3) float32 log scores of wood (voids too), bark or flank, and ground.

    The best of each pixel is 0; a card says nothing about what it hides.
    """
    merged = np.stack([scores[..., WOOD] + scores[..., VOID], scores[..., FLANK], scores[..., OTHER]], -1)
    log = np.log(merged + scores[..., CARD, None] / 3 + 0.02)
    return log - log.max(-1, keepdims=True)


@cache
def face_network() -> FaceNetwork:
    """The network of the package, loaded once."""
    weights = np.frombuffer(resources.files(__package__).joinpath("face_model.onnx").read_bytes(), np.uint8)
    return FaceNetwork(cv2.dnn.readNetFromONNX(weights))


def looked_at(view: FlatView, mm_per_px: float = BEST_MM_PER_PX) -> Opinion:
    """`FaceNetwork.looked_at` of the package's own network."""
    return face_network().looked_at(view, mm_per_px)


def class_scores(view: FlatView, mm_per_px: float = BEST_MM_PER_PX) -> np.ndarray:
    """The classes alone of `looked_at`, (h, w, 5) float32."""
    return looked_at(view, mm_per_px).classes


def _picture(view: FlatView, size: tuple[int, int]) -> np.ndarray:
    """(7, h, w) float32: red, green, blue -1..1, card, not seen, direction of the camera (x right, y down)."""
    w, h = size
    rgb = _resized(view.rgb, size).astype(np.float32) / 127.5 - 1
    seen = (_resized(view.seen.astype(np.float32), size) > 0.99).astype(np.float32)
    scale = np.array([w, h]) / np.array(view.seen.shape)[::-1]
    cards = np.zeros((h, w), np.uint8)
    for card in view.cards:
        corners = (view.to_px(card) + 0.5) * scale - 0.5
        cv2.fillPoly(cards, [np.round(np.clip(corners, -4000, 8000) * 16).astype(np.int32)], 1, shift=4)
    column, row = np.arange(w, dtype=np.float32), np.arange(h, dtype=np.float32)[:, None]
    camera = view.cameras_over(view.to_mm((np.stack(np.broadcast_arrays(column, row), -1) + 0.5) / scale - 0.5))
    foot = (view.to_px(camera[..., :2]) + 0.5) * scale - 0.5
    height = camera[..., 2:] / view.mm_per_px * scale
    toward = [
        np.clip((at - foot[..., k]) / height[..., k], -_MOST_SLANT, _MOST_SLANT) for k, at in enumerate((column, row))
    ]
    planes = [
        *np.moveaxis(rgb * seen[..., None], -1, 0),
        cards,
        1 - seen,
        *(np.broadcast_to(plane, (h, w)) for plane in toward),
    ]
    return np.stack(planes).astype(np.float32)


def _resized(image: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    smaller = size[0] < image.shape[1]
    return cv2.resize(image, size, interpolation=cv2.INTER_AREA if smaller else cv2.INTER_LINEAR)


def _padded(picture: np.ndarray) -> np.ndarray:
    """(1, 7, h, w) with h and w multiples of 32; what is added is unseen."""
    down, right = (-side % _MULTIPLE for side in picture.shape[1:])
    wider = np.pad(picture, ((0, 0), (0, down), (0, right)), mode="edge")
    wider[:4, picture.shape[1] :] = wider[:4, :, picture.shape[2] :] = 0
    wider[4, picture.shape[1] :] = wider[4, :, picture.shape[2] :] = 1
    return wider[None]
