"""What is handed to the yard to be filed, and what the yard answers."""

import json
import math
import unicodedata
from dataclasses import dataclass
from datetime import datetime, timezone
from pathlib import Path
from typing import Any, Mapping

from grainlog.yard.errors import FilingRefused

SIDES = ("bark", "heart")


@dataclass(frozen=True)
class Picture:
    """A picture made from the photo: its encoded bytes and the suffix of its format, such as ".png"."""

    data: bytes
    suffix: str


@dataclass(frozen=True)
class SlabFacts:
    """What the person says about the slab.

    number : the slab's tag when this is another survey of a slab in the yard; None for a new slab.
    log, species : names as the person writes them; a new slab needs a log.
    order : the slab's place within its log, from 1; None takes the next free one.
    thickness_readings_mm : readings around the slab, mm.
    note : free text kept with the survey.
    new_number : the number on the tag of a new slab; None gives it the next one.
    """

    number: int | None = None
    log: str | None = None
    order: int | None = None
    species: str | None = None
    thickness_readings_mm: tuple[float, ...] = ()
    note: str = ""
    new_number: int | None = None


@dataclass(frozen=True)
class Filing:
    """One surveyed photo to be filed.

    photo : the original file, copied byte for byte.
    photo_sha256 : the hash of the bytes that were measured; the copy must have the same.
    record : the survey as plain JSON data, stored whole; the yard itself reads its "photo", "face" and "outline".
    facts : what the person says about the slab.
    flat, overlay : pictures made from the photo.
    surveyed_at : when the photo was taken, if the photo itself does not say; else the file's own date is used.
    photo_name : the name to remember it by, if not that of the file.
    further : the other photos of a survey that was joined from several, each with the hash of what was measured.
    """

    photo: Path
    photo_sha256: str
    record: Mapping[str, Any]
    facts: SlabFacts = SlabFacts()
    flat: Picture | None = None
    overlay: Picture | None = None
    surveyed_at: datetime | None = None
    photo_name: str | None = None
    further: tuple[tuple[Path, str], ...] = ()


@dataclass(frozen=True)
class Filed:
    """Where a photo now is in the yard; `already` when the yard had it before."""

    slab: int
    survey: int
    log: str
    order: int
    already: bool = False


@dataclass(frozen=True)
class CheckedFiling:
    """A filing found to be sound, in the form in which it is stored."""

    filing: Filing
    record_text: str
    photo_name: str
    suffix: str
    side: str | None
    surveyed_at: str
    thickness_readings_mm: tuple[float, ...]
    log: str | None
    species: str | None
    outlines: Mapping[tuple[str, int], list]


def folded(text: str) -> str:
    """Text for comparing: one spelling of each letter, no case, single spaces."""
    return " ".join(unicodedata.normalize("NFKC", text).casefold().split())


def storable(text: str) -> str:
    """Text with what UTF-8 cannot hold (bytes of a file name that are no letters) turned into question marks."""
    return text.encode("utf-8", "replace").decode("utf-8")


def tidy_text(text: str | None) -> str | None:
    """A name as it is kept: single spaces, None when nothing is left."""
    return " ".join(storable(text).split()) or None if text is not None else None


def now_text() -> str:
    """The present moment in UTC, as stored: ISO 8601 with seconds."""
    return datetime.now(timezone.utc).isoformat(timespec="seconds")


def checked(filing: Filing) -> CheckedFiling:
    """Look a filing over before anything is written. Raises FilingRefused."""
    facts = filing.facts
    record_text = checked_record(filing.record)
    record = json.loads(record_text)
    photo, face = record.get("photo"), record.get("face")
    if not isinstance(photo, dict) or not isinstance(face, dict):
        raise FilingRefused("The survey lacks its photo or its face, so it cannot be filed; measure the photo again.")
    if photo.get("sha256") != filing.photo_sha256:
        raise FilingRefused("The survey was made from another photo than the one to be filed; measure this one.")
    joined = [one["sha256"] for one in (record.get("photos") or {}).get("joined", [])]
    if sorted(joined) != sorted([filing.photo_sha256, *(sha256 for _, sha256 in filing.further)] if filing.further else []):
        raise FilingRefused("The survey was joined from other photos than those to be filed; measure these together.")
    if face.get("side") not in (None, *SIDES):
        raise FilingRefused(f"A slab has a bark and a heart side, not a {face['side']!r} side; name one of the two.")
    if facts.order is not None and facts.order < 1:
        raise FilingRefused(f"Slabs within a log are counted from 1, so {facts.order} cannot be; give 1 or more.")
    if not all(math.isfinite(reading) and reading > 0 for reading in facts.thickness_readings_mm):
        raise FilingRefused("A thickness must be a length above nothing; read it again.")
    log = tidy_text(facts.log)
    if facts.number is None and log is None:
        raise FilingRefused("A new slab needs its log; name the log it was sawn from.")
    measured = face.get("thickness") or {}
    photo_name = filing.photo_name or photo.get("name") or filing.photo.name
    return CheckedFiling(
        filing=filing,
        record_text=record_text,
        photo_name=storable(photo_name),
        suffix=plain_suffix(filing.photo.suffix or Path(photo_name).suffix),
        side=face.get("side"),
        surveyed_at=_survey_moment(photo.get("taken"), filing),
        thickness_readings_mm=facts.thickness_readings_mm or tuple(measured.get("readings_mm") or ()),
        log=log,
        species=tidy_text(facts.species),
        outlines=outline_parts(record),
    )


def outline_parts(record: Mapping[str, Any]) -> dict[tuple[str, int], list]:
    """The polygons of a record in mm, by kind ("wood", "bark", "hole") and part number."""
    outline = record.get("outline") or {}
    parts: dict[tuple[str, int], list] = {}
    for kind, name in (("wood", "wood_mm"), ("bark", "bark_mm")):
        if outline.get(name):
            parts[kind, 0] = outline[name]
    for index, hole in enumerate(outline.get("wood_holes_mm") or ()):
        parts["hole", index] = hole
    return parts


def unreadable(photo: Path, error: OSError) -> FilingRefused:
    """The sentence for a photo that cannot be read."""
    return FilingRefused(f"The photo {photo.name} cannot be read ({error.strerror}); check that it is there.")


def checked_record(record: Mapping[str, Any]) -> str:
    """A record as the text that is stored. Raises FilingRefused."""
    try:
        return json.dumps(record, allow_nan=False, separators=(",", ":"))
    except (TypeError, ValueError) as error:
        raise FilingRefused(f"The survey cannot be stored ({error}); measure the photo again.") from error


def _survey_moment(taken: str | None, filing: Filing) -> str:
    # Kept as the wall clock read where the photo was taken: that is the day a person remembers and searches for.
    moment = filing.surveyed_at
    if taken:
        try:
            moment = datetime.fromisoformat(taken)
        except ValueError as error:
            raise FilingRefused(f"The photo's date {taken!r} cannot be read; measure the photo again.") from error
    if moment is None:
        try:
            moment = datetime.fromtimestamp(filing.photo.stat().st_mtime)
        except OSError as error:
            raise unreadable(filing.photo, error) from error
    return moment.replace(tzinfo=None).isoformat(timespec="seconds")


def plain_suffix(suffix: str) -> str:
    """A suffix that is safe in a file name, with its dot; empty when it is anything but a few letters."""
    letters = suffix.lower().removeprefix(".")
    return f".{letters}" if letters.isascii() and letters.isalnum() and len(letters) <= 5 else ""
