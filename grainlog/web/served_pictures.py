"""Pictures of surveys as the page serves them: decoded safely, made smaller, encoded anew, so that no metadata goes along.

What was made once is kept in a folder of this process outside the yard, which goes with the process: the yard holds only
what is its own, and stock-taking has nothing to overlook.
"""

import hashlib
import io
import json
import shutil
import tempfile
import weakref
from collections.abc import Callable, Mapping
from functools import cached_property
from pathlib import Path
from threading import Lock
from typing import Any

import numpy as np
from PIL import Image

from grainlog.errors import GrainlogError
from grainlog.photo import read_photo
from grainlog.survey.picture import encode
from grainlog.yard import SlabEntry, SurveyEntry
from grainlog.yard.check_view import MARGIN_MM, NoView, mapped, view_of

#: photo: as taken. marked: with what was measured drawn on it. flat: the face square-on, nothing around it.
KINDS = ("photo", "marked", "flat")
#: What a link's visitor may see: a photo shows the place, and whoever stands in it.
FOR_GUESTS = ("flat",)
#: The longer side, px.
SIZES = {"small": 1000, "large": 4000}
#: The flat view is never finer than this, mm per px: finer than photos are.
_FINEST_MM = 0.4
_MOST_BYTES = 300_000_000


class ServedPictures:
    """Pictures made for the page, one at a time: a photo of 200 megapixels takes its room in memory only once."""

    def __init__(self) -> None:
        self._making = Lock()

    @cached_property
    def _folder(self) -> Path:
        folder = tempfile.mkdtemp(prefix="grainlog-pictures-")
        weakref.finalize(self, shutil.rmtree, folder, ignore_errors=True)
        return Path(folder)

    def jpeg(self, survey: SurveyEntry, kind: str, size: str) -> bytes:
        """A survey's picture (one of KINDS and SIZES). Raises NoView, PhotoError, YardError where it cannot be shown."""
        return self.made(mark_of(survey, kind, size), lambda: encode(_pixels(survey, kind, SIZES[size])))

    def made(self, mark: str, make: Callable[[], bytes]) -> bytes:
        """A file by its mark (letters and digits), made if it is not kept; whatever `make` raises."""
        with self._making:
            kept = self._folder / f"{mark}.jpg"
            try:
                return kept.read_bytes()
            except FileNotFoundError:
                pass
            data = make()
            self._make_room(len(data))
            kept.write_bytes(data)
            return data

    def _make_room(self, wanted: int) -> None:
        """Forget what was made longest ago."""
        files = sorted(self._folder.iterdir(), key=lambda path: path.stat().st_mtime_ns)
        sizes = {path: path.stat().st_size for path in files}
        held = sum(sizes.values())
        for path in files:
            if held + wanted <= _MOST_BYTES:
                break
            path.unlink()
            held -= sizes[path]


def mark_of(survey: SurveyEntry, kind: str, size: str) -> str:
    """What changes when the picture does, for caches here and in the browser."""
    told: list[Any] = [kind, size, survey.id, survey.record["photo"]["sha256"]]
    if kind == "flat":
        told.append(survey.record.get("outline"))
    if kind == "marked" and survey.overlay is not None and survey.overlay.exists():
        told += [survey.overlay.name, survey.overlay.stat().st_mtime_ns]
    return hashlib.sha256(json.dumps(told, sort_keys=True).encode()).hexdigest()[:40]


def mark_of_sheet(entry: SlabEntry, units: str) -> str:
    """What changes when the photos of a slab, side by side, do."""
    told = [units, *(mark_of(survey, "flat", "large") for survey in entry.surveys), [one.record.get("checks") for one in entry.surveys]]
    return hashlib.sha256(json.dumps(told, sort_keys=True).encode()).hexdigest()[:40]


def as_jpeg(png: bytes) -> bytes:
    """A picture of ours in a tenth of its size, for a phone at the end of the garden."""
    with Image.open(io.BytesIO(png)) as image:
        return encode(np.asarray(image.convert("RGB")))


def has_flat(record: Mapping[str, Any]) -> bool:
    """Whether the face of a survey can be shown square-on, as far as its record goes."""
    try:
        mapped(record)
    except (NoView, KeyError):
        return False
    return True


def has_marked(survey: SurveyEntry) -> bool:
    """Whether there is a marked photo of a survey."""
    return survey.overlay is not None and survey.overlay.exists()


def flat_extent(record: Mapping[str, Any]) -> tuple[float, float, float, float]:
    """Left, bottom, right and top of the flat picture in the slab frame, mm."""
    wood = np.array(record["outline"]["wood_mm"], float)
    (left, bottom), (right, top) = wood.min(0) - MARGIN_MM, wood.max(0) + MARGIN_MM
    return float(left), float(bottom), float(right), float(top)


def _pixels(survey: SurveyEntry, kind: str, longest: int) -> np.ndarray:
    if kind == "flat":
        left, bottom, right, top = flat_extent(survey.record)
        return view_of(survey, max(_FINEST_MM, max(right - left, top - bottom) / longest)).rgb
    path = survey.original
    if kind == "marked":
        if not has_marked(survey):
            raise NoPicture("No marked photo was kept of this survey; its numbers and its outline are there.")
        path = survey.overlay
    image = Image.fromarray(read_photo(path).pixels)
    image.thumbnail((longest, longest), Image.Resampling.LANCZOS)
    return np.asarray(image)


class NoPicture(GrainlogError):
    """There is no such picture of a survey."""
