"""Where the yard's files lie, and how they get there: staged under a temporary name, synced, renamed."""

import errno
import secrets
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Iterable, Iterator

from sqlalchemy import Connection, or_, select

from grainlog.yard import disk
from grainlog.yard.errors import FilingRefused, YardError
from grainlog.yard.filing import CheckedFiling, plain_suffix, unreadable
from grainlog.yard.joined_tables import further_photos
from grainlog.yard.schema import surveys
from grainlog.yard.version_tables import survey_versions

DATABASE = "yard.db"
INCOMING = "incoming"
ORIGINALS = "originals"
PICTURES = "pictures"
REMOVED = "removed"
STRAYS = "strays"
# What the yard's page keeps beside: the key of its cookies, photos that wait to be confirmed, pictures made smaller.
PAGE_KEY = "page.key"
INBOX = "inbox"
PAGE_CACHE = "page-cache"
# What kind of parcel a further photo of a survey is: this and its place among the photos, from 2.
FURTHER = "further-"
# Left by file managers in any folder a person has looked into; nobody's own work.
FILE_MANAGER_LITTER = frozenset({".DS_Store", "Thumbs.db", "desktop.ini"})


@dataclass(frozen=True)
class Parcel:
    """One staged file: what it is ("original", "flat", "overlay", "further-2"), where it waits, where it belongs, its SHA-256."""

    kind: str
    waiting: Path
    place: str
    sha256: str


def place_of(kind: str, photo_sha256: str, suffix: str) -> str:
    """The path of a file below the yard's folder, with forward slashes."""
    if kind == "original":
        return f"{ORIGINALS}/{photo_sha256[:2]}/{photo_sha256}{suffix}"
    return f"{PICTURES}/{photo_sha256[:2]}/{photo_sha256}-{kind}{suffix}"


@contextmanager
def staged(folder: Path, sound: CheckedFiling) -> Iterator[list[Parcel]]:
    """The files of a filing, written and synced under temporary names; what is not placed is gone afterwards.

    Raises FilingRefused when the photo cannot be read or is no longer the one that was measured, OSError.
    """
    filing = sound.filing
    incoming = folder / INCOMING
    disk.make_folder(incoming)
    token = secrets.token_hex(8)
    further = {f"{FURTHER}{position}": one for position, one in enumerate(filing.further, 2)}
    waiting = {kind: incoming / f"{token}-{kind}.part" for kind in ("original", "flat", "overlay", *further)}
    try:
        parcels = [_stage_photo("original", filing.photo, filing.photo_sha256, sound.suffix, waiting["original"])]
        for kind, (photo, sha256) in further.items():
            parcels.append(_stage_photo(kind, photo, sha256, plain_suffix(photo.suffix), waiting[kind]))
        for kind, picture in (("flat", filing.flat), ("overlay", filing.overlay)):
            if picture is None:
                continue
            disk.write_file(waiting[kind], picture.data)
            place = place_of(kind, filing.photo_sha256, plain_suffix(picture.suffix))
            parcels.append(Parcel(kind, waiting[kind], place, disk.sha256_of(waiting[kind])))
        yield parcels
    finally:
        for path in waiting.values():
            path.unlink(missing_ok=True)


def _stage_photo(kind: str, photo: Path, measured_sha256: str, suffix: str, waiting: Path) -> Parcel:
    try:
        photo.open("rb").close()
    except OSError as error:
        raise unreadable(photo, error) from error
    sha256 = disk.copy_hashed(photo, waiting)
    if sha256 != measured_sha256:
        raise FilingRefused(f"The photo {photo.name} has changed since it was measured; measure it again.")
    return Parcel(kind, waiting, place_of("original", sha256, suffix), sha256)


def put_in_place(folder: Path, parcels: Iterable[Parcel]) -> None:
    """Rename staged files to where they belong and sync their folders. Raises OSError."""
    touched = set()
    for parcel in parcels:
        target = folder / parcel.place
        disk.make_folder(target.parent)
        disk.rename(parcel.waiting, target)
        touched.add(target.parent)
    for parent in sorted(touched):
        disk.sync_folder(parent)


def is_whole(path: Path, sha256: str) -> bool:
    """Whether a stored file is there with the bytes it was stored with."""
    try:
        return disk.sha256_of(path) == sha256
    except OSError:
        return False


def is_registered(connection: Connection, place: str) -> bool:
    """Whether a survey in the yard points at this file."""
    columns = (surveys.c.original_path, surveys.c.flat_path, surveys.c.overlay_path)
    queries = (
        select(surveys.c.id).where(or_(*(column == place for column in columns))),
        select(further_photos.c.id).where(further_photos.c.original_path == place),
        select(survey_versions.c.id).where(or_(survey_versions.c.flat_path == place, survey_versions.c.overlay_path == place)),
    )
    return any(connection.execute(query.limit(1)).first() is not None for query in queries)


def set_aside(connection: Connection, folder: Path, places: Iterable[str], target: Path) -> list[Path]:
    """Move files that no survey points at into `target`; those that one points at stay. Raises OSError.

    Under the caller's write lock, so that an `add` of the same photo cannot be half-way in between.
    """
    moved = []
    for place in places:
        source = folder / place
        if source.is_file() and not is_registered(connection, place):
            disk.make_folder(target)
            disk.rename(source, _free_name(target, source.name))
            moved.append(source)
    for parent in sorted({target, *(path.parent for path in moved)}) if moved else ():
        disk.sync_folder(parent)
    return moved


def _free_name(folder: Path, name: str) -> Path:
    path, count = folder / name, 1
    while path.exists():
        count += 1
        path = folder / f"{Path(name).stem}-{count}{Path(name).suffix}"
    return path


@contextmanager
def in_a_sentence(outcome: str = "nothing was stored") -> Iterator[None]:
    """Turn what the disk refuses into a YardError that says how things stand."""
    try:
        yield
    except OSError as error:
        if error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
            raise YardError(f"The disk is full, so {outcome}; make room and do it again.") from error
        raise YardError(
            f"The yard could not be written to ({error.strerror or error}), so {outcome}; "
            "check the disk and do it again."
        ) from error
