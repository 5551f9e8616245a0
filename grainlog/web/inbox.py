"""Photos that came over the page and are not filed yet: one folder each in the yard's `inbox/`, whole at any moment.

`inbox/7/` holds the photo as it came, `about.json` (what is said of it and how far it is), and once it was measured
`measured.json` with its pictures. Every file is written under another name, synced and renamed, `about.json` last; so
after a kill a photo is there with what was last said of it, and what was half done is done again.
"""

import json
import os
import shutil
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from threading import RLock
from typing import Any

from grainlog.web.errors import PageRefused
from grainlog.yard import Yard, disk
from grainlog.yard.filing import now_text, storable
from grainlog.yard.keeping import INBOX, REMOVED, in_a_sentence

#: So many photos wait at most; a storm's worth of slabs.
MOST_WAITING = 200
#: A photo that ended its measuring process so often is not tried again by itself.
MOST_TRIES = 3
#: Setting under which a yard keeps the last number given in its inbox.
LAST_NUMBER = "page_inbox_last"
#: Where photos go that were thrown away.
THROWN_AWAY = "thrown-away"
ABOUT, MEASURED = "about.json", "measured.json"
PICTURES = ("flat.jpg", "overlay.jpg")
_MAKING, _GONE = ".making", ".gone"


@dataclass(frozen=True)
class Waiting:
    """A photo that waits.

    number : its name on the page, never given again. photo : the file as it came. photo_name : as the phone called it.
    units : of the lengths in its picture. said : what was said of the photo (`survey.said`); facts : of the slab ("slab",
        "overrule", "log", "species", "note").
    asked : counts up with all that is said, so that an answer to an earlier question is known for one.
    state : "waiting" to be measured, "measured", or "failed" with its `problem`.
    tries : how often its measuring was begun. urgent : somebody waits for it. confirmed : it is filed as soon as it is
        measured, where the outline is the one that was looked at.
    further : the other photos of the slab that are joined with this one (see `inbox_joining`): [file, name, SHA-256] each.
    """

    number: int
    folder: Path
    photo: Path
    photo_name: str
    sha256: str
    arrived_at: str
    units: str = "in"
    said: Mapping[str, Any] | None = None
    facts: Mapping[str, Any] | None = None
    asked: int = 0
    state: str = "waiting"
    problem: str | None = None
    tries: int = 0
    urgent: bool = False
    confirmed: bool = False
    further: tuple[tuple[str, str, str], ...] = ()

    @property
    def hashes(self) -> tuple[str, ...]:
        """The SHA-256 of all its photos."""
        return (self.sha256, *(sha256 for _, _, sha256 in self.further))

    @property
    def others(self) -> tuple[Path, ...]:
        """The files of its other photos."""
        return tuple(self.folder / file for file, _, _ in self.further)

    @property
    def title(self) -> str:
        """What it is called on the page."""
        return ", ".join([self.photo_name, *(name for _, name, _ in self.further)])

    def result(self) -> dict[str, Any] | None:
        """What was last measured, as it is kept (see `measuring_process.Result`); None where nothing was yet."""
        try:
            return json.loads((self.folder / MEASURED).read_text("utf-8"))
        except (OSError, ValueError):
            return None

    def as_json(self) -> dict[str, Any]:
        """What stands in `about.json`."""
        left_out = ("number", "folder", "photo")
        return {"photo": self.photo.name} | {name: value for name, value in vars(self).items() if name not in left_out}


class Inbox:
    """The photos that wait in one yard. Every method raises YardError, in a sentence, where the disk fails."""

    def __init__(self, yard: Yard):
        self.yard = yard
        self.folder = yard.folder / INBOX
        self.lock = RLock()
        self._waiting: dict[int, Waiting] = {}
        self._busy: set[int] = set()
        with in_a_sentence("the photos that wait could not be read"):
            self._load()

    def _load(self) -> None:
        if not self.folder.is_dir():
            return
        for path in sorted(self.folder.iterdir()):
            if path.name.endswith(_MAKING) and path.is_dir():
                self._finish_making(path)
            elif path.name.endswith(_GONE) and path.is_dir():
                shutil.rmtree(path)
        for path in sorted(self.folder.iterdir()):
            if path.is_dir() and path.name.isdecimal() and (waiting := _read(path)) is not None:
                self._waiting[waiting.number] = waiting
        joined = {sha256 for waiting in self._waiting.values() for _, _, sha256 in waiting.further}
        for waiting in self.all():
            if waiting.sha256 in joined:  # joined, and cut short before it was cleared away
                self.leave(waiting.number)
            # Filed, and cut short before it was cleared away.
            if self.yard.find_photo(waiting.sha256) is not None:
                self.leave(waiting.number)

    def _finish_making(self, path: Path) -> None:
        """A photo whose arrival was cut short: whole it comes in, else it still lies in its part."""
        target = path.with_name(path.name.removesuffix(_MAKING))
        made = _read(path)
        if made is not None and made.photo.is_file() and not target.exists():
            disk.rename(path, target)
            disk.sync_folder(self.folder)
        else:
            shutil.rmtree(path)

    def all(self) -> list[Waiting]:
        """All that wait, the longest waiting first."""
        with self.lock:
            return [self._waiting[number] for number in sorted(self._waiting)]

    def get(self, number: int) -> Waiting | None:
        """One that waits, or None."""
        with self.lock:
            return self._waiting.get(number)

    def find(self, sha256: str) -> Waiting | None:
        """The one with these bytes, or None."""
        with self.lock:
            return next((waiting for waiting in self._waiting.values() if sha256 in waiting.hashes), None)

    def take_in(self, source: Path, sha256: str, suffix: str, name: str, units: str, taken: float | None) -> Waiting:
        """Take in a photo that is wholly there; `source` is moved.

        taken : when its file was last changed on the phone, seconds since 1970, for a photo that does not say when it was taken.

        Raises PageRefused when too many wait.
        """
        with self.lock, in_a_sentence("the photo was not taken in"):
            if len(self._waiting) >= MOST_WAITING:
                raise PageRefused(
                    f"{MOST_WAITING} photos wait already; look at some of them first, then send this one."
                )
            number = max([self.yard.settings.get(LAST_NUMBER, 0), *self._waiting]) + 1
            self.yard.settings.set(LAST_NUMBER, number)
            making, final = self.folder / f"{number}{_MAKING}", self.folder / str(number)
            disk.make_folder(making)
            waiting = Waiting(number, final, final / f"photo{suffix}", storable(name)[:200], sha256, now_text(), units)
            disk.write_file(making / ABOUT, _as_bytes(waiting))
            if taken is not None:
                os.utime(source, (taken, taken))
            disk.rename(source, making / waiting.photo.name)
            disk.sync_folder(making)
            disk.rename(making, final)
            disk.sync_folder(self.folder)
            self._waiting[number] = waiting
            return waiting

    def change(self, number: int, **values: Any) -> Waiting | None:
        """Write down something about a photo; None where it waits no more."""
        with self.lock, in_a_sentence():
            waiting = self._waiting.get(number)
            if waiting is None:
                return None
            changed = replace(waiting, **values)
            write_whole(changed.folder / ABOUT, _as_bytes(changed))
            self._waiting[number] = changed
            return changed

    def ask(
        self, number: int, said: Mapping[str, Any], facts: Mapping[str, Any], confirmed: bool = False
    ) -> Waiting | None:
        """Have a photo measured again with what is now said of it, before all others."""
        with self.lock:
            asked = self._waiting[number].asked + 1 if number in self._waiting else 0
            return self.change(
                number, said=dict(said), facts=dict(facts), asked=asked, state="waiting", problem=None, tries=0, urgent=True,
                confirmed=confirmed,
            )  # fmt: skip

    def claim(self) -> Waiting | None:
        """The next photo to be measured, which nobody else gets until it is `let_go`; None where there is none."""
        with self.lock:
            free = [one for one in self._waiting.values() if one.state == "waiting" and one.number not in self._busy]
            for waiting in sorted(free, key=lambda one: (not one.urgent, one.number)):
                if waiting.tries >= MOST_TRIES:
                    said = "Measuring it ended unexpectedly several times (out of memory?); take the photo again, or save it smaller."
                    self.change(waiting.number, state="failed", problem=said, confirmed=False)
                    continue
                self._busy.add(waiting.number)
                try:
                    return self.change(waiting.number, tries=waiting.tries + 1)
                except BaseException:
                    self._busy.discard(waiting.number)
                    raise
            return None

    def let_go(self, number: int) -> None:
        """Whoever claimed a photo is done with it."""
        with self.lock:
            self._busy.discard(number)

    def measured(self, waiting: Waiting, result: Mapping[str, Any], flat: bytes, overlay: bytes) -> Waiting | None:
        """Keep what was measured; None where something else was asked meanwhile, or the photo waits no more."""
        with self.lock, in_a_sentence():
            if not self._still(waiting):
                return None
            for name, data in zip(
                (*PICTURES, MEASURED), (flat, overlay, json.dumps(dict(result)).encode()), strict=True
            ):
                write_whole(waiting.folder / name, data)
            return self.change(waiting.number, state="measured", problem=None, urgent=False, tries=0)

    def failed(self, waiting: Waiting, problem: str) -> Waiting | None:
        """Keep why a photo could not be measured."""
        with self.lock:
            if not self._still(waiting):
                return None
            return self.change(waiting.number, state="failed", problem=problem, urgent=False, confirmed=False, tries=0)

    def _still(self, waiting: Waiting) -> bool:
        now = self._waiting.get(waiting.number)
        return now is not None and now.asked == waiting.asked

    def leave(self, number: int) -> None:
        """Clear away a photo that is in the yard now, with all that was made from it."""
        with self.lock, in_a_sentence("the photo is filed, but still lies in the inbox"):
            waiting = self._waiting.pop(number, None)
            if waiting is not None:
                gone = waiting.folder.with_name(f"{number}{_GONE}")
                disk.rename(waiting.folder, gone)
                shutil.rmtree(gone)

    def throw_away(self, number: int) -> Path | None:
        """Move a photo to the yard's folder of what was removed; returns where it lies now, None where it waits no more."""
        with self.lock, in_a_sentence("the photo is still there"):
            waiting = self._waiting.get(number)
            if waiting is None:
                return None
            target = self.yard.folder / REMOVED / THROWN_AWAY
            disk.make_folder(target)
            kept = target / f"{waiting.sha256}{waiting.photo.suffix}"
            for path, sha256 in zip((*waiting.others, waiting.photo), (*waiting.hashes[1:], waiting.sha256), strict=True):
                disk.rename(path, target / f"{sha256}{path.suffix}")
            disk.sync_folder(target)
            self.leave(number)
            return kept


def write_whole(path: Path, data: bytes) -> None:
    """Write a file so that it is the old one or the new one at any moment. Raises OSError."""
    waiting = path.with_name(f"{path.name}.part")
    disk.write_file(waiting, data)
    disk.rename(waiting, path)
    disk.sync_folder(path.parent)


def _as_bytes(waiting: Waiting) -> bytes:
    return json.dumps(waiting.as_json()).encode()


def _read(folder: Path) -> Waiting | None:
    """A photo's folder; None where it is not whole."""
    try:
        told = json.loads((folder / ABOUT).read_text("utf-8"))
        number = int(folder.name.removesuffix(_MAKING))
        further = ((file, name, sha256) for file, name, sha256 in told.get("further", ()))
        told["further"] = tuple(one for one in further if (folder / one[0]).is_file())
        waiting = Waiting(number, folder, folder / told.pop("photo"), **told)
    except (OSError, ValueError, TypeError, KeyError):
        return None
    return waiting if waiting.photo.is_file() else None
