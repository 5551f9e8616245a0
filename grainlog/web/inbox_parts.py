"""Photos on their way in: sent in parts that are kept as they come, so that a lost connection costs one part at most.

The phone names each photo by a string of its own; hashed, it names the file `inbox/HASH.part`, whose length says how much
has arrived. A part is synced before it is acknowledged.
"""

import hashlib
import os
import shutil
import time
from dataclasses import dataclass
from pathlib import Path
from threading import Lock
from typing import BinaryIO

from grainlog.photo import PhotoError, photo_suffix
from grainlog.web.errors import PageRefused
from grainlog.web.inbox import MOST_WAITING, Inbox, Waiting
from grainlog.yard import Filed, disk
from grainlog.yard.keeping import in_a_sentence

#: The largest photo taken, and the largest part of one, bytes.
LARGEST, PART = 60_000_000, 1 << 20
#: A photo whose next part has not come for so long is given up, seconds.
GIVEN_UP = 30 * 24 * 3600
_SUFFIX = ".part"


class OutOfStep(PageRefused):
    """A part does not follow on what has arrived; `at` says how much that is."""

    def __init__(self, at: int):
        super().__init__("That part of the photo does not follow on what has arrived; go on from there.")
        self.at = at


@dataclass(frozen=True)
class Arrived:
    """How far a photo is: `at` bytes of it are here; once all are, the photo that waits, or where it is in the yard."""

    at: int
    waiting: Waiting | None = None
    filed: Filed | None = None
    twice: bool = False

    @property
    def done(self) -> bool:
        """Whether the phone can forget it."""
        return self.waiting is not None or self.filed is not None


class Parts:
    """Photos on their way into one inbox."""

    def __init__(self, inbox: Inbox):
        self._inbox = inbox
        self._locks: dict[str, Lock] = {}
        self._lock = Lock()
        self._give_up()

    def _give_up(self) -> None:
        if self._inbox.folder.is_dir():
            for path in self._inbox.folder.glob(f"*{_SUFFIX}"):
                if time.time() - path.stat().st_mtime > GIVEN_UP:
                    path.unlink(missing_ok=True)

    def arrived(self, key: str) -> int:
        """How many bytes of a photo are here."""
        path = self._path(key)
        return path.stat().st_size if path.exists() else 0

    def take(self, key: str, size: int, at: int, data: bytes, name: str, units: str, taken: float | None) -> Arrived:
        """Take the part of a photo of `size` bytes that begins at `at`; the last one brings it into the inbox.

        Raises OutOfStep, PageRefused for what is no photo or too large, YardError; what had arrived before stays.
        """
        if not 0 < size <= LARGEST:
            raise PageRefused(f"A photo may have {LARGEST // 10**6} MB; save this one smaller, or as a JPEG.")
        if len(data) > PART or at + len(data) > size:
            raise PageRefused("That part of the photo is longer than was said; send the photo again.")
        path = self._path(key)
        with self._lock:
            lock = self._locks.setdefault(path.name, Lock())
        with lock, in_a_sentence("this part of the photo was not kept"):
            here = self.arrived(key)
            if at != here:
                raise OutOfStep(here)
            if not path.exists():
                self._refuse_too_many()
                disk.make_folder(self._inbox.folder)
            with open(path, "ab") as file:
                try:
                    disk.write(file, data)
                    disk.sync_file(file)
                except OSError:
                    os.truncate(path, here)
                    raise
            if here == 0:
                disk.sync_folder(path.parent)
            if here + len(data) < size:
                return Arrived(here + len(data))
            return self._finished(path, name, units, taken)

    def take_whole(self, stream: BinaryIO, name: str, units: str) -> Arrived:
        """Take a photo that was sent in one piece, by a form. Raises PageRefused, YardError."""
        path = self._path(os.urandom(16).hex())
        with in_a_sentence("the photo was not kept"):
            self._refuse_too_many()
            disk.make_folder(self._inbox.folder)
            try:
                with open(path, "wb") as file:
                    shutil.copyfileobj(stream, file, 1 << 20)
                    disk.sync_file(file)
                if path.stat().st_size > LARGEST:
                    raise PageRefused(f"A photo may have {LARGEST // 10**6} MB; save {name} smaller, or as a JPEG.")
                return self._finished(path, name, units, None)
            finally:
                path.unlink(missing_ok=True)

    def _finished(self, path: Path, name: str, units: str, taken: float | None) -> Arrived:
        inbox, size = self._inbox, path.stat().st_size
        sha256 = disk.sha256_of(path)
        # One at a time, or the same photo sent twice at once would be taken in twice.
        with inbox.lock:
            known = inbox.find(sha256)
            filed = None if known else inbox.yard.find_photo(sha256)
            if known is None and filed is None:
                try:
                    suffix = photo_suffix(path, "".join(sign if sign.isprintable() else "?" for sign in name))
                except PhotoError as error:
                    path.unlink(missing_ok=True)
                    raise PageRefused(str(error)) from error
                taken_in = inbox.take_in(path, sha256, suffix, name, units, taken)
                return Arrived(size, taken_in)
            path.unlink(missing_ok=True)
            return Arrived(size, known, filed, twice=True)

    def _refuse_too_many(self) -> None:
        coming = sum(1 for _ in self._inbox.folder.glob(f"*{_SUFFIX}")) if self._inbox.folder.is_dir() else 0
        if len(self._inbox.all()) + coming >= MOST_WAITING:
            raise PageRefused(f"{MOST_WAITING} photos wait already; look at some of them first, then send this one.")

    def _path(self, key: str) -> Path:
        # Nothing that a phone sends names a file.
        return self._inbox.folder / f"{hashlib.sha256(key.encode('utf-8', 'replace')).hexdigest()[:40]}{_SUFFIX}"
