"""Telling the files of an `add` at work from those that a killed one left behind.

Whoever puts files into the yard shares a lock on `yard.lock` while it does; the system drops the lock when the process
ends, however it ends. Whoever gets the lock alone therefore knows that every temporary file is a leftover. The lock
has a file to itself because opening `yard.db` beside SQLite would drop SQLite's own POSIX locks when it is closed
(sqlite.org/howtocorrupt.html, section 2.2).
"""

from contextlib import contextmanager
from pathlib import Path
from typing import Iterator

try:
    import fcntl
except ImportError:  # Windows: without a shared lock nobody is ever sure to be alone, so leftovers stay.
    fcntl = None

LOCK_NAME = "yard.lock"


@contextmanager
def handling_files(folder: Path) -> Iterator[None]:
    """Hold off the sweeping of temporary files while this process has some in hand. Raises OSError."""
    with open(folder / LOCK_NAME, "ab") as handle:
        if fcntl is not None:
            fcntl.flock(handle, fcntl.LOCK_SH)
        yield


@contextmanager
def alone(folder: Path) -> Iterator[bool]:
    """Whether no other process has files in hand; True holds until the block ends. Raises OSError."""
    with open(folder / LOCK_NAME, "ab") as handle:
        if fcntl is None:
            yield False
            return
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            yield False
            return
        yield True
