"""Exact factors between what is kept inside (mm, mm2, mm3) and what people read.

The inch is 25.4 mm exactly (international yard and pound agreement of 1959). A board foot is a foot by a foot by an
inch, 144 cubic inches (Wood Handbook glossary; NHLA rules), so 2 359 737.216 mm3.
"""

MM_PER_INCH = 25.4
MM_PER_FOOT = 304.8
MM_PER_METRE = 1000.0

MM2_PER_SQUARE_INCH = 645.16
MM2_PER_SQUARE_FOOT = 92_903.04
MM2_PER_SQUARE_METRE = 1e6

MM3_PER_CUBIC_INCH = 16_387.064
MM3_PER_CUBIC_FOOT = 28_316_846.592
MM3_PER_CUBIC_METRE = 1e9
MM3_PER_BOARD_FOOT = 2_359_737.216


def board_feet(volume_mm3: float) -> float:
    """Board feet in a volume of wood: mm3 in, board feet (144 in3 each) out."""
    return volume_mm3 / MM3_PER_BOARD_FOOT


def cubic_metres(volume_mm3: float) -> float:
    """Cubic metres in a volume in mm3."""
    return volume_mm3 / MM3_PER_CUBIC_METRE


def square_feet(area_mm2: float) -> float:
    """Square feet in an area in mm2."""
    return area_mm2 / MM2_PER_SQUARE_FOOT


def square_metres(area_mm2: float) -> float:
    """Square metres in an area in mm2."""
    return area_mm2 / MM2_PER_SQUARE_METRE
