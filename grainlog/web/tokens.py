"""Secrets of the page: the key that signs its cookies, and the codes by which a device is paired.

A code is short, because a person may have to type it: eight letters and digits that cannot be mistaken for each other (32
symbols, 40 bits), good for ten minutes and for one device, with a limit on tries.
"""

import os
import secrets
import time
from collections import deque
from pathlib import Path
from threading import Lock

from grainlog.yard.keeping import PAGE_KEY

#: Crockford's base 32 (crockford.com/base32.html): no I, L, O or U, so that nothing is misread.
ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
CODE_LETTERS = 8
CODE_SECONDS = 600.0


def page_key(folder: Path) -> bytes:
    """The key that signs this yard's cookies, made at the first use and readable by its owner alone. Raises OSError."""
    path = folder / PAGE_KEY
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        if key := path.read_bytes():
            return key
        path.unlink()  # the machine stopped between making the file and writing it
        return page_key(folder)
    with os.fdopen(handle, "wb") as file:
        file.write(secrets.token_bytes(32))
        file.flush()
        os.fsync(file.fileno())
    return path.read_bytes()


class PairingCode:
    """The one code by which a device may be paired at a time; safe between threads."""

    def __init__(self, clock=time.monotonic):
        self._clock = clock
        self._lock = Lock()
        self._code: str | None = None
        self._until = 0.0

    def fresh(self) -> str:
        """A new code; the one before it is no longer good. Written as two groups of four."""
        with self._lock:
            self._code = "".join(secrets.choice(ALPHABET) for _ in range(CODE_LETTERS))
            self._until = self._clock() + CODE_SECONDS
            return f"{self._code[:4]}-{self._code[4:]}"

    def spend(self, typed: str) -> bool:
        """Whether this is the code, still good; if so it is used up."""
        plain = "".join(typed.upper().split()).replace("-", "").replace("O", "0").replace("I", "1").replace("L", "1")
        with self._lock:
            good = (
                self._code is not None
                and self._clock() < self._until
                and secrets.compare_digest(plain.encode(), self._code.encode())
            )
            if good:
                self._code = None
            return good


class Tries:
    """How often something was tried of late: at most `most` times in `seconds`, counted over everybody.

    Over everybody and not by address, because addresses on a home network cost nothing.
    """

    def __init__(self, most: int, seconds: float, clock=time.monotonic):
        self._most, self._seconds, self._clock = most, seconds, clock
        self._lock = Lock()
        self._times: deque[float] = deque()

    def allowed(self) -> bool:
        """Count one try; False when there were too many."""
        with self._lock:
            now = self._clock()
            while self._times and now - self._times[0] > self._seconds:
                self._times.popleft()
            if len(self._times) >= self._most:
                return False
            self._times.append(now)
            return True
