"""The steps from one yard version to the next: SQL frozen in files, `step_N/*.sql`, makes a version N yard of the last.

The files of a step run in the order of their names. What SQL cannot say is a function here, as frozen as the files:
once a version has been released neither ever changes.
"""

import sqlite3
from collections.abc import Callable, Mapping
from importlib.resources import files

from grainlog.yard.seal import seal_of

Migration = Callable[[sqlite3.Connection], None]


def _sql_of(version: int) -> Migration:
    def migrate(connection: sqlite3.Connection) -> None:
        folder = files("grainlog.yard") / f"step_{version}"
        for file in sorted(
            (item for item in folder.iterdir() if item.name.endswith(".sql")), key=lambda item: item.name
        ):
            for statement in file.read_text(encoding="utf-8").split(";\n"):
                if statement.strip():
                    connection.execute(statement)

    return migrate


def _to_version_2(connection: sqlite3.Connection) -> None:
    _sql_of(2)(connection)
    for table, key, new in (("slabs", "number", ("piece_of", "letter")), ("surveys", "id", ("cut_from", "before_cut"))):
        _seal_again(connection, table, key, new)


def _seal_again(connection: sqlite3.Connection, table: str, key: str, new: tuple[str, ...]) -> None:
    """Seals over rows that have gained columns; a row whose old seal was broken keeps it, so that it is still seen."""
    names = [row[1] for row in connection.execute(f"PRAGMA table_info({table})")]
    for (row_key,) in connection.execute(f"SELECT {key} FROM {table}").fetchall():
        values = connection.execute(f"SELECT * FROM {table} WHERE {key} = ?", (row_key,)).fetchone()
        row = dict(zip(names, values, strict=True))
        before = {name: value for name, value in row.items() if name not in new}
        if seal_of(before) == row["seal"]:
            connection.execute(f"UPDATE {table} SET seal = ? WHERE {key} = ?", (seal_of(row), row_key))


# From the version in the key to the next one.
MIGRATIONS: Mapping[int, Migration] = {1: _to_version_2, 2: _sql_of(3)}
