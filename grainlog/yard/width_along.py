"""How wide a slab is anywhere along its length, from the record of a survey: what a tape laid across it would read."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from grainlog.face.measures import between_ends, widths_at
from grainlog.units import Quantity

STEP_MM = 10.0


@dataclass(frozen=True)
class WidthAt:
    """The width at one place.

    x_mm : along the slab, from the start of its frame. low_mm, high_mm : y of the outermost edges there.
    width : of wood between them (less than their distance across a fork), mm, with its standard uncertainty.
    on_end : the tape would lie on an end there, so that it is no width of the slab.
    """

    x_mm: float
    low_mm: float
    high_mm: float
    width: Quantity
    on_end: bool


def width_at(record: Mapping[str, Any], x_mm: float) -> WidthAt | None:
    """The width at one place along a survey's slab; None beyond the wood. Raises OutlineError."""
    return next(iter(_widths(record, np.array([x_mm]))), None)


def widths_along(record: Mapping[str, Any], step_mm: float = STEP_MM) -> tuple[WidthAt, ...]:
    """The widths every `step_mm` along a survey's slab. Raises OutlineError."""
    x = _wood(record)[:, 0]
    return tuple(_widths(record, np.arange(x.min() + step_mm / 2, x.max(), step_mm)))


def _widths(record: Mapping[str, Any], x: np.ndarray) -> list[WidthAt]:
    wood = _wood(record)
    low, high = between_ends(wood)
    u = _sureness(record, x)
    sure = dict(zip(x.tolist(), u.tolist(), strict=True))
    return [
        WidthAt(at, below, above, Quantity(width, sure[at]), not low <= at <= high)
        for at, below, above, width in widths_at(wood, x).tolist()
    ]


def _sureness(record: Mapping[str, Any], x: np.ndarray) -> np.ndarray:
    """Standard uncertainty of the width at each x, mm: between the stations of the survey, else that of its least width."""
    face = record.get("face") or {}
    told = face.get("widths") or {}
    at, u = np.array(told.get("x_mm") or [], float), np.array(told.get("u_mm") or [], float)
    if len(at) == 0 or len(at) != len(u):
        least = (face.get("width_min_mm") or face.get("width_mean_mm") or {}).get("u") or 0.0
        return np.full(len(x), float(least))
    return np.interp(x, at, u)


def _wood(record: Mapping[str, Any]) -> np.ndarray:
    return np.array((record.get("outline") or {}).get("wood_mm") or [], float).reshape(-1, 2)
