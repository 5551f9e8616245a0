"""When a slab will have come down to a target moisture, from its own readings.

Late in drying a slab approaches the moisture E that the shed's air allows as

    M(t) = E + (M0 - E) exp(-(t - t0) / tau)

the last term of the diffusion series (Crank, The Mathematics of Diffusion, from memory). Start M0, time constant tau
and E are fitted by least squares with a loss that one wild reading cannot pull (scipy, soft L1); E is held by the shed's
equilibrium moisture and tau loosely by what slabs take. At least three days of readings are asked for. The interval
comes from many draws of what the fit leaves open, and of how seasons change the pace after the last reading; it widens
with the distance of the target, and where the draws do not reach it at all, it says so.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from grainlog.drying.errors import DryingError
from grainlog.drying.reading import Reading, reading_u
from grainlog.units import Quantity

LEAST_DAYS = 3
#: tau beforehand: half a year, two thirds either way within a factor of four (common practice, no source).
_TAU_DAYS, _TAU_SPREAD = 180.0, 1.4
#: How seasons change the pace, and the air, after the last reading (common practice, no source).
_PACE_SPREAD, _AIR_U = 0.3, 0.01
_DRAWS = 4000
_FOREVER_DAYS = 365.0 * 30


@dataclass(frozen=True)
class Forecast:
    """When a target is reached.

    day : the middle of the draws; None where more than half never reach the target.
    early, late : 2.5 and 97.5 % of the draws; None for late where more than 2.5 % never reach it.
    never : share of the draws that never do.
    """

    target: float
    day: date | None
    early: date | None
    late: date | None
    never: float

    @property
    def sentence(self) -> str:
        """The forecast for people."""
        target = f"{100 * self.target:.0f} %"
        if self.day is None:
            if self.early is None:
                return f"Not down to {target} with this shed's air."
            return f"Probably never down to {target} with this shed's air; not before {self.early.isoformat()}."
        if self.early == self.day == self.late:
            return f"Down to {target} by {self.day.isoformat()}."
        if self.late is None:
            return (
                f"Down to {target} about {self.day.isoformat()}, not before {self.early or self.day}; "
                f"with a chance of {100 * self.never:.0f} % never in this shed's air."
            )
        return f"Down to {target} about {self.day.isoformat()}, between {self.early} and {self.late}."


@dataclass(frozen=True)
class DryingCurve:
    """A fitted approach to the shed's equilibrium.

    first, last : days of the first and the last reading. start, equilibrium : Quantity, fractions.
    tau_days : Quantity, days. used : the readings fitted.
    draws : (n, 3) float64
        start, ln tau, equilibrium of many curves that the readings allow.
    pace : (n,) float64
        How much faster than so far each draw dries after the last reading. air : (n,) float64, change of its equilibrium.
    """

    first: date
    last: date
    start: Quantity
    equilibrium: Quantity
    tau_days: Quantity
    used: tuple[Reading, ...]
    draws: np.ndarray
    pace: np.ndarray
    air: np.ndarray

    def at(self, day: date) -> Quantity:
        """Moisture on a day: the middle of the draws, and a u whose double covers 95 % of them."""
        low, middle, high = self.band([day])[:, 0]
        return Quantity(float(middle), float(high - low) / 3.92)

    def band(self, days: Sequence[date]) -> np.ndarray:
        """(3, k) float64: 2.5 %, 50 % and 97.5 % of the draws on each day, fractions."""
        t = np.array([(day - self.first).days for day in days], float)
        start, tau, equilibrium = self.draws[:, :1], np.exp(self.draws[:, 1:2]), self.draws[:, 2:]
        reached = float((self.last - self.first).days)
        known = equilibrium + (start - equilibrium) * np.exp(-np.minimum(t, reached) / tau)
        beyond = np.maximum(t - reached, 0.0) * self.pace[:, None]
        towards = equilibrium + self.air[:, None]
        future = towards + (known - towards) * np.exp(-beyond / tau)
        return np.quantile(np.where(t <= reached, known, future), [0.025, 0.5, 0.975], axis=0)

    def reaches(self, target: float) -> Forecast:
        """When the slab comes down to `target`, a fraction. Raises DryingError for a target that is no moisture."""
        if not 0 < target < 1:
            raise DryingError("A target moisture has to lie between 0 and 100 %.")
        start, tau, equilibrium = self.draws[:, 0], np.exp(self.draws[:, 1]), self.draws[:, 2]
        reached = float((self.last - self.first).days)
        now = equilibrium + (start - equilibrium) * np.exp(-reached / tau)
        towards = equilibrium + self.air
        with np.errstate(divide="ignore", invalid="ignore"):
            before = tau * np.log((start - equilibrium) / (target - equilibrium))
            after = reached + tau / self.pace * np.log((now - towards) / (target - towards))
        days = np.where(now <= target, np.where(start <= target, 0.0, before), after)
        never = (now > target) & ((towards >= target) | ~(after < _FOREVER_DAYS))
        days = np.where(never, np.inf, np.clip(days, 0.0, None))
        early, middle, late = np.quantile(days, [0.025, 0.5, 0.975], method="nearest")
        return Forecast(target, *(self._day(value) for value in (middle, early, late)), float(never.mean()))

    def _day(self, days: float) -> date | None:
        return None if not math.isfinite(days) else self.first + timedelta(days=round(float(days)))


def fit_curve(
    readings: Sequence[Reading], equilibrium: Quantity, thickness_mm: float | None = None
) -> DryingCurve | None:
    """Fit the approach to `equilibrium` (fraction, of the shed's air); None with readings on fewer than three days.

    Readings of different depths follow different curves, so only the readings of one kind are fitted: the core's where
    they fall on three days, else those of the kind read on most days (`comparable`).
    """
    # Slow to load, and most commands do without.
    from scipy.optimize import least_squares

    used = comparable(readings, thickness_mm)
    if used is None:
        return None
    first, last = used[0].day, used[-1].day
    t = np.array([(one.day - first).days for one in used], float)
    moisture = np.array([one.moisture for one in used])
    u = np.array([reading_u(one) for one in used])
    held = math.hypot(equilibrium.u, 1e-3)

    def residuals(x: np.ndarray) -> np.ndarray:
        start, ln_tau, air = x
        model = air + (start - air) * np.exp(-t / np.exp(ln_tau))
        loosely = [(ln_tau - math.log(_TAU_DAYS)) / _TAU_SPREAD, (air - equilibrium.value) / held]
        return np.append((model - moisture) / u, loosely)

    begun = np.array([max(moisture[0], equilibrium.value + 0.01), math.log(_TAU_DAYS), equilibrium.value])
    bounds = ([0.0, math.log(3.0), 0.0], [3.0, math.log(5000.0), 0.6])
    found = least_squares(residuals, np.clip(begun, *bounds), bounds=bounds, loss="soft_l1", x_scale=[0.1, 1.0, 0.02])
    misfit = max(1.0, 2 * found.cost / max(1, len(used) - 1))
    covariance = np.linalg.inv(found.jac.T @ found.jac) * misfit
    random = np.random.default_rng(20260501)
    draws = random.multivariate_normal(found.x, covariance, _DRAWS, method="cholesky")
    draws[:, 1] = np.clip(draws[:, 1], bounds[0][1], bounds[1][1])
    sure = np.sqrt(np.diag(covariance))
    tau = math.exp(found.x[1])
    return DryingCurve(
        first, last, Quantity(float(found.x[0]), float(sure[0])), Quantity(float(found.x[2]), float(sure[2])),
        Quantity(tau, tau * float(sure[1])), tuple(used), draws,
        np.exp(random.normal(0, _PACE_SPREAD, _DRAWS)), random.normal(0, _AIR_U, _DRAWS),
    )  # fmt: skip


def comparable(readings: Sequence[Reading], thickness_mm: float | None = None) -> list[Reading] | None:
    """Readings of one kind in order of time, or None where no kind was read on three days.

    A kind is a method with the depth of its third of an inch (8 mm), or the core; the core's go first.
    """
    kinds: dict[tuple, list[Reading]] = {}
    for one in sorted(readings, key=lambda reading: reading.day):
        core = one.of_core(thickness_mm)
        depth = None if core or one.depth_mm is None else round(one.depth_mm / 8)
        kinds.setdefault(("core",) if core else (one.method, depth), []).append(one)
    enough = {kind: some for kind, some in kinds.items() if len({one.day for one in some}) >= LEAST_DAYS}
    if not enough:
        return None
    if ("core",) in enough:
        return enough[("core",)]
    return max(enough.values(), key=lambda some: (len({one.day for one in some}), -sum(map(reading_u, some))))
