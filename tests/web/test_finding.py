"""The find page: the same answers as the search itself, with places and what must be lifted off."""

import html
import io
import re

import numpy as np
import pytest

from grainlog.fit import piece
from grainlog.web.find_form import read_form
from grainlog.web.find_shapes import DrawnTops
from grainlog.yard.fit_pairs import PairRequest
from grainlog.yard.fit_request import FindRequest
from grainlog.yard.fit_words import pair_remarks, spare_text
from tests.web.browser import DESK, PHONE, served, visit
from tests.web.forms import AT, guest_of, token_in

SCREENS = [("find", "/find"), ("find-top", "/find?top=60x18in"), ("find-pair", "/find?top=60x30in&way=book")]


@pytest.fixture
def yard(app):
    return app.extensions["yard"]


def slabs_on(page: str) -> list[str]:
    return re.findall(r'href="/slab/([0-9A-Z]+)">Slab', page)


def test_the_form_reads_a_search():
    form = read_form(
        {"top": "72x32in", "thick": "8/4", "trim": "1/4in", "at": "8%", "avoid": "knots, bark pocket", "fill": "check",
         "margin": "10mm", "checks": "none", "face": "heart", "limit": "3", "species": "oak"}, "in",
    )  # fmt: skip
    request = form.request
    assert isinstance(request, FindRequest) and form.problems == {}
    assert (request.thickness, request.trim, request.moisture, request.limit) == (50.8, 6.35, 0.08, 3)
    assert (request.checks, request.show_face, request.species, request.wishes.margin) == ("none", "heart", "oak", 10)
    assert dict(request.wishes.by_kind) == {"knot": "avoid", "bark pocket": "avoid", "check": "fill"}


def test_the_form_reads_a_pair():
    request = read_form({"top": "72x44in", "way": "book-live", "gap": "20mm"}, "in").request
    assert isinstance(request, PairRequest) and (request.kind, request.straight, request.gap) == ("book", False, 20)
    assert read_form({"top": "72x44in", "way": "gap"}, "in").request.kind == "gap"


@pytest.mark.parametrize(
    ("given", "field", "sentence"),
    [
        ({"top": "abc"}, "top", "is not a size"),
        ({"top": "9x9in", "trim": "wide"}, "trim", "is not a length"),
        ({"top": "9x9in", "at": "0.08"}, "at", "less than one percent"),
        ({"top": "9x9in", "limit": "1000"}, "limit", "from 1 to 25"),
        ({"top": "9x9in", "avoid": "beauty"}, "avoid", "no kind of defect"),
        ({"top": "9x9in", "avoid": "knot", "fill": "knot"}, "avoid", "cannot be both"),
        ({"top": "9in round", "way": "gap"}, "top", "one straight top"),
        ({"top": "9x9in", "shape": "0123456789abcdef"}, "shape", "choose its file again"),
    ],
)
def test_what_cannot_be_meant_is_said_and_shown_again(client, given, field, sentence):
    form = read_form(given, "in", lambda mark: DrawnTops().get(mark).piece)
    assert form.request is None and sentence in form.problems[field]
    page = client.get("/find", query_string=given)
    assert page.status_code == 200 and f'id="wrong-{field}"' in page.text
    assert all(f'value="{text}"' in page.text for name, text in given.items() if name not in ("way", "shape"))


def test_a_bare_number_is_in_the_units_of_the_one_who_looks():
    assert read_form({"top": "1800x800", "trim": "6"}, "mm").request.trim == 6


def test_answers_are_those_of_the_search(client, yard):
    found = yard.fits.find(FindRequest((piece.straight(1524.0, 457.2),), limit=3))
    page = client.get("/find?top=60x18in&limit=3").text
    assert found.answers
    numbers = [str(one.candidate.number) for one in (*found.answers, *found.misses)]
    assert slabs_on(page) == numbers
    assert spare_text(found.answers[0].laid[0], "in") in page
    assert page.count('class="piece"') == len(found.answers)


def test_several_pieces_are_all_drawn(client):
    page = client.get("/find?top=24x12in+and+12in+round&limit=1").text
    drawn = re.search(r'class="piece" d="([^"]+)"', page).group(1)
    assert drawn.count("M") == 2 and "a round top 12 in across" in page


def test_it_says_where_a_slab_lies_and_what_is_on_top(client, yard):
    best = yard.fits.find(FindRequest((piece.straight(1524.0, 457.2),), limit=1)).answers[0].candidate.number
    others = [row.number for row in yard.slabs() if row.number != best][:2]
    yard.places.lay([best, *others], "north barn", "A")
    page = client.get("/find?top=60x18in&limit=1").text
    assert "north barn, A, layer 1" in page
    lifted = re.findall(r"lift off slab (\d+), layer (\d)", page)
    assert lifted == [(str(others[1]), "3"), (str(others[0]), "2")] and "together" in page


def test_without_a_place_it_says_so(client):
    assert "Where it lies was not said." in client.get("/find?top=60x18in&limit=1").text


def test_a_dry_size_needs_a_known_moisture(client):
    assert "the size at that moisture is not known" in client.get("/find?top=40x14in&at=8%25").text


def test_pairs(client, yard):
    page = client.get("/find?top=60x30in&way=book&limit=2").text
    slabs = slabs_on(page)
    assert slabs and "the outlines cover each other" in page
    for first, second in zip(slabs[::2], slabs[1::2], strict=True):
        assert yard.slab(int(first)).log == yard.slab(int(second)).log
        assert abs(yard.slab(int(first)).order - yard.slab(int(second)).order) == 1
    assert "No two slabs in the yard make that top." in client.get("/find?top=120x90in&way=book").text


def test_pairs_at_a_moisture(client, yard):
    request = read_form({"top": "60x30in", "way": "gap", "at": "8%", "thick": "1in", "limit": "2"}, "in").request
    assert request.search.moisture == 0.08 and request.search.thickness == pytest.approx(25.4)
    page = client.get("/find?top=60x30in&way=gap&at=8%25&limit=2").text
    found = yard.fits.pairs(read_form({"top": "60x30in", "way": "gap", "at": "8%", "limit": "2"}, "in").request)
    assert [said for said in pair_remarks(found) if said in html.unescape(page)] == pair_remarks(found) != []


SHAPE = b"""<svg xmlns="http://www.w3.org/2000/svg" width="900mm" height="300mm" viewBox="0 0 900 300">
<path d="M0 60 L450 0 L900 60 L900 240 L450 300 L0 240 Z"/></svg>"""


def send_shape(client, data: bytes, name: str):
    form = {"form_token": token_in(client.get("/find")), "drawing": (io.BytesIO(data), name)}
    return client.post("/find/shape", data=form, content_type="multipart/form-data")


def test_a_shape_of_ones_own(client, yard):
    answer = send_shape(client, SHAPE, "coffin top.svg")
    assert answer.status_code == 303 and re.search(r"/find\?shape=[0-9a-f]{16}$", answer.location)
    page = client.get(answer.location + "&limit=2").text
    ring = np.array([[0, 60], [450, 0], [900, 60], [900, 240], [450, 300], [0, 240]], float)
    found = yard.fits.find(FindRequest((piece.free(ring),), limit=2))
    assert slabs_on(page) == [str(one.candidate.number) for one in (*found.answers, *found.misses)] and found.answers
    assert "coffin top.svg" in page and spare_text(found.answers[0].laid[0], "in") in page
    again = client.get(answer.location + "&top=9x9in")
    assert "has its own size" in again.text


@pytest.mark.parametrize(
    ("data", "said"),
    [(b"GIF89a" + b"0" * 99, "neither an SVG nor a DXF"), (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "no closed line"),
     (b"<!DOCTYPE svg [<!ENTITY a 'b'>]><svg/>", "document type"), (b"0\nSECTION\n2\nnonsense", "no closed line"), (b"", "neither")],
)  # fmt: skip
def test_what_is_no_shape_is_refused_in_a_sentence(client, data, said):
    answer = send_shape(client, data, "<b>top</b>.svg")
    assert 400 <= answer.status_code < 500 and said in answer.text and "<b>" not in answer.text


def test_too_large_a_drawing_is_not_even_read(client):
    token = token_in(client.get("/find"))
    sent = client.post("/find/shape", data=b" " * 1_100_000, content_type="multipart/form-data; boundary=x", headers={"X-Form-Token": token})
    assert sent.status_code == 413 and "more than this page takes" in sent.text


def test_nothing_fits(client):
    assert "No slab in the yard holds that." in client.get("/find?top=20ftx9ft").text


def test_a_status_that_there_is_not(client):
    page = client.get("/find?top=9x9in&status=lost")
    assert page.status_code == 200 and "is no status of a slab" in page.text


def test_it_is_not_for_guests(app):
    assert guest_of(app).get("/find?top=60x18in", **AT).status_code == 403


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_the_page_opens_without_a_complaint(browser, whole_yard, size):
    with served(whole_yard) as address, visit(browser, address, size) as visitor:
        for _, path in SCREENS:
            page = visitor.open(path)
            assert visitor.wrong == [] and visitor.serious() == []
            assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")


def test_from_the_wall_to_the_list(desk):
    page = desk.open("/?top=60x18in&species=elm")
    page.get_by_role("link", name="As a list, with places").click()
    assert page.get_by_label("The top, or several from one slab").input_value() == "60x18in"
    assert "elm" in page.locator(".answers h3").first.inner_text()
    assert desk.wrong == []
