"""Forms of the page as a client without a browser sends them."""

import re


def token_in(answer) -> str:
    """The form token of a page."""
    return re.search(r'name="form-token" content="([^"]+)"', answer.text).group(1)


def send(client, path: str, seen_on: str = "/devices", headers: dict | None = None, **fields: str):
    """Post a form with its token."""
    return client.post(path, data=fields | {"form_token": token_in(client.get(seen_on))}, headers=headers)


def guest_of(app):
    """The client of somebody who has a link, on another machine; ask with `AT`."""
    token = app.extensions["yard"].visitors.make_link("a table", 30)
    guest = app.test_client()
    assert guest.get(f"/see/{token}", **AT).status_code == 302
    return guest


#: From another machine of the network, as the page of this yard.
AT = {"base_url": "http://yard.example", "environ_base": {"REMOTE_ADDR": "192.168.1.40"}, "headers": {"Accept": "text/html"}}
