"""Pairing and the list of devices, in a browser."""

import pytest

from tests.web.browser import DESK, PHONE, served, visit

SCREENS = [("devices", "/devices"), ("pair", "/pair")]


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
@pytest.mark.parametrize("path", [path for _, path in SCREENS])
def test_the_page_opens_without_a_complaint(browser, whole_yard, size, path):
    with served(whole_yard) as address, visit(browser, address, size) as visitor:
        visitor.open(path)
        assert visitor.wrong == [] and visitor.serious() == []


def test_a_link_is_made_tried_and_made_void(desk):
    page = desk.open("/devices")
    page.get_by_label("For whom or what").fill("a table for the hall")
    page.get_by_role("button", name="Make a link").click()
    address = page.locator("a.long").get_attribute("href")
    assert "/see/" in address
    page.goto(desk.address + "/devices")
    page.get_by_role("button", name="Make void: a table for the hall").click()
    assert page.get_by_role("status").inner_text() == "That link no longer shows anything."
    assert page.goto(address).status == 403
    desk.wrong.clear()  # the browser itself reports the 403


def test_a_wrong_code_says_what_to_do(desk):
    page = desk.open("/pair?code=ABCD-EFGH")
    assert page.get_by_label("Code").input_value() == "ABCD-EFGH"
    page.get_by_role("button", name="Pair").click()
    assert "Ask for a new one" in page.get_by_role("alert").inner_text()
