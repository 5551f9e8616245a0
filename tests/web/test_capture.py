"""New photos: from the phone through measuring to a slab in the yard, and what is refused on the way."""

import io
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest
from PIL import Image

from grainlog.web import make_app
from grainlog.web.inbox_words import LAST_SAID
from grainlog.yard import Yard
from tests.web.browser import DESK, PHONE, served, visit
from tests.web.photos import small_photo
from tests.web.senders import PART, headers_of, send, settle, token_of

SCREENS = [("new", "/new")]
#: A point on the earth (of RFC 5870's example) that must not go along with a picture.
GPS = {0x8825: {1: "N", 2: (48.0, 12.0, 4.0), 3: "E", 4: (16.0, 22.0, 12.0)}}


@pytest.fixture(scope="module")
def photos(tmp_path_factory):
    """On the slab lie this one's cards, on the floor that one's, nowhere the third's."""
    folder = tmp_path_factory.mktemp("photos")
    none = folder / "no-cards.jpg"
    Image.effect_noise((800, 640), 60).convert("RGB").save(none)
    return {
        "slab": small_photo("maple-lawn", folder, 1300),
        "floor": small_photo("walnut-shed-floor", folder, 1300),
        "none": none,
    }


@pytest.fixture(scope="module")
def measured_yard(photos, tmp_path_factory):
    """A yard whose three waiting photos were measured without a word said; nobody changes it."""
    folder = tmp_path_factory.mktemp("measured") / "yard"
    with Yard.start(folder) as yard:
        app = make_app(yard)
        client = app.test_client()
        for name, photo in photos.items():
            assert send(client, photo, name).json["done"]
        told = settle(lambda: client.get("/new/state").json)
        app.extensions["stop"].set()
    assert [told[number][0] for number in ("1", "2", "3")] == ["measured", "measured", "failed"], told
    return folder


@pytest.fixture
def folder(measured_yard, tmp_path):
    return shutil.copytree(measured_yard, tmp_path / "yard")


def form_of(client, number: int, **changed) -> dict:
    """The form of a photo's page as it stands, with some of it typed over."""
    page = client.get(f"/new/{number}").text
    found = dict(
        re.findall(
            r'<input(?: type="radio")? name="([a-z_]+)" value="([^"]*)"(?=[^>]* checked|[^>]*list=|[^>]*autocomplete| inputmode| maxlength)',
            page,
        )
    )
    return found | {"form_token": token_of(client)} | changed


def test_a_photo_without_a_word_is_measured_with_a_guess_that_is_said_and_not_filed(client, app):
    page = client.get("/new/2").text
    assert "Nobody said the thickness or the lift yet" in page and 'value="floor" checked' in page
    answer = client.post("/new/2", data=form_of(client, 2, log="storm walnut", do="file"))
    assert answer.status_code == 400 and "Say how thick the slab is" in answer.text
    assert 'value="storm walnut"' in answer.text, "what was typed is still there"
    assert app.extensions["yard"].slabs() == []


def test_cards_on_the_slab_are_seen_to_lie_there(client, app):
    assert 'value="slab" checked' in client.get("/new/1").text
    answer = client.post("/new/1", data=form_of(client, 1, log="lawn maple", species="maple", thickness="", do="file"))
    assert answer.status_code == 303 and answer.location == "/new/2"
    (row,) = app.extensions["yard"].slabs()
    assert row.log == "lawn maple" and row.species == "maple" and 1850 < row.length_mm.value < 1950
    assert client.get("/new/1").status_code == 404
    assert app.extensions["yard"].stocktake() == []
    assert not (app.extensions["yard"].folder / "inbox" / "1").exists()
    # The next one is offered what was said of this one.
    assert app.extensions["yard"].settings.get(LAST_SAID)["facts"] == {"log": "lawn maple", "species": "maple"}
    assert 'name="log" value="lawn maple"' in client.get("/new/2").text


def test_said_and_confirmed_at_once_it_is_measured_again_and_files_itself(client, app):
    before = app.extensions["inbox"].get(2).result()["record"]["face"]["length_mm"]["value"]
    answer = client.post(
        "/new/2", data=form_of(client, 2, log="shed walnut", thickness="63.5mm", lift="19mm", do="file")
    )
    assert answer.status_code == 303 and answer.location == "/new/1"
    settle(lambda: client.get("/new/state").json)
    (row,) = app.extensions["yard"].slabs()
    assert row.thickness_mm.value == 63.5 and row.length_mm.value != before
    assert client.get("/new/2").status_code == 303, "the page of a filed photo says where it is"
    assert app.extensions["yard"].slab(row.number).surveys[0].record["scale"]["lift_mm"] == 19


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"thickness": "2 apples", "log": "x"}, "2 apples"),
        ({"lift": "-3mm", "log": "x"}, "negative"),
        ({"which": "slab", "slab": "99"}, "no slab 99"),
        ({"which": "slab", "slab": "; drop"}, "not the tag of a slab"),
        ({"log": ""}, "Say which log"),
        ({"cards_on": "roof", "log": "x"}, "cannot be chosen"),
    ],
)
def test_what_cannot_be_meant_is_said_and_nothing_is_filed(client, app, typed, said):
    form = form_of(client, 1, **({"thickness": "50mm"} if "slab" not in typed else {}) | typed, do="file")
    answer = client.post("/new/1", data=form)
    if answer.status_code == 303:  # the slab is looked up when it is measured with
        told = settle(lambda: client.get("/new/state").json)
        assert said in (told["1"][2] or "")
    else:
        assert answer.status_code in (400, 404) and said in answer.text
    assert app.extensions["yard"].slabs() == []


def test_a_failed_photo_says_why_and_what_to_do(client, app):
    page = client.get("/new/3").text
    assert (
        "No scale card was found" in page
        and "give the scale by hand" in page
        and "--" not in re.sub(r"<[^>]*>", "", page)
    )
    answer = client.post("/new/3/away", data={"form_token": token_of(client)})
    assert answer.status_code == 303
    assert len(list((app.extensions["yard"].folder / "removed" / "thrown-away").iterdir())) == 1
    assert app.extensions["yard"].stocktake() == []


def test_the_scale_by_hand_needs_marks_that_can_be_meant(client, app):
    token = token_of(client)
    for form in ({"kind": "a4", "points": "1,2 3,4"}, {"kind": "points", "points": "10,10 500,10", "distance": "0"},
                 {"kind": "size", "size": "wide", "points": "10,10 500,10 500,300 10,300"}, {"kind": "moon"}):  # fmt: skip
        answer = client.post("/new/3/scale", data=form | {"form_token": token})
        assert answer.status_code == 400, form
    assert app.extensions["inbox"].get(3).state == "failed"


def test_two_points_give_a_scale_and_the_page_says_how_unsure_it_is(client, app):
    """The walnut's ends are 2.1 m apart (its rendered truth): measured between them by hand, said to be good to percents."""
    result = app.extensions["inbox"].get(2).result()
    wood = result["record"]["outline"]["wood_px"]
    left, right = min(wood), max(wood)
    form = {
        "kind": "points",
        "distance": "2110mm",
        "points": f"{left[0]},{left[1]} {right[0]},{right[1]}",
        "form_token": token_of(client),
    }
    assert client.post("/new/2/scale", data=form).status_code == 303
    settle(lambda: client.get("/new/state").json)
    page = client.get("/new/2").text
    assert "The scale comes from two points" in page and re.search(r"only sure to \d+ %", page)
    length = app.extensions["inbox"].get(2).result()["record"]["face"]["length_mm"]
    assert abs(length["value"] - 2110) < 2 * length["u"] and length["u"] > 0.005 * 2110


def test_without_scripts_a_form_takes_several_photos(client, app, tmp_path, photos):
    notes = tmp_path / "notes.txt"
    notes.write_bytes(b"not a photo at all")
    again = photos["floor"]
    files = [
        (io.BytesIO(path.read_bytes()), path.name)
        for path in (small_photo("maple-lawn", tmp_path, 700, 5), again, notes)
    ]
    answer = client.post("/new", data={"form_token": token_of(client), "photos": files})
    assert answer.status_code == 303
    said = client.get("/new").text
    assert "is here, and will be measured" in said and "is here already" in said and "not a photo" in said
    assert [one.number for one in app.extensions["inbox"].all()] == [1, 2, 3, 4]


def test_parts_are_for_those_who_may(app, photos):
    photo, token = photos["floor"], token_of(app.test_client())
    phone = {"environ_base": {"REMOTE_ADDR": "192.168.1.40"}}
    stranger, data = app.test_client(), photo.read_bytes()[:100]
    assert (
        stranger.post("/new/part", data=data, headers=headers_of(token, "k", 100, 0, "a.jpg"), **phone).status_code
        == 403
    )
    here = app.test_client()
    assert here.post("/new/part", data=data, headers=headers_of("guessed", "k", 100, 0, "a.jpg")).status_code == 403
    big = headers_of(token_of(here), "k", 40_000_000, 0, "a.jpg")
    assert here.post("/new/part", data=b"x" * 3_000_000, headers=big).status_code == 413
    assert not list((app.extensions["yard"].folder / "inbox").glob("*.part"))


def test_a_part_out_of_step_is_told_where_to_go_on(client, photos):
    photo = photos["slab"]
    fresh = photo.read_bytes() + b"\0"
    half = len(fresh) // 2
    ask = lambda at, data: client.post(
        "/new/part", data=data, headers=headers_of(token_of(client), "k", len(fresh), at, "a.jpg")
    )
    assert ask(0, fresh[:half]).json == {"at": half, "done": False, "said": None, "twice": False}
    answer = ask(half + 5, fresh[half + 5 :])
    assert answer.status_code == 409 and answer.json["at"] == half
    assert client.get("/new/part", headers={"X-Photo-Key": "k"}).json == {"at": half}
    assert ask(half, fresh[half:]).json["done"]


def test_no_picture_carries_where_it_was_taken(client, app, tmp_path):
    exif = Image.Exif()
    exif[0x010F] = "a maker"
    exif.get_ifd(0x8825).update(GPS[0x8825])
    photo = small_photo("walnut-shed-floor", tmp_path, 800, exif=exif)
    with Image.open(photo) as image:
        assert image.getexif().get_ifd(0x8825)
    number = int(client.get("/new/state").json["photos"].__len__()) + 1
    assert send(client, photo, "gps").json["done"]
    for kind in ("small", "large"):
        answer = client.get(f"/new/{number}/{kind}.jpg")
        with Image.open(io.BytesIO(answer.data)) as image:
            assert answer.content_type == "image/jpeg" and not dict(image.getexif()) and b"a maker" not in answer.data
    assert client.get("/new/1/overlay.jpg").status_code == 200
    for path in ("/new/1/about.jpg", "/new/1/..%2fyard.jpg", "/new/99/small.jpg"):
        assert client.get(path).status_code == 404


# In a browser ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["jpg", "heic"])
def test_from_the_phone_to_a_slab(browser, folder, tmp_path, kind):
    photo = small_photo("maple-lawn", tmp_path, 1200, 3)
    if kind == "heic":
        with Image.open(photo) as image:
            photo = photo.with_suffix(".heic")
            image.save(photo, quality=80, exif=image.getexif())
    with served(folder) as address, visit(browser, address, PHONE) as phone:
        page = phone.open("/new")
        assert phone.serious() == []
        page.set_input_files("#choose", str(photo))
        page.wait_for_selector('#sending[data-left="0"]', state="attached")
        settle(lambda: page.request.get(f"{address}/new/state").json())
        phone.open("/new/4")
        assert page.inner_text("h1") == "Does this look right?" and phone.serious() == []
        assert page.evaluate("document.documentElement.scrollWidth") == PHONE["width"]
        page.wait_for_function("[...document.images].every((one) => one.complete && one.naturalWidth > 0)")
        page.fill("[name=log]", "phone maple")
        page.click("text=Looks right: file it")
        page.wait_for_selector(".said:has-text('Filed as slab 1')")
        assert phone.wrong == []
    kept = list((folder / "originals").rglob(f"*{photo.suffix}"))
    assert photo.read_bytes() in [one.read_bytes() for one in kept]


def test_a_photo_survives_a_lost_connection_and_a_closed_page(browser, folder, tmp_path):
    photo = small_photo("walnut-shed-floor", tmp_path, 1200, 9)
    photo.write_bytes(photo.read_bytes() + bytes(1 << 20))  # more than one part
    with served(folder) as address, browser.new_context(viewport=PHONE) as phone:
        page = phone.new_page()
        page.goto(f"{address}/new", wait_until="networkidle")
        sent = []
        # The connection goes after the first part.
        page.route(
            "**/new/part",
            lambda route: (
                route.abort()
                if route.request.method == "POST" and sent
                else (sent.append(route.request.method) if route.request.method == "POST" else None, route.continue_())
            ),
        )
        page.set_input_files("#choose", str(photo))
        page.wait_for_selector("#pause:not([hidden])")
        assert "No connection" in page.inner_text("#pause") and "kept here" in page.inner_text("#pause")
        page.close()
        parts = list((folder / "inbox").glob("*.part"))
        assert len(parts) == 1 and parts[0].stat().st_size == 1 << 20
        page = phone.new_page()
        page.goto(f"{address}/new", wait_until="networkidle")
        page.wait_for_selector('#sending[data-left="0"]', state="attached")
        assert (folder / "inbox" / "4" / "photo.jpg").read_bytes() == photo.read_bytes()


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_pages_of_photos_have_nothing_wrong(browser, folder, size):
    with served(folder) as address, visit(browser, address, size, color_scheme="dark") as visitor:
        for path in ("/new", "/new/1", "/new/3", "/new/3/scale"):
            page = visitor.open(path)
            assert page.evaluate("document.documentElement.scrollWidth") <= size["width"], path
            assert visitor.serious() == [] and visitor.wrong == [], path


# Killed ----------------------------------------------------------------------------------------------------------------


class Server:
    """`grainlog serve` in a process of its own, to be killed."""

    def __init__(self, folder: Path):
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        command = [sys.executable, "-u", "-m", "grainlog", "serve", "--yard", str(folder), "--port", str(self.port)]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        assert "localhost" in self.process.stdout.readline()
        opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
        self.open = opener.open
        self.token = re.search(r'name="form-token" content="([^"]+)"', self.ask("/new").decode()).group(1)

    def ask(self, path: str, data: bytes | None = None, **headers) -> bytes:
        request = urllib.request.Request(f"http://localhost:{self.port}{path}", data, headers)
        with self.open(request, timeout=60) as answer:
            return answer.read()

    def part(self, key: str, whole: bytes, at: int) -> None:
        self.ask("/new/part", whole[at : at + PART], **headers_of(self.token, key, len(whole), at, f"{key}.jpg"))

    def kill(self) -> None:
        os.kill(self.process.pid, signal.SIGKILL)
        self.process.wait()
        self.process.stdout.close()


def test_killed_while_photos_come_and_are_measured_nothing_accepted_is_lost(tmp_path):
    import json

    Yard.start(tmp_path / "yard").close()
    whole, coming = (small_photo(name, tmp_path, 1300, 7).read_bytes() for name in ("maple-lawn", "walnut-shed-floor"))
    server = Server(tmp_path / "yard")
    try:
        for at in range(0, len(whole), PART):
            server.part("whole", whole, at)
        server.part("coming", coming, 0) if len(coming) > PART else server.part("coming", coming + b"\0" * PART, 0)
        until = time.monotonic() + 60
        while json.loads(server.ask("/new/state"))["photos"]["1"][1] is None and time.monotonic() < until:
            time.sleep(0.02)
    finally:
        server.kill()
    server = Server(tmp_path / "yard")
    try:
        if len(coming) <= PART:
            coming += b"\0" * PART
        at = json.loads(server.ask("/new/part", **{"X-Photo-Key": "coming"}))["at"]
        assert at == PART, "the part that was acknowledged is there"
        for start in range(at, len(coming), PART):
            server.part("coming", coming, start)
        told = settle(lambda: json.loads(server.ask("/new/state")))
        assert [state for state, *_ in told.values()] == ["measured", "measured"], told
    finally:
        server.kill()
    with Yard.open(tmp_path / "yard") as yard:
        assert [finding for finding in yard.stocktake() if finding.severity == "wrong"] == []
