"""Measuring what waits in the inbox, in the background: two photos at a time at most, each in a process of its own."""

import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from threading import Condition, Event, Thread
from typing import Any

import numpy as np
import shapely

from grainlog.errors import GrainlogError
from grainlog.web.inbox import Inbox, Waiting
from grainlog.web.inbox_filing import file_photo
from grainlog.web.inbox_joining import as_they_came, photos_of
from grainlog.web.inbox_words import plain, said_for
from grainlog.web.measuring_bench import BenchBroken, BenchHandle, TaskRefused
from grainlog.web.mend_waiting import (
    Mends,
    WaitingMend,
    measure_again,
    under_their_names,
)
from grainlog.yard import Yard

AT_A_TIME = 2
#: A photo that was confirmed before it was measured again is filed by itself where the new outline overlaps (IoU) the one
#: that was looked at by as much; common practice, no source.
SAME_OUTLINE = 0.98
_LOG = logging.getLogger("grainlog.web")


@dataclass
class Measuring:
    """The measuring of one inbox.

    mends : the surveys that wait to be measured again. steps : what is being done to which photo, by number; mend_steps : to
    which survey. filed : tags of slabs under which photos were filed, by number.
    """

    yard: Yard
    inbox: Inbox
    mends: Mends
    stop: Event
    steps: dict[int, str] = field(default_factory=dict)
    mend_steps: dict[int, str] = field(default_factory=dict)
    filed: dict[int, int] = field(default_factory=dict)
    _threads: list[Thread] = field(default_factory=list)
    _news: Condition = field(default_factory=Condition)
    _mending: BenchHandle | None = None

    def wake(self) -> None:
        """Something waits to be measured."""
        with self._news:
            if not self._threads and not self.stop.is_set():
                self._threads = [
                    Thread(target=self._work, name=f"measuring {k}", daemon=True) for k in range(AT_A_TIME)
                ]
                for thread in self._threads:
                    thread.start()
            self._news.notify_all()

    @property
    def mending(self) -> BenchHandle:
        """The process for what somebody waits for at the page: dabs that are tried."""
        self.wake()  # whose threads end it with the page
        with self._news:
            if self._mending is None:
                self._mending = BenchHandle(self.yard.folder, self.stop)
            return self._mending

    def _work(self) -> None:
        bench = BenchHandle(self.yard.folder, self.stop)
        try:
            while not self.stop.is_set():
                # Somebody waits for a survey that was mended.
                if not self._next(bench, self.mends, self._mend, self.mend_steps) and not self._next(
                    bench, self.inbox, self._measure, self.steps
                ):
                    with self._news:
                        self._news.wait(2.0)
                    bench.rest()
        finally:
            bench.close()
            if self._mending is not None:
                self._mending.close()

    def _next(self, bench: BenchHandle, queue: Inbox | Mends, do: Callable, steps: dict[int, str]) -> bool:
        """Do the next of a queue; False where nothing waits."""
        try:
            waiting = queue.claim()
        except GrainlogError:  # the disk: told at the next request, tried again then
            return False
        if waiting is None:
            return False
        try:
            steps[waiting.number] = "starting"
            do(bench, waiting)
        except GrainlogError as error:
            _LOG.warning("%s %s: %s", do.__name__, waiting.number, error)
        except Exception:
            _LOG.exception("%s %s", do.__name__, waiting.number)
        finally:
            steps.pop(waiting.number, None)
            queue.let_go(waiting.number)
        return True

    def _mend(self, bench: BenchHandle, waiting: WaitingMend) -> None:
        try:
            task, before = measure_again(self.yard, waiting)
            made = bench.ask(task, lambda step: self.mend_steps.__setitem__(waiting.number, step)).measured
            names = {one["sha256"]: one["name"] for one in (before.get("photos") or {}).get("joined", ())}
            under_their_names(made.record, names, before["photo"]["name"])
            self.mends.measured(waiting, made)
        except BenchBroken as broken:
            if not self.stop.is_set():
                _LOG.warning("survey %s: %s", waiting.number, broken)
        except GrainlogError as problem:
            self.mends.failed(waiting, plain(str(problem)))

    def _measure(self, bench: BenchHandle, waiting: Waiting) -> None:
        # Not imported above: what it loads belongs into the measuring process.
        from grainlog.web.measuring_process import MeasureTask

        task = MeasureTask(waiting.photo, said_for(self.yard, waiting), dict(waiting.facts or {}), waiting.units, waiting.others)
        try:
            result = bench.ask(task, lambda step: self.steps.__setitem__(waiting.number, step))
        except TaskRefused as refused:
            self.inbox.failed(waiting, plain(as_they_came(str(refused), waiting)))
            return
        except BenchBroken as broken:
            # Left waiting: it is tried again, a few times.
            if not self.stop.is_set():
                _LOG.warning("photo %s: %s", waiting.number, broken)
            return
        before = waiting.result() if waiting.confirmed else None
        names = {sha256: name for _, name, sha256 in photos_of(waiting)}
        under_their_names(result.measured.record, names, waiting.title)
        measured = self.inbox.measured(waiting, result.as_json(), result.measured.flat, result.measured.overlay)
        if measured is not None and measured.confirmed:
            self._file_confirmed(measured, before, result.measured.record)

    def _file_confirmed(self, waiting: Waiting, before: Mapping[str, Any] | None, record: Mapping[str, Any]) -> None:
        if before is None or overlap(before["record"], record) < SAME_OUTLINE:
            self.inbox.change(
                waiting.number, confirmed=False, problem="The outline is another one now: look at it once more."
            )
            return
        try:
            self.filed[waiting.number] = file_photo(self.yard, self.inbox, waiting).slab
        except GrainlogError as error:
            self.inbox.change(waiting.number, confirmed=False, problem=plain(str(error)))


def overlap(one: Mapping[str, Any], other: Mapping[str, Any]) -> float:
    """The overlap (IoU) of the wood outlines of two records of one photo, in its pixels."""
    rings = (
        shapely.make_valid(shapely.Polygon(np.array(record["outline"]["wood_px"], float))) for record in (one, other)
    )
    first, second = rings
    return float(first.intersection(second).area / max(first.union(second).area, 1e-9))


def mend_task(run: Callable[[BenchHandle], Any], measuring: Measuring) -> Any:
    """Do something with the mending process, once more where it broke. Raises TaskRefused, BenchBroken."""
    try:
        return run(measuring.mending)
    except BenchBroken:
        return run(measuring.mending)
