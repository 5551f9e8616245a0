"""Where the wood ends, at full resolution: two lines through the unrolled band.

Going outwards every place along the outline shows wood, then perhaps bark or flank, then ground. The two transitions
are found together for the whole outline by dynamic programming (Amini, Weymouth and Jain 1990 for the method) over how
well the looks on each stretch fit wood, bark and ground; the three are learned from the band itself, partly close by
and partly from all of it, and learned again from the lines. Pale sapwood inside the edge is a look of wood, however
strong the step between it and the heartwood.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from scipy.ndimage import gaussian_filter, gaussian_filter1d

from .opinion import colour_features
from .strip import Strip

LOOKS = 40
WOOD, BARK, GROUND = range(3)
NOT_WOOD = 3  # bark or ground, a person said
_STEP = np.array([0.22, 0.05, 0.08, 0.6], np.float32)  # a visible difference in light, red, blue, roughness; by eye
_BIGGEST = 2.5  # nats that one sample may say
_LOCAL_MM = 180.0
LEARNED_WEIGHT = 0.5  # of the network's nats; its 4 mm pixels are seen by one or two samples each
SAPWOOD_MOST_MM = 50.0
BARK_MOST_MM = 30.0
SHADOW_MOST_MM = 110.0  # a cast shadow beside the slab lies between the lines too
_REACH = 2  # samples that a line may move from one place to the next


@dataclass(frozen=True)
class Lines:
    """Offsets of the two lines from the middle of the strip.

    wood, outer : (n,) float64, mm
        Wood edge; outer edge of whatever bark or flank shows (equal where none does).
    odds : (n, m) float32
        Log odds of wood against the rest for each sample, nats.
    separation : (n,) float64, 0..1
        How little the looks just inside and just outside the wood edge have in common.
    """

    wood: np.ndarray
    outer: np.ndarray
    odds: np.ndarray
    separation: np.ndarray


def two_lines(strip: Strip, ends: np.ndarray, known: np.ndarray, shown_mm: np.ndarray, learned: np.ndarray | None = None,
              rounds: int = 3, start: tuple[np.ndarray, np.ndarray] | None = None) -> Lines:
    """Find wood edge and outer edge.

    ends : (n,) bool
        Places on a sawn end, where bark is not expected.
    known : (n, m) int8
        WOOD or GROUND where a card or a dab says so, NOT_WOOD for either of the others, -1 elsewhere, -2 where nothing can be said.
    shown_mm : (n,) float
        How much of an upright flank the camera sees outside the face at each place; negative where it is hidden.
    learned : (n, m, 3) float32, optional
        What the network thinks of each sample: log probability of wood, bark and ground.
    start : two (n,) float, optional
        The two lines as far as they are known, mm from the middle; nothing is known without.
    """
    label, whole = _sort(strip)
    usable = strip.seen & ((known == -1) | (known == NOT_WOOD))
    step = strip.offsets[1] - strip.offsets[0]
    widest_mm = BARK_MOST_MM + 1.3 * np.maximum(shown_mm, 0)
    darker = _darker(strip, whole)
    pale = (1 - darker) * (shown_mm < 3)[:, None]
    sapwood = np.zeros_like(darker)
    if learned is not None:
        # Pale with dark bark farther out is sapwood: a flank that lost its bark has ground beyond it, not bark.
        sapwood = (1 - darker) * _farther_out(darker * _share(learned, BARK), round(SAPWOOD_MOST_MM / step))
        pale = np.maximum(pale, sapwood)
        learned = learned.copy()
        learned[..., WOOD] += pale * np.maximum(learned[..., BARK] - learned[..., WOOD], 0)
    if start is None:
        weights = _first_weights(strip, label, whole, usable, shown_mm)
        weights[..., BARK] *= 1 - pale
        weights[..., WOOD] = np.maximum(weights[..., WOOD], sapwood * usable * (strip.offsets < 0))
    else:
        weights = _weights_from((start[0] - strip.offsets[0]) / step + 0.5, (start[1] - start[0]) / step, usable, step)
    most = int(np.ceil(max(widest_mm.max(), SHADOW_MOST_MM) / step))
    for turn in range(rounds):
        # Before the lines are known the band close by may hold no wood at all, so the first models are the same for all.
        likelihood = _likelihood(label, weights, strip.step, local=turn > 0 or start is not None)
        # Bark is not paler than the wood beside it, sapwood is; only a flank in the light may be.
        likelihood[..., BARK] -= 2.5 * pale
        if learned is not None:
            likelihood += LEARNED_WEIGHT * learned
        likelihood[~usable] = 0
        likelihood[known == WOOD] = [0, -_BIGGEST, -_BIGGEST]
        likelihood[known == GROUND] = [-_BIGGEST, -_BIGGEST, 0]
        likelihood[known == NOT_WOOD] += [-2 * _BIGGEST, 0, 0]
        first, width = _best_pair(likelihood, ends, widest_mm / step, most)
        weights = _weights_from(first, width, usable, step)
    odds = likelihood[..., WOOD] - np.maximum(likelihood[..., BARK], likelihood[..., GROUND])
    middle = strip.offsets[0] - step / 2
    wood = middle + first * step
    return Lines(wood, wood + width * step, odds, _separation(label, first, usable, step))


def _share(log: np.ndarray, kind: int) -> np.ndarray:
    """(n, m) probability of a class from log probabilities that lack a common term."""
    chance = np.exp(log)
    return chance[..., kind] / chance.sum(-1)


def _farther_out(value: np.ndarray, reach: int) -> np.ndarray:
    """(n, m) the greatest of the next `reach` samples outwards, each the mean of itself and its neighbours."""
    steady = gaussian_filter(value, (2.0, 1.0), mode="nearest")
    out = np.zeros_like(steady)
    for ahead in range(2, reach + 1):
        np.maximum(out[:, :-ahead], steady[:, ahead:], out=out[:, :-ahead])
    return out


def _sort(strip: Strip) -> tuple[np.ndarray, np.ndarray]:
    """(n, m) int looks of the samples, and their light, red, blue and roughness, smoothed (n, m, 4)."""
    colour = colour_features(strip.rgb)
    # Roughness is measured along the edge only: across it every edge would be rough, and its halo taken for bark.
    detail = colour[..., 0] - gaussian_filter1d(colour[..., 0], 2, axis=0, mode="wrap")
    rough = np.log(np.sqrt(gaussian_filter(detail * detail, (2.0, 0.3))) + 0.02)
    whole = np.dstack([gaussian_filter(colour, (1.0, 0.5, 0), mode="nearest"), rough]).astype(np.float32)
    flat = np.ascontiguousarray((whole / _STEP).reshape(-1, 4))
    picked = np.ascontiguousarray(flat[:: max(1, len(flat) // 5000)])
    cv2.setRNGSeed(2)
    stop = (cv2.TERM_CRITERIA_MAX_ITER | cv2.TERM_CRITERIA_EPS, 12, 1e-2)
    _, _, centres = cv2.kmeans(picked, LOOKS, None, stop, 1, cv2.KMEANS_PP_CENTERS)
    label = ((centres * centres).sum(1)[None] - 2 * (flat @ centres.T)).argmin(1)
    return label.reshape(whole.shape[:2]), whole


def _first_weights(strip: Strip, label, whole, usable, shown_mm) -> np.ndarray:
    """(n, m, 3): what is surely inside, what is surely outside, and between them what looks like neither.

    Of the samples that look like neither, those darker than the wood nearby, or as dark but greyer, are taken for bark.
    Paler ones are sapwood; but where the camera looks at the flank, a barkless flank may be pale as well: there they
    are taken for flank if the edges where no flank can be seen show nothing like them.
    """
    s = strip.offsets[None]
    weights = np.zeros((*label.shape, 3), np.float32)
    weights[..., WOOD] = s < 0.7 * s[0, 0]
    weights[..., GROUND] = s > 0.5 * s[0, -1]
    weights *= usable[..., None]
    strange = _strange(label, weights, usable)
    darker = _darker(strip, whole)
    hidden = (shown_mm < 3)[:, None]
    clear = np.where(hidden, 1, s < -1.3 * shown_mm[:, None] - 12)
    weights[..., WOOD] += strange * (1 - darker) * (s > 0.7 * s[0, 0]) * (s < -10) * clear
    strange = _strange(label, weights, usable)
    weights[..., BARK] += strange * darker * (s > 0.6 * s[0, 0]) * (s < 0.4 * s[0, -1])
    flank = (~hidden & (s > -1.3 * shown_mm[:, None] - 12) & (s < 0) & usable).astype(np.float32)
    if flank.sum() > LOOKS:
        rim = hidden & (s > -45) & (s < 0) & usable
        parts = (flank, rim, weights[..., WOOD], weights[..., GROUND])
        counts = [np.bincount(label.ravel(), part.ravel(), LOOKS) for part in parts]
        shares = [count / max(count.sum(), 1e-6) for count in counts]
        own = np.clip(1 - 2.5 * np.max(shares[1:], axis=0) / np.maximum(shares[0], 1e-9), 0, 1)
        weights[..., BARK] = np.maximum(weights[..., BARK], flank * own[label])
    return weights


def _darker(strip: Strip, whole) -> np.ndarray:
    """(n, m) 0..1, how much each sample is darker, or as dark and greyer, than the wood near that place."""
    light, strength = whole[..., 0], whole[..., 1] - whole[..., 2]
    inner = strip.offsets < 0.7 * strip.offsets[0]
    level, hue = (gaussian_filter1d(np.median(part[:, inner], axis=1), 60 / strip.step, mode="wrap")[:, None]
                  for part in (light, strength))
    greyer = np.clip(hue - strength - 0.05, 0, 0.5)
    return 1 / (1 + np.exp(np.clip((light - level + 0.12 - 0.8 * greyer) / 0.08, -30, 30)))


def _strange(label, weights, usable) -> np.ndarray:
    """(n, m) 0..1, how rare each sample's look is among the samples of wood and of ground so far."""
    counts = np.stack([np.bincount(label.ravel(), weights[..., c].ravel(), LOOKS) for c in (WOOD, GROUND)])
    shares = (counts + 1e-9) / (counts.sum(1, keepdims=True) + 1e-6)
    return np.clip(1 - shares.max(0) * LOOKS, 0, 1)[label] * usable


def _weights_from(first, width, usable, step) -> np.ndarray:
    at = np.arange(usable.shape[1])[None] + 0.5
    t1, t2 = first[:, None], (first + width)[:, None]
    gap = max(1.0, 3.0 / step)
    parts = (at < t1 - gap), (at > t1 + gap / 2) & (at < t2 - gap / 2), (at > t2 + gap)
    return np.stack(parts, -1).astype(np.float32) * usable[..., None]


def _likelihood(label, weights, arc_step, local=True) -> np.ndarray:
    """(n, m, 3) float32 log likelihood of each sample under each class, relative to the best, at least -_BIGGEST."""
    n = len(label)
    row = np.arange(n)[:, None] * LOOKS + label
    chance = np.empty((3, n, LOOKS), np.float32)
    for kind in range(3):
        here = np.bincount(row.ravel(), weights[..., kind].ravel(), n * LOOKS).reshape(n, LOOKS)
        whole = here.sum(0)
        whole = (whole + 1e-3 * whole.sum() + 1e-6) / ((1 + 1e-3 * LOOKS) * whole.sum() + 1e-6 * LOOKS)
        if not local:
            chance[kind] = whole
            continue
        near = gaussian_filter1d(here, _LOCAL_MM / arc_step, axis=0, mode="wrap")
        # As many imagined samples of the whole band as half of what is usual nearby keep thin stretches sensible.
        keep = 0.5 * near.sum(1).mean() + 1e-6
        chance[kind] = (near + keep * whole) / (near.sum(1, keepdims=True) + keep)
    log = np.log(np.take_along_axis(chance, np.broadcast_to(label[None], (3, *label.shape)), axis=2) + 4e-3 / LOOKS)
    log = np.moveaxis(log, 0, -1)
    return np.maximum(log - log.max(-1, keepdims=True), -_BIGGEST)


def _best_pair(likelihood, ends, widest, most) -> tuple[np.ndarray, np.ndarray]:
    """Wood edge (sample boundary, 0..m) and width of what lies between the lines, for each place."""
    n, m = likelihood.shape[:2]
    total = np.concatenate([np.zeros((n, 1, 3), np.float32), likelihood.cumsum(1)], 1)
    t1, w = np.arange(m + 1)[:, None], np.arange(most + 1)[None, :]
    t2 = np.minimum(t1 + w, m)
    fit = (total[:, t1[:, 0], WOOD] - total[:, t1[:, 0], BARK])[:, :, None]
    fit = fit + (total[..., BARK] - total[..., GROUND])[:, t2] + total[:, -1, GROUND][:, None, None]
    fit = np.where(t1 + w <= m, fit, -1e6)
    dear = np.where(ends, 0.5, 0.06).astype(np.float32)[:, None] * w + np.where(ends, 4.0, 2.0)[:, None] * (w > 0)
    dear = dear + 0.15 * np.clip(w - widest[:, None], 0, None)
    fit = (fit - dear[:, None, :]).astype(np.float32)
    lead = min(30, n)
    order = np.concatenate([np.arange(n - lead, n), np.arange(n), np.arange(lead)])
    move, swell = np.float32(1.5), np.float32(0.5)
    reached = np.empty((len(order), m + 1, most + 1), np.float32)
    reached[0] = fit[order[0]]
    for i in range(1, len(order)):
        best = reached[i - 1].copy()
        for _ in range(_REACH):
            before = best.copy()
            np.maximum(best[1:], before[:-1] - move, out=best[1:])
            np.maximum(best[:-1], before[1:] - move, out=best[:-1])
        for _ in range(_REACH):
            before = best.copy()
            np.maximum(best[:, 1:], before[:, :-1] - swell, out=best[:, 1:])
            np.maximum(best[:, :-1], before[:, 1:] - swell, out=best[:, :-1])
        np.add(best, fit[order[i]], out=reached[i])
    path = np.empty((len(order), 2), int)
    path[-1] = np.unravel_index(int(reached[-1].argmax()), reached.shape[1:])
    far = np.abs(np.arange(-_REACH, _REACH + 1))
    price = move * far[:, None] + swell * far[None, :]
    for i in range(len(order) - 2, -1, -1):
        a, b = path[i + 1]
        a0, b0 = max(a - _REACH, 0), max(b - _REACH, 0)
        part = reached[i, a0 : a + _REACH + 1, b0 : b + _REACH + 1]
        cost = price[a0 - a + _REACH : a0 - a + _REACH + part.shape[0], b0 - b + _REACH : b0 - b + _REACH + part.shape[1]]
        da, db = np.unravel_index(int((part - cost).argmax()), part.shape)
        path[i] = a0 + da, b0 + db
    path = path[lead : lead + n]
    return path[:, 0].astype(float), path[:, 1].astype(float)


def _separation(label, first, usable, step) -> np.ndarray:
    """(n,) 1 minus the Bhattacharyya coefficient of the looks within 12 mm inside and 12 mm outside, over a hand's breadth."""
    at = np.arange(label.shape[1])[None] + 0.5 - first[:, None]
    reach = 12 / step
    n = len(label)
    row = (np.arange(n)[:, None] * LOOKS + label).ravel()
    sides = []
    for side in ((at < 0) & (at > -reach), (at > 0) & (at < reach)):
        count = np.bincount(row, (side & usable).ravel().astype(float), n * LOOKS).reshape(n, LOOKS)
        count = gaussian_filter1d(count, 8, axis=0, mode="wrap")
        sides.append(count / np.maximum(count.sum(1, keepdims=True), 1e-9))
    return 1 - np.sqrt(sides[0] * sides[1]).sum(1)
