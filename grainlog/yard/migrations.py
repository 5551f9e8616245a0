"""Making yard.db, recognising one, and bringing an older one up to date.

A migration (`steps`) is frozen at its version, because the tables in `schema` move on. Each runs in one transaction
with foreign keys off (a table that others point at can then be rebuilt; sqlite.org/lang_altertable.html, section 7),
is checked for dangling keys before it is committed, and is preceded by a backup `yard.db.before-vN`.
"""

import sqlite3
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Iterator, Mapping

from grainlog.yard import disk
from grainlog.yard.database import connect, sentence_for
from grainlog.yard.errors import NotAYard, YardError, YardInTheWay, YardTooNew
from grainlog.yard.schema import APPLICATION_ID, SCHEMA_VERSION
from grainlog.yard.steps import MIGRATIONS, Migration
from grainlog.yard.tables import table_statements


def is_yard(path: Path) -> bool:
    """Whether a file is a yard's database, of whatever version. Raises NotAYard, YardError."""
    with _opened(path) as connection:
        return _number(connection, "application_id") == APPLICATION_ID


def make_tables(path: Path) -> None:
    """Turn an empty yard.db into a yard's, in one transaction. Raises YardInTheWay, YardError."""
    with _opened(path) as connection:
        connection.execute("BEGIN IMMEDIATE")
        if _number(connection, "application_id") == APPLICATION_ID:
            raise YardInTheWay(f"There is already a yard in {path.parent}; use it, or start one in another folder.")
        if connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
            raise YardInTheWay(f"{path} belongs to another program; start the yard in another folder.")
        for statement in table_statements():
            connection.execute(statement)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")
        connection.execute("COMMIT")


def bring_up_to_date(
    path: Path, migrations: Mapping[int, Migration] = MIGRATIONS, newest: int = SCHEMA_VERSION
) -> None:
    """Check that `path` is a yard's database and migrate it to version `newest`.

    Raises NotAYard, YardTooNew, and YardError when a migration fails; the yard then stays at the version it had.
    """
    with _opened(path) as connection:
        version = _version(connection, path, newest)
        # DELETE is SQLite's default; this brings back a yard that some other program switched over.
        connection.execute("PRAGMA journal_mode = DELETE").fetchone()
        while version < newest:
            version = _migrate_once(connection, path, migrations, newest)


def _migrate_once(connection: sqlite3.Connection, path: Path, migrations: Mapping[int, Migration], newest: int) -> int:
    connection.execute("PRAGMA foreign_keys = OFF")
    connection.execute("BEGIN IMMEDIATE")
    try:
        # Read again under the lock: another process may just have done this step.
        version = _version(connection, path, newest)
        if version == newest:
            connection.execute("ROLLBACK")
            return version
        _back_up(path, version + 1)
        migrations[version](connection)
        if dangling := connection.execute("PRAGMA foreign_key_check").fetchall():
            raise YardError(
                f"The yard could not be brought to version {version + 1} ({len(dangling)} entries point at nothing) "
                f"and was left as it was; take stock of it with the grainlog that wrote it."
            )
        connection.execute(f"PRAGMA user_version = {version + 1}")
        connection.execute("COMMIT")
    except BaseException as error:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        if isinstance(error, OSError):
            raise YardError(
                f"The backup before bringing the yard up to date could not be written ({error.strerror}); "
                "the yard was left as it was. Make room in its folder and open it again."
            ) from error
        raise
    return version + 1


def _back_up(path: Path, next_version: int) -> None:
    """Copy yard.db through SQLite while the caller's lock keeps other writers out. Raises OSError, sqlite3.Error."""
    kept = path.with_name(f"{path.name}.before-v{next_version}")
    temporary = kept.with_name(kept.name + ".part")
    temporary.unlink(missing_ok=True)
    source, copy = connect(path), sqlite3.connect(temporary)
    try:
        source.backup(copy)
    finally:
        copy.close()
        source.close()
    disk.rename(temporary, kept)
    disk.sync_folder(kept.parent)


def _version(connection: sqlite3.Connection, path: Path, newest: int) -> int:
    if _number(connection, "application_id") != APPLICATION_ID:
        raise NotAYard(
            f"{path} is not a yard's database, or starting the yard was cut short; "
            "open the folder in which a yard was started, or start one there."
        )
    version = _number(connection, "user_version")
    if version > newest:
        raise YardTooNew(
            f"This yard was written by a later grainlog (yard version {version}, this one knows {newest}); "
            "install the later grainlog to use it."
        )
    return version


def _number(connection: sqlite3.Connection, pragma: str) -> int:
    return connection.execute(f"PRAGMA {pragma}").fetchone()[0]


@contextmanager
def _opened(path: Path) -> Iterator[sqlite3.Connection]:
    try:
        with closing(connect(path)) as connection:
            yield connection
    except sqlite3.Error as error:
        if "not a database" in str(error):
            raise NotAYard(f"{path} is not a yard's database; open the folder in which a yard was started.") from error
        raise YardError(sentence_for(error)) from error
