"""From an opinion on each pixel to one region: the best straight box first, then a graph cut around it.

The box is the turned rectangle with the greatest sum of log odds: a slab is one long compact thing, and that holds
against look-alikes scattered over the ground. It is found, the looks are learned again from inside and outside it, and
so on a few times; only then the graph cut (Boykov and Jolly 2001, by cv2.grabCut's solver with our own odds) gives the
region its own shape.
"""

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np

from . import opinion
from .found import FaceNotFound
from .opinion import Looks

_BOX_PX_MM, _BOX_SIDE = 40.0, 90
_LEARN_MARGIN_MM = 60.0
LEARNED_WEIGHT = 2.0  # of the network's nats against those of the looks in this photo
_MUST = 2000.0  # what a pinned cell weighs in the search for the box: more than a whole slab, which weighs some hundreds
_MUST_NOT = 5.0
_RIM_MM, _OUTSIDE = 50.0, 0.05  # how near the frame, and along how much of a box's outline, it runs out of the photo
_WORTH_A_LOOK = 0.3  # a second box this good, beside one that runs out of the photo
_NAT = 11.0  # graph cut: one nat of odds against 50 for an edge without contrast; by eye on generated views


@dataclass(frozen=True)
class Box:
    """A turned rectangle: centre (x, y) px, size (along, across) px, angle of `along` in radians (rows down), score."""

    centre: tuple[float, float]
    size: tuple[float, float]
    angle: float
    score: float


@dataclass(frozen=True)
class Region:
    """Where the slab is, at low resolution.

    soft : (h, w) float32, 0..1
    odds : (h, w) float32, nats
        By the looks alone, without what the network thinks.
    box : Box
    rival : float
        Score of the best other box as a share of this one's, 0 to 1.
    cut_off : bool
        A larger one, which runs out of the photo, was passed over for this one.
    """

    soft: np.ndarray
    odds: np.ndarray
    box: Box
    rival: float
    cut_off: bool = False


def decide(
    looks: Looks, learned: np.ndarray, hint_px: np.ndarray | None = None, pinned: np.ndarray | None = None
) -> Region:
    """Find the slab's region.

    learned : (h, w) float32
        What the network thinks of each pixel (and a person's dabs lean it to): log odds of the slab's face (or a void in
        it) against everything else.
    hint_px : (n, 2) float, optional
        A rough polygon around the slab, pixels of the low-resolution view; takes the place of the first guess.
    pinned : (h, w) int8, optional
        1 where a person dabbed the wood that is meant, -1 where something else, 0 elsewhere.

    Of several slabs the one that is dabbed is meant; else the largest that the photo shows whole.

    Raises FaceNotFound where nothing stands out from the ground.
    """
    if hint_px is None:
        slab = 1 / (1 + np.exp(-learned))
        slab, other = np.where(looks.known_wood, 1, slab), 1 - slab
    else:
        slab, other = _from_hint(looks, hint_px)
        reach = max(1, round(80 / looks.view.mm_per_px))
        beyond = cv2.dilate((slab > 0).astype(np.uint8), np.ones((3, 3), np.uint8), iterations=reach) == 0
        looks = replace(looks, known_else=looks.known_else | beyond)
        other = np.where(beyond, 0, other)
    pinned = np.zeros(learned.shape, np.int8) if pinned is None else pinned
    angles = np.arange(18) * math.pi / 18
    box, cut_off = None, False
    for turn in range(2):
        odds = opinion.odds(looks, slab, other) + LEARNED_WEIGHT * learned
        box, rival = _best_box(odds, looks, angles, pinned)
        if turn == 0 and not (pinned > 0).any() and rival > _WORTH_A_LOOK and _runs_out(box, looks):
            rest = np.where(_across_box(box, odds.shape) < 0, -4.0, odds)
            whole, _ = _best_box(rest, looks, angles, pinned)
            if not _runs_out(whole, looks):
                box, cut_off = whole, True
                # The other one is passed over for good.
                looks = replace(looks, known_else=looks.known_else | ((rest < odds) & (_across_box(whole, odds.shape) > 0)))
        slab, other = _inside_outside(box, looks)
        angles = box.angle + np.radians([-12, -6, -3, 0, 3, 6, 12])
    pinned_looks = replace(
        looks, known_wood=looks.known_wood | (pinned > 0), known_else=(looks.known_else | (pinned < 0)) & (pinned <= 0)
    )
    for _ in range(2):
        odds = opinion.odds(looks, slab, other)
        mask = _cut(odds + LEARNED_WEIGHT * learned, box, pinned_looks, pinned > 0)
        slab, other = _learn(mask, looks)
    return Region(_soft(mask), odds, box, rival, cut_off)


def _runs_out(box: Box, looks: Looks) -> bool:
    """Whether a box, a little widened, reaches what the photo does not show along a fair part of its outline."""
    c, s = math.cos(box.angle), math.sin(box.angle)
    size = np.array(box.size) + 2 * _RIM_MM / looks.view.mm_per_px
    corners = np.array([[1, 1], [1, -1], [-1, -1], [-1, 1]]) * size / 2 @ np.array([[c, s], [-s, c]]) + box.centre
    rim = np.vstack([np.linspace(a, b, 60) for a, b in zip(corners, np.roll(corners, 1, axis=0))])
    at = np.round(rim).astype(int)
    inside = ((at >= 0) & (at < np.array(looks.view.seen.shape)[::-1])).all(1)
    shown = np.zeros(len(at), bool)
    shown[inside] = looks.view.seen[at[inside, 1], at[inside, 0]]
    # By length, not by side: a slab that runs out at one end has a short side outside.
    run = np.repeat(np.array([size[1], size[0], size[1], size[0]]), 60)
    return bool(run[~shown].sum() > _OUTSIDE * run.sum())


def _from_hint(looks: Looks, hint_px: np.ndarray):
    inside = opinion.cover(looks.view.to_mm(hint_px), looks.view)
    return inside, 1 - inside


def _best_box(odds: np.ndarray, looks: Looks, angles, pinned: np.ndarray) -> tuple[Box, float]:
    """The box of the greatest sum over all angles, and how near the best box that keeps clear of it comes.

    A pixel that is pinned as wood lies in it.
    """
    view = looks.view
    # The search goes with the third power of the side.
    scale = view.mm_per_px / max(_BOX_PX_MM, math.hypot(*odds.shape) * view.mm_per_px / _BOX_SIDE)
    value = np.clip(odds, -1.5, 1.5) - 0.15
    value[looks.known_else] = -1.5
    value[looks.known_wood] = 1.0
    h, w = value.shape
    side = int(math.ceil(math.hypot(h, w) * scale)) + 2
    small = cv2.resize(value, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    meant = _places(pinned > 0, small.shape)
    apart = _places(pinned < 0, small.shape) & ~meant
    small[apart] = -_MUST_NOT
    best, best_map = None, None
    for angle in angles:
        turn = cv2.getRotationMatrix2D(((small.shape[1] - 1) / 2, (small.shape[0] - 1) / 2), math.degrees(angle), 1)
        turn[:, 2] += (side - 1) / 2 - np.array([(small.shape[1] - 1) / 2, (small.shape[0] - 1) / 2])
        turned = cv2.warpAffine(small, turn, (side, side), flags=cv2.INTER_LINEAR, borderValue=-1.5)
        for x, y in np.argwhere(meant)[:, ::-1]:
            column, row = np.clip(np.round(turn @ [x, y, 1.0]).astype(int), 0, side - 1)
            turned[row, column] += _MUST
        score, rectangle = _greatest_sum(turned)
        if best is None or score > best[0]:
            best, best_map = (score, rectangle, angle, turn), turned
    score, (top, bottom, left, right), angle, turn = best
    score -= _MUST * meant.sum()
    if score <= 0:
        raise FaceNotFound("No slab stands out from the ground in this photo; draw its outline by hand and give it.")
    middle = np.array([(left + right) / 2, (top + bottom) / 2, 1.0])
    back = cv2.invertAffineTransform(turn)
    fx, fy = w / small.shape[1], h / small.shape[0]
    centre = (back @ middle + 0.5) * [fx, fy] - 0.5
    along, across = (right - left + 1) * fx, (bottom - top + 1) * fy
    if across > along:
        along, across, angle = across, along, angle + math.pi / 2
    rest = best_map.copy()
    rest[max(0, top - 3) : bottom + 4, max(0, left - 3) : right + 4] = -1.5
    # A dabbed slab may be the smaller one.
    rival = min(1.0, max(0.0, _greatest_sum(rest)[0]) / score)
    return Box((float(centre[0]), float(centre[1])), (along, across), float(angle % math.pi), float(score)), float(rival)


def _places(pinned: np.ndarray, shape) -> np.ndarray:
    """(h, w) bool at a lower resolution: at most a few cells of what is pinned, so that no stroke outweighs the picture."""
    small = cv2.resize(pinned.astype(np.float32), shape[::-1], interpolation=cv2.INTER_AREA) > 0
    at = np.argwhere(small)
    few = np.zeros(shape, bool)
    few[tuple(at[:: max(1, len(at) // 12)].T)] = True
    return few


def _greatest_sum(values: np.ndarray) -> tuple[float, tuple[int, int, int, int]]:
    """Sub-rectangle of the greatest sum: (sum, (top, bottom, left, right), all inclusive); Bentley 1984, Kadane's scan."""
    h = len(values)
    values = np.asarray(values, np.float32)
    down = np.vstack([np.zeros((1, values.shape[1]), np.float32), np.cumsum(values, 0)])
    top, bottom = np.triu_indices(h + 1, 1)
    run = np.cumsum(down[bottom] - down[top], 1)
    run = np.hstack([np.zeros((len(run), 1), run.dtype), run])
    lowest = np.minimum.accumulate(run, 1)
    gain = run - lowest
    row, right = np.unravel_index(int(gain.argmax()), gain.shape)
    left = int(run[row, : right + 1].argmin())
    return float(gain[row, right]), (int(top[row]), int(bottom[row]) - 1, left, int(right) - 1)


def _across_box(box: Box, shape) -> np.ndarray:
    """(h, w) float32, signed distance outside the box in pixels (negative inside; straight, not rounded, at corners)."""
    x, y = np.meshgrid(np.arange(shape[1], dtype=np.float32), np.arange(shape[0], dtype=np.float32))
    x, y = x - box.centre[0], y - box.centre[1]
    c, s = math.cos(box.angle), math.sin(box.angle)
    return np.maximum(np.abs(c * x + s * y) - box.size[0] / 2, np.abs(c * y - s * x) - box.size[1] / 2)


def _inside_outside(box: Box, looks: Looks):
    outside = _across_box(box, looks.label.shape) * looks.view.mm_per_px
    return (outside < -15).astype(np.float32), (outside > _LEARN_MARGIN_MM).astype(np.float32) * _near(outside)


def _near(outside_mm: np.ndarray) -> np.ndarray:
    """Ground close to the slab tells more about what borders on it than ground far off."""
    return 0.25 + np.exp(-np.maximum(outside_mm, 0) / 300).astype(np.float32)


def _learn(mask: np.ndarray, looks: Looks):
    mm = looks.view.mm_per_px
    inside = cv2.distanceTransform(mask, cv2.DIST_L2, 3) * mm
    # A shadow or bark that was taken in lies near the rim; what is learned must come from well inside.
    core = inside > min(35.0, 0.4 * float(inside.max()))
    outside = cv2.distanceTransform(1 - mask, cv2.DIST_L2, 3) * mm
    return core.astype(np.float32), (outside > 45).astype(np.float32) * _near(outside)


def _cut(odds: np.ndarray, box: Box, looks: Looks, meant: np.ndarray) -> np.ndarray:
    """(h, w) uint8 0/1: the graph cut, then the piece that fills the box, or of it the one with dabs; its holes filled."""
    outside = _across_box(box, odds.shape) * looks.view.mm_per_px
    place = np.clip(0.8 - np.maximum(outside, 0) / 90, -4, 0.8)
    place[outside < -60] = 1.2
    total = np.clip(odds + place, -5, 5)
    total[looks.known_wood] = 5
    image = np.dstack([(total * 25.5 + 127.5), (looks.colour[..., 0] - 2) * 60, 128 + looks.colour[..., 1] * 200])
    image = np.clip(image, 0, 255).astype(np.uint8)
    seeds = np.full(odds.shape, cv2.GC_PR_BGD, np.uint8)
    seeds[total > 0] = cv2.GC_PR_FGD
    seeds[looks.known_else | (outside > 450)] = cv2.GC_BGD
    seeds[looks.known_wood] = cv2.GC_FGD
    # One Gaussian each, alike but for the mean of the first channel, makes grabCut's unary exactly linear in the odds:
    # (s^2 - (s - 255)^2) / (2 v) = 255 (2 s - 255) / (2 v), which is _NAT units a nat when v = 255 * 25.5 / _NAT.
    ground, slab = (_one_gaussian(mean, 255 * 25.5 / _NAT) for mean in (0.0, 255.0))
    cv2.grabCut(image, seeds, None, ground, slab, 1, cv2.GC_EVAL_FREEZE_MODEL)
    found = ((seeds == cv2.GC_FGD) | (seeds == cv2.GC_PR_FGD)).astype(np.uint8)
    radius = max(1, round(22 / looks.view.mm_per_px))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * radius + 1,) * 2)
    count, pieces = cv2.connectedComponents(cv2.morphologyEx(found, cv2.MORPH_OPEN, disc), connectivity=4)
    share = np.bincount(pieces.ravel(), weights=(outside < 0).ravel(), minlength=count)
    share[0] = 0
    dabbed = np.bincount(pieces[meant], minlength=count) * (share > 0)
    if dabbed.any():
        # A slab close by may share the box.
        share = np.where(dabbed > 0, share, 0)
    if count < 2 or share.max() < 0.1 * box.size[0] * box.size[1]:
        raise FaceNotFound("No slab stands out from the ground in this photo; draw its outline by hand and give it.")
    piece = (pieces == int(share.argmax())).astype(np.uint8)
    rings, _ = cv2.findContours(piece, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return cv2.drawContours(np.zeros_like(piece), rings, -1, 1, cv2.FILLED)


def _one_gaussian(mean: float, variance: float) -> np.ndarray:
    """cv2.grabCut's model array: 5 weights, 5 means, 5 covariances; only the first component is used."""
    model = np.zeros((1, 65))
    model[0, 0] = 1
    model[0, 5:8] = [mean, 128, 128]
    model[0, 20:29] = np.diag([variance, 1e6, 1e6]).ravel()
    return model


def _soft(mask: np.ndarray) -> np.ndarray:
    return cv2.GaussianBlur(mask.astype(np.float32), (0, 0), 1.0)
