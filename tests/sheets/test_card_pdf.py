"""The printed card is true to size and is found where it is."""

import re

import cv2
import numpy as np
import pypdfium2
import pytest

from grainlog.scale import card as scale_card
from grainlog.sheets import card_face
from grainlog.sheets.card_pdf import card_offset_mm, card_pdf
from grainlog.sheets.card_png import print_corners
from grainlog.sheets.paper import PAPERS

NUMBER = rb"(-?\d*\.?\d+)"
RECTANGLE = re.compile(rb"\s".join([NUMBER] * 4) + rb" re\b")


def printed_rectangles_mm(pdf, paper):
    """Every rectangle in the page's content stream: (n, 4) left, top, width, height, mm from the page's top left."""
    found = np.array([[float(number) for number in match] for match in RECTANGLE.findall(pdf)]) * 25.4 / 72
    left, bottom, width, height = found.T
    return np.column_stack([left, paper.height_mm - bottom - height, width, height])


@pytest.mark.parametrize("paper", PAPERS.values(), ids=PAPERS)
def test_every_rectangle_is_printed_at_its_true_place(paper):
    left, top = card_offset_mm(paper)
    boxes = [*card_face.CUT_LINE, *scale_card.rectangles(4), *card_face.bars()]
    expected = np.array([[left + box.x, top + box.y, box.width, box.height] for box in boxes])
    found = printed_rectangles_mm(card_pdf([4], paper), paper)
    assert found == pytest.approx(expected, abs=1e-4)  # the file rounds to a tenth of a micrometre


@pytest.mark.parametrize("paper", PAPERS.values(), ids=PAPERS)
def test_bars_are_100_mm_both_ways_and_4_in(paper):
    across, inch, along = printed_rectangles_mm(card_pdf([0], paper), paper)[-3:]
    assert across[2] == pytest.approx(100.0, abs=1e-4)
    assert inch[2] == pytest.approx(101.6, abs=1e-4)
    assert along[3] == pytest.approx(100.0, abs=1e-4)


def rendered(pdf, px_per_mm):
    # A hair under the scale: pypdfium2 rounds the size up, and a page of 1188.0000001 px would become 1189.
    page = pypdfium2.PdfDocument(pdf)[0]
    image = page.render(scale=px_per_mm * 25.4 / 72 * (1 - 1e-7), grayscale=True).to_numpy()
    return np.ascontiguousarray(image.reshape(image.shape[:2]))


@pytest.mark.parametrize("paper", PAPERS.values(), ids=PAPERS)
@pytest.mark.parametrize("card", [0, 3, 9])
def test_printed_card_is_found_with_no_offset(card, paper):
    """Rendered by PDFium, found by OpenCV's ChArUco detector: two programs that know nothing of ours."""
    image = rendered(card_pdf([card], paper), 4)
    corners, ids, _, _ = cv2.aruco.CharucoDetector(scale_card.board(card)).detectBoard(image)
    # Width and height in pixels are whole, the page of Letter is not: PDFium stretches it by that part of a pixel.
    px_per_mm = np.array(image.shape[::-1]) / [paper.width_mm, paper.height_mm]
    truth = (print_corners() + card_offset_mm(paper)) * px_per_mm - 0.5
    assert sorted(ids.ravel()) == list(range(12))
    error = corners.reshape(-1, 2) - truth[ids.ravel()]
    assert np.abs(error.mean(axis=0)).max() < 0.02
    assert np.abs(error).max() < 0.1


def test_one_page_a_card_in_the_order_asked_with_large_numbers():
    document = pypdfium2.PdfDocument(card_pdf([2, 5, 7], PAPERS["a4"]))
    assert len(document) == 3
    for page, card in zip(document, [2, 5, 7], strict=True):
        text = page.get_textpage().get_text_bounded()
        assert str(card) in text.split()
        assert "100 mm across" in text and "4 in across" in text


def test_print_dialogue_is_asked_for_no_scaling():
    assert b"/PrintScaling /None" in card_pdf([0], PAPERS["a4"])


def test_same_bytes_every_time():
    assert card_pdf([1], PAPERS["letter"]) == card_pdf([1], PAPERS["letter"])
