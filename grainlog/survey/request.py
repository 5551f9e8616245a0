"""What the person says about a photo: how the slab lies, how thick it is, which side is up."""

from dataclasses import dataclass, field

import numpy as np

from grainlog.errors import WrongUse
from grainlog.face.dabs import Dabs
from grainlog.face.measures import Thickness
from grainlog.scale.at_hand import KnownRectangle, TwoPoints
from grainlog.scale.priors import HARD, SOFT, Print, Setup
from grainlog.scale.profile import CameraProfile
from grainlog.scale.rectangle import Rectangle

GROUNDS = {"hard": HARD, "soft": SOFT}


@dataclass(frozen=True)
class HandOutline:
    """A hand-drawn wood edge in pixels of the upright photo, refined by the photo or taken as it is.

    Of several photos each point may name its own, (n, 3) instead of (n, 2); see `drawn`.

    wood_px : (n, 2) float64
    holes_px : tuple of (m, 2) float64
    as_drawn : bool
    bark_px, silhouette_px : (k, 2) float64 or None
        What was found of these before; they stay where they reach beyond the drawn edge. None: none is known.
    """

    wood_px: np.ndarray
    holes_px: tuple[np.ndarray, ...] = ()
    as_drawn: bool = False
    bark_px: np.ndarray | None = None
    silhouette_px: np.ndarray | None = None


@dataclass(frozen=True)
class FirstFace:
    """What the first survey of a slab fixed: its outline in the slab frame and which face it was.

    wood_mm : (n, 2) float64
    side : {"bark", "heart"} or None
    """

    wood_mm: np.ndarray
    side: str | None


@dataclass(frozen=True)
class Request:
    """Everything that is asked and nothing that is guessed.

    cards_on : {"floor", "slab"}
    slab_cards : frozenset of int
        Cards that lie on the slab although the others lie on the floor.
    thickness : Thickness or None
        Needed when a card lies on the floor; without it nothing that needs it is stated.
    lift_mm : float or None
        Underside of the slab above the surface that the floor cards lie on; never silently nothing.
    ground : {"hard", "soft"} or None
        None: judged from the photo.
    print : Print
    side : {"bark", "heart"} or None
        Which face is up.
    butt : {"left", "right", "bottom", "top"} or None
        Where the photo shows the butt end.
    outline : HandOutline or None
    dabs : Dabs
        What a person dabbed as wood or not, px of the upright photo (of several as in `drawn`); of several slabs the
        dabbed one is meant.
    cameras : tuple of CameraProfile
        Profiles of the cameras that were learned; the photo's own is found by its metadata, else among those that come with
        grainlog.
    reference : KnownRectangle, TwoPoints, Rectangle or None
        What gives the scale on the face where there is no card; a bare Rectangle is a white sheet to be found.
    first : FirstFace or None
        For a slab that was surveyed before: x = 0 is then the same end of the slab.
    cup_mm : float or None
        How far the face was read to be cupped, either way; None: not read, and little is allowed for.
    checks : bool
        Whether to look for checks; without, a survey is a second faster.
    marker : int or None
        Of several tags in the photo the one with this marker says which slab is meant; the only one does in any case.
    """

    cards_on: str = "floor"
    slab_cards: frozenset[int] = frozenset()
    thickness: Thickness | None = None
    lift_mm: float | None = None
    ground: str | None = None
    print: Print = field(default_factory=Print)
    side: str | None = None
    butt: str | None = None
    outline: HandOutline | None = None
    dabs: Dabs = field(default_factory=Dabs)
    cameras: tuple[CameraProfile, ...] = ()
    reference: KnownRectangle | TwoPoints | Rectangle | None = None
    first: FirstFace | None = None
    cup_mm: float | None = None
    checks: bool = True
    marker: int | None = None

    def __post_init__(self):
        if self.reference is not None and self.cards_on != "slab":
            object.__setattr__(self, "cards_on", "slab")  # what is at hand lies on the face; nothing else can be meant

    def setup(self) -> Setup:
        """The part that the scale solution needs.

        Raises
        ------
        WrongUse
            Cards on the floor without thickness or lift.
        """
        if self.cards_on == "floor":
            if self.thickness is None:
                raise WrongUse(
                    "With the cards on the floor the slab's thickness is needed (its face is nearer to the camera than the "
                    "cards): give it, as in --thickness 63.5mm, or lay the cards on the slab and say --cards-on slab."
                )
            if self.lift_mm is None:
                raise WrongUse(
                    "Say what the slab rests on: --lift 0mm when it lies on the same surface as the cards, else how high "
                    "its underside is above that surface, as in --lift 19mm for stickers."
                )
        return Setup(
            self.cards_on,
            self.slab_cards,
            self.thickness.mean_mm if self.thickness else None,
            thickness_u_mm=self.thickness.u_mm if self.thickness else 1.0,
            lift_mm=self.lift_mm or 0.0,
            ground=GROUNDS[self.ground] if self.ground else None,
            print=self.print,
        )
