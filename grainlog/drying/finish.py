"""What a slab will finish at: dry, flattened, ends trimmed.

Least thickness, less shrinkage, less cup, bow and twist as read by hand, less a skim on both faces. A face that is
hollow by c loses c in all: at its edges on one face and in its middle on the other. Cup, bow and twist are added up,
the worst case. The allowances are common practice, no source, and a person's own where they say so.
"""

import math
from dataclasses import dataclass, replace

from grainlog.drying.dry_size import ScaleFactors
from grainlog.drying.errors import DryingError
from grainlog.units import Quantity, board_feet
from grainlog.units.factors import MM_PER_INCH


@dataclass(frozen=True)
class Allowances:
    """What is lost on the way from dry slab to finished one, mm; all common practice, no source.

    trim_each_end_mm : cut off each end for end checks.
    trim_each_edge_mm : taken off each live edge for bark and cambium.
    skim_each_face_mm : planed off each face after it is flat.
    unread_warp_mm : taken off for cup, bow and twist together while nobody has read them.
    """

    trim_each_end_mm: float = 76.0
    trim_each_edge_mm: float = 0.0
    skim_each_face_mm: float = 1.6
    unread_warp_mm: float = 6.0

    def changed(self, **values: float | None) -> "Allowances":
        """A copy with the values that are not None. Raises DryingError for one that no slab could lose."""
        given = {name: float(value) for name, value in values.items() if value is not None}
        for value in given.values():
            if not (math.isfinite(value) and 0 <= value <= 1000):
                raise DryingError(f"{value:g} mm cannot be an allowance; give 0 or a size up to 1 m.")
        return replace(self, **given)


@dataclass(frozen=True)
class Warp:
    """Cup, bow and twist as read by hand with a straight edge, mm; None where nobody has read one."""

    cup_mm: float | None = None
    bow_mm: float | None = None
    twist_mm: float | None = None

    @property
    def read(self) -> bool:
        """Whether anything was read."""
        return any(value is not None for value in (self.cup_mm, self.bow_mm, self.twist_mm))

    @property
    def total_mm(self) -> float:
        """All that was read together."""
        return sum(value or 0.0 for value in (self.cup_mm, self.bow_mm, self.twist_mm))


@dataclass(frozen=True)
class Finished:
    """A finished slab, mm and board feet; None where nothing would be left, and the words for what was assumed."""

    length_mm: Quantity | None
    width_mm: Quantity | None
    thickness_mm: Quantity | None
    board_feet: Quantity | None
    assumed: tuple[str, ...]


# A straight edge and a wedge read a hollow to half a millimetre (common practice, no source).
_WARP_U_MM = 0.5


def finish(
    length_mm: Quantity,
    width_mm: Quantity,
    least_thickness_mm: Quantity,
    factors: ScaleFactors,
    warp: Warp,
    allowances: Allowances,
) -> Finished:
    """What a slab finishes at.

    length_mm : square-end length; width_mm : least width; least_thickness_mm : the least reading; all as surveyed.
    factors : to the moisture of use.
    """
    assumed = []
    warped = warp.total_mm
    if not warp.read:
        warped = allowances.unread_warp_mm
        assumed.append(f"cup, bow and twist were not read: {warped:g} mm ({warped / MM_PER_INCH:.2g} in) taken off for them")
    elif unread := [
        name for name, mm in (("cup", warp.cup_mm), ("bow", warp.bow_mm), ("twist", warp.twist_mm)) if mm is None
    ]:
        assumed.append(f"{' and '.join(unread)} not read: nothing taken off")
    length = _less(factors.of_length(length_mm, "along"), 2 * allowances.trim_each_end_mm, 0.0)
    width = _less(factors.of_length(width_mm, "across"), 2 * allowances.trim_each_edge_mm, 0.0)
    thick = _less(
        factors.of_length(least_thickness_mm, "thickness"),
        warped + 2 * allowances.skim_each_face_mm,
        _WARP_U_MM if warp.read else warped / 2,
    )
    feet = None
    if length and width and thick:
        value = board_feet(length.value * width.value * thick.value)
        # Width and thickness shrink with the same tree, so their shares add up rather than average out.
        share = math.hypot(length.u / length.value, width.u / width.value + thick.u / thick.value)
        feet = Quantity(value, value * share)
    return Finished(length, width, thick, feet, tuple(assumed))


def _less(size: Quantity, taken_mm: float, u_taken_mm: float) -> Quantity | None:
    value = size.value - taken_mm
    if value <= 0:
        return None
    budget = dict(size.budget) | ({"cup, bow and twist": u_taken_mm} if u_taken_mm else {})
    return Quantity(value, math.hypot(size.u, u_taken_mm), budget)
