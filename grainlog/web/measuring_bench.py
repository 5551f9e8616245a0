"""A measuring process as the page sees it: started when it is needed, ended when it hangs or idles, started again."""

import time
from collections.abc import Callable
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path
from threading import Event, Lock
from typing import Any

from grainlog.errors import GrainlogError

#: A photo that takes longer than this hangs, seconds; 200 megapixels take about half a minute.
LONGEST = 240.0
#: A process that had nothing to do for so long is ended, seconds: it holds a photo and the networks in memory.
IDLE = 300.0


class TaskRefused(GrainlogError):
    """The process says, in a sentence, why it could not be done."""


class BenchBroken(GrainlogError):
    """The process ended in the middle of a task, hung, or came upon an error of the program."""


class BenchHandle:
    """One measuring process; tasks are done one after the other."""

    def __init__(self, folder: Path, stop: Event):
        self._folder = folder
        self._stop = stop
        self._lock = Lock()
        self._process: Any = None
        self._pipe: Connection | None = None
        self._used = time.monotonic()

    def ask(self, task: Any, step: Callable[[str], None] = lambda said: None) -> Any:
        """What a task of `measuring_process` answers. Raises TaskRefused, BenchBroken."""
        with self._lock:
            try:
                return self._asked(task, step)
            finally:
                self._used = time.monotonic()

    def _asked(self, task: Any, step: Callable[[str], None]) -> Any:
        if self._process is None or not self._process.is_alive():
            self._start()
        assert self._pipe is not None
        until = time.monotonic() + LONGEST
        try:
            self._pipe.send(task)
            while True:
                while not self._pipe.poll(0.2):
                    if self._stop.is_set() or time.monotonic() > until:
                        raise EOFError
                kind, said = self._pipe.recv()
                if kind == "step":
                    step(said)
                elif kind == "done":
                    return said
                elif kind == "refused":
                    raise TaskRefused(said)
                else:
                    raise BenchBroken(
                        f"Something in the program is broken ({said}); take the photo again or send it to its makers."
                    )
        except (EOFError, OSError) as error:
            self._end()
            raise BenchBroken("Measuring ended unexpectedly (out of memory?); it is tried again.") from error

    def _start(self) -> None:
        self._end()
        # Loaded by the process, not by the page: cv2 and the networks stay out of the server.
        from grainlog.web.measuring_process import main

        context = get_context("spawn")
        self._pipe, theirs = context.Pipe()
        self._process = context.Process(
            target=main, args=(theirs, self._folder), daemon=True, name="grainlog measuring"
        )
        self._process.start()
        theirs.close()

    def rest(self) -> None:
        """End the process if it has been idle for long."""
        if self._process is not None and time.monotonic() - self._used > IDLE and self._lock.acquire(blocking=False):
            try:
                self._end()
            finally:
                self._lock.release()

    def close(self) -> None:
        """End the process now."""
        self._end()

    def _end(self) -> None:
        process, self._process = self._process, None
        pipe, self._pipe = self._pipe, None
        if pipe is not None:
            pipe.close()
        if process is not None:
            process.kill()
            process.join(5)
            process.close()
