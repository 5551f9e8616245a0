"""The cards that lie in `calibration/` are the ones this code writes."""

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
