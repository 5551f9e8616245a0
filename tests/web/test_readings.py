"""The walk with the moisture meter: with and without script, with and without a connection."""

from datetime import date

import pytest

from grainlog.units.mass import KG_PER_POUND
from tests.web.browser import DESK, PHONE, served, visit
from tests.web.forms import send

SCREENS = [("readings", "/readings?slab=4")]
ID = "a" * 32


@pytest.fixture
def readings(app):
    return app.extensions["yard"].drying.readings


def test_the_way_goes_by_place(app, client):
    app.extensions["yard"].places.lay((7, 5), "north shed", "A")
    assert 'data-tag>5<' in client.get("/readings").text
    assert "1</span> of 12" in client.get("/readings").text and 'slab=7">Skip' in client.get("/readings").text


def test_a_reading_is_kept_with_all_that_was_said(client, readings):
    answer = send(client, "/readings", id=ID, slab="3", moisture="18,5", depth="1", core="yes", corrected="yes", temperature="54",
                  weight="140", method="pinless", place="butt end", note="sunny side")  # fmt: skip
    assert answer.status_code == 303 and "slab=4" in answer.location and "method=pinless" in answer.location
    moisture, weight = readings.of(3)
    told = moisture.reading
    assert (told.moisture, told.method, told.depth_mm, told.core, told.corrected) == (0.185, "pinless", 25.4, True, True)
    assert told.temperature_c == pytest.approx((54 - 32) / 1.8) and told.place == "butt end" and moisture.note == "sunny side"
    assert weight.weighing.mass_kg == pytest.approx(140 * KG_PER_POUND)
    # The meter stays as it was set, what was read does not.
    page = client.get(answer.location).text
    assert '"pinless" selected' in page and 'name="depth" maxlength="20" placeholder="1in" value="1"' in page and "18,5" not in page


def test_the_same_form_sent_twice_is_one_reading(client, readings):
    for _ in range(2):
        assert send(client, "/readings", id=ID, slab="3", moisture="18").status_code == 303
    assert len(readings.of(3)) == 1


def test_the_last_reading_is_taken_back(client, readings):
    page = client.get(send(client, "/readings", id=ID, slab="3", moisture="18").location).text
    assert "Take the last reading back" in page and f'value="{ID}"' in page
    assert send(client, "/readings/undo", id=ID).status_code == 303
    assert readings.of(3) == []
    # What was on its way a second time stays away too.
    send(client, "/readings", id=ID, slab="3", moisture="18")
    assert readings.of(3) == []


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"moisture": "wet"}, "is not a moisture content"),
        ({"moisture": "0.18"}, "less than one percent"),
        ({"moisture": "18", "depth": "deep"}, "is not a length"),
        ({"moisture": "18", "temperature": "warm"}, "is not a temperature"),
        ({"moisture": "18", "day": "2999-01-01"}, "in the future"),
        ({"moisture": "18", "day": "yesterday"}, "is not a day"),
        ({"weight": "heavy"}, "is not a weight"),
        ({"moisture": "18", "method": "nose"}, "is no meter here"),
        ({}, "Nothing was read"),
    ],
)
def test_what_cannot_be_is_shown_again_with_the_reason(client, readings, fields, said):
    answer = send(client, "/readings", id=ID, slab="3", **fields)
    assert answer.status_code == 400 and said in answer.text.replace("&#39;", "'")
    assert all(f'value="{text}"' in answer.text for name, text in fields.items() if name != "method")
    assert readings.of(3) == []


def test_what_is_gone_is_not_read(app, client):
    app.extensions["yard"].lives.set_status((3,), "gone")
    assert "no longer there" in client.get("/readings?slab=3").text
    assert client.get("/readings?slab=99").status_code == 404


def test_the_script_is_answered_in_data(client):
    data = {"Accept": "application/json"}
    kept = send(client, "/readings", headers=data, id=ID, slab="3", moisture="18")
    assert kept.json == {"kept": 1, "already": 0, "readings": ["m1"]}
    refused = send(client, "/readings", headers=data, id="b" * 32, slab="3", moisture="wet")
    assert refused.status_code == 400 and "is not a moisture content" in refused.json["problem"]
    assert send(client, "/readings/undo", headers=data, id=ID).json == {"taken_back": 1}


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_the_page_opens_without_fault(browser, folder, size):
    with served(folder) as address, visit(browser, address, size) as visitor:
        page = visitor.open("/readings")
        assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
        assert visitor.wrong == [] and visitor.serious() == []
        # What a gloved thumb needs lies above the bar at the foot.
        keep = page.get_by_role("button", name="Keep, next slab").bounding_box()
        assert keep["y"] + keep["height"] <= size["height"] - 56


def test_readings_wait_for_the_connection(browser, folder):
    with served(folder) as address, visit(browser, address, PHONE) as visitor:
        page = visitor.open("/readings?slab=3")
        for key in ("1", "8"):
            page.locator(f"[data-key='{key}']").click()
        page.get_by_role("button", name="Keep, next slab").click()
        page.get_by_text("Everything is in the yard.").wait_for()
        assert page.locator("[data-tag]").inner_text() == "4"
        # In the far corner of the shed nothing gets through; one answer is lost on its way back.
        sent = []
        page.route("**/readings", lambda route: route.abort() if route.request.method == "POST" else route.continue_())
        for moisture in ("21", "22"):
            page.get_by_label("Moisture").fill(moisture)
            page.keyboard.press("Enter")
        page.get_by_text("No connection. 2 entries wait on this device for the yard.").wait_for()
        page.unroute("**/readings")

        def answer_lost(route):
            if route.request.method == "POST" and not sent:
                sent.append(route.fetch().status)
                route.abort()
            else:
                route.continue_()

        page.route("**/readings", answer_lost)
        # Loaded again, as after a locked screen: what waits is still there.
        page.goto(address + "/readings?slab=6")
        page.get_by_text("Everything is in the yard.").wait_for()
        assert sent == [200]
        page.get_by_label("Take back the reading of slab 5").click()
        page.get_by_text("slab 5: 22 %, taken back").wait_for()
        page.goto(address + "/slab/4")
        assert page.locator("tbody tr").count() == 1 and "21 ±" in page.locator("tbody tr").inner_text()
        assert "None yet." in (page.goto(address + "/slab/5") and page.locator("main").inner_text())


def test_without_a_network_the_phone_brings_the_page_back_from_its_cache(browser, folder):
    with served(folder) as address, visit(browser, address, PHONE) as visitor:
        visitor.open("/")  # the first page brings the cookie that those after it are kept under
        page = visitor.open("/readings?slab=3")
        page.get_by_label("Moisture").fill("18")
        page.context.set_offline(True)
        page.keyboard.press("Enter")
        page.get_by_text("No connection. 1 entry waits on this device for the yard.").wait_for()
        for key in ("2", "1"):
            page.locator(f"[data-key='{key}']").click()
        # As after a lock, when the phone has let go of the page: it is made again, from what is kept.
        page.goto("about:blank")
        page.go_back()
        assert page.locator("[data-tag]").inner_text() == "4" and page.get_by_label("Moisture").input_value() == "21"
        page.get_by_role("button", name="Keep, next slab").click()
        page.get_by_text("No connection. 2 entries wait on this device for the yard.").wait_for()
        assert page.locator("[data-tag]").inner_text() == "5"
        page.context.set_offline(False)
        page.get_by_text("Everything is in the yard.").wait_for()
        page.goto(address + "/slab/4")
        assert "21 ±" in page.locator("tbody tr").inner_text()


def test_a_page_left_open_over_night_means_today(browser, folder):
    with served(folder) as address, visit(browser, address, PHONE) as visitor:
        visitor.page.clock.install(time="2031-03-04T09:00:00")
        page = visitor.open("/readings?slab=3")
        page.locator("summary").first.click()
        assert page.get_by_label("Day").input_value() == "2031-03-04"
        page.get_by_label("Day").fill("2026-05-01")
        page.clock.set_fixed_time("2031-03-05T09:00:00")
        page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
        assert page.get_by_label("Day").input_value() == "2026-05-01", "another day was typed"
        page.get_by_label("Day").fill("2031-03-05")
        page.clock.set_fixed_time("2031-03-06T09:00:00")
        page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
        assert page.get_by_label("Day").input_value() == "2031-03-06"


def test_a_refused_reading_is_corrected(desk):
    page = desk.open("/readings?slab=3")
    page.get_by_label("Moisture").fill("400")
    page.keyboard.press("Enter")
    page.get_by_text("is wetter than any wood").wait_for()
    page.get_by_label("Correct the reading of slab 3").click()
    assert page.get_by_label("Moisture").input_value() == "400" and page.locator("[data-tag]").inner_text() == "3"
    page.get_by_label("Moisture").fill("40")
    page.keyboard.press("Enter")
    page.get_by_text("slab 3: 40 %, in the yard").wait_for()


def test_a_slab_is_found_by_its_tag(desk):
    page = desk.open("/readings")
    page.get_by_label("Another slab, by its tag").fill("9")
    page.get_by_role("button", name="Go to it").click()
    assert page.locator("[data-tag]").inner_text() == "9"
    page.reload()
    assert page.locator("[data-tag]").inner_text() == "9", "where one was"
    page.get_by_label("Another slab, by its tag").fill("77")
    page.get_by_role("button", name="Go to it").click()
    assert "no slab 77" in page.locator("[data-problem]").inner_text()
    assert desk.wrong == []


def test_today_is_the_day_that_is_meant(client, readings):
    send(client, "/readings", id=ID, slab="3", moisture="18")
    assert readings.of(3)[0].reading.day == date.today()
