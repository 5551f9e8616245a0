"""Readings that are sent to the yard and may arrive twice, late, or after they were taken back."""

import json
import re

from sqlalchemy import Connection, insert, select, update

from grainlog.errors import WrongUse
from grainlog.yard.filing import now_text
from grainlog.yard.page_entries_tables import page_entries

_ID = re.compile(r"[A-Za-z0-9-]{8,64}")


class ReadingRefused(WrongUse):
    """The reading contradicts what the yard knows, or cannot be what it says."""


def was_sent(connection: Connection, once: str) -> bool:
    """Whether something came under this id before. Raises ReadingRefused for what is no id."""
    if not _ID.fullmatch(once):
        raise ReadingRefused("The reading came without an id of its own; open the page again and enter it once more.")
    return connection.execute(select(page_entries.c.id).where(page_entries.c.id == once)).first() is not None


def remember(connection: Connection, once: str, slab: int | None, names: list[str], taken_back: bool = False) -> None:
    """Keep what came of an id, inside the caller's transaction."""
    now = now_text()
    connection.execute(
        insert(page_entries).values(
            id=once, slab_number=slab, readings=json.dumps(names), kept_at=now, taken_back_at=now if taken_back else None
        )
    )


def withdraw(connection: Connection, once: str) -> list[str]:
    """Mark an id as taken back, inside the caller's transaction; returns the readings that it became."""
    if not was_sent(connection, once):
        remember(connection, once, None, [], taken_back=True)
        return []
    row = connection.execute(select(page_entries.c.readings).where(page_entries.c.id == once)).one()
    connection.execute(update(page_entries).where(page_entries.c.id == once).values(taken_back_at=now_text()))
    return json.loads(row.readings)
