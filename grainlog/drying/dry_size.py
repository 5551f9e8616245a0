"""What a size measured at one moisture becomes at another: scale factors for width, length, thickness and volume.

Shrinkage from green to moisture M is S_M = S_0 (F - M) / F below the fibre saturation point F and nothing above it, of
the green size (Wood Handbook Eq. 4-9, verified in a public transcription of GTR-282). A size taken at M1 is therefore
multiplied by (1 - S_M2) / (1 - S_M1); taking it for a green size would count what it has already shrunk twice.

Along the grain normal wood shrinks 0.1 to 0.2 % (American Wood Council FAQ, verified; FPL Report 1093, 1960: 0.1 to
0.3 %); juvenile and reaction wood much more.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from grainlog.drying.errors import DryingError
from grainlog.drying.grain import RingShare, cautious
from grainlog.drying.moisture import FIBRE_SATURATION, FIBRE_SATURATION_U
from grainlog.drying.species import Species
from grainlog.units import Quantity

ALONG = 0.0015
ALONG_U = 0.0005


@dataclass(frozen=True)
class ScaleFactors:
    """Multiply a measured size by these to have it at the target moisture; each with u and its budget.

    across, along, thickness, volume : Quantity, no unit. Their errors belong together (one tree, one moisture), which
        `volume` takes into account; do not multiply the u of the others. A volume shrinks by the radial, the
        tangential and the lengthwise shrinkage however the rings stand, so `volume` is never the cautious product.
    rings : how the slab lay in the log, or the cautious case.
    """

    across: Quantity
    along: Quantity
    thickness: Quantity
    volume: Quantity
    rings: RingShare

    def of_length(self, size_mm: Quantity, direction: str) -> Quantity:
        """A measured size at the target moisture; direction "across", "along" or "thickness"."""
        return _times(size_mm, getattr(self, direction))


def shrinkage(total: float, moisture: float, saturation: float = FIBRE_SATURATION) -> float:
    """Shrinkage from green to `moisture` of a direction that shrinks by `total` to oven-dry; all fractions.

    Nothing at or above `saturation`. Raises DryingError for a moisture or total below nothing.
    """
    if not (total >= 0 and moisture >= 0 and saturation > 0):
        raise DryingError("Shrinkage and moisture cannot be less than nothing.")
    return total * (saturation - min(moisture, saturation)) / saturation


def scale_factors(
    species: Species, moisture_then: Quantity, target: float | Quantity, rings: RingShare | None = None
) -> ScaleFactors:
    """Factors from a survey at `moisture_then` to `target`.

    moisture_then : of the whole slab on the survey's day, fraction; anything above fibre saturation is green.
    target : fraction; a Quantity where it was measured rather than chosen.
    rings : None takes tangential shrinkage for width and thickness, the cautious case.

    Raises DryingError where the species' shrinkage is not known.
    """
    if species.tangential is None or species.radial is None:
        raise DryingError(
            f"The shrinkage of {species.name} is not known here, so no dry size can be given; "
            "give it as a species of your own, with where you have it from."
        )
    rings = rings or cautious()
    radial, tangential = species.radial, species.tangential

    aim = target if isinstance(target, Quantity) else Quantity(target, 0.0)

    def factors(tree: float, saturation: float, then: float, share: float, grain: float, to: float) -> np.ndarray:
        along = _ratio(grain, then, to, saturation)
        totals = [
            tree * (radial + (tangential - radial) * part)
            for part in (rings.across + share, rings.thickness - share * (1 if rings.known else -1))
        ]
        across, thick = (_ratio(total, then, to, saturation) for total in totals)
        whole = math.prod(_ratio(tree * total, then, to, saturation) for total in (radial, tangential))
        return np.array([across, along, thick, whole * along])

    middle = {
        "tree": 1.0,
        "saturation": FIBRE_SATURATION,
        "then": moisture_then.value,
        "share": 0.0,
        "grain": ALONG,
        "to": aim.value,
    }
    spread = {
        "tree": species.shrinkage_spread,
        "saturation": FIBRE_SATURATION_U,
        "then": moisture_then.u,
        "share": rings.u,
        "grain": ALONG_U,
        "to": aim.u,
    }
    values = factors(**middle)
    budgets: list[dict[str, float]] = [{} for _ in values]
    for name, u in spread.items():
        for budget, effect in zip(budgets, _effect(factors, middle, name, u, one_sided=not rings.known), strict=True):
            budget[_NAMES[name]] = float(effect)
    quantities = [
        Quantity(float(value), math.hypot(*budget.values()), budget)
        for value, budget in zip(values, budgets, strict=True)
    ]
    return ScaleFactors(*quantities, rings)


_NAMES = {
    "tree": "spread between trees",
    "saturation": "fibre saturation point",
    "then": "moisture at the survey",
    "share": "rings",
    "grain": "along the grain",
    "to": "moisture aimed at",
}


def _effect(factors, middle: Mapping[str, float], name: str, u: float, one_sided: bool) -> np.ndarray:
    """What one standard uncertainty of one cause does to each factor, without sign."""
    up = dict(middle)
    down = dict(middle)
    up[name] = middle[name] + u
    down[name] = max(middle[name] - u, 0.0) if name != "share" else middle[name] - u
    if name == "share" and one_sided:
        # Nothing is more tangential than tangential: the doubt reaches to one side only.
        return np.abs(factors(**middle) - factors(**down))
    # Half the difference sees the bend at fibre saturation, which a derivative at one point would miss.
    return np.abs(factors(**up) - factors(**down)) / 2


def _ratio(total: float, then: float, target: float, saturation: float) -> float:
    return (1 - shrinkage(total, target, saturation)) / (1 - shrinkage(total, then, saturation))


@dataclass(frozen=True)
class DryOutline:
    """An outline at a target moisture, and how sure its edge is.

    points_mm : (n, 2) float64, mm, slab frame.
    u_mm : (n, 2) float64, mm: standard uncertainty of each point along and across the slab that shrinkage alone brings.
    factors : what was used.
    """

    points_mm: np.ndarray
    u_mm: np.ndarray
    factors: ScaleFactors


def dry_outline(
    points_mm: np.ndarray, species: Species, moisture_then: Quantity, target: float, rings: RingShare | None = None
) -> DryOutline:
    """An outline at the moisture `target`.

    points_mm : (n, 2) float64, mm, slab frame (x along the slab, y across), as measured at `moisture_then`; the slab
        shrinks towards the frame's x axis and towards x = 0.

    Raises DryingError as `scale_factors` does, and for points that are not (n, 2) finite numbers.
    """
    return scaled_outline(points_mm, scale_factors(species, moisture_then, target, rings))


def scaled_outline(points_mm: np.ndarray, factors: ScaleFactors) -> DryOutline:
    """An outline by factors that are known already; see `dry_outline`."""
    points = np.asarray(points_mm, np.float64)
    if points.ndim != 2 or points.shape[1] != 2 or not np.isfinite(points).all():
        raise DryingError("An outline needs points with two finite coordinates each.")
    scale = np.array([factors.along.value, factors.across.value])
    return DryOutline(points * scale, np.abs(points) * np.array([factors.along.u, factors.across.u]), factors)


def _times(size: Quantity, factor: Quantity) -> Quantity:
    """Product of a measured size and a factor whose errors have nothing to do with each other."""
    budget = {name: u * factor.value for name, u in size.budget.items()}
    budget = budget or {"measured": size.u * factor.value}
    budget |= {name: abs(size.value) * u for name, u in factor.budget.items()}
    u = math.hypot(size.u * factor.value, size.value * factor.u)
    return replace(size, value=size.value * factor.value, u=u, budget=budget)


def of_volume(volume: Quantity, factors: ScaleFactors) -> Quantity:
    """A measured volume (mm3) or an amount in board feet at the target moisture."""
    return _times(volume, factors.volume)
