"""Photos that wait and show one slab: joined into one that waits, and taken apart again.

A joined photo's file is copied first, then named in the `about.json` of the one it joins, then its own place is cleared: cut
short anywhere in between, it is there once or twice, and what is there twice is cleared at the next start.
"""

import os
from collections.abc import Sequence
from pathlib import Path

from grainlog.web.errors import PageRefused
from grainlog.web.inbox import Inbox, Waiting
from grainlog.yard import disk
from grainlog.yard.keeping import in_a_sentence

#: What was said in px of one photo means nothing on the picture joined from several.
_ON_ONE_PHOTO = ("outline", "dabs", "checks", "reference")


def join(inbox: Inbox, numbers: Sequence[int]) -> Waiting:
    """Let the first of some photos stand for all, to be measured together. Raises PageRefused, YardError."""
    from grainlog.survey.several import MOST_PHOTOS  # loads what measuring needs

    with inbox.lock, in_a_sentence("the photos are as they were"):
        chosen = [inbox.get(number) for number in dict.fromkeys(numbers)]
        if None in chosen:
            raise PageRefused("One of these photos waits no more; choose again.")
        here = [one for one in chosen if one is not None]
        if len(here) < 2 or sum(len(one.hashes) for one in here) > MOST_PHOTOS:
            raise PageRefused(f"Choose two to {MOST_PHOTOS} photos that show one slab.")
        first, *others = here
        further = list(first.further)
        for other in others:
            for path, name, sha256 in photos_of(other):
                file = f"further-{sha256[:16]}{path.suffix}"
                _copy(path, first.folder / file)
                further.append((file, name, sha256))
        disk.sync_folder(first.folder)
        joined = _anew(inbox, first, tuple(further))
        for other in others:
            inbox.leave(other.number)
        return joined


def take_apart(inbox: Inbox, number: int) -> None:
    """Let each photo of a joined one wait by itself again. Raises PageRefused, YardError."""
    with inbox.lock, in_a_sentence("the photos are as they were"):
        waiting = inbox.get(number)
        if waiting is None or not waiting.further:
            raise PageRefused("These photos are not joined.")
        for path, (file, name, sha256) in zip(waiting.others, waiting.further, strict=True):
            # It has a place of its own before it is taken from this one.
            copy = inbox.folder / f"apart-{sha256[:16]}.part"
            _copy(path, copy)
            inbox.take_in(copy, sha256, path.suffix, name, waiting.units, path.stat().st_mtime)
            waiting = _anew(inbox, waiting, tuple(one for one in waiting.further if one[0] != file))
            path.unlink()


def photos_of(waiting: Waiting) -> list[tuple[Path, str, str]]:
    """(file, name, SHA-256) of all photos of one that waits."""
    others = [(path, name, sha256) for path, (_, name, sha256) in zip(waiting.others, waiting.further, strict=True)]
    return [(waiting.photo, waiting.photo_name, waiting.sha256), *others]


def as_they_came(text: str, waiting: Waiting) -> str:
    """A sentence in which photos are called as the phone called them."""
    for path, name, _ in photos_of(waiting):
        text = text.replace(path.name, name)
    return text


def _copy(source: Path, target: Path) -> None:
    """A photo with its date, which is all that tells when it was taken where its metadata does not."""
    disk.copy_hashed(source, target)
    os.utime(target, (source.stat().st_mtime,) * 2)


def _anew(inbox: Inbox, waiting: Waiting, further: tuple[tuple[str, str, str], ...]) -> Waiting:
    """Name the photos that wait with one, to be measured anew."""
    said = (
        None
        if waiting.said is None
        else {name: value for name, value in waiting.said.items() if name not in _ON_ONE_PHOTO}
    )
    changed = inbox.change(
        waiting.number, further=further, said=said, asked=waiting.asked + 1, state="waiting", problem=None, tries=0, urgent=True,
        confirmed=False,
    )  # fmt: skip
    assert changed is not None
    return changed
