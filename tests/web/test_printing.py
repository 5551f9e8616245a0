"""What is printed from the page: true to size, and numbers set aside."""

import io

import pypdfium2
import pytest

from tests.web.browser import DESK, PHONE, served, visit
from tests.web.forms import send

SCREENS = [("print", "/print")]
#: A4 by ISO 216 and Letter by ANSI/ASME Y14.1, in points of 1/72 in.
A4, LETTER = (595.276, 841.89), (612.0, 792.0)


def pages_of(answer) -> list[tuple[float, float]]:
    assert answer.status_code == 200 and answer.mimetype == "application/pdf"
    assert answer.headers["Content-Disposition"].startswith("attachment")
    document = pypdfium2.PdfDocument(io.BytesIO(answer.data))
    try:
        return [page.get_size() for page in document]
    finally:
        document.close()


@pytest.mark.parametrize(("paper", "size"), [("a4", A4), ("letter", LETTER)])
def test_cards_come_on_paper_of_their_true_size(client, paper, size):
    assert pages_of(client.get(f"/print/cards.pdf?paper={paper}&cards=0-1,4")) == [pytest.approx(size, abs=0.1)] * 3
    assert len(pages_of(client.get(f"/print/cards.pdf?paper={paper}"))) == 10


def test_tags_of_slabs_and_of_a_log(client):
    assert pages_of(client.get("/print/tags.pdf?slabs=1, 3-5&paper=letter")) == [pytest.approx(LETTER, abs=0.1)]
    assert len(pages_of(client.get("/print/tags.pdf?log=driveway elm&slabs=1-6"))) == 1


def test_label_stock_is_described_whole(client):
    stock = "paper=a4&slabs=1&across=2&down=4&label_width=99mm&label_height=67mm&left=5mm"
    assert "top is missing" in client.get(f"/print/tags.pdf?{stock}").text
    assert len(pages_of(client.get(f"/print/tags.pdf?{stock}&top=13mm"))) == 1
    assert len(pages_of(client.get(f"/print/tags.pdf?{stock}&top=13mm&trial=1"))) == 1
    answer = client.get(f"/print/tags.pdf?{stock}&top=130mm")
    assert answer.status_code == 400 and "measure the stock again" in answer.text and 'value="99mm"' in answer.text


@pytest.mark.parametrize(
    ("path", "said"),
    [
        ("cards.pdf?cards=7-99", "outside the scale cards"),
        ("cards.pdf?paper=napkin", "There is no paper"),
        ("tags.pdf", "Say which slabs"),
        ("tags.pdf?slabs=99", "no slab 99"),
        ("tags.pdf?slabs=9-3", "goes backwards"),
        ("tags.pdf?slabs=1-999999", "more than 400"),
        ("tags.pdf?slabs=x", "is not the tag"),
        ("tags.pdf?log=nowhere", "no slab of log"),
        ("tags.pdf?slabs=1&trial=1", "describe the stock"),
    ],
)
def test_what_cannot_be_printed_is_said(client, path, said):
    answer = client.get(f"/print/{path}")
    assert answer.status_code == 400 and said in answer.text and "Traceback" not in answer.text


def test_numbers_are_set_aside_and_printed(app, client):
    answer = send(client, "/print/numbers", count="3", log="driveway elm")
    assert answer.status_code == 303 and "slabs=13-15" in answer.location
    assert "Waiting for their slabs: 13-15." in client.get("/print").text
    assert [one.order for one in app.extensions["yard"].tags.reserved()] == [5, 6, 7]
    assert len(pages_of(client.get("/print/tags.pdf?slabs=13-15"))) == 1
    for count in ("0", "-1", "97", "many", ""):
        assert send(client, "/print/numbers", count=count).status_code == 400, count
    assert len(app.extensions["yard"].tags.reserved()) == 3


def test_the_bars_of_the_prints_are_remembered(app, client):
    assert send(client, "/print/bars", bar_across="99.8mm", bar_down="3 15/16in").status_code == 303
    bars = app.extensions["yard"].settings.print_bars
    assert (bars.across_mm, bars.down_mm) == (99.8, pytest.approx(100.0125))
    refused = send(client, "/print/bars", bar_across="80mm", bar_down="100mm")
    assert refused.status_code == 400 and 'value="80mm"' in refused.text
    assert app.extensions["yard"].settings.print_bars.across_mm == 99.8


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_the_page_opens_without_fault(browser, folder, size):
    with served(folder) as address, visit(browser, address, size) as visitor:
        page = visitor.open("/print")
        assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
        assert visitor.wrong == [] and visitor.serious() == []
        with page.expect_download() as told:
            page.get_by_role("button", name="Download cards").click()
        assert told.value.suggested_filename == "grainlog-cards-letter.pdf"
