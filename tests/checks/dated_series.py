"""The committed series of one slab on four days, with the days of its truth written into the photos.

The rendered photos carry a made-up moment each; what the truth knows is how many days lie between them.
"""

import json
from datetime import datetime, timedelta
from pathlib import Path

from tests.accuracy import SAMPLES

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
