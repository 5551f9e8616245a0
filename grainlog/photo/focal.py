"""Focal length in pixels from the 35 mm-equivalent that phones and cameras write into their files."""

import math

# CIPA DCG-001, the guideline that camera makers follow: the equivalent compares picture diagonals with that of the
# 36 x 24 mm frame, 43.27 mm.
DIAGONAL_35MM_MM = 43.27

# Outside this no lens takes in a slab; files that state it have a broken field.
_SHORTEST_MM, _LONGEST_MM = 8.0, 400.0


def focal_px(focal_35mm_mm: float, width_px: int, height_px: int) -> float:
    """Focal length in pixels of an uncropped photo, by its diagonal (CIPA DCG-001)."""
    return focal_35mm_mm / DIAGONAL_35MM_MM * math.hypot(width_px, height_px)


def plausible_focal_35mm(value: object) -> float | None:
    """The field as a focal length in mm; None where it is zero (EXIF: unknown), no number, or no lens for a slab."""
    try:
        focal = float(value)
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
        return None
    return focal if _SHORTEST_MM <= focal <= _LONGEST_MM else None
