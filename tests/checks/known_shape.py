"""What the widths of a photo can say of growth at all: a reader who is told each check's exact path and shape, and has only to shift it.

No method that goes by the widths of single looks can be expected to be nearer: what is left is the wood's own dark lines.
"""

from collections.abc import Iterable

import numpy as np

from grainlog.checks.board import Board
from grainlog.checks.profile import REACH_MM, STEP_MM, even_path, strip_at, widths_at
from tests.checks.scoring import Truth

#: A tip is looked at over this much of the line to both sides, and tried as far away, mm.
NEAR_MM, AWAY_MM = 30.0, 60.0
#: The path is carried on straight past its ends, mm.
_PAST_MM, _LED_BY = 48.0, 10


def shifts(board: Board, truth: Truth, tips: Iterable[int]) -> dict[int, float]:
    """How far each tip of a true check seems to lie beyond its true place, mm, by the widths along its true path.

    tips : -1 for the tip at the smaller x, 1 for the other
    """
    order = np.argsort(truth.path[:, 0])
    path, true = truth.path[order], truth.width[order]
    out = np.arange(2.0, _PAST_MM, 2.0)[:, None]
    lead = min(_LED_BY, len(path) - 1)
    first, last = (at + (at - inner) / np.linalg.norm(at - inner) * out for at, inner in ((path[0], path[lead]), (path[-1], path[-1 - lead])))
    line = np.vstack([first[::-1], path, last])
    true = np.concatenate([np.zeros(len(out)), true, np.zeros(len(out))])
    along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    stations = even_path(line, STEP_MM)
    at = np.linspace(0, along[-1], len(stations))
    true = np.interp(at, along, true)
    offsets, strip, known = strip_at(board, stations, REACH_MM)
    width = widths_at(stations, offsets, strip, known, board.mm_per_px).width
    wide = at[true >= 0.5 - 1e-6]
    found = {}
    for way in tips if len(wide) else ():
        beyond = way * (at - (wide[0] if way < 0 else wide[-1]))
        near = known & (beyond < NEAR_MM) & (beyond > -min(NEAR_MM, max(5.0, (wide[-1] - wide[0]) / 2)))
        if near.sum() > 12:
            tried = np.arange(-AWAY_MM, AWAY_MM + 1)
            off = [width[near] - np.interp(at[near] - way * shift, at, true) for shift in tried]
            # Widths may all be too great or too small: a dark line, a light check.
            found[way] = float(tried[np.argmin([np.abs(one - np.median(one)).sum() for one in off])])
    return found
