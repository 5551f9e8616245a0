"""The form of a share: who shares a haul, by what, and what is wished about single slabs."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from grainlog.web.errors import PageRefused
from grainlog.yard.query import SlabRow

BY: Mapping[str, str] = {"board-feet": "board feet", "value": "value: board feet times price"}
_LONGEST = 300


@dataclass(frozen=True)
class ShareForm:
    """What was typed: the people, and for each slab by its tag who gets it, what it counts for, and its group's letter."""

    people: tuple[str, ...]
    by_value: bool
    goes_to: Mapping[str, str]
    counts: Mapping[str, str]
    group: Mapping[str, str]

    def wishes(self, rows: Sequence[SlabRow]) -> dict[int, str]:
        """By number, who gets a slab. Raises PageRefused for somebody who does not share."""
        numbers = {row.tag: row.number for row in rows}
        for tag, person in self.goes_to.items():
            if self.people and person not in self.people:
                raise PageRefused(
                    f"Slab {tag} cannot go to {person}, who does not share; add the name, or choose another."
                )
        return {numbers[tag]: person for tag, person in self.goes_to.items() if tag in numbers}

    def grades(self, rows: Sequence[SlabRow]) -> dict[int, float]:
        """By number, what a slab counts for beside a plain one. Raises PageRefused for what is no number."""
        grades = {}
        for row in rows:
            if (text := self.counts.get(row.tag)) is None:
                continue
            try:
                grades[row.number] = float(text.replace(",", "."))
            except ValueError:
                raise PageRefused(f"Slab {row.tag} cannot count for '{text}'; write a factor such as 1.5.") from None
        return grades

    def together(self, rows: Sequence[SlabRow]) -> list[list[int]]:
        """Numbers that stay together: those whose group has the same letter."""
        groups: dict[str, list[int]] = {}
        for row in rows:
            if row.tag in self.group:
                groups.setdefault(self.group[row.tag].casefold(), []).append(row.number)
        return [numbers for numbers in groups.values() if len(numbers) > 1]


def read_share(given: Mapping[str, str], rows: Sequence[SlabRow], haul_people: Sequence[str]) -> ShareForm:
    """What was typed about sharing some slabs; the haul's own people where nobody is named."""

    def each(name: str) -> dict[str, str]:
        typed = {row.tag: given.get(f"{name}-{row.tag}", "").strip()[:_LONGEST] for row in rows}
        return {tag: text for tag, text in typed.items() if text}

    named = [" ".join(name.split()) for name in given.get("people", "").replace("\n", ",")[:_LONGEST].split(",")]
    people = tuple(dict.fromkeys(name for name in named if name)) or tuple(haul_people)
    return ShareForm(people, given.get("by") == "value", each("to"), each("counts"), each("with"))
