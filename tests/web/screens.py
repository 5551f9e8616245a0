"""Pictures of every page: `python -m tests.web.screens FOLDER [NAME...]`.

Each page that a test module of this folder lists under `SCREENS` is photographed on a phone and on a desk, light and dark, as
`NAME-phone.png`, `NAME-desk.png`, `NAME-phone-dark.png`; its console errors and serious axe-core findings are printed.
"""

import argparse
import sys
import tempfile
from importlib import import_module
from pathlib import Path

from tests.web.browser import DESK, PHONE, chromium, served, visit, where_is_chromium
from tests.web.yards import small_yard


def screens() -> list[tuple[str, str]]:
    """(name, path) of every page that some test module lists."""
    modules = [import_module(f"tests.web.{file.stem}") for file in sorted(Path(__file__).parent.glob("test_*.py"))]
    return [screen for module in modules for screen in getattr(module, "SCREENS", ())]


def main() -> int:
    """Take the pictures; 1 when a page had something wrong."""
    asked = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    asked.add_argument("folder", type=Path)
    asked.add_argument("names", nargs="*")
    asked.add_argument("--yard", type=Path, help="A yard to show instead of a small one made for the purpose.")
    given = asked.parse_args()
    if where_is_chromium() is None:
        print("There is no Chromium on this machine; install Debian's package chromium.", file=sys.stderr)
        return 1
    given.folder.mkdir(parents=True, exist_ok=True)
    wanted = [screen for screen in screens() if not given.names or screen[0] in given.names]
    with tempfile.TemporaryDirectory() as scratch:
        yard = given.yard or small_yard(Path(scratch) / "yard", Path(scratch))
        with served(yard) as address, chromium() as browser:
            return int(any([_shown(browser, address, given.folder, name, path) for name, path in wanted]))


def _shown(browser, address: str, folder: Path, name: str, path: str) -> bool:
    """Photograph one page in its three forms; True when something was wrong with it."""
    wrong: list[str] = []
    for form, size, scheme in (("phone", PHONE, "light"), ("desk", DESK, "light"), ("phone-dark", PHONE, "dark")):
        with visit(browser, address, size, color_scheme=scheme) as visitor:
            page = visitor.open(path)
            page.screenshot(path=folder / f"{name}-{form}.png", full_page=True)
            wide = page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth")
            wrong += [f"{form}: {what}" for what in [*visitor.wrong, *visitor.serious(), *(["wider than the screen"] if wide else [])]]
    print(f"{name}: {path}", *(f"    {what}" for what in wrong or ["nothing wrong"]), sep="\n", flush=True)
    return bool(wrong)


if __name__ == "__main__":
    sys.exit(main())
