"""Moving a rectangle of a given length about on the wood while it can get wider.

The rectangle is held by a point in its middle: at a tried place and angle it reaches up and down from there to the first
edges that come into its stretch, which for one length and one middle is exact and needs no sorting, so sixteen tries cost
little more than one.
"""

import math

import numpy as np

#: Directions of a climb, (turn, shift) in steps. A ridge between two edges can run in any of them, and steeply.
_MOVES = np.array(
    [(turn, shift) for turn in (-1, 1) for shift in (-3, -1, -0.3, -0.1, 0, 0.1, 0.3, 1, 3)]
    + [(0, shift) for shift in (-2, -0.5, 0.5, 2)]
)
_FIRST_TURN, _LAST_TURN = math.radians(0.6), math.radians(0.004)
_SHIFT_PER_TURN = 0.6
_GAIN, _MOST_STEPS = 1e-7, 150


def reaches(edges: np.ndarray, angles: np.ndarray, starts: np.ndarray, length: float, middle: np.ndarray) -> np.ndarray:
    """(k, 2) float64: how far down and up a rectangle reaches from its middle point, mm; nan where an edge is in the way.

    edges : (n, 4) float64, mm; angles, starts : (k,) as `rectangle.Strip` has them; middle : (2,) slab frame, mm
    """
    cosine, sine = np.cos(angles)[:, None], np.sin(angles)[:, None]
    x1, y1, x2, y2 = (edges[:, i] - middle[i % 2] for i in range(4))
    begin = starts[:, None] - (middle[0] * cosine + middle[1] * sine)
    u1, u2 = x1 * cosine + y1 * sine - begin, x2 * cosine + y2 * sine - begin
    v1, v2 = y1 * cosine - x1 * sine, y2 * cosine - x2 * sine
    within = (np.maximum(u1, u2) > 0) & (np.minimum(u1, u2) < length)
    run = u2 - u1
    slope = (v2 - v1) / np.where(run == 0, 1.0, run)
    near = v1 + (np.clip(u1, 0.0, length) - u1) * slope
    far = np.where(run == 0, v2, v1 + (np.clip(u2, 0.0, length) - u1) * slope)
    low, high = np.minimum(near, far), np.maximum(near, far)
    up = np.where(within & (low >= 0), low, np.inf).min(axis=1)
    down = np.where(within & (high <= 0), high, -np.inf).max(axis=1)
    blocked = (within & (low < 0) & (high > 0)).any(axis=1)
    out = np.stack([down, up], axis=1)
    out[blocked | ~np.isfinite(out).all(axis=1)] = np.nan
    return out


def climb(
    edges: np.ndarray, size: float, length: float, angle: float, start: float, strip: tuple[float, float], stride: float
) -> tuple[float, float, float]:
    """Width, angle and start after moving while the rectangle gets wider.

    strip : from where to where it reaches across at first, mm. stride : of the first moves, 1 is about half a degree.
    """
    low, high = strip
    width, turn = high - low, stride * _FIRST_TURN
    for _ in range(_MOST_STEPS):
        if turn <= _LAST_TURN:
            break
        cosine, sine = math.cos(angle), math.sin(angle)
        u, v = start + length / 2, (low + high) / 2
        middle = np.array([u * cosine - v * sine, u * sine + v * cosine])
        # Turned about its middle, not about the origin, so that a turn does not carry it off.
        angles = angle + _MOVES[:, 0] * turn
        shifts = _MOVES[:, 1] * turn * _SHIFT_PER_TURN * size
        starts = middle[0] * np.cos(angles) + middle[1] * np.sin(angles) - length / 2 + shifts
        reach = reaches(edges, angles, starts, length, middle)
        widths = reach[:, 1] - reach[:, 0]
        # Less than this is rounding, which never ends.
        if np.isnan(widths).all() or np.nanmax(widths) <= width + _GAIN * size:
            turn /= 2
            continue
        best = int(np.nanargmax(widths))
        width, angle, start = float(widths[best]), float(angles[best]), float(starts[best])
        across = middle[1] * math.cos(angle) - middle[0] * math.sin(angle)
        low, high = across + reach[best, 0], across + reach[best, 1]
    return float(width), angle, start
