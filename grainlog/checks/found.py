"""A check as it was found in one view, and all that were found on a face."""

from dataclasses import dataclass

import numpy as np

#: A check counts as far as it is at least this wide, mm; its hairline beyond has no end that a photo could show.
COUNTED_MM = 0.5


@dataclass(frozen=True)
class Past:
    """The line of the grain past a tip in the wood, some 48 mm of it as far as wood shows.

    path : (n, 2) float64, slab frame, mm, away from the tip
    width : (n,) float64, mm, as if it were a check
    """

    path: np.ndarray
    width: np.ndarray


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
    past : (Past | None, Past | None)
        The line past its first and past its last point, places about 2 mm apart; None where that meets an end or was not looked at.
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
    past: tuple[Past | None, Past | None] = (None, None)

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


def moved(path: np.ndarray, matrix: np.ndarray) -> np.ndarray:
    """(n, 2) points through a (2, 3) map, such as from a look's slab frame to the first look's, mm."""
    return np.asarray(path, float) @ matrix[:, :2].T + matrix[:, 2]
