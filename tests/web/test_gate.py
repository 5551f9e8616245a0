"""The gate: who comes in, and what is refused."""

import re

import pytest

from grainlog.web.gate import HEADERS
from grainlog.web.tokens import PairingCode, Tries

PHONE = {"REMOTE_ADDR": "192.168.1.40"}
AT = {"base_url": "http://yard.example", "environ_base": PHONE, "headers": {"Accept": "text/html"}}


def token_in(answer) -> str:
    return re.search(r'name="form-token" content="([^"]+)"', answer.text).group(1)


def paired(app):
    """A phone's client, paired with the code of the moment."""
    phone, code = app.test_client(), app.extensions["pairing"].fresh()
    token = token_in(phone.get("/pair", **AT))
    answer = phone.post("/pair", data={"code": code, "name": "shed phone", "form_token": token}, **AT)
    assert answer.status_code == 302
    return phone


def test_this_machine_is_let_in_and_a_stranger_is_not(app):
    assert app.test_client().get("/").status_code == 200
    stranger = app.test_client()
    answer = stranger.get("/", **AT)
    assert answer.status_code == 302 and answer.location.endswith("/pair")
    assert stranger.get("/devices", environ_base=PHONE, base_url="http://yard.example").status_code == 403


def test_a_stranger_through_a_proxy_on_this_machine_is_not_this_machine(app):
    assert app.test_client().get("/", headers={"X-Forwarded-For": "192.168.1.40"}).status_code == 403


def test_a_name_made_to_point_here_is_refused(app):
    assert app.test_client().get("/", base_url="http://elsewhere.example").status_code == 421


def test_a_device_is_paired_once_and_stays_until_it_is_shut_out(app):
    phone = paired(app)
    assert phone.get("/", **AT).status_code == 200
    cookie = phone.get_cookie("grainlog_device", domain="yard.example")
    assert cookie.http_only and cookie.same_site == "Strict"
    # The page on this machine shuts it out.
    here = app.test_client()
    page = here.get("/devices")
    assert "shed phone" in page.text
    assert here.post("/devices/1/revoke", data={"form_token": token_in(page)}).status_code == 302
    assert phone.get("/", **AT).status_code == 302
    assert here.post("/devices/1/revoke", data={"form_token": token_in(page)}).status_code == 400


def test_a_code_pairs_one_device_only(app):
    code = app.extensions["pairing"].fresh()
    answers = []
    for _ in range(2):
        phone = app.test_client()
        token = token_in(phone.get("/pair", **AT))
        answers.append(phone.post("/pair", data={"code": code.lower(), "name": "a", "form_token": token}, **AT).status_code)
    assert answers == [302, 403]


def test_guessing_codes_is_slowed_down(app):
    app.extensions["pairing"].fresh()
    phone = app.test_client()
    token = token_in(phone.get("/pair", **AT))
    codes = [
        phone.post("/pair", data={"code": f"{n:08}", "name": "a", "form_token": token}, **AT).status_code for n in range(25)
    ]
    assert codes == [403] * 20 + [429] * 5


def test_a_forged_cookie_is_worth_nothing(app):
    phone = paired(app)
    cookie = phone.get_cookie("grainlog_device", domain="yard.example").value
    for forged in (cookie[:-2], cookie[1:], "x" + cookie, '"nobody".c2lnbmVk'):
        stranger = app.test_client()
        stranger.set_cookie("grainlog_device", forged, domain="yard.example")
        assert stranger.get("/", **AT).status_code == 302


def test_only_this_machine_shuts_devices_out(app):
    phone = paired(app)
    token = token_in(phone.get("/devices", **AT))
    assert phone.post("/devices/1/revoke", data={"form_token": token}, **AT).status_code == 403
    assert phone.post("/devices/code", data={"form_token": token}, **AT).status_code == 403


def test_a_link_only_looks(app):
    here = app.test_client()
    made = here.post("/links", data={"note": "a table", "days": "30", "form_token": token_in(here.get("/devices"))})
    address = re.search(r'href="(http://[^"]+/see/[^"]+)"', made.text).group(1)
    guest = app.test_client()
    assert guest.get(address.replace("http://localhost", ""), **AT).status_code == 302
    page = guest.get("/", **AT)
    assert page.status_code == 200 and "/devices" not in page.text
    assert guest.get("/devices", **AT).status_code == 403
    assert guest.post("/links", data={"note": "x", "form_token": token_in(page)}, **AT).status_code == 403
    here.post("/links/1/revoke", data={"form_token": token_in(here.get("/devices"))})
    assert guest.get("/", **AT).status_code == 302


@pytest.mark.parametrize("days", ["0", "-3", "400", "soon", ""])
def test_a_link_does_not_last_for_ever(client, days):
    answer = client.post("/links", data={"note": "x", "days": days, "form_token": token_in(client.get("/devices"))})
    assert answer.status_code == 400 and "from 1 to 366 days" in answer.text


@pytest.mark.parametrize(
    "headers",
    [{"Sec-Fetch-Site": "cross-site"}, {"Sec-Fetch-Site": "same-site"}, {"Origin": "http://elsewhere.example"}, {"Origin": "null"}],
)
def test_a_request_forged_by_another_site_changes_nothing(app, headers):
    client = app.test_client()
    token = token_in(client.get("/devices"))
    assert client.post("/links", data={"note": "x", "form_token": token}, headers=headers).status_code == 403
    assert app.extensions["yard"].visitors.links() == []


def test_a_form_without_its_token_changes_nothing(app, client):
    client.get("/devices")
    for data in ({"note": "x"}, {"note": "x", "form_token": "guessed"}):
        assert client.post("/links", data=data).status_code == 403
    assert app.extensions["yard"].visitors.links() == []


def test_every_answer_carries_its_headers(client):
    for path in ("/", "/pair", "/no/such/page", "/static/page.css"):
        with client.get(path) as answer:
            for name, value in HEADERS.items():
                assert answer.headers[name] == value


@pytest.mark.parametrize("back", ["//elsewhere.example", "/\\elsewhere.example", "http://elsewhere.example", ""])
def test_choosing_units_leads_nowhere_else(client, back):
    answer = client.get("/units/mm", query_string={"back": back})
    assert answer.status_code == 302 and answer.location == "/"


def test_a_code_runs_out_and_reads_like_a_person_types():
    now = [0.0]
    code = PairingCode(lambda: now[0])
    assert not code.spend("")
    written = code.fresh()
    now[0] = 599
    assert code.spend(f" {written.lower().replace('0', 'o').replace('1', 'l')} ")
    written = code.fresh()
    now[0] += 601
    assert not code.spend(written)


def test_tries_come_back():
    now = [0.0]
    tries = Tries(2, 10, lambda: now[0])
    assert [tries.allowed() for _ in range(3)] == [True, True, False]
    now[0] = 10.1
    assert tries.allowed()
