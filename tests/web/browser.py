"""A real browser before a really served yard, for the tests and for `tests.web.screens`."""

import shutil
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, sync_playwright
from waitress import wasyncore
from waitress.server import create_server

from grainlog.web import make_app
from grainlog.yard import Yard

PHONE = {"width": 360, "height": 740}
DESK = {"width": 1280, "height": 860}
#: Debian's and others' names of the same browser.
NAMES = ("chromium", "chromium-browser", "google-chrome")


def where_is_chromium() -> str | None:
    """The browser of this machine, or None."""
    return next((found for name in NAMES if (found := shutil.which(name))), None)


@contextmanager
def served(folder: Path, names: frozenset[str] = frozenset()) -> Iterator[str]:
    """A yard's page under waitress on a free port of this machine; yields its address.

    The loop is left before a socket is closed: closed under a loop that runs, they end it with an error now and then.
    """
    with Yard.open(folder) as yard:
        app, sockets, stopped = make_app(yard, names), {}, threading.Event()
        server = create_server(app, map=sockets, host="127.0.0.1", port=0, threads=8)

        def answer() -> None:
            while not stopped.is_set():
                wasyncore.loop(0.1, map=sockets, count=1)

        thread = threading.Thread(target=answer, daemon=True)
        thread.start()
        try:
            yield f"http://localhost:{server.effective_port}"
        finally:
            app.extensions["stop"].set()
            stopped.set()
            thread.join(5)
            server.task_dispatcher.shutdown()
            wasyncore.close_all(sockets)


@contextmanager
def chromium() -> Iterator[Browser]:
    """A headless browser. Needs `where_is_chromium()`."""
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=where_is_chromium(), args=["--no-sandbox"])
        try:
            yield browser
        finally:
            browser.close()


@dataclass
class Visit:
    """A page of the browser that remembers what went wrong on it."""

    page: Page
    address: str
    wrong: list[str] = field(default_factory=list)

    def open(self, path: str) -> Page:
        """Go to a path of the yard's page; its answer must be a good one."""
        answer = self.page.goto(self.address + path, wait_until="networkidle")
        assert answer is not None and answer.ok, f"{path}: {answer and answer.status}"
        return self.page

    def serious(self) -> list[str]:
        """What axe-core finds serious or worse on the page as it stands, a line each."""
        found = Axe().run(self.page).response["violations"]
        return [
            f"{one['id']}: {one['help']}: {one['nodes'][0]['html']}"
            for one in found
            if one["impact"] in ("serious", "critical")
        ]


@contextmanager
def visit(browser: Browser, address: str, size: dict, **context) -> Iterator[Visit]:
    """A fresh visitor with a screen of that size; console errors, failed requests and script errors are kept."""
    with browser.new_context(viewport=size, has_touch=size["width"] < 600, **context) as fresh:
        page = fresh.new_page()
        visitor = Visit(page, address)
        page.on("console", lambda said: visitor.wrong.append(said.text) if said.type in ("error", "warning") else None)
        page.on("pageerror", lambda error: visitor.wrong.append(str(error)))
        yield visitor
