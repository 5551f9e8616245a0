"""Two slabs that lie edge to edge, taken for one: a seam of bark, shadow and ground runs through such a face along the grain."""

import cv2
import numpy as np
import shapely

from grainlog.notes import Note
from grainlog.scale.flat import FlatView

from . import network
from .frame import slab_frame

#: From here two slabs were taken for one. On 9 rendered slabs laid edge to edge the seam came to 0.69 to 0.92, on 80 single ones to
#: 0.45 at most (a crotch), 0.32 but for that one.
TWO_SLABS = 0.57
#: What the confidence is at most then: do not go by the numbers.
SURE_AT_MOST = 0.3
_ALONG_MM, _ACROSS_MM = 8.0, 4.0
_EDGE = 0.2  # share of the local width, from each edge, in which bark and flank belong to the slab itself


def seam_of(wood: np.ndarray, asked: FlatView, scores: np.ndarray) -> float:
    """How much of the clearest way from end to end through the inner face the network takes for anything but wood, 0 to 1.

    wood : (n, 2) float64, plane frame, mm; asked, scores : a view around it and the network's class scores, (h, w, 5)

    A check or a hole counts half: a single slab has those too.
    """
    frame = slab_frame(wood)
    ring = frame.to_slab(wood)
    low, high = ring[:, 1].min(), ring[:, 1].max()
    x, y = np.arange(_ALONG_MM / 2, frame.length, _ALONG_MM), np.arange(low, high, _ACROSS_MM)
    if len(x) < 2 or len(y) < 5:
        return 0.0
    places = np.stack(np.meshgrid(x, y, indexing="ij"), -1)
    px = asked.to_px(frame.to_plane(places.reshape(-1, 2))).astype(np.float32).reshape(places.shape)
    other = scores[..., network.FLANK] + scores[..., network.OTHER] + 0.5 * scores[..., network.VOID]
    other = cv2.remap(np.ascontiguousarray(other, np.float32), px[..., 0], px[..., 1], cv2.INTER_LINEAR, borderValue=0)
    cuts = shapely.linestrings([[[at, low - 1], [at, high + 1]] for at in x])
    sides = shapely.bounds(shapely.intersection(cuts, shapely.make_valid(shapely.Polygon(ring))))[:, [1, 3]]
    margin = _EDGE * (sides[:, 1] - sides[:, 0])
    inner = (y > (sides[:, 0] + margin)[:, None]) & (y < (sides[:, 1] - margin)[:, None])
    # Never further aside than along: the best way so far, station by station (dynamic programming).
    best = np.full((3, len(y)), -np.inf)
    total = np.where(inner[0], other[0], -1.0)
    for here, allowed in zip(other[1:], inner[1:]):
        best[0, 1:], best[1], best[2, :-1] = total[:-1], total, total[1:]
        total = best.max(0) + np.where(allowed, here, -1.0)
    return float(max(0.0, total.max() / len(x)))


def seam_notes(seam: float) -> tuple[Note, ...]:
    """What a person should be told of it."""
    if seam < TWO_SLABS:
        return ()
    return (
        Note(
            "two-slabs-in-one",
            "Two slabs may have been taken for one: bark or a gap runs through the face from end to end. Move them apart and take "
            "the photo again, or stroke along the other one as not wood (--dabs).",
        ),
    )
