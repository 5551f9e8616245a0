"""The committed series of one slab on four days, with the days of its truth written into the photos.

The rendered photos carry a made-up moment each; what the truth knows is how many days lie between them.
"""

import hashlib
import json
from collections.abc import Sequence
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path

from grainlog.photo import read_photo
from grainlog.survey import measure_photo, record_of
from grainlog.yard import Filing, Picture, SlabFacts, Yard
from tests.accuracy import SAMPLES, Sample

FIRST = datetime(2026, 5, 1, 10, 0, 0)


def dated_series(folder: Path, name: str = "series-a") -> list[tuple[Path, dict]]:
    """Copies of the photos with their own days, in order, each with its truth."""
    made = []
    for photo in sorted((SAMPLES / "checks").glob(f"{name}-*.jpg")):
        truth = json.loads(photo.with_suffix(".json").read_text())
        day = FIRST + timedelta(days=truth["days"])
        data = photo.read_bytes()
        old = truth["taken"].encode()
        assert old in data, "the photo carries its moment as text"
        copy = folder / photo.name
        copy.write_bytes(data.replace(old, day.strftime("%Y:%m:%d %H:%M:%S").encode()))
        made.append((copy, truth))
    return made


@cache
def measured(name: str) -> dict:
    """The record of a committed photo with checks, as the person of its truth asks for it; measured once per test run."""
    photo = SAMPLES / "checks" / name
    return record_of(measure_photo(photo, Sample(photo, json.loads(photo.with_suffix(".json").read_text())).request))


def filing_of(photo: Path, record: dict | None = None, **facts) -> Filing:
    """A filing of such a photo, with its record or a changed one."""
    told = json.loads(json.dumps(record or measured(photo.name)))
    sha256 = hashlib.sha256(photo.read_bytes()).hexdigest()
    told["photo"] |= {"sha256": sha256, "taken": read_photo(photo).taken.isoformat()}
    return Filing(photo, sha256, told, SlabFacts(**(facts or {"number": 1})), Picture(b"flat", ".png"), Picture(b"marked", ".png"))


def fill_with_series(yard: Yard, photos: Path, places: Sequence[int] = (0, 1, 2, 3)) -> list[Path]:
    """Slab 1 with photos of the series in the order of `places`; returns all photos of the series."""
    series = [photo for photo, _ in dated_series(photos)]
    for count, place in enumerate(places):
        facts = {"number": 1} if count else {"log": "storm cherry", "species": "cherry"}
        yard.add(filing_of(series[place], **facts))
    return series
