"""Made-up flat views of one slab on several days, without a path tracer: quick enough for tests."""

from dataclasses import replace

import cv2
import numpy as np

from calibration.check_model.generate import Made, photographed
from sample_images.render import drying, solid
from sample_images.render.marks import Marks
from sample_images.render.scene import Slab, Wood


def green_slab(seed: int, length: float = 700.0, width: float = 300.0, checks: tuple[int, int] = (4, 4)):
    """A slab with its full-grown checks, and its wood: end checks and surface checks as asked for."""
    slab = Slab("plain", length, width, 60.0, 0.08, 12.0, 20.0, 10.0, 0.2, (0.01, -0.02), False, seed)
    wood = Wood("cherry", False, 2, 0.5, *checks, seed)
    return solid.build(slab, wood), wood


def look(seed: int, day: drying.Day, photo_seed: int, mm_per_px: float = 0.8, length: float = 700.0, **how) -> tuple[Made, tuple]:
    """One look at the slab of a seed: the view, and which full check each of its checks is."""
    green, wood = green_slab(seed, length, **how)
    now, numbers = drying.on_day(green, day)
    picture = drying.paint(green, wood, now, day)
    # The squeezed picture with square pixels again.
    rows = round(picture.wood.shape[0] * (1 - day.shrunk))
    picture = replace(picture, wood=cv2.resize(picture.wood, (picture.wood.shape[1], rows), interpolation=cv2.INTER_AREA))
    made = photographed(picture, now, mm_per_px, np.random.default_rng([seed, photo_seed]))
    return replace(made, checks=now.checks), numbers


def whole(seed: int, shrunk: float = 0.0, share: float = 1.0, length: float = 700.0, **how) -> drying.Day:
    """A day on which every check is open by the same share of its length and width."""
    count = len(green_slab(seed, length, **how)[0].checks)
    return drying.Day(0, shrunk, (share,) * count, (share,) * count, Marks(seed, pencil=1, stain=1, streaks=2, tags=1, saw=0.4))
