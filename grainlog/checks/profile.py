"""How wide a check is along its path: the light that is missing across it, not the pixels that look dark.

Blur spreads a check's darkness but does not lose it. So each place is fitted with a dark slot of some width seen through
the photo's blur, and a check narrower than a pixel still has a width.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from scipy.ndimage import gaussian_filter1d, median_filter, minimum_filter1d
from scipy.special import erf

from grainlog.checks.board import Board

#: Stations along the path, mm.
STEP_MM = 1.0
#: The strip reaches this far to both sides, mm.
REACH_MM = 14.0
#: The path is moved onto the darkest line within this, mm.
MOVED_MM = 2.0
#: Light inside a check over that of the wood around, where the check is too narrow to see its bottom. Estimated by eye;
#: no source. The uncertainty covers checks that are shallow or hold dust.
INSIDE, INSIDE_U = 0.08, 0.07
#: Wide checks of a photo show how dark its checks are inside (a wet face shines there too): values that are tried, what is left
#: in doubt, and the stations it takes, each at least so many standard deviations of the blur wide.
INSIDES, SHOWN_U, LEAST_SHOWN, SHOWN_BLURS = (0.02, 0.05, 0.10, 0.15, 0.20, 0.25, 0.30, 0.35, 0.40, 0.45), 0.05, 15, 2.5
#: What is lighter than this, over the wood around, is no inside of a check but a knot or a stain that it crosses.
DARKEST_SEEN = 0.5
#: The fit looks this far to both sides, mm: first, and once more for wide checks.
WINDOW_MM = (5.0, 13.0)
#: Standard deviations of the photo's blur that are tried, in pixels of the board.
BLURS_PX = (0.8, 1.1, 1.4, 1.8)
#: Widths that are tried, mm.
GRID_MM = np.concatenate([np.arange(0, 2, 0.1), np.arange(2, 4, 0.2), np.arange(4, 14.1, 0.5)])
#: Widths are smoothed over about this length of path (standard deviation), mm.
SMOOTH_MM = 4.0


@dataclass(frozen=True)
class Profile:
    """A check's path and width, station by station, `STEP_MM` apart.

    path : (n, 2) float64, slab frame, mm
    width, width_u : (n,) float64, mm; u is one standard uncertainty, without what all stations share
    inside : float
        Light inside the check that the widths were computed with.
    shared_u : float
        Relative standard uncertainty that all widths of this check share.
    known : (n,) bool, whether the wood shows there
    left : (k,) float64
        What each of `INSIDES` leaves unexplained of the light where the check is wide, sum of shares.
    shown : int
        At how many stations.
    """

    path: np.ndarray
    width: np.ndarray
    width_u: np.ndarray
    inside: float
    shared_u: float
    known: np.ndarray
    left: np.ndarray
    shown: int


def inside_of(profiles: Sequence[Profile]) -> tuple[float, float] | None:
    """Light inside the checks of a photo and its standard uncertainty, by all wide ones together; None where there are too few."""
    if sum(profile.shown for profile in profiles) < LEAST_SHOWN:
        return None
    return INSIDES[int(np.argmin(sum(profile.left for profile in profiles)))], SHOWN_U


def measure_profile(board: Board, path: np.ndarray, beyond_mm: float, inside: tuple[float, float] | None = None) -> Profile:
    """Place a rough path exactly and measure the check along it, and `beyond_mm` past both ends.

    path : (n, 2) float64, slab frame, mm, growing x
    inside : light inside the checks of this photo and its u, from `inside_of`; None: not known
    """
    stations = even_path(_longer(even_path(path, 3.0), beyond_mm), STEP_MM)
    stations = _centred(board, stations, 0.45, MOVED_MM)
    offsets, strip, known = strip_at(board, stations, REACH_MM)
    first = widths_at(stations, offsets, strip, known, board.mm_per_px, inside)
    wide = float(np.quantile(first.width, 0.75))
    if wide < 2.0:
        return first
    # The middle of a wide check is that of all its darkness.
    stations = _centred(board, stations, 0.35 * wide, min(wide / 2, 4.0))
    offsets, strip, known = strip_at(board, stations, REACH_MM)
    return widths_at(stations, offsets, strip, known, board.mm_per_px, inside)


def _centred(board: Board, stations: np.ndarray, sigma: float, within: float) -> np.ndarray:
    offsets, strip, _ = strip_at(board, stations, within + 2.0 * sigma)
    shift = darkest_line(gaussian_filter1d(strip, 2.0 / STEP_MM, axis=0, mode="nearest"), offsets, sigma, within)
    return even_path(stations + shift[:, None] * normals_of(stations), STEP_MM)


def widths_at(stations, offsets, strip, known, mm_per_px, of_photo=None) -> Profile:
    """Fit each station's light with a sloping level times a dark slot of some width, seen through the photo's blur."""
    even = gaussian_filter1d(strip, 1.0 / STEP_MM, axis=0, mode="nearest")
    near = np.abs(offsets) <= WINDOW_MM[0]
    inside, inside_u = of_photo or (INSIDE, INSIDE_U)
    blur = min(BLURS_PX, key=lambda b: _fit(even[:, near], offsets[near], b * mm_per_px, inside)[1])
    width, _ = _fit(even[:, near], offsets[near], blur * mm_per_px, inside)
    left, shows = np.zeros(len(INSIDES)), (width > SHOWN_BLURS * blur * mm_per_px) & known
    if shows.any() and of_photo is None:
        light = even[shows][:, near]
        # A wider blur looks like a lighter inside, so each is tried with the blur that suits it.
        tried = [min(_fit(light, offsets[near], b * mm_per_px, one)[1] for b in BLURS_PX) for one in INSIDES]
        left = np.array(tried) * shows.sum() / max(np.mean(light**2), 1e-6)
    if np.quantile(width, 0.9) > 4.0 * blur * mm_per_px:
        # Wide enough somewhere to see its bottom: how dark it is there, and once more with that.
        wide = width > 4.0 * blur * mm_per_px
        far = np.abs(offsets) <= WINDOW_MM[1]
        core = np.abs(offsets) < 0.6 * blur * mm_per_px
        level = np.quantile(even[:, far], 0.6, axis=1)
        seen = float(np.median(even[wide][:, core] / level[wide, None]))
        if seen < DARKEST_SEEN:
            inside, inside_u = max(seen, 0.0), 0.03
        again, _ = _fit(even[:, far], offsets[far], blur * mm_per_px, inside)
        width = np.where(wide, again, width)
    width = median_filter(width, 5, mode="nearest")
    # Places whose smoothing along the path reaches past the wood say nothing; the line through the others goes on there.
    clear = minimum_filter1d(known.astype(np.uint8), 7, mode="nearest").astype(float)
    smooth = np.maximum(_smoothed(width, clear if clear.sum() > 8 else np.ones(len(clear)), SMOOTH_MM / STEP_MM), 0)
    rough = np.abs(width - smooth) * clear
    scatter = 1.2533 * gaussian_filter1d(rough, 12.0 / STEP_MM, mode="nearest")
    scatter /= np.maximum(gaussian_filter1d(clear, 12.0 / STEP_MM, mode="nearest"), 0.1)
    # Neighbouring stations share the smoothing above; so many are worth one.
    width_u = np.hypot(scatter / np.sqrt(SMOOTH_MM * 3.5 / 4.0), 0.04)
    return Profile(stations, smooth, width_u, inside, inside_u / (1 - inside), known, left, int(shows.sum()))


def _smoothed(values: np.ndarray, weight: np.ndarray, sigma: float) -> np.ndarray:
    """Local straight lines through weighted values (Cleveland 1979, with Gaussian weights)."""
    at = np.arange(len(values), dtype=float)
    near = np.exp(-0.5 * ((at[:, None] - at[None, :]) / sigma) ** 2) * weight[None, :] + 1e-9
    total = near.sum(1)
    middle, mean = near @ at / total, near @ values / total
    off = at[None, :] - middle[:, None]
    slope = (near * off * (values[None, :] - mean[:, None])).sum(1) / np.maximum((near * off**2).sum(1), 1e-6)
    return mean + slope * np.clip(at - middle, -1.5 * sigma, 1.5 * sigma)


def _fit(light: np.ndarray, offsets: np.ndarray, blur: float, inside: float) -> tuple[np.ndarray, float]:
    """Width (n,) mm of the slot that fits each row of light (n, m) best, and the mean square that is left.

    Level and slope are linear, so they are solved for each width of a grid; a parabola finds the place between.
    """
    grid, basis = _slots(offsets.tobytes(), blur, inside)
    explained = ((light @ basis) ** 2).reshape(len(light), 2, len(grid)).sum(1)
    left = ((light**2).sum(1)[:, None] - explained) / len(offsets)
    at = left.argmin(1)
    inner = np.clip(at, 1, len(grid) - 2)
    rows = np.arange(len(light))
    a, b, c = (left[rows, inner + d] for d in (-1, 0, 1))
    x0, x1, x2 = (grid[inner + d] for d in (-1, 0, 1))
    # The lowest point of the parabola through three unevenly spaced widths.
    down = (x1 - x0) ** 2 * (b - c) - (x1 - x2) ** 2 * (b - a)
    by = (x1 - x0) * (b - c) - (x1 - x2) * (b - a)
    best = x1 - 0.5 * down / np.where(np.abs(by) < 1e-12, np.inf, by)
    return np.where(at == inner, np.clip(best, x0, x2), grid[at]), float(left.min(1).mean())


@lru_cache(maxsize=64)
def _slots(offsets: bytes, blur: float, inside: float) -> tuple[np.ndarray, np.ndarray]:
    """Widths that are tried (k,) mm and what a row of light is compared with (m, 2 k): for each, level and slope of the slot.

    offsets : bytes of (m,) float64, mm
    """
    at = np.frombuffer(offsets)
    sigma = np.sqrt(2) * blur
    # A slot must leave some level wood in sight on both sides, or it could not be told from no slot.
    grid = GRID_MM[GRID_MM <= 1.1 * np.abs(at).max()]
    edges = grid[:, None] / 2
    dark = (erf((at + edges) / sigma) - erf((at - edges) / sigma)) / 2
    slot = 1 - (1 - inside) * dark
    basis = np.linalg.qr(np.stack([slot, slot * at], axis=-1))[0]
    return grid, np.ascontiguousarray(basis.transpose(1, 2, 0).reshape(len(at), -1))


def strip_at(board: Board, stations: np.ndarray, reach: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Offsets (m,) mm across the path, light (n, m), and whether the path itself shows wood (n,)."""
    step = min(0.4, board.mm_per_px / 1.5)
    offsets = np.arange(-round(reach / step), round(reach / step) + 1) * step
    points = stations[:, None, :] + offsets[None, :, None] * normals_of(stations)[:, None, :]
    px = board.to_px(points.reshape(-1, 2)).reshape(points.shape).astype(np.float32)
    light = cv2.remap(board.light, px[..., 0], px[..., 1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    middle = np.round(board.to_px(stations)).astype(int)
    h, w = board.wood.shape
    inside = (middle >= 0).all(1) & (middle[:, 0] < w) & (middle[:, 1] < h)
    known = np.zeros(len(stations), bool)
    known[inside] = board.wood[middle[inside, 1], middle[inside, 0]]
    return offsets, light.astype(np.float64), known


def darkest_line(strip: np.ndarray, offsets: np.ndarray, sigma: float, within: float) -> np.ndarray:
    """(n,) mm: the smooth line of least light near the middle, by dynamic programming and a parabola at its least."""
    free = np.abs(offsets) <= within
    cost = gaussian_filter1d(strip, sigma / (offsets[1] - offsets[0]), axis=1)[:, free] + 0.02 * np.abs(offsets[free])
    n, m = cost.shape
    total, came = cost[0].copy(), np.zeros((n, m), np.int8)
    # From the left, from straight behind, from the right: filled anew at each station, not made anew.
    reach = np.full((3, m), 1e9)
    for k in range(1, n):
        np.add(total[:-1], 0.06, out=reach[0, 1:])
        reach[1] = total
        np.add(total[1:], 0.06, out=reach[2, :-1])
        np.subtract(reach.argmin(0), 1, out=came[k], casting="unsafe")
        np.add(reach.min(0), cost[k], out=total)
    at = np.empty(n, int)
    at[-1] = int(total.argmin())
    for k in range(n - 1, 0, -1):
        at[k - 1] = at[k] + came[k, at[k]]
    return gaussian_filter1d(offsets[free][at], 2.5 / STEP_MM, mode="nearest")


def even_path(path: np.ndarray, step: float) -> np.ndarray:
    """The same line, n x 2, with points `step` apart, nearly, in its own unit; three at the least."""
    along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    at = np.linspace(0, along[-1], max(3, round(along[-1] / step) + 1))
    return np.column_stack([np.interp(at, along, path[:, k]) for k in (0, 1)])


def _longer(path: np.ndarray, by: float) -> np.ndarray:
    """Smoothed, and carried on straight at both ends."""
    path = np.column_stack([gaussian_filter1d(path[:, k], 1.5, mode="nearest") for k in (0, 1)])
    reach = min(len(path) - 1, 8)
    ends = []
    for tip, inner in ((path[0], path[reach]), (path[-1], path[-1 - reach])):
        way = tip - inner
        ends.append(tip + way / max(np.linalg.norm(way), 1e-9) * by)
    return np.vstack([ends[0], path, ends[1]])


def normals_of(path: np.ndarray) -> np.ndarray:
    """Unit vectors, n x 2, square to a line at each of its points, after smoothing it by three points."""
    smooth = np.column_stack([gaussian_filter1d(path[:, k], 3.0, mode="nearest") for k in (0, 1)])
    way = np.gradient(smooth, axis=0)
    way /= np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-9)
    return np.column_stack([-way[:, 1], way[:, 0]])
