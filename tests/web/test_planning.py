"""The sawing plan page: the plan itself in a table and a picture, and what is wrong with what was typed."""

import re
from xml.etree import ElementTree

import pytest

from grainlog.fit.plan_words import mill_warnings, plan_text, rules_text
from grainlog.fit.sawing_plan import Log, Mill, plan
from grainlog.units import format_quantity
from tests.web.browser import DESK, PHONE, served, visit
from tests.web.forms import AT, guest_of

LOG = {"small": "16in", "large": "19in", "length": "9ft", "thickness": "10/4", "kerf": "3/8in"}
ADDRESS = "small=16in&large=19in&length=9ft&thickness=2+1/2in&kerf=3/8in&mill=14in&bark=3/4in"
SCREENS = [("plan", "/plan"), ("plan-made", f"/plan?{ADDRESS}&beside=driveway+elm")]


def test_the_plan_is_that_of_the_log(client):
    made = plan(Log(16 * 25.4, 19 * 25.4, 9 * 304.8, 0.75 * 25.4), Mill(63.5, 0.375 * 25.4, 14 * 25.4, 2))
    page = client.get("/plan", query_string=LOG | {"mill": "14in", "bark": "3/4in", "sides": "2"}).text
    assert plan_text(made, "in") in page and rules_text(made.log) in page
    assert mill_warnings(made, "in") and all(sentence in page for sentence in mill_warnings(made, "in"))
    rows = re.findall(r"<tr><th scope=\"row\">(\d+).*?</th><td>(.*?)</td><td>.*?</td><td>(.*?)</td>", page)
    assert rows == [
        (str(number), format_quantity(slab.width_mm, "in"), format_quantity(slab.board_feet, "in", "board_feet"))
        for number, slab in enumerate(made.slabs, 1)
    ]


def test_it_speaks_the_units_of_the_one_who_looks(client):
    client.get("/units/mm")
    page = client.get("/plan?small=400&large=480&length=2700&thickness=64&kerf=9").text
    assert plan_text(plan(Log(400, 480, 2700), Mill(64, 9)), "mm") in page and " ± " in page


def test_measured_slabs_stand_beside_their_place_in_the_log(client, app):
    rows = app.extensions["yard"].logs.slabs("driveway elm")
    page = client.get("/plan", query_string=LOG | {"beside": "driveway elm"}).text
    shown = re.findall(r'href="/slab/(\d+)">slab', page)
    assert shown and shown == [row.tag for row in rows][: len(shown)]
    assert format_quantity(rows[0].width_mean_mm, "in") in page
    assert "There is no log nowhere" in client.get("/plan", query_string=LOG | {"beside": "nowhere"}).text


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({"small": "16in"}, "Say the large end."),
        (LOG | {"small": "thick"}, "is not a length"),
        (LOG | {"small": "30in"}, "change the two over"),
        (LOG | {"thickness": "20in"}, "thicker than the log"),
        (LOG | {"mill": "4in"}, "less than half"),
        (LOG | {"first": "40in"}, "within the small end"),
    ],
)
def test_what_cannot_be_planned_is_said_and_shown_again(client, given, sentence):
    page = client.get("/plan", query_string=given)
    assert page.status_code == 200 and sentence in page.text
    assert all(f'value="{text}"' in page.text for text in given.values())
    assert client.get("/plan/end-view.svg", query_string=given).status_code == 400


def test_the_picture_is_drawn_again_from_the_same_address(client):
    picture = (
        re.search(r'class="end-view" src="([^"]+)"', client.get(f"/plan?{ADDRESS}").text).group(1).replace("&amp;", "&")
    )
    drawn = client.get(picture)
    assert drawn.mimetype == "image/svg+xml"
    assert ElementTree.fromstring(drawn.data).tag.endswith("svg") and "too wide" in drawn.text


def test_it_is_not_for_guests(app):
    guest = guest_of(app)
    assert (
        guest.get("/plan", **AT).status_code == 403
        and guest.get(f"/plan/end-view.svg?{ADDRESS}", **AT).status_code == 403
    )


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_the_page_opens_without_a_complaint(browser, whole_yard, size):
    with served(whole_yard) as address, visit(browser, address, size) as visitor:
        for _, path in (*SCREENS, ("wrong", "/plan?small=16in&large=abc")):
            page = visitor.open(path)
            assert visitor.wrong == [] and visitor.serious() == []
            assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")


def test_a_log_is_planned(desk):
    page = desk.open("/plan")
    for label, text in (
        ("Small end", "16in"),
        ("Large end", "19in"),
        ("Length of the log", "9ft"),
        ("Slab thickness", "10/4"),
        ("Kerf", "3/8in"),
    ):
        page.get_by_label(label).fill(text)
    page.get_by_role("button", name="Plan").click()
    assert page.get_by_role("status").inner_text().startswith("Slabs: ")
    page.wait_for_function("() => document.querySelector('.end-view').naturalWidth > 0")
    assert desk.wrong == []
