"""What an outline must hold as measured so that a piece fits it once it has shrunk (or swollen) unevenly.

Drying multiplies an outline's x by `along` and its y by `across`. A rectangle l x w on the dry outline, turned by t, was a
parallelogram on the measured one: its long side l q, with q2 = cos2 t / along2 + sin2 t / across2, its height over that side
w / (along across q), its skew w sin t cos t |1 / across2 - 1 / along2| / q. Less that skew, the long side times the height
is a rectangle that the measured outline surely held (plane geometry, own derivation; tried in the tests against shapely).

Lines go over into lines, so a stretch with live edges turned by t was a stretch of length l / |(along cos t, across sin t)|
whose lines across were w sqrt(sin2 t / along2 + cos2 t / across2) long.
"""

import math
from dataclasses import dataclass

import numpy as np

from grainlog.fit.curve import bound_at

_STEP = math.radians(0.5)
_TURNS = np.arange(0.0, math.pi / 2 + _STEP / 2, _STEP)
#: Between two of the turns looked at, sides change by less than this share of the larger side.
_BETWEEN = 2e-3
#: A stretch is looked for at a few turns only, before and after drying not quite the same ones.
_STRETCH_EASE = 0.993
_STRETCH_TURN = math.radians(7.0)


@dataclass(frozen=True)
class Change:
    """Factors of an outline's sizes along and across, each from the least to the greatest that is possible."""

    along: tuple[float, float]
    across: tuple[float, float]

    def before(self, length: float, width: float) -> tuple[np.ndarray, np.ndarray]:
        """(t,) lengths and (t,) widths, mm: of a rectangle that the measured outline held, by the turn t of the dry one."""
        cosine, sine = np.cos(_TURNS), np.sin(_TURNS)
        along, across = self.along[1], self.across[1]
        q = np.hypot(cosine / along, sine / across)
        uneven = max(
            abs(1 / self.across[0] ** 2 - 1 / self.along[1] ** 2),
            abs(1 / self.across[1] ** 2 - 1 / self.along[0] ** 2),
        )
        lengths = length * q - width * sine * cosine * uneven / q
        widths = width / np.hypot(across * cosine, along * sine)
        eased = 1 - _BETWEEN
        return np.maximum(lengths - _BETWEEN * max(length, width), 0.0), widths * eased

    def least_before(self, length: float, width: float) -> tuple[float, float]:
        """Length and width of a rectangle that the measured outline held, however the dry one is turned, mm."""
        lengths, widths = self.before(length, width)
        return float(lengths.min()), float(widths.min())

    def stretch_before(self, length: float, width: float) -> tuple[float, float]:
        """The same for a stretch with both live edges and its least width, mm."""
        wide = math.hypot(
            math.sin(_STRETCH_TURN) / self.along[1],
            math.cos(_STRETCH_TURN) / self.across[1],
        )
        most = max(
            self.along[1],
            math.hypot(
                self.along[1] * math.cos(_STRETCH_TURN),
                self.across[1] * math.sin(_STRETCH_TURN),
            ),
        )
        return _STRETCH_EASE * length / most, _STRETCH_EASE * width * min(wide, 1 / self.across[1])


def most_to_spare(
    straight: str,
    length: float,
    width: float,
    change: Change,
    reach: tuple[float, float],
) -> float:
    """By how much wider than `width` a rectangle `length` long could be on the dry outline at the very most, mm.

    straight : the measured outline's curve, as `grainlog.fit.curve` writes it. reach : of the dry outline along and across, mm:
        no rectangle reaches further. Negative: it surely does not fit, whatever else is known.
    """
    cosine, sine = np.cos(_TURNS), np.sin(_TURNS)
    lengths, widths = change.before(length, width)
    # Half a step between two turns counts for both.
    room = _STEP * (length + width)
    inside = (length * cosine + width * sine <= reach[0] + room) & (length * sine + width * cosine <= reach[1] + room)
    best = -width
    for long, wide in zip(lengths[inside], widths[inside], strict=True):
        best = max(best, bound_at(straight, float(long)) - wide)
    return best
