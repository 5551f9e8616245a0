"""Before the first cut: which slabs a log gives, how wide each will be, and which cuts are wider than the mill.

The log is a straight round cone that tapers evenly from the large end to the small; cuts run parallel to its axis. A
cut at a distance h from the axis is 2 sqrt(r^2 - h^2) wide where the radius is r (chord of a circle). A slab's board
feet are the integral of that over its thickness and length. Real logs are oval and crooked, which the uncertainty
allows for.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from grainlog.errors import WrongUse
from grainlog.units import Quantity, board_feet

#: How far a log's diameter differs from a circle's, one standard uncertainty as a share (common practice, no source).
ROUND_U = 0.03
#: How well the first cut is set, mm (common practice, no source).
SET_U_MM = 5.0
#: A slab whose narrow face is less wide than this at the small end is firewood (common practice, no source), mm.
LEAST_FACE_MM = 100.0
_LONGEST_MM = 30_000.0
_LEGENDRE = np.polynomial.legendre.leggauss(24)


class PlanRefused(WrongUse):
    """A log or mill that cannot be."""


@dataclass(frozen=True)
class Log:
    """A log, mm: diameters inside bark at both ends, length, bark thickness on each side."""

    small_mm: float
    large_mm: float
    length_mm: float
    bark_mm: float = 0.0

    def radius(self, share: np.ndarray | float) -> np.ndarray | float:
        """Inside bark, at a share of the length from the small end."""
        return (self.small_mm + (self.large_mm - self.small_mm) * share) / 2


@dataclass(frozen=True)
class Mill:
    """The mill, mm: slab thickness, kerf, greatest cut (None: any), and the sides that are trimmed for it (1 or 2)."""

    thickness_mm: float
    kerf_mm: float
    greatest_mm: float | None = None
    sides: int = 1


@dataclass(frozen=True)
class PlannedSlab:
    """One slab, from the top down.

    top_mm, bottom_mm : distances of its faces from the axis, mm, up positive.
    width_mm : mean of both faces over the length, with u. narrow_mm : the narrower face at the small end.
    wide_mm : the wider face at the large end. board_feet : with u. holds_pith : the axis runs through it.
    """

    top_mm: float
    bottom_mm: float
    width_mm: Quantity
    narrow_mm: float
    wide_mm: float
    board_feet: Quantity
    holds_pith: bool


@dataclass(frozen=True)
class PlannedCut:
    """One cut, from the top down: distance from the axis, its width through the bark at the large end, and the excess.

    width_mm is that of the log as it lies; excess_mm is how much it is wider than the mill; 0 where it is not.
    """

    at_mm: float
    width_mm: float
    excess_mm: float


@dataclass(frozen=True)
class SawingPlan:
    """A plan: slabs and cuts from the top down.

    trim_mm : how deep each trimmed side has to be taken off at the large end, bark included; 0 where none has to.
    sides : how many sides are trimmed. pith : "in a slab" or "in a kerf".
    left_mm, right_mm : where the trimmed sides stand, distances from the axis; None where nothing is trimmed.
    """

    log: Log
    mill: Mill
    slabs: tuple[PlannedSlab, ...]
    cuts: tuple[PlannedCut, ...]
    trim_mm: float
    sides: int
    pith: str
    left_mm: float | None
    right_mm: float | None

    @property
    def board_feet(self) -> Quantity:
        """All slabs together; they share the log's diameters, so their errors are fully correlated."""
        return Quantity(
            math.fsum(slab.board_feet.value for slab in self.slabs), math.fsum(slab.board_feet.u for slab in self.slabs)
        )


def plan(log: Log, mill: Mill, first_cut_mm: float | None = None, least_face_mm: float = LEAST_FACE_MM) -> SawingPlan:
    """Plan the cuts of a log.

    first_cut_mm : how far below the top of the small end, inside bark, the upper face of the first slab lies. Left out,
    the cuts stand evenly about the pith, with the pith in a slab or in a kerf, whichever gives more board feet.
    Raises PlanRefused.
    """
    _check(log, mill, first_cut_mm, least_face_mm)
    step = mill.thickness_mm + mill.kerf_mm
    if first_cut_mm is not None:
        tops = [log.small_mm / 2 - first_cut_mm - k * step for k in range(int(log.small_mm / step) + 2)]
        return _plan(log, mill, tops, least_face_mm)
    many = int(log.small_mm / step) + 2
    in_slab = [mill.thickness_mm / 2 + k * step for k in range(many, -many - 1, -1)]
    in_kerf = [-mill.kerf_mm / 2 + k * step for k in range(many, -many - 1, -1)]
    plans = [_plan(log, mill, tops, least_face_mm) for tops in (in_slab, in_kerf)]
    return max(plans, key=lambda made: made.board_feet.value)


def _plan(log: Log, mill: Mill, tops: Sequence[float], least_face_mm: float) -> SawingPlan:
    small = log.small_mm / 2
    places = [
        (top, top - mill.thickness_mm)
        for top in tops
        if _chord(small, top) >= least_face_mm and _chord(small, top - mill.thickness_mm) >= least_face_mm
    ]
    half = mill.kerf_mm / 2
    # Where one slab follows another the cut between them is one.
    at = [top + half for top, _ in places] + ([places[-1][1] - half] if places else [])
    outer = log.large_mm / 2 + log.bark_mm
    widths = [_chord(outer, height) for height in at]
    greatest = mill.greatest_mm
    cuts = tuple(
        PlannedCut(height, width, max(0.0, width - greatest) if greatest is not None else 0.0)
        for height, width in zip(at, widths, strict=True)
    )
    left = right = None
    trim = 0.0
    if greatest is not None and any(cut.excess_mm > 0 for cut in cuts):
        widest = max(widths)
        right = greatest / 2 if mill.sides == 2 else greatest - widest / 2
        left = -right if mill.sides == 2 else None
        trim = outer - right
        if right <= 0:
            raise PlanRefused("The mill cuts less than half the width of this log; split the log, or use a wider mill.")
    slabs = tuple(_slab(log, top, bottom, left, right) for top, bottom in places)
    pith = "in a slab" if any(slab.holds_pith for slab in slabs) else "in a kerf"
    return SawingPlan(log, mill, slabs, cuts, trim, mill.sides if trim else 0, pith, left, right)


def _slab(log: Log, top: float, bottom: float, left: float | None, right: float | None) -> PlannedSlab:
    def figures(of: Log, shift: float) -> tuple[float, float]:
        return _mean_width(of, top + shift, bottom + shift, left, right), _volume(
            of, top + shift, bottom + shift, left, right
        )

    width, volume = figures(log, 0.0)
    budgets: list[dict[str, float]] = [{}, {}]
    wider = replace(log, small_mm=log.small_mm * (1 + ROUND_U), large_mm=log.large_mm * (1 + ROUND_U))
    slimmer = replace(log, small_mm=log.small_mm * (1 - ROUND_U), large_mm=log.large_mm * (1 - ROUND_U))
    for source, more, less in (
        ("log not round", figures(wider, 0.0), figures(slimmer, 0.0)),
        ("first cut", figures(log, SET_U_MM), figures(log, -SET_U_MM)),
    ):
        for budget, high, low, middle in zip(budgets, more, less, (width, volume), strict=True):
            budget[source] = max(abs(high - middle), abs(low - middle))
    feet = {source: board_feet(part) for source, part in budgets[1].items()}
    ends = [_between(_half(radius, height), left, right) for radius in (log.small_mm / 2, log.large_mm / 2)
            for height in (top, bottom)]  # fmt: skip
    return PlannedSlab(
        top, bottom,
        Quantity(width, math.hypot(*budgets[0].values()), budgets[0]),
        min(ends[:2]), max(ends[2:]),
        Quantity(board_feet(volume), math.hypot(*feet.values()), feet),
        bottom <= 0 <= top,
    )  # fmt: skip


def _chord(radius: float, height: float) -> float:
    return 2 * _half(radius, height)


def _half(radius, height):
    return np.sqrt(np.maximum(np.square(radius) - np.square(height), 0.0))


def _between(half, left: float | None, right: float | None):
    """Width of a cut that reaches `half` to both sides, less what was trimmed off."""
    right_part = half if right is None else np.minimum(half, right)
    left_part = half if left is None else np.minimum(half, -left)
    return right_part + left_part


def _mean_width(log: Log, top: float, bottom: float, left: float | None, right: float | None) -> float:
    nodes, weights = _LEGENDRE
    radii = log.radius((nodes + 1) / 2)
    faces = [float(weights @ _between(_half(radii, height), left, right)) / 2 for height in (top, bottom)]
    return sum(faces) / 2


def _volume(log: Log, top: float, bottom: float, left: float | None, right: float | None) -> float:
    nodes, weights = _LEGENDRE
    radii = log.radius((nodes + 1) / 2)
    heights = (top + bottom) / 2 + (top - bottom) / 2 * nodes
    widths = _between(_half(radii[:, None], heights[None, :]), left, right)
    return float(weights @ widths @ weights) / 4 * (top - bottom) * log.length_mm


def _check(log: Log, mill: Mill, first_cut_mm: float | None, least_face_mm: float) -> None:
    sizes = (log.small_mm, log.large_mm, log.length_mm, mill.thickness_mm)
    if not all(math.isfinite(size) and size > 0 for size in sizes):
        raise PlanRefused("Diameters, length and thickness have to be sizes greater than zero.")
    if not all(math.isfinite(size) and size >= 0 for size in (log.bark_mm, mill.kerf_mm, least_face_mm)):
        raise PlanRefused("Bark, kerf and least face have to be sizes, or nothing.")
    if log.large_mm < log.small_mm:
        raise PlanRefused("The large end is smaller than the small end; change the two over.")
    if log.large_mm > 5000 or log.length_mm > _LONGEST_MM:
        raise PlanRefused("No log is that big; look at its diameters and length, and their units, again.")
    if mill.greatest_mm is not None and not (math.isfinite(mill.greatest_mm) and mill.greatest_mm > 0):
        raise PlanRefused("The mill's greatest cut has to be a size greater than zero.")
    if mill.sides not in (1, 2):
        raise PlanRefused("Trim one side or two.")
    if mill.thickness_mm >= log.small_mm:
        raise PlanRefused("The slab is thicker than the log; look at both again.")
    if first_cut_mm is not None and not 0 <= first_cut_mm < log.small_mm:
        raise PlanRefused("The first cut has to lie within the small end of the log.")
