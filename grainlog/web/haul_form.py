"""The form of a haul: one day's sawing with its people, hours, costs and logs, as typed."""

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from grainlog.web.errors import PageRefused
from grainlog.web.slab_said import day_of

_LONGEST, _MOST = 120, 40
#: "Ann 6", "Ann = 6,5 h", "fuel 45", "fuel -45.50"
_AMOUNT = re.compile(r"^(?P<name>.*?)[\s=:]+(?P<amount>-?\d+(?:[.,]\d+)?)\s*h?$")


@dataclass(frozen=True)
class HaulForm:
    """What was said of a haul; what was left empty changes nothing."""

    name: str
    day: date | None
    people: Sequence[tuple[str, float | None]]
    costs: Sequence[tuple[str, float]]
    logs: Sequence[str]
    note: str

    @property
    def said(self) -> Mapping[str, Any]:
        """As `Hauls.keep` takes it."""
        return {"day": self.day, "people": self.people, "costs": self.costs, "log_names": self.logs, "note": self.note}

    @property
    def empty(self) -> bool:
        """Whether nothing was said but the name."""
        return not (self.day or self.people or self.costs or self.logs or self.note)


def read_haul(typed: Mapping[str, str], logs: Sequence[str]) -> HaulForm:
    """A haul as typed. logs : names that were ticked. Raises PageRefused for what cannot be meant."""
    people = [_named(line) for line in _parts(typed.get("people", ""))]
    costs = []
    for what, amount in [_named(line) for line in _parts(typed.get("costs", ""))]:
        if amount is None:
            raise PageRefused(f"Say how much '{what}' cost, as in: fuel 45.")
        costs.append((what, amount))
    name = " ".join(typed.get("haul", "").split())[:_LONGEST]
    if not name:
        raise PageRefused("Give the haul a name, such as april weekend.")
    note = " ".join(typed.get("note", "").split())[:2000]
    return HaulForm(name, day_of(typed), people, costs, tuple(logs), note)


def _parts(text: str) -> list[str]:
    """What stands between commas and line ends; a comma within a number is the number's."""
    parts = [part.strip() for part in re.split(r"[;\n]|,(?!\d)", text.replace("\r", ""))]
    kept = [part for part in parts if part]
    if len(kept) > _MOST or any(len(part) > _LONGEST for part in kept):
        raise PageRefused(f"That is more than {_MOST} names, or a very long one; say the rest in a second go.")
    return kept


def _named(text: str) -> tuple[str, float | None]:
    found = _AMOUNT.match(text)
    if found is None:
        return text, None
    amount = float(found["amount"].replace(",", "."))
    if not found["name"].strip() or not math.isfinite(amount):
        raise PageRefused(f"'{text}' is a number without a name; write it like: Ann 6, or: fuel 45.")
    return found["name"].strip(), amount
