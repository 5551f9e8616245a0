"""A check that a person draws: where it runs is theirs to say, how wide it is the photo says."""

import numpy as np
import shapely

from grainlog.checks.board import Board
from grainlog.checks.find import meets_end
from grainlog.checks.found import Check
from grainlog.checks.profile import measure_profile
from grainlog.errors import WrongUse

#: How well a finger sets a tip on a picture of a slab, mm, standard deviation; common practice, no source.
TIP_U_MM = 5.0
#: A drawn check shorter than this is a slip of the finger, mm.
LEAST_MM = 10.0
#: Where the line is drawn, a check is looked for within what `measure_profile` moves it; the greatest width is of the
#: stations inside the drawn tips.
GREATEST_U = 0.08


def drawn_check(board: Board, wood: np.ndarray, path: np.ndarray) -> Check:
    """A check along a drawn path.

    board : Board
        The face, from `lay_board`.
    wood : (n, 2) float64
        The wood edge, slab frame, mm.
    path : (m, 2) float64
        As drawn, slab frame, mm, either way round.

    Raises WrongUse for a path that is too short or does not lie on the wood.
    """
    if path[-1, 0] < path[0, 0]:
        path = path[::-1]
    outline = shapely.Polygon(wood).buffer(0)
    drawn = shapely.LineString(path)
    if drawn.length < LEAST_MM:
        raise WrongUse("That check is shorter than a finger is wide; draw it from tip to tip.")
    if not outline.intersects(drawn):
        raise WrongUse("That check lies beside the wood; draw it on the face.")
    profile = measure_profile(board, path, 0.0)
    path, width = profile.path, profile.width
    tips = [meets_end(outline, path[0], path[0] - path[min(12, len(path) - 1)]),
            meets_end(outline, path[-1], path[-1] - path[-1 - min(12, len(path) - 1)])]  # fmt: skip
    if tips[0] is not None:
        path, width = np.vstack([tips[0], path]), np.concatenate([[width[0]], width])
    if tips[1] is not None:
        path, width = np.vstack([path, tips[1]]), np.concatenate([width, [width[-1]]])
    kind, end = "surface", None
    if any(tip is not None for tip in tips):
        wide_end = 0 if tips[0] is not None and (tips[1] is None or width[0] >= width[-1]) else 1
        kind, end = "end", ("butt", "top")[wide_end]
        if wide_end == 1:
            path, width = path[::-1], width[::-1]
    keep = np.unique(np.append(np.arange(0, len(path), 2), len(path) - 1))
    greatest = float(width.max())
    return Check(
        path[keep], width[keep], kind, end, float(np.linalg.norm(np.diff(path, axis=0), axis=1).sum()),
        TIP_U_MM * float(np.sqrt(2)), greatest,
        float(np.hypot(profile.width_u.max(), np.hypot(profile.shared_u, GREATEST_U) * greatest)), float(width.mean()), 1.0,
    )  # fmt: skip
