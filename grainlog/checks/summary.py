"""What the checks of a face come to: how many, how long, how wide, and how much sound length is left."""

import math
from dataclasses import dataclass

from grainlog.checks.found import Check, FoundChecks

#: A trim goes this far behind the tip of the deepest end check, mm: common practice, no source.
BEHIND_MM = 10.0


@dataclass(frozen=True)
class Sound:
    """What is left after trimming some ends square behind their deepest end checks.

    trims : int
        How many ends are trimmed: 0 neither, 1 the one with the deeper checks, 2 both.
    length, u : float
        mm, and its standard uncertainty.
    cut_butt, cut_top : float
        How much is cut off at x = 0 and at the other end, mm.
    """

    trims: int
    length: float
    u: float
    cut_butt: float
    cut_top: float


@dataclass(frozen=True)
class Summary:
    """The checks of one face.

    number, total_mm, total_u_mm : by kind ("end", "surface")
    longest, widest : Check or None
    per_m2 : float, metres of check per square metre of face
    sound : tuple of Sound, for 0, 1 and 2 trims
    """

    number: dict[str, int]
    total_mm: dict[str, float]
    total_u_mm: dict[str, float]
    longest: Check | None
    widest: Check | None
    per_m2: float
    sound: tuple[Sound, ...]


def summarise(found: FoundChecks, length_mm: float, area_mm2: float, length_u: float = 0.0) -> Summary:
    """Sum up the checks of a face of this length (with its standard uncertainty, mm) and area."""
    kinds = {kind: [check for check in found.checks if check.kind == kind] for kind in ("end", "surface")}
    total = {kind: sum(check.length for check in checks) for kind, checks in kinds.items()}
    return Summary(
        {kind: len(checks) for kind, checks in kinds.items()},
        total,
        {kind: math.hypot(*(check.length_u for check in checks)) if checks else 0.0 for kind, checks in kinds.items()},
        max(found.checks, key=lambda check: check.length, default=None),
        max(found.checks, key=lambda check: check.max_width, default=None),
        1000.0 * sum(total.values()) / area_mm2 if area_mm2 > 0 else 0.0,
        sound_lengths(found.checks, length_mm, length_u),
    )


def sound_lengths(checks: tuple[Check, ...], length_mm: float, length_u: float = 0.0) -> tuple[Sound, ...]:
    """The sound length of a face of this length at 0, 1 and 2 trims."""
    depth = {end: _depth([check for check in checks if check.end == end], end, length_mm) for end in ("butt", "top")}
    worse = max(depth, key=lambda end: depth[end][0])
    made = []
    for trims, ends in enumerate(((), (worse,), ("butt", "top"))):
        cut = {end: depth[end] if end in ends else (0.0, 0.0) for end in depth}
        left = max(length_mm - cut["butt"][0] - cut["top"][0], 0.0)
        made.append(Sound(trims, left, math.hypot(length_u, cut["butt"][1], cut["top"][1]), cut["butt"][0], cut["top"][0]))
    return tuple(made)


def _depth(checks, end: str, length_mm: float) -> tuple[float, float]:
    """How deep the deepest of these end checks goes, measured along the slab, with the margin behind it; and its u."""
    if not checks:
        return 0.0, 0.0
    tips = [float(c.path[:, 0].max()) if end == "butt" else length_mm - float(c.path[:, 0].min()) for c in checks]
    deepest = max(range(len(tips)), key=tips.__getitem__)
    return min(max(tips[deepest], 0.0) + BEHIND_MM, length_mm), checks[deepest].length_u
