"""Sharing a haul's slabs among its people: what each slab is worth, and the division that is most even."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from grainlog.fit.shares import Division, ShareRefused, divide
from grainlog.units import Quantity
from grainlog.yard.hauls import Hauls
from grainlog.yard.life import Lives
from grainlog.yard.query import SlabRow
from grainlog.yard.tags import tag_of


@dataclass(frozen=True)
class Shared:
    """A haul divided.

    division : with slabs by their tags. board_feet : of each person's share, with u.
    by : "board feet" or "value".
    """

    haul: str
    by: str
    division: Division
    board_feet: Mapping[str, Quantity]
    rows: Mapping[str, SlabRow]

    @property
    def unit(self) -> str:
        """What stands behind an amount: " BF", or nothing for the yard's own money."""
        return " BF" if self.by == "board feet" else ""

    @property
    def how_even(self) -> str:
        """How even the division is, and whether there is a better one, in a sentence or two."""
        division = self.division
        said = f"Largest difference: {division.difference:.2f}{self.unit}."
        if division.best:
            return f"{said} No division is more even (proved)."
        return f"{said} No division can come closer than {division.bound:.2f}{self.unit}; whether one comes that close is not known."

    @property
    def one_face_only(self) -> bool:
        """Whether board feet of some slabs rest on one face."""
        return any(row.one_face_only for row in self.rows.values())


def share_haul(
    hauls: Hauls, lives: Lives, name: str, people: Sequence[str] = (), by_value: bool = False,
    together: Sequence[Sequence[int]] = (), wishes: Mapping[int, str] | None = None,
    grades: Mapping[int, float] | None = None, keep: bool = False,
) -> Shared:  # fmt: skip
    """Divide the slabs of a haul that are still there.

    people : those who share; left out, the haul's own. by_value : by price times board feet, not by board feet alone.
    grades : factors on a slab's worth, such as 1.5 for a crotch. keep : write each slab's owner into the yard.
    Raises ShareRefused, LifeRefused.
    """
    haul = hauls.haul(name)
    stands = lives.of_all([row.number for row in haul.there])
    rows = {row.tag: row for row in haul.there}
    worth: dict[str, float] = {}
    for row in haul.there:
        price = stands[row.number].price if row.number in stands else None
        if row.board_feet is None:
            raise ShareRefused(f"Board feet of slab {row.tag} are not known; give its thickness before it is shared.")
        if by_value and price is None:
            raise ShareRefused(f"The price of slab {row.tag} was not said; note it, or share by board feet.")
        grade = (grades or {}).get(row.number, 1.0)
        if not 0 <= grade < 1000:
            raise ShareRefused(f"A grade is a factor such as 1.5, not {grade:g}.")
        worth[row.tag] = row.board_feet.value * grade * (price if by_value and price is not None else 1.0)
    for number in grades or {}:
        if tag_of(number) not in rows:
            raise ShareRefused(f"Slab {tag_of(number)} is not one of those to be shared.")
    division = divide(
        worth, list(people or haul.hours), [[tag_of(number) for number in group] for group in together],
        {tag_of(number): person for number, person in (wishes or {}).items()},
    )  # fmt: skip
    feet = {}
    for person, tags in division.shares.items():
        known = [rows[tag].board_feet for tag in tags]
        feet[person] = Quantity(sum(each.value for each in known), sum(each.u for each in known))
    if keep:
        for person, tags in division.shares.items():
            if tags:
                numbers = [rows[tag].number for tag in tags]
                lives.tell(numbers, owner=person, note=f"share of the haul {haul.name}", day=date.today())
    return Shared(haul.name, "value" if by_value else "board feet", division, feet, rows)
