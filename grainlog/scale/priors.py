"""What is believed before the corners are looked at: lens, cards, print, face. One place, each with its reason.

All of these are standard deviations of normal distributions (k = 1). They do not depend on how many cards there are.
A card layout that can tell better overrules them; one that cannot falls back on them, and the interval says so.
"""

from dataclasses import dataclass, replace
from math import hypot, radians
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from grainlog.scale.profile import CameraProfile

#: Diagonal of the 36 x 24 mm frame, mm (CIPA DCG-001: equivalence by the diagonal).
FULL_FRAME_DIAGONAL_MM = hypot(36.0, 24.0)

@dataclass(frozen=True)
class Ground:
    """How well a card lies in the plane that all cards share.

    tilt : float, rad, about each of two axes
    height : float, mm
    curl : float, mm, rise of an edge of the pattern over its middle, along each direction of the paper
    face_tilt : float, rad, tilt of the slab's face against the plane of the cards, about each of two axes
    face_height : float, mm, how much the ground under the slab differs from the ground under the cards
    """

    name: str
    tilt: float
    height: float
    curl: float
    face_tilt: float
    face_height: float


#: Grass, gravel, sawdust, a tarpaulin. Tilt and height: measured facts of the scale card's design note; the rest is
#: common practice, no source. Curl is the paper's own, the same on both: a flat card says nothing of the ground.
SOFT = Ground("soft", radians(1.5), 3.0, 1.0, radians(0.5), 3.0)
#: Concrete, a plank floor, the slab itself. Source as above.
HARD = Ground("hard", radians(0.3), 0.5, 1.0, radians(0.2), 0.5)


#: What refocusing changes between a profile's photos (from about half a metre) and a slab's. Focal length, relative:
#: thin lens equation for 7 mm, from 0.5 m to 2.5 m, 1.1 %. Centre, share of the longer side, and radial terms (a
#: stabilised lens also wanders): common practice, no source.
REFOCUSED_FOCAL, REFOCUSED_CENTRE, REFOCUSED_K1, REFOCUSED_K2 = 0.01, 0.002, 0.004, 0.004


@dataclass(frozen=True)
class Lens:
    """Focal length and distortion before the cards are looked at.

    focal_35mm : float or None
        35 mm-equivalent by the diagonal (CIPA DCG-001), mm, from the metadata.
    focal_spread : float
        Relative. Metadata rounds to whole millimetres and does not know of crops: 3 %.
    centre : float
        Principal point, share of the photo's width, each axis.
    k1, k2 : float
        Radial terms. Phones and cameras correct most of it before they write a JPEG; common practice, no source.
    centre_at : (float, float)
        Where the principal point is believed to be, from the middle of the photo, share of its longer side.
    k1_at, k2_at : float
        What the radial terms are believed to be.
    """

    focal_35mm: float | None
    focal_spread: float = 0.03
    centre: float = 0.01
    k1: float = 0.03
    k2: float = 0.02
    centre_at: tuple[float, float] = (0.0, 0.0)
    k1_at: float = 0.0
    k2_at: float = 0.0

    @classmethod
    def from_metadata(cls, focal_35mm: float | None) -> "Lens":
        """The prior of a photo whose metadata names `focal_35mm`, or None when it does not."""
        return cls(focal_35mm) if focal_35mm else cls(None, focal_spread=0.25)

    @classmethod
    def from_profile(
        cls, profile: "CameraProfile", size_px: tuple[int, int], quarter_turns: int | None = None
    ) -> "Lens":
        """The prior of a photo of `size_px` (width, height) whose camera has a profile.

        quarter_turns : how often the profile's photos would have to be turned clockwise to stand as this photo does. Left
        out, because the file does not say, the principal point's departure from the middle widens its spread instead.
        A photo smaller than the profile's may have been cut as well as reduced: its focal length is as sure as metadata.
        """
        side = max(profile.width_px, profile.height_px)
        focal_35mm = profile.focal_px * FULL_FRAME_DIAGONAL_MM / hypot(profile.width_px, profile.height_px)
        whole = max(size_px) == side
        lengths = profile.width_px, profile.height_px
        off = [(at - (length - 1) / 2) / side for at, length in zip(profile.centre_px, lengths)]
        centre = hypot(max(profile.centre_u_px) / side, REFOCUSED_CENTRE)
        if quarter_turns is None or not whole:
            at, centre = (0.0, 0.0), hypot(centre, *off)
        else:
            for _ in range(quarter_turns % 4):
                off = [-off[1], off[0]]
            at = (off[0], off[1])
        return cls(
            focal_35mm,
            hypot(profile.focal_u_px / profile.focal_px, REFOCUSED_FOCAL if whole else cls.focal_spread),
            centre if whole else max(centre, cls.centre),
            hypot(profile.k1_u, REFOCUSED_K1),
            hypot(profile.k2_u, REFOCUSED_K2),
            at,
            profile.k1,
            profile.k2,
        )


#: Middle of the weak prior where the metadata is silent: the main lens of a phone, 24 to 28 mm.
USUAL_FOCAL_35MM = 27.0


@dataclass(frozen=True)
class Print:
    """The size of the prints: measured length of the two 100 mm bars, mm, and how sure (one print stands for all).

    Unmeasured: 100 mm with 0.3 %, as home printers stretch (common practice, no source). Measured with a ruler to a
    quarter of a millimetre: 0.15 mm.
    """

    across_mm: float = 100.0
    down_mm: float = 100.0
    u_mm: float = 0.3
    measured: bool = False
    u_down_mm: float | None = None

    @property
    def spreads_mm(self) -> tuple[float, float]:
        """How sure each bar is, across and down; alike where nothing else is said."""
        return self.u_mm, self.u_mm if self.u_down_mm is None else self.u_down_mm

    @classmethod
    def ruler(cls, across_mm: float, down_mm: float) -> "Print":
        """Both bars measured with a ruler."""
        return cls(across_mm, down_mm, 0.15, True)


@dataclass(frozen=True)
class Setup:
    """How cards and slab lie, as the person says.

    cards_on : "floor" or "slab"
    slab_cards : frozenset of int
        With `cards_on="floor"`: the cards that lie on the slab all the same.
    thickness_mm, thickness_u_mm : float or None
        Thickness of the slab; needed when a card lies on the floor.
    lift_mm, lift_u_mm : float
        Underside of the slab above the surface that the floor cards lie on.
    card_thickness_mm, card_thickness_u_mm : float
        Print above the surface that the card lies on: paper and sleeve.
    ground : Ground or None
        None: judged from the photo between `HARD` and `SOFT`.
    """

    cards_on: str = "floor"
    slab_cards: frozenset[int] = frozenset()
    thickness_mm: float | None = None
    thickness_u_mm: float = 1.0
    lift_mm: float = 0.0
    lift_u_mm: float = 2.0
    card_thickness_mm: float = 0.3
    card_thickness_u_mm: float = 0.3
    ground: Ground | None = None
    print: Print = Print()

    def on_slab(self, card: int) -> bool:
        """Whether `card` lies on the slab's face."""
        return self.cards_on == "slab" or card in self.slab_cards

    def with_ground(self, ground: Ground) -> "Setup":
        """The same setup on a given ground."""
        return replace(self, ground=ground)

    def with_slab_cards(self, cards: frozenset[int]) -> "Setup":
        """The same setup with these cards on the slab."""
        return replace(self, slab_cards=frozenset(cards))
