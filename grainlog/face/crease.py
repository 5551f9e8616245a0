"""The crease between two surfaces of like colour: faint where it is looked at, clear over a hand's breadth.

Light, colour and roughness change across it, however little; averaged along it, at several slopes, it stands out of the
noise. A line that bends slowly is then followed by dynamic programming over place and slope.
"""

import cv2
import numpy as np
from scipy.ndimage import gaussian_filter

from .opinion import colour_features
from .strip import Strip

SPACING_MM = 4.0  # of the places along a strip; its samples lie a millimetre apart
SLOPES = np.arange(-2, 3)  # offsets from one place to the next
_ALONG_MM, _ACROSS_MM = 25.0, 5  # over which a crease is averaged
_FAINT = np.array([0.004, 0.002, 0.003, 0.02], np.float32)  # steps of light, red, blue, roughness that nobody sees; by eye
_CLEAREST = 3.5  # no step says more: the one at the silhouette is the strongest, and not the one that is looked for
_TURN = 1.0  # price of bending by one slope, in units of noise; set on rendered views


def clearness(strip: Strip) -> np.ndarray:
    """(5, n, m) float32: how clear a step runs through each sample at each slope, in units of noise."""
    colour = colour_features(strip.rgb)
    along = np.abs(np.diff(colour[..., 0], axis=0, prepend=colour[:1, :, 0]))
    rough = np.log(gaussian_filter(along, (1.0, 0.7)) + 0.004)
    seen = np.dstack([colour, rough]).astype(np.float32)
    across = np.zeros((1, 2 * _ACROSS_MM + 1), np.float32)
    across[0, :_ACROSS_MM], across[0, -_ACROSS_MM:] = -1 / _ACROSS_MM, 1 / _ACROSS_MM
    step = cv2.filter2D(seen, -1, across, borderType=cv2.BORDER_REPLICATE)
    reach = int(2 * _ALONG_MM / SPACING_MM)
    rows = np.arange(-reach, reach + 1)
    weight = np.exp(-0.5 * (rows * SPACING_MM / _ALONG_MM) ** 2)
    steps = []
    for slope in SLOPES:
        slanted = np.zeros((2 * reach + 1, 2 * reach * abs(slope) + 1), np.float32)
        slanted[rows + reach, reach * abs(slope) + slope * rows] = weight / weight.sum()
        steps.append(cv2.filter2D(step, -1, slanted, borderType=cv2.BORDER_REPLICATE))
    level = steps[len(SLOPES) // 2]
    noise = np.median(np.abs(level - np.median(level, axis=(0, 1))), axis=(0, 1)) / 0.6745 + _FAINT
    return np.sqrt((np.clip(np.abs(np.stack(steps)) / noise, 0, _CLEAREST) ** 2).mean(-1))


def best_line(gain: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(n,) index of the line of the greatest gain (5, n, m), and of its slope; to turn by one slope costs `_TURN`."""
    slopes, n, m = gain.shape
    reached = np.full((slopes, m), 0, np.float32) + gain[:, 0]
    came = np.zeros((n, slopes, m), np.int8)
    never = np.float32(-1e6)
    for i in range(1, n):
        from_which = np.full((3, slopes, m), never)
        from_which[0, 1:] = reached[:-1] - _TURN
        from_which[1] = reached
        from_which[2, :-1] = reached[1:] - _TURN
        turn = from_which.argmax(0)
        best = from_which.max(0)
        reached = np.full((slopes, m), never)
        for k, slope in enumerate(SLOPES):
            low, high = max(slope, 0), m + min(slope, 0)
            reached[k, low:high] = best[k, low - slope : high - slope] + gain[k, i, low:high]
            came[i, k, low:high] = turn[k, low - slope : high - slope] - 1 + k
    slope, at = np.unravel_index(int(reached.argmax()), reached.shape)
    line, way = np.empty(n, int), np.empty(n, int)
    for i in range(n - 1, -1, -1):
        line[i], way[i] = at, slope
        at, slope = int(np.clip(at - SLOPES[slope], 0, m - 1)), came[i, slope, at]
    return line, way
