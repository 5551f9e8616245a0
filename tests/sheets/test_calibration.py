"""The cards and the drawing that lie in `calibration/` are the ones this code makes."""

import runpy
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pypdfium2
import pytest

from grainlog.sheets.card_pdf import card_pdf
from grainlog.sheets.paper import PAPERS

CALIBRATION = Path(__file__).parents[2] / "calibration"


@pytest.mark.parametrize("paper", PAPERS)
def test_committed_cards_are_current(paper):
    def pages(pdf):
        # The drawing of each page; another release of the PDF library may word the file round it differently.
        return [part.split(b"endstream")[0] for part in pdf.split(b"stream\n")[1:] if b" re" in part]

    committed = (CALIBRATION / f"cards-{paper}.pdf").read_bytes()
    fresh = card_pdf(range(10), PAPERS[paper])
    assert len(pypdfium2.PdfDocument(committed)) == 10
    assert len(pages(fresh)) == 10
    assert pages(committed) == pages(fresh)


def test_committed_drawing_is_current_and_well_formed():
    drawn = runpy.run_path(str(CALIBRATION / "draw_how_to.py"))["svg"]()
    assert (CALIBRATION / "how-to-photograph.svg").read_text(encoding="utf-8") == drawn
    root = ElementTree.fromstring(drawn)
    words = " ".join(text.text for text in root.iter("{http://www.w3.org/2000/svg}text"))
    # What keeps people and measures safe must be in the picture itself.
    for needed in ("two cards on the slab", "step stands firm", "main lens", "thickness", "lift", "weighted"):
        assert needed in words
