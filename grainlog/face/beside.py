"""Something that stands over the slab's edge, a person above all: beside the outline lies what the ground is not.

What hides an edge goes on outwards from it, farther than bark, flank and shadow, in a colour of its own. The network says where a face goes
on hidden (`hidden`); this tells some of those that it misses.
"""

import cv2
import numpy as np
import shapely
from scipy.ndimage import gaussian_filter1d

from grainlog.notes import Note
from grainlog.scale.flat import FlatView
from grainlog.units.factors import MM_PER_INCH
from grainlog.units.runs import runs

from .opinion import colour_features
from .strip import evenly

#: Along so much of the edge, mm, a person is told. Of 63 rendered photos with a person painted over a corner or an end 44 come to so
#: much (`tests/survey/spoilt_photo.py`); 93 without anybody come to 100 at most, things lying near the slab included.
HIDING_MM = 150.0
_STEP_MM, _BLUR_MM = 20.0, 10.0
_OUT_MM = np.arange(15.0, 151.0, 15.0)
_GROUND_MM = 90.0  # from here outwards mostly ground is seen
#: A difference of log light, red/green, blue/green that is seen; as in `dabs`, by eye.
_VISIBLE = np.array([0.30, 0.06, 0.09])
#: So many of these, or of the ground's own spread, are another thing: in colour, lighter, darker (a shadow is only darker).
_OTHER_COLOUR, _LIGHTER, _DARKER = 3.0, 3.0, 5.0
_MOST_OF_THE_WAY = 0.85


def hidden_mm(wood: np.ndarray, asked: FlatView) -> float:
    """The longest stretch of the edge, mm, from which something unlike the ground goes on outwards.

    wood : (n, 2) float64, plane frame, mm, anticlockwise; asked : a view with 150 mm around it
    """
    ring = evenly(wood, _STEP_MM)
    if len(ring) < 10:
        return 0.0
    along = gaussian_filter1d(np.roll(ring, -1, axis=0) - np.roll(ring, 1, axis=0), 2, axis=0, mode="wrap")
    outwards = np.column_stack([along[:, 1], -along[:, 0]]) / np.maximum(np.linalg.norm(along, axis=1), 1e-9)[:, None]
    places = ring[:, None] + outwards[:, None] * _OUT_MM[None, :, None]
    px = asked.to_px(places.reshape(-1, 2)).astype(np.float32).reshape(places.shape)
    colour = colour_features(cv2.GaussianBlur(asked.rgb, (0, 0), _BLUR_MM / asked.mm_per_px))
    colour = cv2.remap(colour, px[..., 0], px[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    told = cv2.remap(asked.seen.astype(np.uint8), px[..., 0], px[..., 1], cv2.INTER_NEAREST, borderValue=0) > 0
    for known in (wood, *asked.cards):
        told &= ~shapely.contains_xy(
            shapely.make_valid(shapely.Polygon(known)).buffer(10.0), places[..., 0], places[..., 1]
        )
    ground = colour[:, _OUT_MM >= _GROUND_MM][told[:, _OUT_MM >= _GROUND_MM]]
    if len(ground) < 20:
        return 0.0
    usual = np.median(ground, axis=0)
    spread = np.maximum(1.48 * np.median(np.abs(ground - usual), axis=0), _VISIBLE)
    off = (colour - usual) / spread
    other = (np.hypot(off[..., 1], off[..., 2]) > _OTHER_COLOUR) | (off[..., 0] > _LIGHTER) | (off[..., 0] < -_DARKER)
    return _longest_run((other & told).mean(1) > _MOST_OF_THE_WAY) * _STEP_MM


def _longest_run(is_so: np.ndarray) -> int:
    """The longest run of True in a ring."""
    if is_so.all():
        return len(is_so)
    turned = np.roll(is_so, -int(np.argmin(is_so)))
    return max((stop - first for first, stop in runs(turned)), default=0)


def hidden_notes(hidden: float) -> tuple[Note, ...]:
    """What a person should be told of it."""
    if hidden < HIDING_MM:
        return ()
    return (
        Note(
            "edge-hidden",
            f"Along {hidden / 1000:.1f} m ({hidden / MM_PER_INCH:.0f} in) of the edge somebody or something stands against the slab and may "
            "hide wood: if so, take it away, step out of the picture, and take the photo again.",
        ),
    )
