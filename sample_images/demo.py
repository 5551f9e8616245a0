"""The main job on the sample photos, as a user would do it: start a yard, add every slab, list, search, show, look at
checks, find one for a top, plan the next log.

Each command is printed before it runs. At the end stands what was measured beside what is true: the photos are
rendered (see README.md here), so the truth is known exactly.
"""

import json
import shlex
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).parent
YARD = HERE.parent / "demo_yard"
#: One "log" per sample photo would say little; the made-up club felled these.
LOGS = {
    "walnut": "driveway walnut",
    "white oak": "churchyard oak",
    "sugar maple": "corner maple",
    "cherry": "orchard cherry",
    "elm": "school elm",
    "ash": "bus stop ash",
}


def grainlog(*words: str, quiet: bool = False) -> str:
    """Run one command; its answer is shown and handed back."""
    if not quiet:
        print(f"\n$ grainlog {shlex.join(words)}", flush=True)
    done = subprocess.run([sys.executable, "-m", "grainlog", *words], stdout=subprocess.PIPE, text=True)
    if not quiet:
        print(done.stdout, end="", flush=True)
    if done.returncode and not quiet:
        print(f"(exit code {done.returncode})")
    return done.stdout


def main() -> None:
    """Run the whole demonstration."""
    yard = str(YARD)
    truths = {file.with_suffix(".jpg"): json.loads(file.read_text()) for file in sorted(HERE.glob("*.json"))}
    if not (YARD / "yard.db").exists():
        grainlog("start", yard)
    for photo, truth in truths.items():
        given = truth["given"]
        grainlog(
            "add", str(photo), "--yard", yard, "--log", LOGS[truth["species"]], "--species", truth["species"],
            "--thickness", f"{given['thickness_mm']:g}mm", "--cards-on", given["cards_on"], "--lift", f"{given['lift_mm']:g}mm",
        )  # fmt: skip
    grainlog("list", "--yard", yard)
    grainlog("list", "--yard", yard, "--species", "walnut", "--wider-than", "20in")
    grainlog("show", "1", "--yard", yard)
    grainlog("checks", "8", "--yard", yard)
    grainlog("find", "60x18in", "--yard", yard, "--picture", str(YARD / "tops.png"))
    grainlog("plan", "--small-end", "26in", "--large-end", "30in", "--length", "8ft", "--thickness", "2 1/2in", "--kerf", "3/8in",
             "--mill", "29 1/2in", "--yard", yard)  # fmt: skip
    compare(truths, json.loads(grainlog("list", "--yard", yard, "--json", quiet=True)))


def compare(truths: dict, rows) -> None:
    """Board feet measured and true, per photo."""
    by_photo = {}
    for row in rows:
        entry = json.loads(grainlog("show", str(row["slab"]), "--yard", str(YARD), "--json", quiet=True))
        for survey in entry["surveys"]:
            by_photo[survey["photo_name"]] = survey["record"]["face"]["board_feet"]
    print("\nBoard feet, measured and true (the truth of a rendered photo is exact):")
    for photo, truth in truths.items():
        measured = by_photo.get(photo.name)
        true = truth["measures"]["area_mm2"] * truth["thickness_mm"] / 25.4**3 / 144
        told = f"{measured['value']:5.1f} ± {2 * measured['u']:.1f}" if measured else "not measured"
        print(f"  {photo.stem:28} {told:>14}   true {true:5.1f}")
    print(f"\nThe yard as a page in the browser: .venv/bin/grainlog serve --yard {YARD.name}")


if __name__ == "__main__":
    main()
