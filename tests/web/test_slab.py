"""The page of a slab: what it says, what can be said on it, and its pictures."""

import io
import re
from datetime import date, timedelta

import pytest
from PIL import Image

from grainlog.drying.reading import Reading
from grainlog.web import make_app
from grainlog.web.served_pictures import ServedPictures, mark_of
from grainlog.yard import SlabFacts, SlabQuery, Yard
from grainlog.yard.life_cut_shape import cut_from
from grainlog.yard.readings import MoistureEntry
from tests.checks.dated_series import fill_with_series
from tests.web.browser import DESK, PHONE, served, visit
from tests.web.forms import AT, guest_of, send
from tests.web.photos import small_photo
from tests.web.yards import made_up
from tests.yard.filings import filing

SCREENS = [("slab", "/slab/1"), ("slab-drawn", "/slab/4"), ("book", "/slab/4/book/5"), ("log", "/log?name=driveway+elm")]
#: Latitude and longitude as a phone writes them into a photo.
GPS = {1: "N", 2: (52.0, 31.0, 12.0), 3: "E", 4: (13.0, 24.0, 36.0)}


@pytest.fixture
def yard(app):
    return app.extensions["yard"]


def test_the_numbers_stand_with_their_interval(client, yard):
    page = client.get("/slab/1").text
    figures = yard.slab(1).figures
    assert "Slab 1" in page and "log sample maple" in page
    assert f"{figures['board_feet'].value:.1f} ± " in page
    assert "What each ± is made of" in page and "outline " in page
    assert "Take a first moisture reading" in page


@pytest.mark.parametrize(("path", "code"), [("/slab/99", 404), ("/slab/x", 404), ("/slab/1?survey=999", 404), ("/slab/1?survey=x", 200)])
def test_what_is_not_there_is_said(client, path, code):
    answer = client.get(path)
    assert answer.status_code == code and "Traceback" not in answer.text


def test_a_width_is_measured_without_script(client):
    client.get("/units/mm")
    page = client.get("/slab/4?at=500").text
    assert re.search(r"<strong>\d+ ± \d mm</strong> at 500 mm from the left end in the photo", page)
    assert "beyond the slab" in client.get("/slab/4?at=9m").text
    assert "is not a length" in client.get("/slab/4?at=wide").text


def test_what_is_said_is_kept(client, yard):
    assert send(client, "/slab/3/status", status="promised", for_whom="Ann", until="2099-01-01").status_code == 303
    send(client, "/slab/3/place", shed="north shed", stack="A")
    send(client, "/slab/3/note", owner="Bob", price="4,50", note="pale streak")
    send(client, "/slab/3/work", work="end-coated")
    life = yard.lives.of(3)
    assert (life.status, life.for_whom, life.shed, life.layer, life.owner, life.price) == ("promised", "Ann", "north shed", 1, "Bob", 4.5)
    page = client.get("/slab/3").text
    assert "promised to Ann until 2099-01-01" in page and "end-coated" in page and "pale streak" in page


def test_what_cannot_be_kept_is_shown_again_as_it_was_typed(client, yard):
    for what, fields, said in (
        ("status", {"status": "promised", "until": "soon", "for_whom": "Ann"}, "is not a day"),
        ("place", {"shed": "", "stack": "", "note": "by the door"}, "Say where it lies"),
        ("place", {"shed": "a", "stack": "b", "layer": "seven"}, "is no layer"),
        ("note", {"price": "much", "owner": "Bob"}, "is not an amount"),
        ("thickness", {"thickness": "thick"}, "is not a length"),
        ("work", {"work": "painted"}, "is not a piece of work"),
    ):
        answer = send(client, f"/slab/3/{what}", **fields)
        assert answer.status_code == 400 and said in answer.text, what
        assert f'id="say-{what}" open' in answer.text
        assert all(f'value="{text}"' in answer.text for name, text in fields.items() if text and name not in ("status", "work"))
    assert yard.lives.history(3) == ()


def test_pieces_have_pages_of_their_own(client, yard):
    yard.cuts.cut(4, cut_from(yard.slab(4).surveys[0].record, 700.0, None, None, 3.0))
    page = client.get("/slab/4a").text
    assert "cut from <a" in page and "worked out after a cut" in page and 'href="/slab/4"' in page
    assert "was cut up" in client.get("/slab/4").text and 'href="/slab/4B"' in client.get("/slab/4").text
    assert "was cut up" in send(client, "/slab/4/status", status="ready").text
    assert send(client, "/slab/4A/status", status="ready").status_code == 303 and yard.lives.of(-1_000_004).status == "ready"


def test_an_unknown_thing_cannot_be_said(client):
    assert send(client, "/slab/3/colour", colour="red").status_code == 404


def test_what_lies_above_is_to_be_lifted_off(client, yard):
    yard.places.lay((3, 4, 5), "north shed", "A")
    page = client.get("/slab/3").text
    assert page.index("slab 5</a>, layer 3") < page.index("slab 4</a>, layer 2") and "Together" in page
    assert "Nothing lies above it." in client.get("/slab/5").text


def test_a_thickness_read_later_brings_board_feet(client, yard, tmp_path):
    made = made_up(tmp_path, 40, "new log", "elm")
    made.record["face"] |= {"thickness": None, "thickness_mm": None, "board_feet": None, "volume_mm3": None}
    number = yard.add(made).slab
    assert "Measure its thickness" in client.get(f"/slab/{number}").text
    assert send(client, f"/slab/{number}/thickness", thickness="2 1/2in, 2 3/8in").status_code == 303
    assert yard.slab(number).figures["thickness_mm"].value == pytest.approx(25.4 * 2.4375)


def test_of_several_photos_the_day_can_be_chosen(client, yard, tmp_path):
    photo = tmp_path / "later"
    photo.mkdir()
    made = filing(photo, 77, SlabFacts(number=3), length_mm=1490.0, width_mm=370.0, taken="2025-09-09T10:00:00")
    yard.add(made)
    older = yard.slab(3).surveys[1]
    page = client.get(f"/slab/3?survey={older.id}").text
    assert "not what now stands for the slab" in page and f'value="{older.id}" selected' in page


def test_a_guest_sees_the_wood_and_nothing_else(app, yard):
    yard.lives.tell((1,), owner="Bob", price=7777.25, note="secret note")
    yard.lives.set_status((1,), "promised", for_whom="Ann")
    yard.places.lay((1,), "north shed", "A")
    yard.drying.readings.add([MoistureEntry(1, Reading(date.today(), 0.2, place="by the door"), note="secret reading")], date.today())
    guest = guest_of(app)
    page = guest.get("/slab/1", **AT).text
    assert "promised" in page and "20 ± " in page and "Slab 1" in page
    for secret in ("Bob", "7777", "secret", "Ann", "north shed", "by the door", "maple-lawn.jpg", "What to do next", "<form method=\"post\""):
        assert secret not in page, secret
    survey = yard.slab(1).surveys[0].id
    assert guest.get(f"/slab/1/{survey}/flat-small.jpg", **AT).status_code == 200
    for kind in ("photo", "marked"):
        assert guest.get(f"/slab/1/{survey}/{kind}-small.jpg", **AT).status_code == 403
    log = guest.get("/log?name=sample+maple", **AT).text
    assert "Say something of it" not in log
    assert guest.get("/readings", **AT).status_code == 403 and guest.get("/print", **AT).status_code == 403


def test_no_metadata_goes_along_with_a_picture(client, yard, tmp_path):
    exif = Image.Exif()
    exif.get_ifd(0x8825).update(GPS)
    exif[0x010F] = "some camera"
    photo = small_photo("maple-lawn", tmp_path, 1000, exif=exif)
    with Image.open(photo) as image:
        assert image.getexif()[0x010F] == "some camera" and image.getexif().get_ifd(0x8825)[2]
    entry = yard.slab(1)
    survey = entry.surveys[0]
    photo.replace(survey.original)
    for kind in ("photo", "marked", "flat"):
        answer = client.get(f"/slab/1/{survey.id}/{kind}-small.jpg")
        assert answer.status_code == 200 and answer.mimetype == "image/jpeg"
        with Image.open(io.BytesIO(answer.data)) as image:
            assert not image.getexif() and "exif" not in image.info and b"some camera" not in answer.data
            assert max(image.size) <= 1001


def test_a_picture_is_sent_once(client, yard):
    address = f"/slab/1/{yard.slab(1).surveys[0].id}/flat-small.jpg"
    first = client.get(address)
    assert first.headers["Cache-Control"].startswith("private")
    again = client.get(address, headers={"If-None-Match": first.headers["ETag"]})
    assert again.status_code == 304 and again.data == b""


def test_a_picture_of_a_mended_survey_is_another_one(yard):
    survey = yard.slab(1).surveys[0]
    before = mark_of(survey, "flat", "small")
    survey.record["outline"]["wood_mm"][0][0] += 1
    assert mark_of(survey, "flat", "small") != before


@pytest.mark.parametrize("path", ["/slab/1/999/photo-small.jpg", "/slab/1/1/photo-huge.jpg", "/slab/1/1/../1/photo-small.jpg", "/slab/1/1/flat-small.png"])
def test_no_other_picture_can_be_asked_for(client, path):
    assert client.get(path).status_code == 404


def test_old_pictures_make_room(monkeypatch, yard):
    pictures = ServedPictures()
    survey = yard.slab(4).surveys[0]
    small = pictures.jpeg(survey, "photo", "small")
    monkeypatch.setattr("grainlog.web.served_pictures._MOST_BYTES", len(small) + 10)
    assert pictures.jpeg(survey, "marked", "small")
    assert pictures.jpeg(survey, "photo", "small") == small


def test_a_lost_photo_is_said(client, yard):
    survey = yard.slab(1).surveys[0]
    survey.original.unlink()
    answer = client.get(f"/slab/1/{survey.id}/photo-small.jpg", headers={"Accept": "text/html"})
    assert answer.status_code == 500 and "There is no file" in answer.text
    assert client.get("/slab/1").status_code == 200


def test_plots_are_drawn_where_there_is_something(client, yard):
    today = date.today()
    yard.drying.readings.add([MoistureEntry(1, Reading(today - timedelta(days=d), m)) for d, m in ((60, 0.5), (30, 0.4), (2, 0.3))], today)
    answer = client.get("/slab/1/drying.svg")
    assert answer.mimetype == "image/svg+xml" and b"<svg" in answer.data
    assert "drying.svg" in client.get("/slab/1").text and "checks.svg" not in client.get("/slab/1").text
    assert client.get("/slab/4/drying.svg").status_code == 400 and client.get("/slab/4/checks.svg").status_code == 400


def test_checks_are_followed_from_photo_to_photo(tmp_path):
    with Yard.start(tmp_path / "yard") as yard:
        (tmp_path / "photos").mkdir()
        fill_with_series(yard, tmp_path / "photos", (2, 3))
        client = make_app(yard).test_client()
        page = client.get("/slab/1").text
        running = yard.checks.slab(1).running
        assert running and f"check {running[0].name}" in page and "coat the ends" in page
        assert all(one.name in page.partition("how known")[2].partition("</table>")[0] for one in running)
        assert client.get("/slab/1/checks.svg").data.count(b"<path") > 20
        sheet = client.get("/slab/1/checks.jpg")
        with Image.open(io.BytesIO(sheet.data)) as image:
            assert image.format == "JPEG" and image.width > 1000
        assert client.get("/slab/1/checks.jpg", headers={"If-None-Match": sheet.headers["ETag"]}).status_code == 304
        first = yard.slab(1).surveys[-1]
        assert "not what now stands for the slab" in client.get(f"/slab/1?survey={first.id}").text


def test_neighbours_are_opened(client):
    page = client.get("/slab/4/book/5").text
    assert "Slabs 4 and 5 opened like a book" in page and "least width" in page
    assert client.get("/slab/5/book/4.svg").data.startswith(b"<svg")
    for other in ("7", "1", "6"):
        assert client.get(f"/slab/4/book/{other}").status_code == 400, other


def test_the_species_of_a_log_is_said_and_corrected(client, yard):
    (log,) = {yard.slab(4).log}
    before = yard.logs.log(log).species
    assert send(client, "/log", name=log, species=" rock  elm ").status_code == 303
    assert yard.logs.log(log).species == "rock elm" and yard.slab(4).species == "rock elm"
    assert yard.logs.log(log).history[-1].note == f"rock elm, before: {before}"
    assert 4 in [row.number for row in yard.slabs(SlabQuery(species="rock elm"))]
    assert 4 in [row.number for row in yard.slabs(SlabQuery(text="rock"))] and yard.stocktake() == []
    assert "rock elm" in client.get(f"/log?name={log}").text
    said = len(yard.logs.log(log).history)
    yard.logs.name_species(log, "rock elm")
    assert len(yard.logs.log(log).history) == said, "nothing new was said"


def test_what_is_said_of_a_log_is_kept(client, yard):
    day = date.today() - timedelta(days=20)
    assert send(client, "/log", name="driveway elm", sawn=day.isoformat(), metal="a nail").status_code == 303
    assert yard.logs.log("driveway elm").sawn_on == day and yard.logs.log("driveway elm").metal == "a nail"
    assert "Nothing was said" in send(client, "/log", name="driveway elm").text
    assert send(client, "/log", name="driveway elm", pith="last", note="by the gate").status_code == 400
    assert client.get("/log?name=nowhere").status_code == 400


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
@pytest.mark.parametrize(("name", "path"), SCREENS)
def test_pages_open_without_fault(browser, folder, size, name, path):
    with served(folder) as address, visit(browser, address, size) as visitor:
        page = visitor.open(path)
        assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
        assert visitor.wrong == [] and visitor.serious() == []


def test_the_face_is_zoomed_measured_and_its_checks_go_off(desk):
    page = desk.open("/slab/1")
    view, box = page.locator("[data-view]"), lambda: [float(n) for n in page.get_attribute("[data-view] svg", "viewBox").split()]
    whole = box()
    page.get_by_role("button", name="Closer").click()
    assert box()[2] < whole[2]
    view.focus()
    page.keyboard.press("0")
    assert box() == whole
    page.keyboard.press("+")
    page.keyboard.press("ArrowRight")
    assert box()[2] < whole[2]
    page.keyboard.press("0")
    at = view.bounding_box()
    page.mouse.move(at["x"] + at["width"] * 0.3, at["y"] + at["height"] / 2)
    near = page.locator("[data-where]").inner_text()
    page.mouse.move(at["x"] + at["width"] * 0.7, at["y"] + at["height"] / 2)
    assert page.locator("[data-where]").inner_text() != near and "±" in page.locator("[data-said]").inner_text()
    page.mouse.wheel(0, -400)
    page.wait_for_function("w => Number(document.querySelector('[data-view] svg').getAttribute('viewBox').split(' ')[2]) < w", arg=whole[2])
    assert page.locator("[data-layer=checks]").is_visible()
    page.get_by_role("checkbox", name="Checks").uncheck()
    assert not page.locator("[data-layer=checks]").is_visible()
    page.locator("#along").focus()
    page.keyboard.press("Home")
    assert "on the end" in page.locator("[data-where]").inner_text()
    assert desk.wrong == []


def test_two_fingers_bring_the_slab_closer(browser, folder):
    with served(folder) as address, visit(browser, address, PHONE) as visitor:
        page = visitor.open("/slab/4")
        width = "Number(document.querySelector('[data-view] svg').getAttribute('viewBox').split(' ')[2])"
        before = page.evaluate(width)
        page.evaluate("""() => {
            const view = document.querySelector("[data-view]");
            const at = view.getBoundingClientRect();
            const x = at.left + at.width / 2, y = at.top + at.height / 2;
            view.setPointerCapture = () => {};
            const send = (kind, id, dx) => view.dispatchEvent(new PointerEvent(kind, {
                pointerId: id, pointerType: "touch", clientX: x + dx, clientY: y, bubbles: true }));
            send("pointerdown", 1, -20); send("pointerdown", 2, 20);
            send("pointermove", 1, -60); send("pointermove", 2, 60);
            send("pointerup", 1, -60); send("pointerup", 2, 60);
        }""")
        assert page.evaluate(width) < before / 2
        assert visitor.wrong == []
