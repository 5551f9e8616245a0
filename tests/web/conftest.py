"""For the tests of the page: a yard to copy, an application to ask, a browser to look with."""

import shutil

import pytest

from grainlog.web import make_app
from grainlog.yard import Yard
from tests.web.browser import DESK, chromium, served, visit, where_is_chromium
from tests.web.yards import small_yard


@pytest.fixture(scope="session")
def whole_yard(tmp_path_factory):
    """A small yard, made once; nobody changes it."""
    folder = tmp_path_factory.mktemp("yard-of-the-page")
    (folder / "photos").mkdir()
    return small_yard(folder / "yard", folder / "photos")


@pytest.fixture
def folder(whole_yard, tmp_path):
    """A copy of the small yard, for one test."""
    return shutil.copytree(whole_yard, tmp_path / "yard")


@pytest.fixture
def app(folder):
    """The page of the yard, with `yard.example` as this machine's name on the network."""
    with Yard.open(folder) as yard:
        made = make_app(yard, frozenset({"yard.example"}))
        made.testing = True
        yield made
        made.extensions["stop"].set()


@pytest.fixture
def client(app):
    """This machine's own browser, without a browser."""
    return app.test_client()


@pytest.fixture(scope="session")
def browser():
    """Headless Chromium; the tests that need it are skipped where there is none."""
    if where_is_chromium() is None:
        pytest.skip("no Chromium on this machine: install Debian's package chromium to run the browser tests")
    with chromium() as opened:
        yield opened


@pytest.fixture
def desk(browser, folder):
    """A visitor at this machine with a wide screen, before the small yard."""
    with served(folder) as address, visit(browser, address, DESK) as visitor:
        yield visitor
