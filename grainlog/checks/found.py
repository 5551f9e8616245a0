"""A check as it was found in one view, and all that were found on a face."""

from dataclasses import dataclass

import numpy as np

#: A check counts as far as it is at least this wide, mm; its hairline beyond has no end that a photo could show.
COUNTED_MM = 0.5


@dataclass(frozen=True)
class Check:
    """One drying crack along the grain, in one view.

    path : (n, 2) float64
        Along the check, slab frame, mm, evenly about 2 mm apart; from the end inwards for an end check, else by growing x.
        As far as the check is wider than `COUNTED_MM`.
    width : (n,) float64
        Width across the path at each of its points, mm.
    kind : "end" or "surface"
        An end check meets an end of the slab; whether a check goes through to the other face, one face cannot say.
    end : "butt" | "top" | None
        Which end an end check meets: "butt" is x = 0.
    length, length_u : float
        Along the path, mm, and its standard uncertainty.
    max_width, max_width_u, mean_width : float, mm
        The greatest width is that of a stretch of some 8 mm, not of one pixel.
    confidence : float
        How sure the network is that this is a check, 0 to 1, mean along the path.
    beyond, beyond_width : (m, 2) and (m,) float64, or None
        Of an end check: the line of the grain past its tip, slab frame, mm, about 2 mm apart, and how wide it would be as a check.
        None where it was not looked at.
    """

    path: np.ndarray
    width: np.ndarray
    kind: str
    end: str | None
    length: float
    length_u: float
    max_width: float
    max_width_u: float
    mean_width: float
    confidence: float
    beyond: np.ndarray | None = None
    beyond_width: np.ndarray | None = None

    @property
    def angle(self) -> float:
        """Angle of its chord to the slab's axis, radians, -pi/2 to pi/2."""
        across = self.path[-1] - self.path[0]
        return float(np.arctan2(across[1] * np.sign(across[0] or 1), abs(across[0])))


@dataclass(frozen=True)
class FoundChecks:
    """All checks of a face in one view.

    checks : tuple of Check, the longest first
    least_mm : float
        The smallest check claimed at this resolution: one this wide (greatest width, mm) is found more often than not.
    mm_per_px : float
        Of the photo, on the face.
    """

    checks: tuple[Check, ...]
    least_mm: float
    mm_per_px: float
