"""A learned opinion on where checks are: a small convolutional network of our own, run by OpenCV on one core.

The weights, `check_model.onnx`, come from `calibration/check_model` (see the model card there); nothing here trains.
"""

from functools import cache
from importlib import resources

import cv2
import numpy as np

from grainlog.checks.board import Board

#: The network's raster: mm along and across the grain per pixel. Checks are long and thin, so pixels are too.
ALONG_MM, ACROSS_MM = 1.5, 0.6
#: The network halves its picture three times after a first halving; what it gives is half as fine as what it takes.
_MULTIPLE = 16
#: Strips of the board are looked at one after another, this long, with this much on both sides for context, px.
_STRIP, _CONTEXT = 1024, 96


def picture_of(board: Board) -> np.ndarray:
    """(3, h, w) float32, what the network sees: light, warmth, wood; about -1 to 1."""
    h, w = board.wood.shape
    wide, high = max(8, round(w * board.mm_per_px / ALONG_MM)), max(8, round(h * board.mm_per_px / ACROSS_MM))
    planes = np.dstack([np.clip(board.light, 0, 2) - 1, np.clip(board.warmth * 3, -1, 1), board.wood.astype(np.float32)])
    planes = cv2.resize(planes, (wide, h), interpolation=cv2.INTER_AREA if wide < w else cv2.INTER_LINEAR)
    planes = cv2.resize(planes, (wide, high), interpolation=cv2.INTER_AREA if high < h else cv2.INTER_LINEAR)
    return np.ascontiguousarray(planes.transpose(2, 0, 1))


def check_share(board: Board) -> np.ndarray:
    """(h / 2, w / 2) float32 of the network's raster: how likely a check runs through each cell, 0 to 1."""
    picture = picture_of(board)
    _, h, w = picture.shape
    padded = np.pad(picture, ((0, 0), (0, -h % _MULTIPLE), (0, -w % _MULTIPLE)))
    parts, net = [], _network()
    for left in range(0, padded.shape[2], _STRIP):
        first, last = max(0, left - _CONTEXT), min(padded.shape[2], left + _STRIP + _CONTEXT)
        net.setInput(np.ascontiguousarray(padded[None, :, :, first:last]))
        logits = net.forward()[0, 0]
        skip = (left - first) // 2
        parts.append(logits[:, skip : skip + min(_STRIP, padded.shape[2] - left) // 2])
    logits = np.concatenate(parts, axis=1)[: (h + 1) // 2, : (w + 1) // 2]
    return 1 / (1 + np.exp(-np.clip(logits, -30, 30)))


@cache
def _network() -> cv2.dnn.Net:
    weights = np.frombuffer(resources.files(__package__).joinpath("check_model.onnx").read_bytes(), np.uint8)
    return cv2.dnn.readNetFromONNX(weights)
