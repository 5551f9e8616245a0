"""Mending by hand: the wood edge dragged and dabbed, checks drawn and taken out, the old version kept."""

import io
import json
import re
import shutil

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from grainlog.errors import WrongUse
from grainlog.web import make_app
from grainlog.web.errors import PageRefused
from grainlog.web.inbox import MOST_TRIES
from grainlog.web.measuring import overlap
from grainlog.web.measuring_process import Bench, MeasureTask, TryTask
from grainlog.web.mend_ground import LONGEST_PX, ground_of, mark_of_lines
from grainlog.web.mend_lines import HANDLES, across, handles_of, lines_of, read_mending, read_reference
from grainlog.web.mend_subject import on_joined
from grainlog.web.mend_waiting import Mends
from grainlog.web.wording import read_length
from grainlog.yard import SlabFacts, Yard
from grainlog.yard.adding import Measured
from tests.web.browser import DESK, PHONE, served, visit
from tests.web.photos import shrunk, small_photo
from tests.web.senders import send, settle, token_of
from tests.web.yards import SAMPLES

SCREENS = [("mend", "/mend/survey/1"), ("mend-photo", "/mend/survey/1?on=photo")]
PAIR = SAMPLES / "several"


@pytest.fixture(scope="module")
def mending_yard(tmp_path_factory):
    """A yard with one waiting photo that was measured; nobody changes it."""
    folder = tmp_path_factory.mktemp("mending") / "yard"
    photo = small_photo("maple-lawn", folder.parent, 1400)
    with Yard.start(folder) as yard:
        app = make_app(yard)
        client = app.test_client()
        send(client, photo)
        assert settle(lambda: client.get("/new/state").json)["1"][0] == "measured"
        app.extensions["stop"].set()
    return folder


@pytest.fixture
def folder(mending_yard, tmp_path):
    return shutil.copytree(mending_yard, tmp_path / "yard")


def result_of(app) -> dict:
    return app.extensions["inbox"].get(1).result()


def save(client, survey: int, drawn: dict, on: str = "photo", page=None) -> object:
    """Send what was drawn on a survey, as the page does."""
    shown = page or client.get(f"/mend/survey/{survey}").text
    mark = re.search(r'name="mark" id="mark" value="([0-9a-f]+)"', shown).group(1)
    form = {"form_token": token_of(client), "drawn": json.dumps(drawn), "on": on, "mark": mark}
    return client.post(f"/mend/survey/{survey}", data=form)


def mended(client, survey: int) -> str:
    """Wait until a survey was measured again; returns what the page says then."""
    settle(lambda: client.get(f"/mend/survey/{survey}/state").json)
    return client.get(f"/mend/survey/{survey}/going", follow_redirects=True).text


def filed(client, app) -> int:
    """File the waiting photo; returns its survey."""
    form = {"log": "lawn maple", "which": "new", "cards_on": "slab", "thickness": "", "lift": "", "do": "file"}
    assert client.post("/new/1", data=form | {"form_token": token_of(client)}).status_code == 303
    (row,) = app.extensions["yard"].slabs()
    return app.extensions["yard"].slab(row.number).surveys[0].id


@settings(max_examples=30, deadline=None)
@given(st.integers(3, 900), st.integers(0, 5))
def test_handles_say_most_of_the_shape(count, waves):
    turn = np.linspace(0, 2 * np.pi, count, endpoint=False)
    ring = np.column_stack([1000 * np.cos(turn), (400 + 40 * np.sin(waves * turn)) * np.sin(turn)])
    places = handles_of(ring)
    assert places == sorted(set(places)) and 3 <= len(places) <= HANDLES
    rough, whole = shapely.Polygon(ring[places]), shapely.Polygon(ring)
    assert rough.symmetric_difference(whole).area < 0.02 * whole.area


def test_what_the_page_sends_is_looked_over(app):
    result = result_of(app)
    record, asked = result["record"], result["asked"]
    ring = record["outline"]["wood_px"]
    for sent in ("", "[]", "null", "{}", json.dumps({"pull": True}), json.dumps({"ring": [[1, 2]]}), json.dumps({"ring": "x"}),
                 json.dumps({"ring": [[0, 0], [1e9, 0], [5, 5]]}), json.dumps({"dabs": {"wood_px": [[[1, float("nan")]]]}}),
                 json.dumps({"dabs": {"wood_px": 7}}), json.dumps({"checks": {"added_px": [[[1, 1]]]}}), "[" * 5000):  # fmt: skip
        with pytest.raises(WrongUse):
            for on in ("photo", "above"):
                read_mending(sent, record, asked, ground_of(record, on))
    mending = read_mending(json.dumps({"ring": ring, "pull": False}), record, asked, ground_of(record, "photo"))
    assert mending.said["outline"]["as_drawn"] and mending.why == "wood edge drawn"
    assert mending.said["outline"]["bark_px"] == record["outline"]["bark_px"], "the bark beyond the edge stays"


def test_seen_from_above_the_lines_are_the_slabs_own(app):
    """A px is so many mm whatever the direction: the way into millimetres is the survey's own, found by its solution."""
    record = result_of(app)["record"]
    ground = ground_of(record)
    ring, wood = (ground.of_photo(np.array(record["outline"]["wood_px"])), np.array(record["outline"]["wood_mm"]))
    sides = [np.linalg.norm(np.roll(ring, k, 0) - ring, axis=1) * ground.mm_per_px for k in (7, 40)]
    true = [np.linalg.norm(np.roll(wood, k, 0) - wood, axis=1) for k in (7, 40)]
    assert np.abs(np.array(sides) - true).max() < 0.2
    assert ground.name == "above" and max(ground.width, ground.height) <= LONGEST_PX
    places = np.array([[400.0, 300.0], [900.0, 500.0]])
    for way in (ground, ground_of(record, "upright")):
        assert np.abs(way.to_photo(way.of_photo(places)) - places).max() < 1e-6
    on_end = ground_of(record, "upright")
    assert (on_end.width, on_end.height) == (ground.height, ground.width)
    # Turned, not mirrored: the same places go round the same way, and the picture shows the same there.
    turns = [
        shapely.Polygon(one.of_photo(np.array(record["outline"]["wood_px"]))).exterior.is_ccw
        for one in (ground, on_end)
    ]
    assert turns[0] == turns[1]
    photo = app.extensions["inbox"].get(1).photo
    pictures = [np.asarray(Image.open(io.BytesIO(one.picture(photo))), float) for one in (ground, on_end)]
    for place in places[None].reshape(-1, 1, 2):
        seen = [
            shown[tuple(np.round(one.of_photo(place)[0, ::-1]).astype(int))]
            for one, shown in zip((ground, on_end), pictures)
        ]
        assert np.abs(seen[0] - seen[1]).max() < 40


def test_what_is_drawn_from_above_is_kept_in_px_of_the_photo(client, app):
    result = result_of(app)
    record, asked = result["record"], result["asked"]
    above = ground_of(record)
    lines = lines_of(record, asked, "mm", above)
    dab = [[above.width / 2, above.height / 2]]
    sent = {"ring": lines["ring"], "checks": {"added_px": [[dab[0], [dab[0][0] + 40, dab[0][1]]]], "removed_px": []}}
    said = read_mending(json.dumps(sent), record, asked, above).said
    assert np.abs(np.array(said["outline"]["wood_px"]) - record["outline"]["wood_px"]).max() < 0.03
    (drawn,) = said["checks"]["added_px"]
    assert np.abs(ground_of(record).of_photo(np.array(drawn)) - sent["checks"]["added_px"][0]).max() < 0.03
    # The page asks for the same.
    answer = client.post(
        "/mend/photo/1/across", json={"from": "above", "to": "photo", "paths": [lines["ring"], dab], "mark": mark_of_lines(record)},
        headers={"X-Form-Token": token_of(client)},
    )  # fmt: skip
    assert np.abs(np.array(answer.json["paths"][0]) - record["outline"]["wood_px"]).max() < 0.03
    assert (
        across([drawn], ground_of(record, "photo"), above)[0] == np.round(above.of_photo(np.array(drawn)), 2).tolist()
    )
    outside = {"dabs": {"wood_px": [[[-300, 5]]]}}
    with pytest.raises(WrongUse, match="outside the photo"):
        read_mending(json.dumps(outside), record, asked, above)
    shown = client.get("/mend/photo/1/above.jpg")
    assert shown.content_type == "image/jpeg" and b"Exif" not in shown.data


def test_a_face_that_cannot_be_shown_is_mended_on_its_photo(app):
    record = result_of(app)["record"]
    record["outline"]["wood_mm"] = record["outline"]["wood_mm"][:-1]
    assert ground_of(record).name == "photo" and ground_of(record, "above").name == "photo"


def test_what_is_at_hand_is_read(app):
    with app.test_request_context():
        sheet = read_reference({"kind": "letter", "points": "0,0 300,0 300,200 0,200"}, read_length)
        assert (sheet["width_mm"], sheet["height_mm"]) == (215.9, 279.4), "ANSI/ASME Y14.1, size A"
        assert read_reference({"kind": "a4", "found": "yes"}, read_length)["corners_px"] is None
        two = read_reference({"kind": "points", "points": "0,0 900,0", "distance": "4 ft"}, read_length)
        assert two["distance_mm"] == pytest.approx(1219.2)
        with pytest.raises(PageRefused):
            read_reference({"kind": "a4", "points": "0,0"}, read_length)


def test_lines_of_a_photo_that_waits(client, app):
    lines = client.get("/mend/photo/1/lines?on=photo").json
    record = result_of(app)["record"]
    assert lines["ring"] == record["outline"]["wood_px"] and len(lines["checks"]) == len(record["checks"])
    assert max(lines["handles"]) < len(lines["ring"])
    assert client.get("/mend/photo/9").status_code == 404 and client.get("/mend/survey/9").status_code == 404
    assert client.post("/mend/photo/1", data={"form_token": token_of(client), "drawn": "{}"}).status_code == 400


def test_a_waiting_photo_is_measured_again_with_what_was_drawn(client, app):
    before = result_of(app)["record"]
    ring = np.array(before["outline"]["wood_px"])
    # The right-hand tenth is sawn off, on the screen.
    cut = ring[:, 0].max() - 0.1 * np.ptp(ring[:, 0])
    drawn = json.dumps({"ring": np.column_stack([np.minimum(ring[:, 0], cut), ring[:, 1]]).tolist(), "pull": False})
    mark = mark_of_lines(before)
    assert (
        client.post("/mend/photo/1", data={"form_token": token_of(client), "drawn": drawn, "mark": mark}).status_code
        == 303
    )
    settle(lambda: client.get("/new/state").json)
    after = result_of(app)["record"]
    assert 0.88 < after["face"]["length_mm"]["value"] / before["face"]["length_mm"]["value"] < 0.93
    assert "the wood edge was drawn by hand" in client.get("/new/1").text
    assert "outline-drawn" in [one["code"] for one in after["warnings"]]


def test_a_survey_in_the_yard_gets_a_new_version_and_the_old_one_stays(client, app):
    yard, survey = app.extensions["yard"], filed(client, app)
    slab = yard.versions.slab_of(survey)
    before = yard.slab(slab)
    record = before.surveys[0].record
    check = record["checks"][0]["path_px"]
    ring = np.array(record["outline"]["wood_px"])
    middle = ring.mean(0)
    line = [(middle + [-60, 6]).tolist(), (middle + [60, 8]).tolist()]
    page = client.get(f"/mend/survey/{survey}").text
    answer = save(client, survey, {"checks": {"added_px": [line], "removed_px": [check]}}, page=page)
    assert answer.status_code == 303 and answer.location.endswith("/going"), answer.text
    # While it is measured, the survey stands as it was, and the page says so.
    assert yard.slab(slab).surveys[0].record == record
    assert "being measured again" in client.get(f"/slab/{slab}").text
    assert "this is version 2" in mended(client, survey)
    assert list((yard.folder / "inbox").glob("mend-*")) == []
    assert save(client, survey, {"checks": {"added_px": [], "removed_px": []}}, page=page).status_code == 400, (
        "an old page"
    )
    now = yard.slab(slab).surveys[0]
    by_hand = [one for one in now.record["checks"] if one.get("by") == "person"]
    assert now.id == survey and len(by_hand) == 1 and by_hand[0]["kind"] == "surface"
    assert len(now.record["checks"]) == len(record["checks"]) and now.record["checks_removed"][0]["by"] == "person"
    assert overlap(now.record, record) > 0.999, "the wood edge is as it was"
    (earlier,) = yard.versions.earlier(survey)
    assert earlier.version == 1 and earlier.record == record and "check taken out, check drawn" == earlier.why
    assert client.get(f"/mend/survey/{survey}/version/1.jpg").content_type == "image/jpeg"
    assert client.get(f"/mend/survey/{survey}/version/2.jpg").status_code == 404
    assert yard.stocktake() == [] and "survey mended" in [change.what for change in yard.lives.history(slab)]
    # Brought back, it is what it was, and the mended one is kept in its turn.
    token = token_of(client)
    assert client.post(f"/mend/survey/{survey}/version/1", data={"form_token": token}).status_code == 303
    assert yard.slab(slab).surveys[0].record == record and len(yard.versions.earlier(survey)) == 2
    assert yard.slab(slab).figures == before.figures and yard.stocktake() == []
    yard.remove(slab)
    assert yard.stocktake() == [] and len(list((yard.folder / "removed" / f"slab-{slab}").glob("*.jpg"))) == 7


def drawn_in_two(record: dict) -> dict:
    """An outline that nothing can be measured with: a sliver."""
    (left, top), (right, _) = np.min(record["outline"]["wood_px"], 0), np.max(record["outline"]["wood_px"], 0)
    return {"ring": [[left, top + 60], [right, top + 60], [(left + right) / 2, top + 60.5]], "pull": False}


def test_what_cannot_be_measured_is_kept_as_it_was_drawn(client, app):
    yard, survey = app.extensions["yard"], filed(client, app)
    record = yard.slab(1).surveys[0].record
    sliver = drawn_in_two(record)
    assert save(client, survey, sliver).status_code == 303
    assert "could not be measured" in mended(client, survey)
    assert yard.slab(1).surveys[0].record == record and yard.stocktake() == []
    again = client.get(f"/mend/survey/{survey}")
    assert "What was drawn is kept" in again.text
    lines = client.get(f"/mend/survey/{survey}/lines?on=photo").json
    assert lines["unsaved"]["ring"] == sliver["ring"] and lines["ring"] == record["outline"]["wood_px"]
    assert client.post(f"/mend/survey/{survey}/drop", data={"form_token": token_of(client)}).status_code == 303
    assert "unsaved" not in client.get(f"/mend/survey/{survey}/lines").json


def test_dabs_and_checks_that_were_not_measured_are_shown_again(app):
    record = result_of(app)["record"]
    out, photo = record["checks"][0]["path_px"], ground_of(record, "photo")
    fresh = [[10.0, 20.0], [30.0, 20.0]]
    said = {
        "dabs": {"wood_px": [[[5.0, 6.0]]], "not_wood_px": []},
        "checks": {"added_px": [fresh], "removed_px": [out]},
    }
    unsaved = lines_of(record, {}, "mm", photo, said)["unsaved"]
    assert unsaved["dabbed"] and unsaved["dabs"] == said["dabs"] and "ring" not in unsaved
    assert [check["out"] for check in unsaved["checks"]] == [True] + [False] * len(record["checks"])
    assert unsaved["checks"][-1]["path"] == fresh and unsaved["checks"][-1]["by"] == "person"


def test_the_page_ends_while_a_survey_is_measured_and_goes_on_afterwards(client, app, folder):
    yard, survey = app.extensions["yard"], filed(client, app)
    record = yard.slab(1).surveys[0].record
    app.extensions["stop"].set()  # as when the page is stopped: nobody measures
    check = record["checks"][0]["path_px"]
    assert save(client, survey, {"checks": {"added_px": [], "removed_px": [check]}}).status_code == 303
    assert len(Mends(yard)._waiting) == 1
    again = make_app(yard)
    assert settle(lambda: again.test_client().get(f"/mend/survey/{survey}/state").json) == {}
    again.extensions["stop"].set()
    (earlier,) = yard.versions.earlier(survey)
    assert earlier.record == record and earlier.why == "check taken out"


def test_a_version_that_was_filed_before_the_page_was_killed_is_not_filed_twice(client, app):
    yard, survey = app.extensions["yard"], filed(client, app)
    app.extensions["stop"].set()
    mends, (entry,) = Mends(yard), yard.slab(1).surveys
    mends.ask(survey, {}, "check drawn", "mm")
    kept = (yard.folder / "inbox" / f"mend-{survey}.json").read_bytes()
    mends.measured(mends.get(survey), Measured(entry.record, entry.record["photo"]["sha256"], b"flat", b"overlay"))
    assert not list((yard.folder / "inbox").glob("mend-*")) and mends.made == {survey: 2}
    (yard.folder / "inbox" / f"mend-{survey}.json").write_bytes(kept)
    assert Mends(yard).get(survey) is None and not list((yard.folder / "inbox").glob("mend-*"))


def test_what_was_drawn_later_replaces_what_is_being_measured(client, app):
    yard, survey = app.extensions["yard"], filed(client, app)
    app.extensions["stop"].set()
    mends, (entry,) = Mends(yard), yard.slab(1).surveys
    mends.ask(survey, {}, "first", "mm")
    first = mends.claim()
    assert mends.claim() is None, "one at a time"
    mends.ask(survey, {}, "second", "mm")
    mends.measured(first, Measured(entry.record, entry.record["photo"]["sha256"], b"flat", b"overlay"))
    mends.failed(first, "too late")
    mends.let_go(survey)
    assert yard.versions.earlier(survey) == () and mends.claim().why == "second"
    for _ in range(MOST_TRIES):
        mends.let_go(survey)
        mends.claim()
    assert mends.get(survey).problem.startswith("Measuring it ended unexpectedly")


def test_a_survey_joined_from_several_photos_is_mended(tmp_path):
    photos = [shrunk(PAIR / f"long-walnut-{side}.jpg", tmp_path) for side in ("left", "right")]
    given = json.loads((PAIR / "long-walnut-left.json").read_text())["given"]
    said = {
        "cards_on": given["cards_on"],
        "thickness_mm": [given["thickness_mm"]],
        "lift_mm": given["lift_mm"],
        "ground": "hard",
    }
    with Yard.start(tmp_path / "yard") as yard:
        task = MeasureTask(photos[0], said, {"log": "long walnut"}, "mm", (photos[1],))
        bench = Bench(yard)
        made = task.run(bench, lambda step: None).measured
        yard.add(made.filing(photos[0], SlabFacts(log="long walnut")))
        app = make_app(yard)
        client = app.test_client()
        before = yard.slab(1).surveys[0].record
        # The right-hand tenth is sawn off, on the screen, as seen from above.
        lines = client.get("/mend/survey/1/lines?on=above").json
        ring = np.array(lines["ring"])
        cut = ring[:, 0].max() - 0.1 * np.ptp(ring[:, 0])
        drawn = {"ring": np.column_stack([np.minimum(ring[:, 0], cut), ring[:, 1]]).tolist(), "pull": False}
        found = np.array(before["outline"]["wood_px"])
        tried = TryTask(photos[0], (photos[1],), said, {"wood_px": [found.mean(0)[None].tolist()]}).run(bench, print)
        same = shapely.Polygon(tried).buffer(0), shapely.Polygon(found).buffer(0)
        assert same[0].intersection(same[1]).area > 0.95 * same[0].union(same[1]).area
        assert save(client, 1, drawn, "above").status_code == 303
        assert "this is version 2" in mended(client, 1)
        after = yard.slab(1).surveys[0].record
        assert 0.88 < after["face"]["length_mm"]["value"] / before["face"]["length_mm"]["value"] < 0.92
        assert [one["name"] for one in after["photos"]["joined"]] == [one["name"] for one in before["photos"]["joined"]]
        # What was drawn is kept with the photos, and known on the joined picture, where it can be drawn on once more.
        assert client.get("/mend/survey/1/lines?on=above").json["drawn"] and yard.stocktake() == []
        again = np.array(on_joined(after)["outline"]["wood_px"])
        assert on_joined(after)["outline"]["photo"] == 0 and again.shape == ring.shape
        assert np.abs(ground_of(before).of_photo(again) - drawn["ring"]).max() < 0.2
        app.extensions["stop"].set()


def test_mending_with_mouse_finger_and_keys(browser, folder):
    with served(folder) as address, visit(browser, address, PHONE) as phone:
        page = phone.open("/mend/photo/1")
        page.wait_for_selector("#surface[data-ready]")
        assert phone.serious() == [] and page.is_disabled("#save")
        # By keys: the first place of the edge is moved; undone; done again.
        page.click("[data-tool=edge]")
        page.focus("#surface")
        page.keyboard.press("n")
        page.keyboard.press("Shift+ArrowUp")
        assert page.inner_text("#hint") == "Moved." and page.is_enabled("#save")
        page.keyboard.press("u")
        assert page.inner_text("#hint") == "Taken back." and page.is_disabled("#save")
        # A check is taken out in the list, and one is drawn.
        page.locator("#checks button").first.click()
        assert page.locator("#checks s").count() == 1
        page.click("#undo")
        page.click("[data-tool=check]")
        page.locator("#surface").scroll_into_view_if_needed()
        box = page.locator("#surface").bounding_box()
        middle = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        page.mouse.move(middle[0] - 50, middle[1])
        page.mouse.down()
        page.mouse.move(middle[0] + 50, middle[1] + 3, steps=8)
        page.mouse.up()
        assert "Drawn" in page.inner_text("#hint") and page.locator("#checks li").last.inner_text().endswith("Take out")
        page.click("#undo")
        # On the photo as it was taken everything is where it was, and what was done can still be undone there.
        page.click("[data-tool=edge]")
        page.focus("#surface")
        page.keyboard.press("n")
        page.keyboard.press("ArrowUp")
        for ground in ("photo", "above"):
            page.click(f"[data-ground={ground}]")
            page.wait_for_selector(f"#surface[data-ground={'photo' if ground == 'photo' else 'upright'}]")
        page.click("#undo")
        assert page.inner_text("#hint") == "Taken back." and page.is_disabled("#save")
        page.click("[data-tool=check]")
        # A dab is tried at once, and once more.
        page.click("[data-tool=wood]")
        for count in (1, 2):
            page.mouse.click(middle[0] - 20 * count, middle[1] + 2)
            page.wait_for_selector(f'#surface[data-tried="{count}"]', timeout=60_000)
        assert "drawn in blue" in page.inner_text("#hint")
        page.click("#save")
        # The page that waits shows the result by itself.
        page.wait_for_selector("text=the wood edge was mended with dabs", timeout=120_000)
        assert page.url == f"{address}/new/1" and phone.wrong == []


def test_a_mended_survey_comes_back_by_itself_while_one_does_something_else(browser, whole_yard, tmp_path):
    folder = shutil.copytree(whole_yard, tmp_path / "filed")
    with served(folder) as address, visit(browser, address, DESK) as desk:
        page = desk.open("/slab/1")
        page.get_by_role("link", name="Mend the outline or the checks").click()
        page.wait_for_selector("#surface[data-ready]")
        assert page.get_attribute("#surface", "data-ground") == "above"
        page.click("[data-tool=edge]")
        page.focus("#surface")
        page.keyboard.press("n")
        page.keyboard.press("Shift+ArrowRight")
        page.click("#save")
        page.wait_for_url("**/going")
        assert desk.serious() == []
        # The phone goes into the pocket, and the page is opened again: it is still on its way, or done.
        other = page.context.new_page()
        other.goto(f"{address}/mend/survey/1")
        page.wait_for_url("**/slab/1", timeout=120_000)
        assert "this is version 2" in page.inner_text(".said") and "being measured again" not in page.inner_text("#main")
        assert desk.wrong == []


def test_scale_marks_are_dragged_and_typed(browser, folder):
    with served(folder) as address, visit(browser, address, PHONE) as phone:
        page = phone.open("/new/1/scale")
        page.wait_for_selector("#surface[data-ready]")
        box = page.locator("#surface").bounding_box()
        page.check("[value=points]")
        page.click("text=Type the places instead")
        page.fill("[name=points]", "200,300 1200,320")
        page.dispatch_event("[name=points]", "change")
        page.focus("#surface")
        page.keyboard.press("n")
        page.keyboard.press("ArrowRight")
        assert page.input_value("#points").endswith("1200.0,320.0") and not page.input_value("#points").startswith(
            "200.0,"
        )
        assert box["width"] <= PHONE["width"] and phone.serious() == [] and phone.wrong == []
