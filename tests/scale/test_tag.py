"""The tag's numbers and text, and that tags and scale cards are never taken for each other."""

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from grainlog.scale import card as scale_card
from grainlog.scale import tag as slab_tag
from grainlog.scale.detect import find_cards
from grainlog.scale.tag import (
    IDENTITY_LETTERS,
    TagText,
    marker_of,
    number_behind,
    qr_cells,
    read_tag_text,
)
from grainlog.scale.tag_find import find_tags
from tests.tagged import YARD, laid, seen_from

IDENTITIES = st.text(IDENTITY_LETTERS, min_size=6, max_size=6)


@given(IDENTITIES, st.integers(1, 999_999), st.sampled_from(["", "A", "Z"]))
def test_text_is_read_back_and_fits_the_smallest_code(yard, number, letter):
    text = TagText(yard, f"{number}{letter}")
    assert read_tag_text(str(text)) == text
    assert number_behind(text.tag) == number and marker_of(number) == number % 1000
    # ISO/IEC 18004, table 7 (value from memory): version 1 at level M holds 20 letters and figures.
    assert len(str(text)) <= 20


@pytest.mark.parametrize("said", ["", "GRLG:K7QM9X:0", "GRLG:K7QM9X:012", "GRLG:K7QM9:12", "grlg:K7QM9X:12", "GRLG:K7QMIX:12",
                                  "GRLG:K7QM9X:1234567", "GRLG:K7QM9X:12AB", "https://example.org/12"])  # fmt: skip
def test_other_texts_are_not_of_a_tag(said):
    assert read_tag_text(said) is None


def test_the_code_is_read_by_another_program():
    """`segno` draws it, OpenCV's decoder reads it: neither is ours."""
    for tag in ("1", "128", "999999Z"):
        cells = (
            np.pad(~qr_cells(TagText(YARD, tag)), 4, constant_values=True).astype(
                np.uint8
            )
            * 255
        )
        said, _, _ = cv2.QRCodeDetector().detectAndDecode(
            cells.repeat(6, 0).repeat(6, 1)
        )
        assert said == f"GRLG:{YARD}:{tag}"


def test_the_marker_is_the_one_of_the_dictionary():
    """Drawn by OpenCV itself, cell by cell."""
    for marker in (0, 12, 999):
        drawn = cv2.aruco.generateImageMarker(
            slab_tag.dictionary(), marker, slab_tag.MARKER_CELLS
        )
        assert ((drawn == 0) == slab_tag.marker_cells(marker)).all()


def test_a_card_is_no_tag_and_a_tag_no_card():
    for card in range(scale_card.CARD_COUNT):
        picture = np.pad(scale_card.raster(card, 2), 30, constant_values=200)
        assert find_tags(np.dstack([picture] * 3)) == ()
    ground = np.full((400, 500, 3), 110, np.uint8)
    for number in range(1, 1000, 97):
        photo = laid(
            ground, TagText(YARD, str(number)), seen_from(0.5, 0, 10, (250, 200))
        )
        assert [tag.marker for tag in find_tags(photo)] == [number]
        seen = find_cards(photo)
        assert seen.cards == () and seen.rejected == ()
