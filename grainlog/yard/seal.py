"""A hash over each stored row, so that a change made behind the yard's back is seen when stock is taken."""

import hashlib
import json
from typing import Any, Mapping

from sqlalchemy import ColumnElement, Connection, Table, select, update


def seal_of(row: Mapping[str, Any]) -> str:
    """SHA-256 over a row's columns other than its seal, as JSON with sorted names."""
    kept = {name: value for name, value in row.items() if name != "seal"}
    return hashlib.sha256(json.dumps(kept, sort_keys=True).encode()).hexdigest()


def set_seal(connection: Connection, table: Table, key: ColumnElement[bool]) -> None:
    """Seal the row of `table` that `key` picks, as the database gives it back."""
    row = connection.execute(select(table).where(key)).one()._mapping
    connection.execute(update(table).where(key).values(seal=seal_of(row)))
