"""How smoothly the wall scrolls: `python -m tests.web.frames [--slabs 5000]` prints how long frames take and what held the long ones.

A yard of made-up slabs (minutes to make; `--keep FOLDER` keeps it for the next time) is scrolled down from its top, one step each
frame, in a real browser without a graphics card: it draws with the processor, which few phones have to.
"""

import argparse
import statistics
import tempfile
from pathlib import Path

from tests.web.browser import DESK, PHONE, chromium, served, visit
from tests.web.yards import many_slabs

#: Scrolls the wall and answers each frame's length, ms, with the browser's own account of long frames ("long-animation-frame").
SCROLL = """async ([step, frames]) => {
  const long = [];
  const watch = new PerformanceObserver((list) => {
    for (const one of list.getEntries()) long.push({
      whole: one.duration, layout: one.styleAndLayoutStart ? one.startTime + one.duration - one.styleAndLayoutStart : 0,
      script: one.scripts.reduce((sum, script) => sum + script.duration, 0),
      who: one.scripts.map((script) => `${script.invoker} ${Math.round(script.duration)}`).join(", "),
    });
  });
  watch.observe({ type: "long-animation-frame", buffered: false });
  const taken = [];
  let last = performance.now();
  for (let k = 0; k < frames; k++) {
    const now = await new Promise(requestAnimationFrame);
    if (k > 1) taken.push(now - last);
    last = now;
    scrollBy(0, step);
  }
  await new Promise((done) => setTimeout(done, 300));
  watch.disconnect();
  return { taken, long, slabs: document.getElementById("boards").children.length };
}"""


def main() -> None:
    """Print the table."""
    asked = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    asked.add_argument("--slabs", type=int, default=5000)
    asked.add_argument("--frames", type=int, default=900)
    asked.add_argument("--step", type=int, default=120, help="px of one frame; a quick flick")
    asked.add_argument("--keep", type=Path)
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        folder = given.keep or Path(scratch) / "yard"
        if not folder.exists():
            (Path(scratch) / "photos").mkdir()
            many_slabs(folder, Path(scratch) / "photos", given.slabs)
        print("| screen | asked | frame, median | 99 % below | worst | over 50 ms | slabs drawn |\n| --- | --- | --- | --- | --- | --- | --- |")
        held = []
        with served(folder) as address, chromium() as browser:
            for name, size in (("desk", DESK), ("phone", PHONE)):
                for path in ("/", "/?top=48x20in"):
                    with visit(browser, address, size) as visitor:
                        page = visitor.open(path)
                        page.wait_for_selector("#boards[data-ready]")
                        told = page.evaluate(SCROLL, [given.step, given.frames])
                    taken = sorted(told["taken"])
                    below = taken[int(0.99 * len(taken))]
                    over = sum(one > 50 for one in taken)
                    print(f"| {name} | {path} | {statistics.median(taken):.1f} ms | {below:.0f} ms | {taken[-1]:.0f} ms | {over} | {told['slabs']} |")
                    held += [(name, path, one) for one in sorted(told["long"], key=lambda one: -one["whole"])[:3]]
        for name, path, one in held:
            print(f"{name} {path}: {one['whole']:.0f} ms, style and layout {one['layout']:.0f}, scripts {one['script']:.0f}: {one['who']}")


if __name__ == "__main__":
    main()
