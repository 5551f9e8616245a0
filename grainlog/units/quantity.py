"""A value and how sure it is."""

from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Mapping


@dataclass(frozen=True)
class Quantity:
    """A measured value with its standard uncertainty.

    value, u : float
        Same unit; `u` is the standard uncertainty (k = 1, JCGM 100:2008) with everything included. Intervals are
        shown to people as value +- 2u.
    budget : mapping of str to float
        What `u` is made of: the standard uncertainty of each source in the same unit; u**2 = sum of squares.
    """

    value: float
    u: float
    budget: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))

    def as_dict(self) -> dict:
        """Plain data for JSON: {"value", "u", "budget"}."""
        return {"value": self.value, "u": self.u, "budget": dict(self.budget)}
