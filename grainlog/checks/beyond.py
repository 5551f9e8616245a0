"""What the line of a check looks like beyond its tip: the grain goes on there, and often it is dark by itself.

A check follows the grain, so past its tip the same line of the grain goes on, and light measures it as if it were a check of
some width. That width says how far the tip is in doubt, and seen again on a later day it tells a grown check from the grain.
"""

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d

from grainlog.checks.board import Board
from grainlog.checks.profile import (
    REACH_MM,
    STEP_MM,
    darkest_line,
    even_path,
    normals_of,
    strip_at,
    widths_at,
)

#: The line is followed this far past the tip, mm, in steps, and each step is led by so much of what lies behind it.
FOLLOWED_MM, STEP_ON_MM, LED_BY_MM = 48.0, 8.0, 24.0
#: Each step is moved onto the darkest line within this, mm, seen at this standard deviation.
ASIDE_MM, LINE_MM = 1.0, 0.45
#: What of the check itself is measured along with it, mm.
_BACK = 60
#: The hairline of the check's own tip is left out, mm; and so many stations are needed to say something.
HAIRLINE_MM, LEAST_STATIONS = 6.0, 12
#: In plain wood the darkest line nearby measures as wide as this, mm: three quarters of made-up views lie below.
PLAIN_MM = 0.3


@dataclass(frozen=True)
class Beyond:
    """The line past one tip, a station every mm as far as wood shows there.

    path : (n, 2) float64, slab frame, mm, away from the tip
    width : (n,) float64, mm, as if it were a check
    """

    path: np.ndarray
    width: np.ndarray

    @property
    def grain_width(self) -> float:
        """How wide the line would be as a check, mm; 0 where too little of it shows."""
        some = self.width[round(HAIRLINE_MM / STEP_MM) :]
        return float(np.median(some)) if len(some) >= LEAST_STATIONS else 0.0

    @property
    def dark(self) -> float:
        """By how much the line is wider than that of plain wood, mm."""
        return max(self.grain_width - PLAIN_MM, 0.0)


def beyond(
    board: Board, path: np.ndarray, inside: tuple[float, float] | None
) -> Beyond:
    """Follow the line of a check past the last point of its path; `inside` as for `measure_profile`.

    path : (n, 2) float64, slab frame, mm
    """
    line = even_path(path, STEP_MM)[-_BACK:]
    start = len(line)
    for _ in range(round(FOLLOWED_MM / STEP_ON_MM)):
        line = _stepped(board, line)
    offsets, strip, known = strip_at(board, line, REACH_MM)
    profile = widths_at(line, offsets, strip, known, board.mm_per_px, inside)
    shows = known[start:]
    end = start + (int(np.argmin(shows)) if not shows.all() else len(shows))
    return Beyond(profile.path[start:end], profile.width[start:end])


def _stepped(board: Board, line: np.ndarray) -> np.ndarray:
    reach = min(len(line) - 1, round(LED_BY_MM / STEP_MM))
    behind, ahead = line[-1 - reach : len(line) - reach + 3].mean(0), line[-4:].mean(0)
    way = (ahead - behind) / max(np.linalg.norm(ahead - behind), 1e-9) * STEP_MM
    line = np.vstack(
        [line, line[-1] + way * np.arange(1, round(STEP_ON_MM / STEP_MM) + 1)[:, None]]
    )
    tail = line[-48:]
    offsets, strip, _ = strip_at(board, tail, ASIDE_MM + 2 * LINE_MM)
    aside = darkest_line(
        gaussian_filter1d(strip, 2.0 / STEP_MM, axis=0, mode="nearest"),
        offsets,
        LINE_MM,
        ASIDE_MM,
    )
    # What lies further behind stays where it is.
    aside *= np.clip((np.arange(len(tail)) - (len(tail) - 16)) / 8, 0, 1)
    return np.vstack([line[: -len(tail)], tail + aside[:, None] * normals_of(tail)])
