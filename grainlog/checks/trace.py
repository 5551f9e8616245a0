"""From the network's opinion to rough paths: one line per check, along the grain.

Method: cells above a low threshold that hang together with one above a high threshold (Canny 1986), then in each group
the likeliest way from left to right by dynamic programming.
"""

import cv2
import numpy as np

from grainlog.checks.board import Board
from grainlog.checks.network import ACROSS_MM, ALONG_MM

#: Cells of a check are likelier than the second; somewhere it is likelier than the first.
SURE, LIKELY = 0.6, 0.25
#: At its tips a path is as likely as this; from there on its width says how far it goes.
TIP = 0.55
#: A rough path is at least this long, mm.
LEAST_MM = 12.0
#: A way may climb this many cells per cell along: 50 degrees.
_CLIMB = 3
#: Cells this near a traced way belong to it, mm across.
_OWN_MM = 3.0
CELL_MM = (2 * ALONG_MM, 2 * ACROSS_MM)


def rough_paths(share: np.ndarray, board: Board) -> list[tuple[np.ndarray, np.ndarray]]:
    """Paths (n, 2) in slab-frame mm, growing x, one point per cell, and the network's share (n,) along each.

    share : (h, w) float32, from `network.check_share` of the same board
    """
    # Cells of a check may be cut by a pencil line or a saw scratch: neighbours along the grain are joined.
    likely = cv2.morphologyEx((share > LIKELY).astype(np.uint8), cv2.MORPH_CLOSE, np.ones((1, 5), np.uint8))
    count, groups, boxes, _ = cv2.connectedComponentsWithStats(likely, connectivity=8)
    paths = []
    for group in range(1, count):
        left, top, width, height = boxes[group, :4]
        window = slice(top, top + height), slice(left, left + width)
        part = np.where(groups[window] == group, share[window], 0).astype(np.float64)
        inside = groups[window] == group
        while inside.any() and part.max() > SURE:
            columns, rows = _way(part, inside)
            strength = part[rows, columns]
            inside &= ~_own(rows, columns, inside)
            part = np.where(inside, part, 0)
            sure = np.flatnonzero(strength > TIP)
            if len(sure):
                kept = slice(sure[0], sure[-1] + 1)
                columns, rows, strength = columns[kept], rows[kept], strength[kept]
            if len(columns) * CELL_MM[0] >= LEAST_MM and strength.max() > SURE:
                paths.append((_to_mm(columns + left, rows + top, board), strength))
    return paths


def _way(part: np.ndarray, inside: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Columns and rows of the likeliest way through the stretch of columns around the likeliest cell."""
    used = inside.any(0)
    peak = int(np.unravel_index(np.argmax(part), part.shape)[1])
    first, last = peak, peak
    while first > 0 and used[first - 1]:
        first -= 1
    while last + 1 < len(used) and used[last + 1]:
        last += 1
    gain = np.log((part[:, first : last + 1] + 0.02) / 0.25)
    height, width = gain.shape
    best, came = gain[:, 0].copy(), np.zeros((height, width), np.int16)
    for column in range(1, width):
        padded = np.pad(best, _CLIMB, constant_values=-1e9)
        reach = np.stack([padded[k : k + height] - 0.15 * abs(k - _CLIMB) for k in range(2 * _CLIMB + 1)])
        choice = reach.argmax(0)
        came[:, column] = choice - _CLIMB
        best = reach[choice, np.arange(height)] + gain[:, column]
    rows = np.empty(width, int)
    rows[-1] = int(best.argmax())
    for column in range(width - 1, 0, -1):
        rows[column - 1] = rows[column] + came[rows[column], column]
    return np.arange(first, last + 1), rows


def _own(rows, columns, inside) -> np.ndarray:
    """Cells that belong to a way: those near it, and all that hang together with it across, as in a wide check."""
    mask = np.zeros(inside.shape, bool)
    reach = round(_OWN_MM / CELL_MM[1])
    for row, column in zip(rows, columns):
        first, last = row, row
        while first > 0 and inside[first - 1, column]:
            first -= 1
        while last + 1 < len(inside) and inside[last + 1, column]:
            last += 1
        mask[max(0, min(first, row - reach)) : max(last, row + reach) + 1, max(0, column - 1) : column + 2] = True
    return mask


def _to_mm(columns, rows, board: Board) -> np.ndarray:
    """Middle of output cells, slab frame: cell c covers pixels 2 c and 2 c + 1 of the network's picture."""
    x = board.corner_mm[0] - board.mm_per_px / 2 + (2 * columns + 1) * ALONG_MM
    y = board.corner_mm[1] + board.mm_per_px / 2 - (2 * rows + 1) * ACROSS_MM
    return np.column_stack([x, y]).astype(float)
