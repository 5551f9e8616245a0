"""Opening yard.db so that it cannot be half-written, and turning its failures into sentences.

Rollback journal with synchronous=FULL, always: SQLite before 3.51.3 can corrupt a write-ahead log shared by two
connections, and one plain file is easier to carry to another machine. One connection per use, so nothing is shared
between threads or carried over a fork.
"""

import sqlite3
from contextlib import contextmanager
from pathlib import Path
from typing import Iterator

from sqlalchemy import Connection, create_engine, event
from sqlalchemy.exc import DBAPIError
from sqlalchemy.pool import NullPool

from grainlog.yard.errors import YardError

BUSY_SECONDS = 30.0


def connect(path: Path) -> sqlite3.Connection:
    """A bare connection to an existing yard.db with the yard's habits; transactions are begun by hand."""
    # mode=rw: opening must never make an empty database where one is missing.
    uri = f"{path.absolute().as_uri()}?mode=rw"
    connection = sqlite3.connect(uri, uri=True, timeout=BUSY_SECONDS, isolation_level=None, check_same_thread=False)
    try:
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA synchronous = FULL")
    except BaseException:
        connection.close()
        raise
    return connection


def commit(connection: Connection) -> None:
    """Make a transaction last; on its own so that a test can make it fail."""
    connection.commit()


class Database:
    """yard.db: `reading()` sees one moment, `writing()` is alone with the pen and commits at the end."""

    def __init__(self, path: Path):
        self.path = path
        self._engine = create_engine("sqlite+pysqlite://", creator=lambda: connect(path), poolclass=NullPool)
        event.listen(self._engine, "begin", _begin)

    def close(self) -> None:
        self._engine.dispose()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A connection that sees the yard as it is at one moment. Raises YardError."""
        with _in_a_sentence(), self._engine.connect() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A connection that alone may write; commits at the end, rolls back on any exception. Raises YardError."""
        with _in_a_sentence(), self._engine.connect() as connection:
            # IMMEDIATE: a transaction that starts as a reader may find at its first write that it came too late.
            connection = connection.execution_options(yard_writes=True)
            connection.begin()
            try:
                yield connection
                commit(connection)
            except BaseException:
                connection.rollback()
                raise


def _begin(connection: Connection) -> None:
    writes = connection.get_execution_options().get("yard_writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


@contextmanager
def _in_a_sentence() -> Iterator[None]:
    try:
        yield
    except DBAPIError as error:
        raise YardError(sentence_for(error.orig)) from error
    except sqlite3.Error as error:
        raise YardError(sentence_for(error)) from error


def sentence_for(error: BaseException | None) -> str:
    """What a sawyer should read when SQLite fails."""
    said = str(error)
    if "full" in said:
        return "The disk is full, so nothing was stored; make room and do it again."
    if "locked" in said:
        return (
            f"Another program has kept the yard busy for {BUSY_SECONDS:.0f} seconds, so nothing was stored; "
            "wait until it has finished and do it again."
        )
    if "readonly" in said or "read-only" in said:
        return "The yard cannot be written to; check that the folder and yard.db are not write-protected."
    if "unable to open" in said:
        return "The yard's yard.db could not be opened; check that the folder is there and may be read and written."
    if "malformed" in said or "not a database" in said:
        return "The yard's yard.db is damaged; restore it from a backup of the yard folder."
    return f"The yard's database failed ({said}), so nothing was stored; take stock of the yard, then do it again."
