"""The shed wall: shapes, filters, a top laid on, and the page in a browser."""

import re
from datetime import date
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from svgelements import Path as SvgPath

from grainlog.drying.reading import Reading
from grainlog.fit import piece
from grainlog.web.pages import wall as wall_page
from grainlog.web.wall_order import Orders
from grainlog.web.wall_shapes import grain_lines, shape_of
from grainlog.web.wall_tiles import Tiles, in_short, slightly, stand
from grainlog.web.wall_wish import read_wish
from grainlog.web.wood_tones import tone
from grainlog.yard.fit_request import FindRequest
from grainlog.yard.outlines import Drawn
from grainlog.yard.readings import MoistureEntry
from tests.web.browser import DESK, PHONE, served, visit
from tests.web.forms import AT, guest_of
from tests.web.yards import wavy

SCREENS = [
    ("wall", "/"),
    ("wall-top", "/?top=60x18in"),
    ("wall-near", "/?scale=nearest"),
    ("wall-filters", "/?species=oak&longer=5ft"),
]
NOTHING = np.empty((0, 2))


def rings_of(path: str) -> list[np.ndarray]:
    """The closed rings of a path of straight lines, read by a library that knows nothing of ours."""
    rings = []
    for part in SvgPath(path).as_subpaths():
        points = [(segment.end.x, segment.end.y) for segment in part if segment.end is not None]
        rings.append(np.array(points))
    return rings


@settings(max_examples=40, deadline=None)
@given(length=st.floats(600, 3500), width=st.floats(150, 900), seed=st.integers(0, 40), points=st.integers(20, 400))
def test_a_shape_is_its_outline_turned_upright(length, width, seed, points):
    wood = np.array(wavy(length, width, seed, points))
    shape = shape_of(Drawn(wood, NOTHING, ()))
    (ring,) = rings_of(shape.wood)
    # Back from the drawing to the slab frame: left is up across the slab, up is along it.
    back = np.column_stack([shape.top_mm - ring[:, 1], shape.left_mm - ring[:, 0]])
    outline, drawn = shapely.LinearRing(wood), shapely.LinearRing(back)
    # A line simplified by d lies within d of the true one; whole mm add less than one more.
    allowed = 0.003 * np.ptp(wood[:, 1]) + 0.75
    assert shapely.hausdorff_distance(drawn, shapely.segmentize(outline, 5.0)) <= allowed + 5.0
    assert max(outline.distance(shapely.Point(point)) for point in back) <= 0.75
    assert shapely.Polygon(back).symmetric_difference(shapely.Polygon(wood).buffer(0)).area <= allowed * outline.length
    # A quarter turn keeps the way round; a mirror image would not (y runs down in the drawing).
    assert shapely.LinearRing(wood).is_ccw == shapely.LinearRing(np.column_stack([ring[:, 0], -ring[:, 1]])).is_ccw


def test_voids_are_holes_and_bark_lies_behind():
    wood = np.array([[0, 0], [1000, 0], [1000, 300], [0, 300]], float)
    void = np.array([[400, 100], [450, 100], [450, 150]], float)
    bark = wood + [[0, -10], [0, -10], [0, 10], [0, 10]]
    shape = shape_of(Drawn(wood, bark, (void,)))
    assert (shape.width_mm, shape.height_mm) == (320, 1000)
    outer, hole = rings_of(shape.wood)
    assert shapely.Polygon(outer).contains(shapely.Polygon(hole)) and shapely.Polygon(hole).area == 1250
    (round_it,) = rings_of(shape.bark)
    assert shapely.Polygon(round_it).area == 320 * 1000
    # The butt (x = 0) stands on the floor.
    assert rings_of(shape.path(shapely.box(0, 0, 10, 300)))[0][:, 1].min() == 990


@given(seed=st.integers(0, 60))
def test_grain_stays_in_the_wood(seed):
    wood = np.array(wavy(2000, 400, seed))
    for line in grain_lines(wood):
        assert shapely.Polygon(wood).buffer(1e-6).covers(shapely.LineString(line))


def test_grain_of_a_fork_does_not_cross_the_gap():
    fork = np.array([[0, 0], [2000, -200], [2000, 50], [1200, 150], [2000, 250], [2000, 500], [0, 300]], float)
    lines = grain_lines(fork)
    assert lines and all(shapely.Polygon(fork).buffer(1e-6).covers(shapely.LineString(line)) for line in lines)


def test_tones_go_by_the_species():
    said = {"black walnut": "brown", "Cherry": "red", "white oak": "tan", "sugar maple": "pale", "butternut": "brown",
            "eastern redcedar": "red", "black locust": "gold", "unheard-of wood": "grey"}  # fmt: skip
    assert {name: tone(name) for name in said} == said and tone(None) == "grey"


def test_lengths_in_short():
    assert [in_short(mm, "in") for mm in (2490.0, 560.0, 1219.2)] == ["8′ 2″", "22″", "4′"]
    assert in_short(2490.0, "mm") == "249 cm"
    assert [slightly(mm, "in") for mm in (6.35, 0.4)] == ["1/4″", "a hair"]
    assert slightly(6.4, "mm") == "6 mm" and slightly(0.2, "mm") == "a hair"


def test_the_ruler_reaches_above_the_longest():
    drawn = stand(2743.2, "far", "in")
    assert drawn.height_px == 300 and drawn.step_px == 30 and drawn.marks[-1] == (270, "9 ft")
    metric = stand(2743.2, "far", "mm")
    assert [said for _, said in metric.marks][-1] == "2.5 m" and metric.mm_per_px == drawn.mm_per_px
    assert metric.marks[0][0] == pytest.approx(500 / metric.mm_per_px)
    assert stand(0.0, "far", "in").height_px == 60


def test_what_cannot_be_read_is_said_and_asks_for_nothing():
    wish = read_wish(
        {"top": "abc", "wider": "wide", "longer": "6ft", "status": "lost", "order": "by smell", "drier": "12"},
        "in",
        False,
    )
    assert set(wish.problems) == {"top", "wider", "status"} and not wish.pieces
    assert wish.query.length_mm.least == pytest.approx(1828.8) and wish.query.width_mm.least is None
    assert wish.query.status is None and wish.order == "tag" and wish.drier == 0.12
    assert wish.typed["wider"] == "wide"


def test_a_guest_does_not_filter_by_what_they_may_not_see():
    given = {"words": "ann", "place": "barn", "status": "sold", "species": "oak"}
    wish = read_wish(given, "in", guest=True)
    assert (
        wish.typed == {"species": "oak"}
        and wish.query.text is None
        and wish.query.place is None
        and wish.query.status is None
    )


@pytest.fixture
def yard(app):
    return app.extensions["yard"]


def tags_on(page: str) -> list[str]:
    return re.findall(r'href="/slab/([0-9A-Z]+)"', page)


@pytest.mark.parametrize(
    ("asked", "kept"),
    [
        ({"species": "cherry"}, lambda row: row.species == "cherry"),
        ({"longer": "7ft"}, lambda row: row.length_mm.value >= 2133.6),
        ({"wider": "500mm"}, lambda row: row.width_mean_mm.value >= 500),
        ({"thicker": "8/4", "thinner": "55mm"}, lambda row: 50.8 <= row.thickness_mm.value <= 55),
        ({"words": "churchyard"}, lambda row: row.log == "churchyard oak"),
    ],
)
def test_filters_leave_what_was_asked_for(client, yard, asked, kept):
    wanted = [row.tag for row in yard.slabs() if kept(row)]
    assert wanted and len(wanted) < len(yard.slabs())
    assert tags_on(client.get("/", query_string=asked).text) == wanted


def test_orders(client, yard):
    rows = sorted(yard.slabs(), key=lambda row: -row.length_mm.value)
    assert tags_on(client.get("/?order=longest").text) == [row.tag for row in rows]


def test_moisture_leaves_only_slabs_whose_moisture_is_known(client, yard):
    for number, moisture in ((3, 0.10), (4, 0.25)):
        yard.drying.readings.add([MoistureEntry(number, Reading(date.today(), moisture, "pin"))], date.today())
    page = client.get("/?drier=12%25").text
    assert tags_on(page) == ["3"]
    assert "10 more may be, but their moisture is not known" in page


def test_the_wall_comes_in_parts_that_hold_every_slab_once(client, yard, monkeypatch):
    monkeypatch.setattr(wall_page, "PART", 5)
    page = client.get("/?order=widest").text
    seen = tags_on(page)
    following = re.search(r'data-part="([^"]+)"', page).group(1).replace("&amp;", "&")
    while following:
        answer = client.get(following)
        assert "<html" not in answer.text
        seen += tags_on(answer.text)
        following = answer.headers.get("X-Wall-Next")
    assert sorted(map(int, seen)) == [row.number for row in yard.slabs()]
    assert tags_on(client.get("/?order=widest&start=5").text) == seen[5:10]
    assert len(tags_on(client.get("/?order=widest&whole=yes").text)) == len(seen)
    assert client.get("/wall/more?start=-1").status_code == 400


def test_a_top_lies_where_the_search_says(yard):
    orders, tiles = Orders(yard), Tiles(yard)
    wish = read_wish({"top": "60x18in"}, "in", False)
    order = orders.of(wish)
    drawn = tiles.of(order.rows, order, wish.pieces, "in", patience=1000.0)
    found = yard.fits.find(FindRequest((piece.straight(1524.0, 457.2),), limit=50, misses=50))
    fits = {one.candidate.number: one for one in found.answers}
    assert fits and {tile.number for tile in drawn if tile.state == "fits"} == set(fits)
    assert {tile.number for tile in drawn if tile.state == "nearly"} == {one.candidate.number for one in found.misses}
    assert [tile.state for tile in drawn] == sorted((tile.state for tile in drawn), key=["fits", "nearly", "no"].index)
    for tile in drawn:
        if tile.state == "fits":
            laid = fits[tile.number].laid[0].shape
            (ring,) = rings_of(tile.piece)
            assert shapely.Polygon(ring).area == pytest.approx(laid.area, rel=0.005)
            (wood,) = rings_of(tile.shape.wood)[:1]
            assert shapely.Polygon(wood).buffer(3).covers(shapely.Polygon(ring))
        if tile.state == "no":
            assert "too small" in tile.label and not tile.piece


def test_without_patience_one_slab_is_tried_and_the_rest_wait(client, yard, monkeypatch):
    orders, tiles = Orders(yard), Tiles(yard)
    wish = read_wish({"top": "40x14in"}, "in", False)
    order = orders.of(wish)
    states = [tile.state for tile in tiles.of(order.rows, order, wish.pieces, "in", patience=0.0)]
    assert states.count("fits") == 1 and states.count("waits") >= 3
    waiting = [row for row in order.rows if row.number in order.may_hold][1:4]
    laid = client.get("/wall/laid", query_string={"top": "40x14in", "slab": [row.number for row in waiting]}).text
    assert sorted(tags_on(laid)) == sorted(row.tag for row in waiting) and 'class="piece"' in laid


def test_a_change_of_the_yard_is_seen_at_once(client, yard):
    assert "12 slabs" in client.get("/").text
    yard.lives.set_status([5], "gone")
    page = client.get("/").text
    assert "11 slabs" in page and "5" not in tags_on(page)


def test_a_guest_sees_wood_and_no_places(app, yard):
    yard.places.lay([3, 4], "north barn", "A")
    yard.lives.tell([4], owner="Ann")
    yard.lives.set_status([4], "promised", for_whom="Bob")
    page = guest_of(app).get("/?top=40x14in&place=attic&words=zzz", **AT).text
    assert len(tags_on(page)) == 12
    for secret in ("north barn", "Ann", "Bob", "driveway elm", "promised", 'name="place"', 'name="words"', "/find"):
        assert secret not in page, secret


def test_the_drawings_are_sound_xml(client):
    page = client.get("/?top=40x14in").text
    drawings = re.findall(r"<svg (?!class=\"(?:row-)?numbers).*?</svg>", page, re.DOTALL)
    assert len(drawings) == 13
    for drawing in drawings:
        ElementTree.fromstring(drawing)


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_page_opens_without_a_complaint(browser, whole_yard, size, scheme, monkeypatch):
    monkeypatch.setattr(wall_page, "LAYING_SECONDS", 1000.0)
    with served(whole_yard) as address, visit(browser, address, size, color_scheme=scheme) as visitor:
        for _, path in SCREENS[:2]:
            page = visitor.open(path)
            assert visitor.wrong == [] and visitor.serious() == []
            assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")


def test_a_top_is_typed_and_its_slab_opened_by_keyboard(desk):
    page = desk.open("/")
    page.get_by_label("A top to find wood for").fill("60x18in")
    page.keyboard.press("Enter")
    page.wait_for_selector("li.fits .piece")
    page.wait_for_selector(".waits", state="detached")
    assert re.fullmatch(r"12 slabs\. \d of them holds? a top 60 x 18 in.*\.", page.get_by_role("status").inner_text())
    first = page.locator("li.fits a").first
    assert re.fullmatch(r"slab \d+, .+, .+ by .+, holds the top, to spare .+", first.get_attribute("aria-label"))
    first.focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/slab/*")
    assert desk.wrong == []


def test_the_ruler_stands_on_the_floor_of_every_row(browser, whole_yard):
    with served(whole_yard) as address, visit(browser, address, PHONE) as visitor:
        page = visitor.open("/")
        pitch = float(page.locator(".ruler pattern").get_attribute("height"))
        tops = page.evaluate("[...document.querySelectorAll('#boards > li')].map(li => li.offsetTop)")
        rows = sorted(set(tops))
        assert len(rows) > 2 and np.allclose(np.diff(rows), pitch, atol=0.5)


def test_the_wall_grows_as_it_is_scrolled(browser, whole_yard, monkeypatch):
    monkeypatch.setattr(wall_page, "PART", 2)
    with served(whole_yard) as address, visit(browser, address, {"width": 360, "height": 300}) as visitor:
        page = visitor.open("/")
        page.wait_for_timeout(200)
        for _ in range(30):
            page.mouse.wheel(0, 600)
            page.wait_for_timeout(30)
            if page.locator("#more").count() == 0:
                break
        assert page.locator("#boards > li").count() == 12 and visitor.wrong == []


def test_back_from_a_slab_the_wall_is_where_it_was(browser, whole_yard, monkeypatch):
    monkeypatch.setattr(wall_page, "PART", 3)
    with served(whole_yard) as address, visit(browser, address, {"width": 360, "height": 500}) as visitor:
        page = visitor.open("/")
        page.wait_for_selector("#boards[data-ready]", state="attached")
        for _ in range(40):
            page.mouse.wheel(0, 900)
            page.wait_for_timeout(30)
            if page.locator("#boards > li").count() == 12 and not page.locator("#more").count():
                break
        page.locator("#boards a").nth(9).scroll_into_view_if_needed()
        was = page.evaluate("scrollY")
        page.locator("#boards a").nth(9).click()
        page.wait_for_selector("h1")
        page.go_back()
        page.wait_for_selector("#boards[data-ready]", state="attached")
        assert page.locator("#boards > li").count() >= 10
        assert abs(page.evaluate("scrollY") - was) < 2 and was > 300
        assert page.evaluate("document.activeElement.getAttribute('href')") == page.locator("#boards a").nth(9).get_attribute("href")
        assert visitor.wrong == []


def test_on_paper_each_row_has_the_numbers_of_its_lines(browser, whole_yard):
    with served(whole_yard) as address, visit(browser, address, {"width": 500, "height": 700}) as visitor:
        page = visitor.open("/?whole=yes")
        assert not any(one.is_visible() for one in page.locator(".row-numbers").all()), "on the screen the ruler has them"
        page.emulate_media(media="print")
        seen = page.evaluate(
            """() => [...document.querySelectorAll("#boards > li")].map((slab) => {
              const box = slab.getBoundingClientRect(), at = slab.querySelector(".row-numbers").getBoundingClientRect();
              return [box.left, box.top, box.width, at.left, getComputedStyle(slab.querySelector(".row-numbers")).display];
            })"""
        )
        left = min(row[0] for row in seen)
        firsts = [row for row in seen if row[0] == left]
        assert len(firsts) >= 2 and all(row[4] == "block" for row in seen)
        assert all(row[3] >= 0 for row in firsts), "on the paper"
        # Elsewhere they lie wholly under the slab before.
        assert all(row[0] - row[3] < min(one[2] for one in seen) for row in seen)


def test_without_script_there_is_a_link_to_more(browser, whole_yard, monkeypatch):
    monkeypatch.setattr(wall_page, "PART", 5)
    with served(whole_yard) as address, visit(browser, address, DESK, java_script_enabled=False) as visitor:
        page = visitor.open("/")
        assert page.locator("#boards > li").count() == 5
        page.get_by_role("link", name="More slabs").click()
        assert page.locator("#boards > li b").first.inner_text() == "6"
