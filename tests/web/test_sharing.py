"""The share page: the division of the haul itself, drawn, and kept only when it is asked for."""

import re

import pytest

from grainlog.yard import Yard
from grainlog.yard.hauls_share import share_haul
from tests.web.browser import DESK, PHONE, served, visit
from tests.web.forms import AT, guest_of, send

SCREENS = [("share", "/share")]
DIVIDED = "/share?haul=april+weekend&divide=yes"


def keep_haul(yard: Yard) -> None:
    yard.hauls.keep("april weekend", people=(("Ann", 6.0), ("Ben", None)), log_names=("driveway elm", "orchard cherry"))


@pytest.fixture
def yard(app):
    keep_haul(app.extensions["yard"])
    return app.extensions["yard"]


def owners(yard) -> dict[int, str]:
    return {number: life.owner for number, life in yard.lives.of_all().items() if life.owner}


def lots_on(page: str) -> dict[str, list[str]]:
    """Each person's tags as the page draws them."""
    parts = re.split(r"<h3>(\w+): ", page)[1:]
    return {
        name: re.findall(r'href="/slab/(\w+)" aria-label', part.split("</ul>")[0])
        for name, part in zip(parts[::2], parts[1::2], strict=True)
    }


def test_the_division_is_that_of_the_yard(client, yard):
    made = share_haul(yard.hauls, yard.lives, "april weekend")
    page = client.get(DIVIDED).text
    assert {person: sorted(tags) for person, tags in lots_on(page).items()} == {
        person: sorted(tags) for person, tags in made.division.shares.items()
    }
    assert made.how_even in page and owners(yard) == {}


def test_wishes_grades_and_groups_count(client, yard):
    rows = yard.hauls.haul("april weekend").there
    first, second, third = (row.tag for row in rows[:3])
    wished = f"&to-{first}=Ben&with-{second}=a&with-{third}=A&counts-{first}=1,5"
    made = share_haul(
        yard.hauls, yard.lives, "april weekend", together=[[rows[1].number, rows[2].number]],
        wishes={rows[0].number: "Ben"}, grades={rows[0].number: 1.5},
    )  # fmt: skip
    page = client.get(DIVIDED + wished).text
    lots = lots_on(page)
    assert first in lots["Ben"] and made.how_even in page
    assert any({second, third} <= set(tags) for tags in lots.values())
    assert f"counts {made.division.totals['Ben']:.2f} BF" in page


@pytest.mark.parametrize(
    ("wished", "sentence"),
    [
        ("&counts-3=heavy", "cannot count for"),
        ("&counts-3=-1", "A grade is a factor"),
        ("&to-3=Zoe", "cannot go to Zoe"),
        ("&people=Ann", "share"),
        ("&by=value", "The price of slab"),
    ],
)
def test_what_cannot_be_shared_is_said_and_shown_again(client, yard, wished, sentence):
    answer = client.get(DIVIDED + wished)
    assert answer.status_code == 200
    assert sentence in re.search(r'role="alert">([^<]+)<', answer.text).group(1)
    if "counts-3" in wished:
        assert f'name="counts-3" value="{wished.partition("=")[2]}"' in answer.text


def test_keeping_gives_each_slab_the_owner_that_was_shown(client, yard):
    page = client.get(DIVIDED + "&people=Ann,Ben,Cleo").text
    shown = dict(re.findall(r'name="owner-(\w+)" value="(\w+)"', page))
    assert set(shown.values()) == {"Ann", "Ben", "Cleo"}
    answer = send(
        client, "/share/keep", haul="april weekend", **{f"owner-{tag}": person for tag, person in shown.items()}
    )
    assert answer.status_code == 303
    assert {str(number): owner for number, owner in owners(yard).items()} == shown
    assert f"each of {len(shown)} slabs" in client.get(answer.location).text


def test_a_division_of_other_slabs_is_not_kept(client, yard):
    shown = dict(re.findall(r'name="owner-(\w+)" value="(\w+)"', client.get(DIVIDED).text))
    some = {f"owner-{tag}": person for tag, person in list(shown.items())[1:]}
    assert send(client, "/share/keep", haul="april weekend", **some).status_code == 400
    foreign = {f"owner-{tag}": person for tag, person in shown.items()} | {"owner-1": "Ann"}
    assert send(client, "/share/keep", haul="april weekend", **foreign).status_code == 400
    assert client.post("/share/keep", data={"haul": "april weekend"}).status_code == 403
    assert owners(yard) == {}


def test_without_a_haul_and_with_a_wrong_one(app, client):
    assert "No haul is kept yet" in client.get("/share").text
    keep_haul(app.extensions["yard"])
    answer = client.get("/share?haul=may")
    assert answer.status_code in (400, 404) and "There is no haul may" in answer.text


def test_it_is_not_for_guests(app, yard):
    guest = guest_of(app)
    assert guest.get("/share", **AT).status_code == 403 and guest.get(DIVIDED, **AT).status_code == 403


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_a_haul_is_divided_and_kept(browser, folder, size):
    with Yard.open(folder) as opened:
        keep_haul(opened)
    with served(folder) as address, visit(browser, address, size) as visitor:
        page = visitor.open("/share")
        page.get_by_role("button", name="Choose").click()
        page.get_by_text("Wishes about single slabs").click()
        assert visitor.serious() == []
        page.get_by_label("Slab 3 goes to").select_option("Ben")
        page.get_by_role("button", name="Divide").last.click()
        assert "Largest difference" in page.get_by_role("status").inner_text()
        assert visitor.serious() == []
        assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
        page.get_by_role("button", name="Keep: give each slab its owner").click()
        assert "now has its owner" in page.get_by_role("status").inner_text()
        assert visitor.wrong == []
    with Yard.open(folder) as opened:
        assert opened.lives.of(3).owner == "Ben"


def test_a_haul_is_started_and_added_to_on_the_page(client, app):
    yard = app.extensions["yard"]
    first = send(client, "/share/haul", "/share", haul="april weekend", day="2026-04-12", people="Ann 6, Bob", costs="fuel 45,50; chain 30",
                 log="driveway elm")  # fmt: skip
    assert first.status_code == 303
    haul = yard.hauls.haul("april weekend")
    assert dict(haul.hours) == {"Ann": 6.0, "Bob": None} and haul.costs == (("fuel", 45.5), ("chain", 30.0))
    assert haul.logs == ("driveway elm",) and str(haul.day) == "2026-04-12"
    page = client.get(first.location).text
    assert "75.50" in page and "6 h" in page and "driveway elm" in page
    send(client, "/share/haul", "/share", known="april weekend", people="Bob 4", costs="fuel -5.5", log="orchard cherry")
    haul = yard.hauls.haul("april weekend")
    assert haul.hours["Bob"] == 4 and haul.cost == 70 and haul.logs == ("driveway elm", "orchard cherry")
    # What belongs to this haul is not offered again, and a second haul of the name is not begun unawares.
    assert 'value="driveway elm"' not in client.get("/share").text
    twice = send(client, "/share/haul", "/share", haul="April  weekend", people="Cleo 3")
    assert twice.status_code == 400 and "already" in twice.text and 'value="Cleo 3"' in twice.text
    assert "Cleo" not in yard.hauls.haul("april weekend").hours


@pytest.mark.parametrize(
    ("typed", "said"),
    [({"haul": " "}, "a name"), ({"haul": "x", "costs": "fuel"}, "how much"), ({"haul": "x", "people": "6"}, None),
     ({"haul": "x", "day": "soon"}, "not a day"), ({"haul": "x", "day": "2199-01-01"}, "still to come"),
     ({"haul": "x", "log": "no such log"}, "There is no log"), ({"haul": "x", "people": "Ann 99999"}, "cannot be"),
     ({"haul": "x", "costs": "=45"}, "without a name")],
)  # fmt: skip
def test_what_cannot_be_meant_of_a_haul_is_said_and_nothing_is_kept(client, app, typed, said):
    answer = send(client, "/share/haul", "/share", **typed)
    if said is None:
        assert app.extensions["yard"].hauls.haul("x").hours == {"6": None}
        return
    assert answer.status_code == 400 and said in answer.text and app.extensions["yard"].hauls.all() == []
