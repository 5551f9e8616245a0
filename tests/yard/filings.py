"""Made-up filings for the yard's tests: plain bytes for photos, records of the agreed shape."""

import hashlib
import random
from pathlib import Path

from grainlog.yard import Filing, Picture, SlabFacts

MM3_PER_BOARD_FOOT = 144 * 25.4**3  # 1 board foot = 144 cubic inches (Wood Handbook, FPL-GTR-282, glossary).


def figure(value: float | None, u: float = 1.0) -> dict | None:
    return None if value is None else {"value": value, "u": u, "budget": {"corners": u * 0.6, "outline": u * 0.8}}


def record(
    sha256: str,
    name: str = "slab.jpg",
    side: str | None = None,
    taken: str | None = "2025-03-04T10:20:30",
    length_mm: float = 2700.0,
    width_mm: float = 600.0,
    thickness_mm: float | None = 63.5,
) -> dict:
    """A survey of a rectangle, so that area, volume and board feet follow from three lengths."""
    area = length_mm * width_mm
    volume = None if thickness_mm is None else area * thickness_mm
    board_feet = None if volume is None else volume / MM3_PER_BOARD_FOOT
    thickness = {"value": thickness_mm, "u": 1.0, "least": thickness_mm, "greatest": thickness_mm, "readings_mm": []}
    return {
        "grainlog": "0.1.0",
        "photo": {"name": name, "sha256": sha256, "width_px": 4000, "height_px": 3000, "taken": taken},
        "scale": {"cards": [0, 1], "reprojection_px": 0.2, "mm_per_px": 0.9},
        "face": {
            "side": side,
            "butt": None,
            "length_mm": figure(length_mm, 2.0),
            "length_square_mm": figure(length_mm, 2.0),
            "width_min_mm": figure(width_mm - 50),
            "width_mean_mm": figure(width_mm),
            "width_max_mm": figure(width_mm + 50),
            "area_mm2": figure(area, 4000.0),
            "volume_mm3": figure(volume, 1.7e6),
            "board_feet": figure(board_feet, 0.7),
            "thickness_mm": thickness_mm,
            "thickness": None if thickness_mm is None else thickness,
            "confidence": 0.9,
        },
        "outline": {
            "wood_mm": [[0, 0], [length_mm, 0], [length_mm, width_mm], [0, width_mm]],
            "bark_mm": [[0, -9], [length_mm, -9], [length_mm, width_mm + 9], [0, width_mm + 9]],
            "wood_holes_mm": [[[100, 100], [120, 100], [110, 130]]],
        },
        "checks": [],
        "warnings": [],
    }


def filing(folder: Path, seed: int, facts: SlabFacts | None = None, size: int = 3000, **of_record) -> Filing:
    """A photo of `size` bytes, told by its seed, written into `folder`, with a record and two pictures."""
    data = random.Random(seed).randbytes(size)
    photo = folder / f"photo-{seed}.jpg"
    photo.write_bytes(data)
    sha256 = hashlib.sha256(data).hexdigest()
    return Filing(
        photo=photo,
        photo_sha256=sha256,
        record=record(sha256, name=photo.name, **of_record),
        facts=facts or SlabFacts(log="storm oak", species="white oak"),
        flat=Picture(b"flat" + data, ".png"),
        overlay=Picture(b"overlay" + data, ".jpg"),
    )
