"""What happens to a slab after its survey: status, work, owner, price, figure, notes; every change dated and kept."""

import math
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from sqlalchemy import select

from grainlog.yard.database import Database
from grainlog.yard.errors import LifeRefused
from grainlog.yard.filing import SIDES, tidy_text
from grainlog.yard.life_back import take_back_last
from grainlog.yard.life_changes import (
    Change,
    read_changes,
    record_change,
    require_present,
    require_slab,
)
from grainlog.yard.life_state import STATUSES, Life, life_of_row, read_life
from grainlog.yard.life_tables import slab_life
from grainlog.yard.places import leave_stack
from grainlog.yard.tags import tag_of

#: Statuses that a person gives; "cut up" follows from a cut.
GIVEN = tuple(status for status in STATUSES if status != "cut up")
#: Work that leaves the outline as it is. What changes it is a cut or a new thickness (see `life_cuts`).
WORK = ("turned", "debarked", "end-coated", "treated for insects")
_NOWHERE = {"shed": None, "stack": None, "layer": None}


class Lives:
    """What happened to the slabs of one yard."""

    def __init__(self, database: Database):
        self._database = database

    def of(self, number: int) -> Life:
        """Where a slab stands now. Raises NoSuchSlab."""
        with self._database.reading() as connection:
            require_slab(connection, number)
            return read_life(connection, number)

    def of_all(self, numbers: Iterable[int] | None = None) -> dict[int, Life]:
        """Where slabs stand, by number; a slab that nobody has said anything about is left out."""
        with self._database.reading() as connection:
            rows = connection.execute(select(slab_life))
            found = {row.slab_number: life_of_row(row) for row in rows}
        return found if numbers is None else {number: found[number] for number in numbers if number in found}

    def history(self, number: int) -> tuple[Change, ...]:
        """Everything that was said of a slab, oldest day first. Raises NoSuchSlab."""
        with self._database.reading() as connection:
            require_slab(connection, number)
            return read_changes(connection, {"slab_number": number})

    def set_status(
        self,
        numbers: Sequence[int],
        status: str,
        day: date | None = None,
        until: date | None = None,
        for_whom: str | None = None,
        note: str = "",
    ) -> None:
        """Give slabs a status (one of `GIVEN`). One that is gone also leaves its stack.

        until : the day on which a promise ends. for_whom : to whom it is promised or sold, or who has it now.
        Raises LifeRefused, NoSuchSlab; nothing is changed then.
        """  # fmt: skip
        day = day or date.today()
        if status not in GIVEN:
            raise LifeRefused(f"'{status}' is not a status here; use one of {', '.join(GIVEN)}.")
        if until is not None and status != "promised":
            raise LifeRefused("Only a promise has a last day; leave --until out, or make it promised.")
        if until is not None and until < day:
            raise LifeRefused(f"A promise until {until} would be over before {day}; give a later day.")
        value: dict[str, Any] = {
            "status": status,
            "until": until and until.isoformat(),
            "for_whom": tidy_text(for_whom),
        }
        with self._database.writing() as connection:
            for number in numbers:
                require_slab(connection, number)
                life = read_life(connection, number)
                if life.status == "cut up":
                    raise LifeRefused(f"Slab {tag_of(number)} was cut up; give the status to its pieces.")
                if not STATUSES[status]:
                    leave_stack(connection, number, day)
                record_change(connection, number, day, status, value if STATUSES[status] else value | _NOWHERE, note)

    def worked(self, numbers: Sequence[int], what: str, day: date | None = None, face_up: str | None = None,
               note: str = "") -> None:  # fmt: skip
        """Keep that something was done to slabs: one of `WORK`. Turning changes the face that is up, where it is known.

        face_up : "bark" or "heart", the face that is up afterwards. Raises LifeRefused, NoSuchSlab.
        """
        if what not in WORK:
            raise LifeRefused(
                f"'{what}' is not a piece of work here; use one of {', '.join(WORK)}, or cut and flatten."
            )
        if face_up is not None and (what != "turned" or face_up not in SIDES):
            raise LifeRefused("Which face is up, bark or heart, goes with turning.")
        with self._database.writing() as connection:
            for number in numbers:
                require_slab(connection, number)
                life = read_life(connection, number)
                require_present(number, life)
                value = {}
                if what == "turned":
                    other = {"bark": "heart", "heart": "bark"}.get(life.face_up or "")
                    value = {"face_up": face_up or other}
                record_change(connection, number, day or date.today(), what, value, note)

    def tell(
        self,
        numbers: Sequence[int],
        owner: str | None = None,
        price: float | None = None,
        figure: str | None = None,
        note: str = "",
        day: date | None = None,
    ) -> None:
        """Say who owns slabs, the price of a board foot, what the grain shows, or anything else as a note.

        An empty owner or figure takes back what was said. Raises LifeRefused, NoSuchSlab; nothing is changed then.
        """  # fmt: skip
        value: dict[str, Any] = {}
        if owner is not None:
            value["owner"] = tidy_text(owner)
        if price is not None:
            if not (math.isfinite(price) and price >= 0):
                raise LifeRefused("A price is an amount of money of at least nothing.")
            value["price"] = float(price)
        if figure is not None:
            value["figure"] = tidy_text(figure)
        if not value and not note.strip():
            raise LifeRefused("Nothing was said; give an owner, a price, a figure or a note.")
        with self._database.writing() as connection:
            for number in numbers:
                require_slab(connection, number)
                record_change(connection, number, day or date.today(), "noted", value, note)

    def take_back(self, numbers: Sequence[int], day: date | None = None, note: str = "") -> None:
        """Take back the last thing that was said of slabs, by another change that restores what held before; both are kept.

        Raises LifeRefused for what cannot be unsaid (a cut, a new thickness, a mended photo, or a place: others moved
        with it) and where the last change was taken back already, NoSuchSlab; nothing is changed then.
        """
        with self._database.writing() as connection:
            for number in numbers:
                require_slab(connection, number)
                take_back_last(connection, number, day or date.today(), note, (*GIVEN, *WORK, "noted"))
