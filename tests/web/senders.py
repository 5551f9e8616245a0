"""Sending photos to the page as a phone does, without a browser."""

import re
import time
from pathlib import Path
from urllib.parse import quote

PART = 1 << 18


def token_of(client) -> str:
    """The form token of a client's session."""
    return re.search(r'name="form-token" content="([^"]+)"', client.get("/new").text).group(1)


def headers_of(token: str, key: str, size: int, at: int, name: str) -> dict[str, str]:
    """What goes along with a part."""
    return {
        "X-Form-Token": token, "Accept": "application/json", "X-Photo-Key": key, "X-Photo-Size": str(size), "X-Photo-At": str(at),
        "X-Photo-Name": quote(name), "Content-Type": "application/octet-stream",
    }  # fmt: skip


def send(
    client,
    photo: Path,
    key: str = "a phone's own name",
    name: str | None = None,
    start: int = 0,
    stop: int | None = None,
):
    """Send a photo in parts, from `start` to `stop`; returns the last answer."""
    data, token = photo.read_bytes(), token_of(client)
    answer = None
    for at in range(start, len(data) if stop is None else stop, PART):
        part = data[at : min(at + PART, len(data) if stop is None else stop)]
        answer = client.post("/new/part", data=part, headers=headers_of(token, key, len(data), at, name or photo.name))
        if answer.status_code != 200:
            break
    return answer


def settle(ask, seconds: float = 180.0) -> dict:
    """Wait until nothing is measured any more; `ask` answers what `/new/state` says. Returns the photos."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        photos = ask()["photos"]
        if all(state != "waiting" for state, *_ in photos.values()):
            return photos
        time.sleep(0.1)
    raise AssertionError(f"still measuring after {seconds:.0f} s: {photos}")
