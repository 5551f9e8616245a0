"""A camera's own profile: photos of a printed scale card give its focal length and distortion once and for all.

A profile spares every later photo from finding the lens out of a few cards, and is what makes one card, or a sheet of
paper, trustworthy. It is kept as plain JSON data and found again by what the photo's metadata says of the camera.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import asdict, dataclass, fields
from datetime import date

import numpy as np

from grainlog.photo import Photo
from grainlog.scale import card as scale_card
from grainlog.scale.calibration import ALIKE, Fitted, PatternView, Sheet, fit_camera
from grainlog.scale.detect import SeenCard, find_cards
from grainlog.scale.errors import ScaleError
from grainlog.scale.priors import HARD, Print

#: Fewest photos. Between 8 and 15 is common practice, no source; the figures below decide whether they suffice.
LEAST_PHOTOS = 8
#: A card narrower than this share of the photo's longer side says too little about the lens.
LEAST_CARD_SHARE = 0.06
#: Fewest corners of a card that count here (a lens is bent most where cards are cut off, so those stay out).
LEAST_CORNERS = 10
#: The card must be seen from directions at least this far apart, rad (common practice, no source).
LEAST_TURN = np.radians(20.0)
#: Above these the photos do not tell the lens: share of the focal length, share of the longer side.
GREATEST_FOCAL_U, GREATEST_CENTRE_U = 0.005, 0.005
#: Corners of a flat, sharp card fit to 0.02 to 0.1 px; above this card, print or focus is at fault, px per axis.
GREATEST_RMS_PX = 0.6
#: Metadata rounds the 35 mm equivalent to whole millimetres.
SAME_FOCAL_MM = 0.5


@dataclass(frozen=True)
class CameraProfile:
    """What one camera at one focal length is like; `camera.Camera` in numbers, each with its standard uncertainty.

    make, model, focal_35mm_mm : as the photos' metadata says, or None
    width_px, height_px : of the photos it was made from, upright
    centre_px : principal point in those photos, centre of the first pixel at (0, 0)
    rms_px : of the corner residuals, per axis
    photos : how many were used
    day : when it was made, ISO 8601
    """

    make: str | None
    model: str | None
    focal_35mm_mm: float | None
    width_px: int
    height_px: int
    focal_px: float
    focal_u_px: float
    centre_px: tuple[float, float]
    centre_u_px: tuple[float, float]
    k1: float
    k1_u: float
    k2: float
    k2_u: float
    rms_px: float
    photos: int
    day: str

    def as_dict(self) -> dict:
        """Plain JSON data."""
        return asdict(self) | {"centre_px": list(self.centre_px), "centre_u_px": list(self.centre_u_px)}

    @classmethod
    def from_dict(cls, data: dict) -> "CameraProfile":
        """The profile that `as_dict` wrote. Raises ScaleError where a field is missing or makes no sense."""
        try:
            known = {field.name: data[field.name] for field in fields(cls)}
            for pair in ("centre_px", "centre_u_px"):
                x, y = known[pair]
                known[pair] = (float(x), float(y))
            numbers = [known[name] for name in ("focal_px", "focal_u_px", "width_px", "height_px", "k1", "k2")]
            if not (np.isfinite(np.array(numbers, float)).all() and min(numbers[:4]) > 0):
                raise ValueError
        except (KeyError, TypeError, ValueError) as wrong:
            raise ScaleError("This camera profile is damaged: make it again from photos of a scale card.") from wrong
        return cls(**known)

    def same_camera(self, make: str | None, model: str | None, focal_35mm_mm: float | None, size_px) -> bool:
        """Whether a photo with this metadata is this camera's, at its size, turned or made smaller as a whole."""
        if (make, model) != (self.make, self.model) or model is None:
            return False
        if (focal_35mm_mm is None) != (self.focal_35mm_mm is None):
            return False
        if focal_35mm_mm is not None and abs(focal_35mm_mm - self.focal_35mm_mm) > SAME_FOCAL_MM:
            return False
        long, short = max(size_px), min(size_px)
        whole_long, whole_short = max(self.width_px, self.height_px), min(self.width_px, self.height_px)
        return long <= whole_long and abs(whole_short * long / whole_long - short) <= 1.0


@dataclass(frozen=True)
class Matched:
    """The profile that a photo's lens is taken from.

    own : bool
        Whether it is one that was learned by the person, not one that came with grainlog.
    """

    profile: CameraProfile
    own: bool

    def as_dict(self) -> dict:
        """What a record says of it, as plain JSON data."""
        names = ("make", "model", "focal_35mm_mm", "photos", "day")
        return {"from": "own" if self.own else "shipped", **{name: getattr(self.profile, name) for name in names}}


def matching(profiles: Iterable[CameraProfile], photo: Photo) -> CameraProfile | None:
    """The latest profile of the camera that took `photo`, by its metadata; None where there is none.

    A photo that does not name its camera never matches.
    """
    fitting = [
        profile
        for profile in profiles
        if profile.same_camera(photo.make, photo.model, photo.focal_35mm_mm, (photo.width, photo.height))
    ]
    return max(fitting, key=lambda profile: profile.day) if fitting else None


def calibrate(photos: Iterable[Photo], prints: Print = Print(), day: date | None = None) -> CameraProfile:
    """Make a camera's profile from photos of scale cards.

    Parameters
    ----------
    photos : iterable of Photo
        Each shows one or several cards, anywhere; taken one at a time, so a generator keeps memory low.
    prints : Print
        The measured bars of the prints; what is left open of them is part of the uncertainty.
    day : date, optional
        Today, if left out.

    Raises
    ------
    ScaleError
        Several cameras, sizes or focal lengths; too few usable photos; views too alike; bent cards or a bad print.
    """
    shown = [(_identity(photo), (photo.width, photo.height), photo.name, _usable(photo)) for photo in photos]
    make, model, focal_35mm = _one_camera([identity for identity, *_ in shown])
    size = _one_size([size for _, size, *_ in shown])
    kept = [cards for _, photo_size, _, cards in shown if cards and photo_size == size]
    if len(kept) < LEAST_PHOTOS:
        blank = [name for _, photo_size, name, cards in shown if not cards or photo_size != size]
        named = f" (not usable: {', '.join(blank[:5])}{' ...' if len(blank) > 5 else ''})" if blank else ""
        raise ScaleError(
            f"Only {len(kept)} of {len(shown)} photos can be used{named}: take {LEAST_PHOTOS} to 15, held the same "
            "way round, each with a whole card sharp and at least a tenth of the photo wide."
        )
    stretch = np.array([prints.across_mm, prints.down_mm]) / 100
    views = [PatternView(seen.corners_mm * stretch, seen.corners_px, seen.card) for cards in kept for seen in cards]
    fitted = fit_camera(views, size, Sheet(np.sqrt(2) * prints.u_mm / 100, HARD.curl))
    _require_telling(fitted, size)
    return CameraProfile(
        make, model, focal_35mm, *size,
        fitted.focal_px, fitted.focal_u_px, fitted.centre_px, fitted.centre_u_px,
        fitted.k1, fitted.k1_u, fitted.k2, fitted.k2_u, fitted.rms_px,
        len(kept), (day or date.today()).isoformat(),
    )  # fmt: skip


def _require_telling(fitted: Fitted, size_px: tuple[int, int]) -> None:
    if fitted.rms_px > GREATEST_RMS_PX:
        raise ScaleError(
            f"The cards' corners fit only to {fitted.rms_px:.1f} px: stick the card to something flat and stiff, hold "
            "the camera still, keep its zoom as it is, and take the photos again."
        )
    unsure = fitted.focal_u_px / fitted.focal_px
    if (
        fitted.turn < LEAST_TURN
        or unsure > GREATEST_FOCAL_U
        or max(fitted.centre_u_px) > GREATEST_CENTRE_U * max(size_px)
    ):
        raise ScaleError(ALIKE)


def _identity(photo: Photo) -> tuple:
    return photo.make, photo.model, photo.focal_35mm_mm


def _one_camera(identities: list[tuple]) -> tuple:
    if not identities:
        raise ScaleError(f"A camera profile needs {LEAST_PHOTOS} to 15 photos of a scale card.")
    cameras = {identity[:2] for identity in identities}
    if len(cameras) > 1:
        named = " and ".join(sorted({model or "one that does not say" for _, model in cameras}))
        raise ScaleError(f"These photos are from different cameras ({named}): give those of one camera at a time.")
    focals = {focal for *_, focal in identities}
    known = [focal for focal in focals if focal is not None]
    if (None in focals and known) or (known and max(known) - min(known) > SAME_FOCAL_MM):
        raise ScaleError("These photos have different focal lengths: take all with the same lens and no zoom.")
    return identities[0]


def _one_size(sizes: list[tuple[int, int]]) -> tuple[int, int]:
    """The size of most photos; others may only be turned (they are left out: the file does not say which way)."""
    if len({tuple(sorted(size)) for size in sizes}) > 1:
        raise ScaleError(
            "These photos have different sizes: give them as the camera wrote them, none cropped or resized."
        )
    return Counter(sizes).most_common(1)[0][0]


def _usable(photo: Photo) -> tuple[SeenCard, ...]:
    least_px = LEAST_CARD_SHARE * max(photo.width, photo.height) * scale_card.MARKER_MM / scale_card.PATTERN_WIDTH_MM
    seen = find_cards(photo.pixels).cards
    return tuple(card for card in seen if len(card.corner_ids) >= LEAST_CORNERS and card.marker_px >= least_px)
