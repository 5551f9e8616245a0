"""Paper sizes against the standards that define them.

ISO 216:2007, A4: 210 x 297 mm. ANSI/ASME Y14.1, size A: 8.5 x 11 in. Both read in public restatements of the
standards' tables, not in the standards themselves. The point of a PDF: 1/72 in (ISO 32000-1:2008, 8.3.2.3, default
user space; from memory).
"""

import math

import pypdfium2
import pytest

from grainlog.sheets.card_pdf import card_pdf
from grainlog.sheets.paper import PAPERS

ISO_216_A4_MM = (210, 297)
ASME_Y14_1_A_INCH = (8.5, 11)


def media_box_points(paper):
    left, bottom, right, top = pypdfium2.PdfDocument(card_pdf([0], PAPERS[paper]))[0].get_mediabox()
    assert (left, bottom) == (0, 0)
    return right, top


def test_a4_page_is_iso_216():
    assert media_box_points("a4") == pytest.approx([side / 25.4 * 72 for side in ISO_216_A4_MM], abs=1e-3)


def test_letter_page_is_size_a():
    assert media_box_points("letter") == pytest.approx([side * 72 for side in ASME_Y14_1_A_INCH], abs=1e-3)


def test_a4_follows_from_the_rule_of_the_series():
    """ISO 216: A0 has 1 m2, the sides stand 1 to the square root of 2, each size halves the one before, whole mm."""
    long_side = 1000 * 2**0.25
    sizes = [(long_side / math.sqrt(2), long_side)]
    for _ in range(4):
        short, long = sizes[-1]
        sizes.append((long / 2, short))
    paper = PAPERS["a4"]
    assert (paper.width_mm, paper.height_mm) == tuple(round(side) for side in sizes[4])
