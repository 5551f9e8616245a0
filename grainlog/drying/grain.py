"""How the rings stand in a slab: how much of its width shrinks along the rings and how much across them.

A slab whose middle lies a distance d from the pith, w wide: at y from its middle line the radius makes an angle with
the width whose sine is d / sqrt(d2 + y2). With radial and tangential shrinkage as principal strains (Wood Handbook
ch. 4) a point shrinks in width by S_R cos2 + S_T sin2; averaged over the width, the tangential share is

    t = (2 d / w) arctan(w / (2 d))

(own derivation; round rings about a straight pith; the shear that cups a slab is left out). Flat-sawn far from the
pith t is 1; a slab through the pith has 0, a true quarter-sawn one. Thickness takes the remaining share.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from grainlog.drying.errors import DryingError

#: One standard uncertainty of the tangential share where it is worked out: pith wanders, rings are not round (common
#: practice, no source); where only "flat", "quarter" or "between" was said.
_WORKED_OUT_U = 0.07
_SAID_U = 0.12
RINGS = {"flat": 0.95, "between": 0.5, "quarter": 0.05}

#: A chainsaw mill's cut, mm (common practice, no source).
KERF_MM = 9.0


@dataclass(frozen=True)
class RingShare:
    """How much of width and thickness shrinks tangentially, 0 to 1, how sure, and on what ground.

    across, thickness : tangential share of the width's and of the thickness's shrinkage; they add to 1 where the
        place in the log is known and are both 1, the cautious case, where it is not.
    u : standard uncertainty of either; reaching from `across` downwards only where nothing is known.
    why : a clause for people.
    """

    across: float
    thickness: float
    u: float
    known: bool
    why: str


def cautious() -> RingShare:
    """Both taken as tangential, the larger shrinkage, because nobody said how the slab lay in the log.

    The share could be anything from 0 to 1; the root mean square of the distance from 1 is 1 / sqrt(3).
    """
    return RingShare(1.0, 1.0, 1 / math.sqrt(3), False, "the place in the log is not known: tangential, the cautious case")


def from_rings(rings: str) -> RingShare:
    """From a look at the end: "flat", "between" or "quarter". Raises DryingError."""
    if rings not in RINGS:
        raise DryingError(f"'{rings}' does not say how the rings stand; use {', '.join(RINGS)}.")
    share = RINGS[rings]
    how = {"flat": "lie flat", "between": "stand between flat and upright", "quarter": "stand upright"}[rings]
    return RingShare(share, 1 - share, _SAID_U, True, f"the rings {how}, as seen at the end")


def from_pith(distance_mm: float, width_mm: float) -> RingShare:
    """From the distance between the middle of the slab's thickness and the pith, and the slab's width, mm."""
    if not (math.isfinite(distance_mm) and distance_mm >= 0 and math.isfinite(width_mm) and width_mm > 0):
        raise DryingError("The distance to the pith has to be nothing or a length, and the width a length.")
    share = tangential_share(distance_mm, width_mm)
    return RingShare(
        share, 1 - share, _WORKED_OUT_U, True, f"the slab's middle lies {distance_mm:.0f} mm from the pith"
    )


def tangential_share(distance_mm: float, width_mm: float) -> float:
    """t of this module: 0 through the pith, towards 1 far from it."""
    if distance_mm == 0:
        return 0.0
    half = width_mm / (2 * distance_mm)
    return math.atan(half) / half


def pith_distance(order: int, pith_order: int, thicknesses_mm: Sequence[float], kerf_mm: float = KERF_MM) -> float:
    """Distance from the middle of slab `order` to the middle of the slab that holds the pith, mm.

    thicknesses_mm : of the slabs from the lower of the two orders to the higher, in order, both included.
    """
    count = abs(order - pith_order) + 1
    if len(thicknesses_mm) != count or not all(math.isfinite(t) and t > 0 for t in thicknesses_mm):
        raise DryingError("The thickness of every slab between this one and the pith is needed.")
    if count == 1:
        return 0.0
    return sum(thicknesses_mm) - (thicknesses_mm[0] + thicknesses_mm[-1]) / 2 + (count - 1) * kerf_mm
