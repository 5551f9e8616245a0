"""Find the checks of a face in one flat view.

A network says where checks are, dynamic programming draws a line through each, and the light missing across that line
says how wide it is. What the network takes for a check and the light does not bear out is dropped.
"""

from itertools import pairwise

import numpy as np
import shapely

from grainlog.checks.beyond import Beyond, beyond
from grainlog.checks.board import Board, lay_board
from grainlog.checks.found import COUNTED_MM, Check, FoundChecks
from grainlog.checks.network import check_share
from grainlog.checks.profile import STEP_MM, Profile, inside_of, measure_profile
from grainlog.checks.trace import rough_paths
from grainlog.face.frame import SlabFrame
from grainlog.scale.flat import FlatView, Viewer
from grainlog.units.runs import runs

#: The flat view is taken this much finer than the photo, and never finer than the second, mm/px.
FINER, FINEST_MM = 0.9, 0.4
#: What the network did not follow is looked for this far beyond, mm.
BEYOND_MM = 4.0
#: What goes on there without tapering is faint below this width, mm, or this share of the check's own.
FAINT_MM, FAINT_SHARE = 1.2, 0.35
#: A check shorter than this, or of which the network is less sure, is not reported.
LEAST_LENGTH_MM, LEAST_CONFIDENCE = 13.0, 0.65
#: A dark place on the face that is not so many times longer than wide is a hole or a pocket of bark.
SLENDER = 6.0
#: Two pieces in line are one check where no more than this lies between their tips, along and across, mm.
GAP_MM, ASIDE_MM = 16.0, 2.5
#: A path that would meet a sawn end when carried on by this much meets it, mm.
TO_END_MM = 9.0
#: The outline of an end runs across the slab: its normal lies within 50 degrees of the axis.
_END_COSINE = 0.64
#: Standard uncertainties, set with made-up views: where a tip lies apart from its width, mm; of a width near the tip, mm;
#: of the greatest width, relative and mm (its raggedness is smoothed over).
_TIP_U_MM, _FAINT_U_MM, _GREATEST_U = 3.0, 0.12, (0.08, 0.08)
#: Where a dark line of the grain goes on beyond a tip, this share of its width is in doubt at the tip, and in the greatest width,
#: since the check lies on that line; and no tip is less sure than the second, mm.
_LINE_U, _MOST_TIP_U_MM = 0.5, 30.0
#: Greatest width of the narrowest check claimed, in photo pixels and at least in mm; measured with made-up views.
CLAIMED_PX, CLAIMED_MM = 1.1, 0.7
#: In photos coarser than this, mm per px (a long slab, several photos joined), what is both narrower than that and shorter than
#: so many pixels is not reported: of such, more are lines of the grain than checks.
COARSE_MM, SHORT_PX = 1.0, 40.0


def check_view(viewer: Viewer, photo_mm_per_px: float, wood: np.ndarray) -> FlatView:
    """The flat view to look for checks in: the wood only, a little finer than the photo.

    photo_mm_per_px : size of a photo pixel on the face
    wood : (n, 2) float64, plane frame, mm
    """
    left, bottom = wood.min(0) - 4
    right, top = wood.max(0) + 4
    return viewer.flat_view(max(FINEST_MM, FINER * photo_mm_per_px), (left, bottom, right, top))


def find_checks(
    view: FlatView,
    wood: np.ndarray,
    holes: tuple[np.ndarray, ...],
    frame: SlabFrame,
    photo_mm_per_px: float | None = None,
) -> FoundChecks:
    """Find the checks of a face.

    Parameters
    ----------
    view : FlatView
        Best from `check_view`; cards are left out by what the view tells of them.
    wood, holes : (n, 2) float64
        Outlines, plane frame, mm.
    frame : SlabFrame
        Paths come in this frame.
    photo_mm_per_px : float, optional
        Size of a photo pixel on the face; only for what is said of the smallest check. Default: that of the view.

    Returns
    -------
    FoundChecks
    """
    board = lay_board(view, wood, holes, frame)
    outline = shapely.Polygon(frame.to_slab(wood)).buffer(0)
    pieces = []
    for path, share in rough_paths(check_share(board), board):
        piece = _piece(board, outline, path, share)
        if piece is not None:
            pieces.append(piece)
    inside = inside_of([profile for *_, profile in pieces])
    checks = [_finished(board, outline, *piece, inside) for piece in _joined([(path, share) for path, share, _ in pieces])]
    coarse = photo_mm_per_px or view.mm_per_px
    least = max(CLAIMED_MM, CLAIMED_PX * coarse)
    kept = [check for check in checks if check is not None and _is_check(check) and not _faint(check, least, coarse)]
    kept.sort(key=lambda check: -check.length)
    return FoundChecks(tuple(kept), least, coarse)


def _piece(board: Board, outline, path, share):
    """The stretch of a rough path that is wide enough to count: (path, shares, profile)."""
    profile = measure_profile(board, path, BEYOND_MM)
    first, last, *_ = _counted(profile, path)
    if last - first < 8:
        return None
    return profile.path[first : last + 1], share, profile


def _joined(pieces):
    """Pieces in line joined, best-fitting first come."""
    pieces = sorted(pieces, key=lambda piece: piece[0][0, 0])
    done = False
    while not done:
        done = True
        for i, (one, share) in enumerate(pieces):
            for j, (two, other) in enumerate(pieces):
                if i != j and _in_line(one, two):
                    together = np.vstack([one, two[two[:, 0] > one[-1, 0] + 1]])
                    merged = (together, np.concatenate([share, other]))
                    pieces = [piece for k, piece in enumerate(pieces) if k not in (i, j)] + [merged]
                    done = False
                    break
            if not done:
                break
    return pieces


def _in_line(one, two) -> bool:
    gap = two[0] - one[-1]
    if not -GAP_MM / 2 < gap[0] < GAP_MM or two[-1, 0] < one[-1, 0] + 8 or one[0, 0] > two[0, 0] - 8:
        return False
    back, ahead = one[-1] - one[max(0, len(one) - 20)], two[min(len(two) - 1, 20)] - two[0]
    slope = (back[1] / max(back[0], 1) + ahead[1] / max(ahead[0], 1)) / 2
    return abs(gap[1] - slope * gap[0]) < ASIDE_MM


def _counted(profile: Profile, path: np.ndarray) -> tuple[int, int, float, float]:
    """First and last station of the longest stretch that counts, and how steeply the width falls at both ends."""
    counts = profile.known & (profile.width >= COUNTED_MM)
    core = (profile.path[:, 0] >= path[0, 0]) & (profile.path[:, 0] <= path[-1, 0])
    # A faint line that does not taper off beyond what the network followed is one of the grain.
    inner = np.flatnonzero(core & profile.known)
    if len(inner):
        faint = max(FAINT_MM, FAINT_SHARE * float(np.median(profile.width[inner])))
        for outer in (slice(0, inner[0]), slice(inner[-1] + 1, len(counts))):
            if counts[outer].size and counts[outer].all() and (profile.width[outer] < faint).mean() > 0.5:
                counts[outer] = False
    # Bridged where it is thin or hidden for no more than a gap.
    counts = _bridged(counts, round(GAP_MM / STEP_MM))
    best = (0, 0)
    for start, stop in runs(counts):
        if core[start:stop].sum() > core[best[0] : best[1]].sum():
            best = (start, stop)
    first, last = best[0], max(best[1] - 1, best[0])
    slopes = []
    for at, way in ((first, 1), (last, -1)):
        inner = int(np.clip(at + way * 8, 0, len(counts) - 1))
        slopes.append(abs(profile.width[inner] - profile.width[at]) / 8.0)
    return first, last, slopes[0], slopes[1]


def _bridged(counts: np.ndarray, most: int) -> np.ndarray:
    counts = counts.copy()
    at = np.flatnonzero(counts)
    for a, b in pairwise(at):
        if 1 < b - a <= most:
            counts[a:b] = True
    return counts


def _finished(board: Board, outline, path: np.ndarray, share: np.ndarray, inside) -> Check | None:
    profile = measure_profile(board, path, BEYOND_MM, inside)
    first, last, slope_first, slope_last = _counted(profile, path)
    if last - first < 8:
        return None
    path, width = profile.path[first : last + 1], profile.width[first : last + 1].copy()
    tips = [meets_end(outline, path[0], path[0] - path[min(12, len(path) - 1)]),
            meets_end(outline, path[-1], path[-1] - path[-1 - min(12, len(path) - 1)])]  # fmt: skip
    ends = [tip is not None for tip in tips]
    if ends[0]:
        path, width = np.vstack([tips[0], path]), np.concatenate([[width[0]], width])
    if ends[1]:
        path, width = np.vstack([path, tips[1]]), np.concatenate([width, [width[-1]]])
    found = profile.path[first : last + 1]
    lines = [None if at_end else beyond(board, way, inside) for at_end, way in zip(ends, (found[::-1], found))]
    tip_u = [
        _TIP_U_MM if line is None else _tip_u(profile.width_u[k], slope, line)
        for k, slope, line in zip((first, last), (slope_first, slope_last), lines)
    ]
    length = float(np.linalg.norm(np.diff(path, axis=0), axis=1).sum())
    greatest, max_width = int(np.argmax(width)), float(width.max())
    station = int(np.clip(first + greatest - ends[0], 0, len(profile.width) - 1))
    relative = np.hypot(profile.shared_u, _GREATEST_U[0])
    grain = max((line.grain_width for line in lines if line is not None), default=0.0)
    max_u = float(np.hypot.reduce([profile.width_u[station], _GREATEST_U[1], relative * max_width, _LINE_U * grain]))
    kind, end = "surface", None
    if any(ends):
        kind = "end"
        wide_end = 0 if ends[0] and (not ends[1] or width[0] >= width[-1]) else 1
        end = ("butt", "top")[wide_end]
        if wide_end == 1:
            path, width = path[::-1], width[::-1]
    keep = np.unique(np.append(np.arange(0, len(path), 2), len(path) - 1))
    # Of an end check with one tip in the wood, the line beyond that tip is kept.
    line = (lines[0] or lines[1]) if sum(ends) == 1 else None
    return Check(
        path[keep], width[keep], kind, end, length, float(np.hypot(*tip_u)), max_width, max_u,
        float(width.mean()), float(np.mean(share)), None if line is None else line.path[1::2], None if line is None else line.width[1::2],
    )  # fmt: skip


def _tip_u(width_u: float, slope: float, line: Beyond) -> float:
    """Standard uncertainty of where a tip lies, mm: that of the width there over the taper, and what the grain may add to it."""
    doubt = np.hypot(np.hypot(width_u, _FAINT_U_MM), _LINE_U * line.dark)
    return float(np.hypot(_TIP_U_MM, min(_MOST_TIP_U_MM, doubt / max(slope, 0.01))))


def _is_check(check: Check) -> bool:
    slender = check.kind == "end" or check.length >= SLENDER * check.max_width
    return slender and check.length >= LEAST_LENGTH_MM and check.confidence >= LEAST_CONFIDENCE


def _faint(check: Check, least_mm: float, mm_per_px: float) -> bool:
    return mm_per_px > COARSE_MM and check.max_width < least_mm and check.length < SHORT_PX * mm_per_px


def meets_end(outline, tip: np.ndarray, way: np.ndarray) -> np.ndarray | None:
    """(2,) where a path carried on from its tip meets a sawn end of the slab; None where it meets none."""
    way = way / max(np.linalg.norm(way), 1e-9)
    ray = shapely.LineString([tip, tip + way * TO_END_MM])
    met = shapely.intersection(ray, outline.exterior)
    if met.is_empty or abs(way[0]) < 0.5:
        return None
    points = shapely.get_coordinates(met)
    point = points[np.argmin(np.linalg.norm(points - tip, axis=1))]
    at = shapely.line_locate_point(outline.exterior, shapely.Point(point))
    around = [shapely.get_coordinates(shapely.line_interpolate_point(outline.exterior, (at + d) % outline.exterior.length))[0]
              for d in (-12.0, 12.0)]  # fmt: skip
    along = around[1] - around[0]
    normal = np.array([-along[1], along[0]]) / max(np.linalg.norm(along), 1e-9)
    low, _, high, _ = outline.bounds
    near = min(point[0] - low, high - point[0]) < 0.12 * (high - low)
    return point if abs(normal[0]) > _END_COSINE and near else None
