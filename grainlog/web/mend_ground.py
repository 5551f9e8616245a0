"""What a person draws on when mending: the face as seen straight from above, or the photo as it was taken.

Everything drawn is stored in px of the photo, whatever it was drawn on; so a ground only knows the way there and back.
"""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from grainlog.photo import read_photo
from grainlog.survey.picture import encode
from grainlog.yard.check_view import Mapped, NoView, mapped, square_on

#: Names of the grounds: the first is offered first, where it can be had; upright is the same for a screen that is tall.
GROUNDS = ("above", "upright", "photo")
#: The longer side of a ground seen from above, px, and its finest resolution, mm per px.
LONGEST_PX, FINEST_MM = 3200, 0.4
#: So much is shown around the wood, where the photo shows it: as a share of the wood's longer side, and at least, mm.
AROUND, AROUND_MM = 0.15, 150.0
#: The photo is looked for at so many places each way.
_PROBES = 80


@dataclass(frozen=True)
class Photo:
    """The photo (or the picture joined from several) as the ground: nothing is moved."""

    width: int
    height: int
    mm_per_px: float
    name: str = "photo"

    def of_photo(self, points: np.ndarray) -> np.ndarray:
        """(n, 2) photo px to px of this ground."""
        return points

    def to_photo(self, points: np.ndarray) -> np.ndarray:
        """(n, 2) px of this ground to photo px."""
        return points


@dataclass(frozen=True)
class FromAbove:
    """The face square-on as the ground: x along the slab to the right or, upright, down.

    box : left, bottom, right, top, slab frame, mm
    """

    way: Mapped
    box: tuple[float, float, float, float]
    mm_per_px: float
    name: str = "above"

    @property
    def upright(self) -> bool:
        """Whether the slab stands on end."""
        return self.name == "upright"

    @property
    def width(self) -> int:
        """In px, as `square_on` has it."""
        return self._sides[1 if self.upright else 0]

    @property
    def height(self) -> int:
        """In px, as `square_on` has it."""
        return self._sides[0 if self.upright else 1]

    @property
    def _sides(self) -> tuple[int, int]:
        left, bottom, right, top = self.box
        return int(np.ceil((right - left) / self.mm_per_px)), int(np.ceil((top - bottom) / self.mm_per_px))

    def of_photo(self, points: np.ndarray) -> np.ndarray:
        """(n, 2) photo px to px of this ground."""
        px = (self.way.to_mm(points) - [self.box[0], self.box[3]]) * [1, -1] / self.mm_per_px - 0.5
        return np.column_stack([self._sides[1] - 1 - px[:, 1], px[:, 0]]) if self.upright else px

    def to_photo(self, points: np.ndarray) -> np.ndarray:
        """(n, 2) px of this ground to photo px."""
        px = np.asarray(points, float)
        if self.upright:
            px = np.column_stack([px[:, 1], self._sides[1] - 1 - px[:, 0]])
        return self.way.to_px((px + 0.5) * [self.mm_per_px, -self.mm_per_px] + [self.box[0], self.box[3]])

    def picture(self, photo: Path) -> bytes:
        """The ground as a JPEG, dark where the photo shows nothing. Raises PhotoError."""
        rgb, seen, _ = square_on(read_photo(photo).pixels, self.way, self.box, self.mm_per_px)
        rgb[~seen] = 24
        return encode(np.ascontiguousarray(np.rot90(rgb, -1)) if self.upright else rgb)


Ground = Photo | FromAbove


def ground_of(record: Mapping[str, Any], name: str | None = None) -> Ground:
    """The ground of that name, else the first that can be had. A face that cannot be shown has its photo alone."""
    name = name if name in GROUNDS else None
    photo = Photo(record["photo"]["width_px"], record["photo"]["height_px"], record["scale"]["mm_per_px"])
    if name == photo.name:
        return photo
    try:
        way = mapped(record)
    except NoView:
        return photo
    rings = [record["outline"].get(f"{kind}_mm") or [] for kind in ("wood", "silhouette")]
    box = _shown(way, np.vstack([np.array(ring, float).reshape(-1, 2) for ring in rings]), photo)
    return FromAbove(way, box, max(FINEST_MM, max(box[2] - box[0], box[3] - box[1]) / LONGEST_PX), name or GROUNDS[0])


def mark_of_ground(record: Mapping[str, Any]) -> str:
    """What changes when the ground seen from above does, for caches here and in the browser."""
    return _hashed([record["photo"]["sha256"], record["outline"]["wood_mm"], record["outline"]["wood_px"]])


def mark_of_lines(record: Mapping[str, Any]) -> str:
    """What changes when anything does that can be drawn on."""
    return _hashed([record["outline"], record.get("checks"), record.get("checks_removed")])


def _hashed(told: Any) -> str:
    return hashlib.sha256(json.dumps(told).encode()).hexdigest()[:40]


def _shown(way: Mapped, around: np.ndarray, photo: Photo) -> tuple[float, float, float, float]:
    """The part of the face around some points, (n, 2) mm, that the photo shows: left, bottom, right, top, mm."""
    low, high = around.min(0), around.max(0)
    margin = max(AROUND_MM, AROUND * float((high - low).max()))
    low, high = low - margin, high + margin
    x, y = (np.linspace(low[axis], high[axis], _PROBES) for axis in (0, 1))
    probes = np.stack(np.meshgrid(x, y), -1).reshape(-1, 2)
    places = way.to_px(probes)
    shown = ((places > 0) & (places < [photo.width - 1, photo.height - 1])).all(1)
    seen = np.vstack([probes[shown], around])
    # A probe that is not seen may stand just outside: a step of them is kept around.
    step = (high - low) / (_PROBES - 1)
    low, high = (np.maximum(seen.min(0) - step, low), np.minimum(seen.max(0) + step, high))
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])
