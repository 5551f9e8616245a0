"""When and with what a photo was taken, as its EXIF says; a broken EXIF says nothing, it never stops the work.

Tag numbers: CIPA DC-008 (Exif 2.32 / 3.0), tables of the 0th and Exif IFDs.
"""

import re
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone

from PIL import Image

from grainlog.photo.focal import plausible_focal_35mm
from grainlog.photo.photo import Note

_ORIENTATION = 0x0112
_MAKE, _MODEL = 0x010F, 0x0110
_EXIF_IFD = 0x8769
_FOCAL_35MM = 0xA405
# (date and time, its offset from UTC), the best first: taken, digitised, last changed.
_TIMES = ((0x9003, 0x9011), (0x9004, 0x9012), (0x0132, 0x9010))
_MOMENT = re.compile(r"(\d{4})[:\-/](\d\d)[:\-/](\d\d)[ T](\d\d):(\d\d):(\d\d)", re.ASCII)
_LONGEST_NAME = 64


@dataclass(frozen=True)
class Metadata:
    """What the EXIF says; fields as in `Photo`, and the orientation still to be applied (1 to 8)."""

    taken: datetime | None
    make: str | None
    model: str | None
    focal_35mm_mm: float | None
    orientation: int
    notes: tuple[Note, ...]


def read_metadata(image: Image.Image) -> Metadata:
    """Read the EXIF of a loaded image, whatever state it is in."""
    try:
        main = image.getexif()
        fields = {**dict(main), **dict(main.get_ifd(_EXIF_IFD))}
        broken = False
    except Exception:  # a parser of damaged bytes may raise anything, and the photo is good without them
        fields, broken = {}, True
    stated = fields.get(_FOCAL_35MM)
    focal = plausible_focal_35mm(stated)
    notes = []
    if broken:
        notes.append(Note("metadata-broken", "The photo's metadata is damaged: its date and lens are not known."))
    if stated not in (None, 0) and focal is None:
        notes.append(Note("focal-ignored", "The focal length in the photo's metadata makes no sense and is not used."))
    orientation = fields.get(_ORIENTATION)
    return Metadata(
        taken=_taken(fields),
        make=_text(fields.get(_MAKE)),
        model=_text(fields.get(_MODEL)),
        focal_35mm_mm=focal,
        orientation=orientation if isinstance(orientation, int) and 1 <= orientation <= 8 else 1,
        notes=tuple(notes),
    )


def _text(value: object) -> str | None:
    """A printable one-line string, or None."""
    if isinstance(value, bytes):
        value = value.decode("utf-8", "replace")
    if not isinstance(value, str):
        return None
    text = " ".join("".join(sign if sign.isprintable() else " " for sign in value.split("\0")[0]).split())
    return text[:_LONGEST_NAME] or None


def _taken(fields: dict) -> datetime | None:
    for moment_tag, offset_tag in _TIMES:
        moment = _MOMENT.match(_text(fields.get(moment_tag)) or "")
        if not moment:
            continue
        try:
            taken = datetime(*map(int, moment.groups()))
        except ValueError:  # 0000:00:00 is how a camera with no clock writes a date
            continue
        return taken.replace(tzinfo=_offset(_text(fields.get(offset_tag)) or ""))
    return None


def _offset(text: str) -> timezone | None:
    found = re.fullmatch(r"([+-])(\d\d):(\d\d)", text, re.ASCII)
    if not found:
        return timezone.utc if text == "Z" else None
    sign, hours, minutes = found.groups()
    offset = timedelta(hours=int(hours), minutes=int(minutes)) * (-1 if sign == "-" else 1)
    return timezone(offset) if abs(offset) < timedelta(hours=24) else None
