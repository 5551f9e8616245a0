"""Load: 50 clients browsing and 8 uploading at once before one server: `python -m tests.web.load [--seconds 20]`.

Prints how many pages were answered and how fast, and whether every photo that was sent is there with its own bytes; exit
code 1 where anything went wrong. Measuring goes on meanwhile, as it does in the shed.
"""

import argparse
import hashlib
import http.cookiejar
import json
import re
import sys
import tempfile
import threading
import time
import urllib.error
import urllib.request
from pathlib import Path

from grainlog.yard import Yard
from tests.web.browser import served
from tests.web.photos import small_photo
from tests.web.senders import headers_of
from tests.web.yards import many_slabs

BROWSING, UPLOADING, PHOTOS_EACH, SLABS, PART = 50, 8, 3, 24, 1 << 17
PATHS = ("/", "/new", "/new/state", "/slab/1", "/readings", "/static/page.css")


class Client:
    """A visitor at this machine with cookies of its own."""

    def __init__(self, address: str):
        self.address = address
        cookies = urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar())
        self._open = urllib.request.build_opener(cookies).open

    def ask(self, path: str, data: bytes | None = None, **headers) -> bytes:
        """The answer to a request. Raises URLError for one that is not good."""
        with self._open(urllib.request.Request(self.address + path, data, headers), timeout=120) as answer:
            return answer.read()


def browse(address: str, until: float, first: int, taken: list[float], wrong: list[str]) -> None:
    """Open pages one after the other."""
    client, turn = Client(address), first
    while time.monotonic() < until:
        path, begun = PATHS[turn % len(PATHS)], time.monotonic()
        try:
            client.ask(path)
            taken.append(time.monotonic() - begun)
        except (urllib.error.URLError, OSError) as error:
            wrong.append(f"{path}: {error}")
        turn += 1


def upload(address: str, photos: list[Path], sent: list[str], wrong: list[str]) -> None:
    """Send photos in parts."""
    client = Client(address)
    try:
        token = re.search(r'name="form-token" content="([^"]+)"', client.ask("/new").decode()).group(1)
        for photo in photos:
            data = photo.read_bytes()
            for at in range(0, len(data), PART):
                headers = headers_of(token, photo.name, len(data), at, photo.name)
                told = json.loads(client.ask("/new/part", data[at : at + PART], **headers))
            if told["done"]:
                sent.append(hashlib.sha256(data).hexdigest())
    except (urllib.error.URLError, OSError, AttributeError) as error:
        wrong.append(f"upload: {error}")


def main() -> int:
    """Run the load; 1 when anything went wrong."""
    asked = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    asked.add_argument("--seconds", type=float, default=20.0)
    seconds = asked.parse_args().seconds
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        (folder / "photos").mkdir()
        yard = many_slabs(folder / "yard", folder / "photos", SLABS)
        photos = [small_photo("walnut-shed-floor", folder, 1400, turn) for turn in range(UPLOADING * PHOTOS_EACH)]
        taken: list[float] = []
        wrong: list[str] = []
        sent: list[str] = []
        with served(yard) as address:
            until = time.monotonic() + seconds
            threads = [threading.Thread(target=browse, args=(address, until, k, taken, wrong)) for k in range(BROWSING)]
            threads += [threading.Thread(target=upload, args=(address, photos[k::UPLOADING], sent, wrong)) for k in range(UPLOADING)]
            for thread in threads:
                thread.start()
            for thread in threads:
                thread.join()
        inbox = [path for path in (yard / "inbox").glob("*/photo.jpg")]
        there = {hashlib.sha256(path.read_bytes()).hexdigest() for path in inbox}
        lost = [sha256 for sha256 in sent if sha256 not in there]
        with Yard.open(yard) as opened:
            findings = opened.stocktake()
        taken.sort()
        at = lambda share: taken[min(len(taken) - 1, int(share * len(taken)))] if taken else float("nan")  # noqa: E731
        print(f"{len(taken)} pages for {BROWSING} clients in {seconds:.0f} s; median {at(0.5):.2f} s, 95 % within {at(0.95):.2f} s")
        print(f"{len(sent)} of {len(photos)} photos acknowledged, {len(lost)} of these lost; stock: {len(findings)} findings")
        print(f"{len(wrong)} errors" + "".join(f"\n    {what}" for what in list(dict.fromkeys(wrong))[:10]))
        return int(bool(wrong or lost or findings or len(sent) < len(photos)))


if __name__ == "__main__":
    sys.exit(main())
