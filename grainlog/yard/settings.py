"""What the yard remembers for the person: the measured bars of their printed scale cards, and other named values."""

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.dialects.sqlite import insert

from grainlog.yard.database import Database
from grainlog.yard.errors import SettingRefused
from grainlog.yard.filing import now_text
from grainlog.yard.schema import settings as table

BAR_MM = 100.0
# Wider than any printer's stretch, narrow enough to catch a bar read in inches or off the wrong line; common
# practice, no source.
BAR_TOLERANCE_MM = 5.0


@dataclass(frozen=True)
class PrintBars:
    """The measured lengths of the two 100 mm bars on the person's prints, mm, and when that was (UTC)."""

    across_mm: float
    down_mm: float
    measured_at: datetime


class Settings:
    """Named values of one yard, each with the moment it was set."""

    def __init__(self, database: Database):
        self._database = database

    def get(self, name: str, default: Any = None) -> Any:
        """The value remembered under a name, as plain JSON data. Raises YardError."""
        found = self._look_up(name)
        return default if found is None else found[0]

    def set(self, name: str, value: Any) -> None:
        """Remember a value of plain JSON data. Raises YardError."""
        row = {"value": json.dumps(value, allow_nan=False), "set_at": now_text()}
        with self._database.writing() as connection:
            connection.execute(insert(table).values(name=name, **row).on_conflict_do_update(["name"], set_=row))

    def set_once(self, name: str, value: Any) -> None:
        """Remember a value of plain JSON data unless there is one under that name already. Raises YardError."""
        row = {"value": json.dumps(value, allow_nan=False), "set_at": now_text()}
        with self._database.writing() as connection:
            connection.execute(insert(table).values(name=name, **row).on_conflict_do_nothing())

    @property
    def print_bars(self) -> PrintBars | None:
        """The bars as last measured, or None when nobody has. Raises YardError."""
        found = self._look_up("print_bars")
        if found is None:
            return None
        value, set_at = found
        return PrintBars(value["across_mm"], value["down_mm"], datetime.fromisoformat(set_at))

    def set_print_bars(self, across_mm: float, down_mm: float) -> PrintBars:
        """Remember the measured bars, mm. Raises SettingRefused when one cannot be a 100 mm bar, YardError."""
        for where, length in (("across", across_mm), ("down", down_mm)):
            if not abs(length - BAR_MM) <= BAR_TOLERANCE_MM:
                raise SettingRefused(
                    f"The bar {where} the paper is drawn 100 mm long, so {length:g} mm cannot be right; measure the "
                    "whole bar again, and print the cards at 100 % if it is really so far off."
                )
        self.set("print_bars", {"across_mm": float(across_mm), "down_mm": float(down_mm)})
        bars = self.print_bars
        assert bars is not None
        return bars

    def _look_up(self, name: str) -> tuple[Any, str] | None:
        with self._database.reading() as connection:
            found = connection.execute(select(table.c.value, table.c.set_at).where(table.c.name == name)).first()
        return None if found is None else (json.loads(found.value), found.set_at)
