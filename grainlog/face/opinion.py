"""What each pixel looks like at low resolution: log odds of slab against everything else, from colour and texture.

Pixels are sorted into a few dozen *looks* (clusters of colour, texture and grain direction). How often a look occurs
where the slab is thought to be, against where it is not, is the opinion; both are learned from the photo itself.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from grainlog.scale.flat import FlatView

LOOKS = 40
#: One step of each feature that counts as a visible difference: light, red, blue, roughness, two of grain direction.
#: Set by eye on generated views, no source. Light counts least, because of shadows.
_STEP = np.array([0.40, 0.07, 0.11, 0.70, 0.55, 0.55], np.float32)
_BIGGEST_ODDS = 3.0


@dataclass(frozen=True)
class Looks:
    """A low-resolution view, sorted.

    view : FlatView
        The view that `label` belongs to, pixel by pixel.
    label : (h, w) int32, 0..LOOKS-1
    colour : (h, w, 3) float32
        Light, red against green, blue against green (natural logarithms).
    known_else, known_wood : (h, w) bool
        Cards on the floor and what is not seen; cards on the face.
    """

    view: FlatView
    label: np.ndarray
    colour: np.ndarray
    known_else: np.ndarray
    known_wood: np.ndarray


def colour_features(rgb: np.ndarray) -> np.ndarray:
    """(..., 3) uint8 or float 0..255 sRGB to (..., 3) float32: log light, log red/green, log blue/green.

    The two ratios hardly change between sun and shade, the light does.
    """
    tone = np.log(np.asarray(rgb, np.float32) + np.float32(8.0))
    green = tone[..., 1]
    return np.stack([tone.mean(-1), tone[..., 0] - green, tone[..., 2] - green], -1)


def sort_looks(fine: FlatView) -> Looks:
    """Sort a view into looks at half its resolution.

    Texture needs pixels finer than the ones the decision is made on, so `fine` has twice the resolution of the result.
    """
    colour = colour_features(fine.rgb)
    light = colour[..., 0]
    detail = light - cv2.GaussianBlur(light, (0, 0), 3)
    roughness = cv2.GaussianBlur(detail * detail, (0, 0), 3)
    across, up = cv2.Scharr(detail, cv2.CV_32F, 1, 0), cv2.Scharr(detail, cv2.CV_32F, 0, 1)
    tensor = cv2.GaussianBlur(np.dstack([across * across, up * up, across * up]), (0, 0), 5)
    strength = tensor[..., 0] + tensor[..., 1] + 1e-6
    grain = np.dstack([(tensor[..., 0] - tensor[..., 1]) / strength, 2 * tensor[..., 2] / strength])
    whole = np.dstack([colour, np.log(np.sqrt(roughness) + 0.01), grain]).astype(np.float32)
    size = (max(1, fine.rgb.shape[1] // 2), max(1, fine.rgb.shape[0] // 2))
    whole = cv2.resize(whole[: size[1] * 2, : size[0] * 2], size, interpolation=cv2.INTER_AREA)
    view = _half(fine, size)
    known_else, known_wood = ~view.seen, np.zeros(view.seen.shape, bool)
    for card, on_face in zip(view.cards, view.cards_on_face):
        (known_wood if on_face else known_else)[cover(card, view) > 0.3] = True
    free = ~(known_else | known_wood)
    return Looks(view, _clusters(whole / _STEP, free), np.ascontiguousarray(whole[..., :3]), known_else, known_wood)


def odds(looks: Looks, slab: np.ndarray, other: np.ndarray) -> np.ndarray:
    """(h, w) float32, log odds of slab against everything else, nats.

    slab, other : (h, w) float
        Weight of each pixel as an example of slab and of everything else.
    """
    free = (~(looks.known_else | looks.known_wood)).ravel()
    label = looks.label.ravel()[free]
    counts = [np.bincount(label, weights=part.ravel()[free], minlength=LOOKS) for part in (slab, other)]
    shares = [(count + 0.002 * count.sum() + 1e-9) / (1 + 0.002 * LOOKS) for count in counts]
    ratio = np.log(shares[0] / shares[0].sum()) - np.log(shares[1] / shares[1].sum())
    return np.clip(ratio, -_BIGGEST_ODDS, _BIGGEST_ODDS).astype(np.float32)[looks.label]


def cover(polygon_mm: np.ndarray, view: FlatView) -> np.ndarray:
    """(h, w) float32 0..1, how much of each pixel a polygon covers (8 x 8 sub-pixels, exact to a sixty-fourth)."""
    h, w = view.seen.shape
    px = view.to_px(polygon_mm)
    mask = np.zeros((h, w), np.float32)
    least = np.clip(np.floor(px.min(0)).astype(int) - 1, 0, [w, h])
    most = np.clip(np.ceil(px.max(0)).astype(int) + 2, 0, [w, h])
    if (most <= least).any():
        return mask
    size = (most - least) * 8
    big = np.zeros((size[1], size[0]), np.uint8)
    corners = (px - least + 0.5) * 8 - 0.5
    ring = np.round(corners * 16).astype(np.int32)
    frame = np.array([[-32, -32], [size[0] + 32, -32], [size[0] + 32, size[1] + 32], [-32, size[1] + 32]], np.int32) * 16
    # cv2.fillPoly paints the border too, so what is filled is half a sub-pixel fat all round: the mean of the shape and
    # of what lies around it is not.
    inside = cv2.fillPoly(np.zeros_like(big), [ring], 255, shift=4)
    around = cv2.fillPoly(big, [frame, ring], 255, shift=4)
    both = cv2.addWeighted(inside, 0.5, cv2.bitwise_not(around), 0.5, 0)
    part = cv2.resize(both, tuple(int(v) for v in most - least), interpolation=cv2.INTER_AREA)
    mask[least[1] : most[1], least[0] : most[0]] = part.astype(np.float32) / 255
    return mask


def _half(fine: FlatView, size: tuple[int, int]) -> FlatView:
    rgb = cv2.resize(fine.rgb[: size[1] * 2, : size[0] * 2], size, interpolation=cv2.INTER_AREA)
    seen = cv2.resize(fine.seen[: size[1] * 2, : size[0] * 2].astype(np.float32), size, interpolation=cv2.INTER_AREA) > 0.99
    origin = fine.to_mm(np.array([[0.5, 0.5]]))[0]
    return replace(fine, rgb=rgb, seen=seen, mm_per_px=fine.mm_per_px * 2, origin_mm=origin)


def _clusters(whole: np.ndarray, free: np.ndarray) -> np.ndarray:
    """(h, w) int32 labels: k-means on a spread of the free pixels, then the nearest centre for all."""
    flat = whole.reshape(-1, whole.shape[-1])
    picked = np.flatnonzero(free.ravel())
    picked = picked[:: max(1, len(picked) // 6000)]
    if len(picked) < LOOKS:
        return np.zeros(free.shape, np.int32)
    cv2.setRNGSeed(1)
    stop = (cv2.TERM_CRITERIA_MAX_ITER | cv2.TERM_CRITERIA_EPS, 12, 1e-2)
    _, _, centres = cv2.kmeans(np.ascontiguousarray(flat[picked]), LOOKS, None, stop, 1, cv2.KMEANS_PP_CENTERS)
    far = (centres * centres).sum(1)[None, :] - 2 * (flat @ centres.T)
    return far.argmin(1).astype(np.int32).reshape(free.shape)
