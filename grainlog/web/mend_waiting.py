"""Surveys in the yard that wait to be measured again as they were mended: nothing drawn is lost, and nothing is done twice.

`inbox/mend-12.json` is what was drawn on survey 12, written under another name, synced and renamed. It goes once the new version
is filed; where the page ends in between, the survey has more versions than it had when it was drawn on, and that is seen.
"""

import json
import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from threading import RLock
from typing import TYPE_CHECKING, Any

from grainlog.errors import GrainlogError
from grainlog.web.inbox import MOST_TRIES, write_whole
from grainlog.yard import NoSuchSlab, Yard, disk
from grainlog.yard.keeping import INBOX, in_a_sentence

if TYPE_CHECKING:
    from grainlog.yard.adding import Measured

_NAME = "mend-{}.json"


@dataclass(frozen=True)
class WaitingMend:
    """A survey that waits to be measured again.

    number : of the survey. said : as in `survey.said`. why : a few words of what was done. versions : how many there were
    before the one that was drawn on. units : of the lengths in its picture. tries : how often measuring was begun.
    problem : why it could not be measured; somebody has to look at it then. mark : tells it from one that was asked later.
    """

    number: int
    said: Mapping[str, Any]
    why: str
    versions: int
    units: str
    tries: int = 0
    problem: str | None = None
    mark: str = field(default_factory=lambda: secrets.token_hex(4))


class Mends:
    """The surveys of one yard that wait. Every method raises YardError, in a sentence, where the disk fails."""

    def __init__(self, yard: Yard):
        self._yard = yard
        self._folder = yard.folder / INBOX
        self._lock = RLock()
        self._waiting: dict[int, WaitingMend] = {}
        self._busy: set[int] = set()
        #: The version that a survey was given by this process, for whoever waited for it.
        self.made: dict[int, int] = {}
        with in_a_sentence("what was drawn could not be read"):
            for path in sorted(self._folder.glob(_NAME.format("*"))):
                self._load(path)

    def _load(self, path: Path) -> None:
        try:
            waiting = WaitingMend(**json.loads(path.read_text("utf-8")))
            done = len(self._yard.versions.earlier(waiting.number)) > waiting.versions
            self._yard.versions.slab_of(waiting.number)
        except (ValueError, TypeError, NoSuchSlab):
            done = True
        if done:  # filed before it was cleared away, or of a survey that was removed
            path.unlink()
        else:
            self._waiting[waiting.number] = waiting

    def get(self, survey: int) -> WaitingMend | None:
        """What waits of a survey, or None."""
        with self._lock:
            return self._waiting.get(survey)

    def any(self) -> bool:
        """Whether something waits to be measured."""
        with self._lock:
            return any(one.problem is None for one in self._waiting.values())

    def ask(self, survey: int, said: Mapping[str, Any], why: str, units: str) -> None:
        """Have a survey measured again with what was drawn; what was drawn on it before and not measured yet is replaced."""
        with self._lock:
            self._keep(WaitingMend(survey, dict(said), why, len(self._yard.versions.earlier(survey)), units))

    def claim(self) -> WaitingMend | None:
        """The next to be measured, which nobody else gets until it is `let_go`; None where there is none."""
        with self._lock:
            for waiting in list(self._waiting.values()):
                if waiting.problem is not None or waiting.number in self._busy:
                    continue
                if waiting.tries >= MOST_TRIES:
                    self.failed(
                        waiting,
                        "Measuring it ended unexpectedly several times (out of memory?); draw less, or try again later.",
                    )
                    continue
                begun = replace(waiting, tries=waiting.tries + 1)
                self._keep(begun)
                self._busy.add(waiting.number)
                return begun
            return None

    def let_go(self, survey: int) -> None:
        """Whoever claimed it is done with it."""
        with self._lock:
            self._busy.discard(survey)

    def measured(self, waiting: WaitingMend, made: "Measured") -> None:
        """File the new version, unless something else was drawn meanwhile. Raises what `Versions.replace` raises."""
        with self._lock:
            if not self._still(waiting):
                return
            version = self._yard.versions.replace(waiting.number, made.record, made.flat, made.overlay, waiting.why)
            self.made[waiting.number] = version
            self.drop(waiting.number)

    def failed(self, waiting: WaitingMend, problem: str) -> None:
        """Keep why it could not be measured, with what was drawn."""
        with self._lock:
            if self._still(waiting):
                self._keep(replace(waiting, problem=problem, tries=0))

    def drop(self, survey: int) -> None:
        """Forget what was drawn on a survey."""
        with self._lock, in_a_sentence("what was drawn still waits"):
            if self._waiting.pop(survey, None) is not None:
                self._path(survey).unlink(missing_ok=True)
                disk.sync_folder(self._folder)

    def _still(self, waiting: WaitingMend) -> bool:
        now = self._waiting.get(waiting.number)
        return now is not None and now.mark == waiting.mark

    def _keep(self, waiting: WaitingMend) -> None:
        with in_a_sentence("what was drawn is not kept"):
            disk.make_folder(self._folder)
            write_whole(self._path(waiting.number), json.dumps(vars(waiting)).encode())
        self._waiting[waiting.number] = waiting

    def _path(self, survey: int) -> Path:
        return self._folder / _NAME.format(survey)


def measure_again(yard: Yard, waiting: WaitingMend) -> tuple[Any, Mapping[str, Any]]:
    """The task that measures a survey again, and its record as it is. Raises GrainlogError where it cannot be mended any more."""
    # What this loads belongs into the measuring process.
    from grainlog.web.measuring_process import MeasureTask

    yard.versions.require_mendable(waiting.number)
    slab = yard.versions.slab_of(waiting.number)
    entry = next((one for one in yard.slab(slab).surveys if one.id == waiting.number), None)
    if entry is None:
        raise GrainlogError("This survey is not in the yard any more; look at its slab.")
    facts = {"slab": slab, "overrule": True}
    return MeasureTask(entry.original, dict(waiting.said), facts, waiting.units, entry.further), entry.record


def under_their_names(record: dict[str, Any], names: Mapping[str, str], whole: str) -> None:
    """Let a record call its photos as they came: where they lie, files have names of our own.

    names : by SHA-256, of photos that were joined. whole : of the one photo, or of all that were joined.
    """
    record["photo"]["name"] = whole
    for one in (record.get("photos") or {}).get("joined", ()):
        one["name"] = names.get(one["sha256"], one["name"])
