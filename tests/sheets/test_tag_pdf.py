"""Sheets of tags are true to size and read by programs that know nothing of ours (PDFium, OpenCV)."""

import cv2
import numpy as np
import pypdfium2
import pytest

from grainlog.errors import WrongUse
from grainlog.scale import tag as slab_tag
from grainlog.scale.tag import TagText
from grainlog.sheets.paper import PAPERS
from grainlog.sheets.tag_face import (
    NUMBER_WIDTH_MM,
    NUMBER_X_MM,
    TagLabel,
    lines,
    number_line,
    rectangles,
)
from grainlog.sheets.tag_layout import plain_layout, stock_layout
from grainlog.sheets.tag_pdf import tag_sheet, trial_sheet
from tests.tagged import YARD, rendered_page

PX_PER_MM = 6
LABELS = [
    TagLabel(TagText(YARD, tag), log, order)
    for tag, log, order in (
        ("7", "driveway elm", 3), ("12A", "driveway elm", 4), ("128", "the very long name of a storm oak", 11), ("1284", None, None),
    )
]  # fmt: skip


def found_on(page: np.ndarray) -> dict[int, np.ndarray]:
    """Markers by OpenCV with its own settings, corners in mm from the page's top left."""
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    corners, ids, _ = cv2.aruco.ArucoDetector(
        slab_tag.dictionary(), parameters
    ).detectMarkers(page)
    return {
        int(marker): (four.reshape(4, 2) + 0.5) / PX_PER_MM
        for marker, four in zip(ids.ravel(), corners, strict=True)
    }


@pytest.mark.parametrize("name", PAPERS)
def test_markers_and_codes_are_where_they_should_be_and_read(name):
    paper = PAPERS[name]
    page = rendered_page(tag_sheet(LABELS, paper), PX_PER_MM)
    assert page.shape[::-1] == pytest.approx(
        (paper.width_mm * PX_PER_MM, paper.height_mm * PX_PER_MM), abs=1.0
    )
    found = found_on(page)
    for position, label in enumerate(LABELS):
        corner = np.array(plain_layout(paper).corner(position))
        number = slab_tag.number_behind(label.text.tag)
        assert found[number % 1000] == pytest.approx(
            slab_tag.marker_corners() + corner, abs=0.08
        )
        low = np.floor((corner + slab_tag.qr_corners()[0] - 4) * PX_PER_MM).astype(int)
        side = round((slab_tag.QR_MM + 8) * PX_PER_MM)
        said, _, _ = cv2.QRCodeDetector().detectAndDecode(
            page[low[1] : low[1] + side, low[0] : low[0] + side]
        )
        assert said == str(label.text)


@pytest.mark.parametrize("name", PAPERS)
def test_the_bars_are_100_mm_and_4_in_on_the_page(name):
    page = rendered_page(tag_sheet(LABELS, PAPERS[name]), PX_PER_MM)
    rows = page[round(250 * PX_PER_MM) :, : round(114.5 * PX_PER_MM)] < 90
    runs = [np.flatnonzero(row) for row in rows if row.sum() > 90 * PX_PER_MM]
    lengths = sorted(
        {len(run) / PX_PER_MM for run in runs if len(run) == run[-1] - run[0] + 1}
    )
    assert len(runs) >= 12
    assert lengths[0] == pytest.approx(100.0, abs=0.2) and lengths[-1] == pytest.approx(
        101.6, abs=0.2
    )


def test_as_many_pages_as_needed_and_what_is_said_on_them():
    pdf = tag_sheet(LABELS * 3, PAPERS["letter"])
    document = pypdfium2.PdfDocument(pdf)
    assert len(document) == 2
    text = document[0].get_textpage().get_text_bounded()
    for word in (
        "12A",
        "128",
        "1284",
        "driveway elm",
        "stainless staples",
        "100 mm",
        "4 in",
        YARD,
    ):
        assert word in text
    assert b"/PrintScaling /None" in pdf and pdf == tag_sheet(
        LABELS * 3, PAPERS["letter"]
    )


def test_nothing_touches_the_white_around_the_marker_and_all_stays_on_the_tag():
    clear = slab_tag.CELL_MM
    for tag in ("1", "88", "888", "8888", "888888W"):
        label = TagLabel(TagText(YARD, tag), "W" * 80, 26)
        number = number_line(label)
        assert (
            number.x >= NUMBER_X_MM >= slab_tag.MARKER_X_MM + slab_tag.MARKER_MM + clear
        )
        assert number.x + NUMBER_WIDTH_MM >= NUMBER_X_MM and number.size > 9
        for line in lines(label):
            assert (
                line.y - line.size >= slab_tag.MARKER_Y_MM + slab_tag.MARKER_MM + 3.0
                and line.y < slab_tag.HEIGHT_MM
            )
            assert len(line.text) < 60
        for box in rectangles(label):
            assert (
                box.x + box.width < slab_tag.WIDTH_MM
                and box.y + box.height < slab_tag.HEIGHT_MM
            )


def test_label_stock_as_the_person_measured_it():
    paper = PAPERS["a4"]
    layout = stock_layout(paper, 2, 5, (90.0, 50.0), (12.0, 20.0), (4.0, 2.0))
    found = found_on(rendered_page(tag_sheet(LABELS, paper, layout), PX_PER_MM))
    scale = 50 / 60
    left, top = layout.corner(3)
    assert (left, top) == pytest.approx((12 + 94 + (90 - 95 * scale) / 2, 20 + 52))
    assert found[1284 % 1000] == pytest.approx(
        slab_tag.marker_corners() * scale + [left, top], abs=0.08
    )
    outlines = rendered_page(trial_sheet(paper, layout), PX_PER_MM)
    assert (
        outlines[round(60 * PX_PER_MM), round(12 * PX_PER_MM)]
        < 230
        < outlines[round(60 * PX_PER_MM), round(20 * PX_PER_MM)]
    )


@pytest.mark.parametrize(
    ("stock", "told"),
    [
        ((3, 5, (95.0, 60.0), (0.0, 0.0)), "measure the stock again"),
        ((2, 5, (50.0, 30.0), (10.0, 10.0)), "too small"),
        ((0, 5, (95.0, 60.0), (0.0, 0.0)), "at least one"),
        ((1, 1, (95.0, 60.0), (-1.0, 0.0)), "at least one"),
    ],
)
def test_label_stock_that_cannot_be_is_refused(stock, told):
    with pytest.raises(WrongUse, match=told):
        stock_layout(PAPERS["a4"], *stock)
