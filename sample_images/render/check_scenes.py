"""Scenes to find and follow checks in: `python -m sample_images.render.check_scenes SCENE... --out FOLDER`.

Each has known checks and everything that could be taken for one: streaks, knots, bark pockets, pith, saw scratches,
pencil, sticker stain, a tag, hard shadows, wet patches. `plain` scenes have all of that and no check. A series shows one
slab on four days, every time by another camera in other light on another ground, narrower each time.
"""

import argparse
import importlib.util
import json
import re
import sys
import time
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from . import compose, develop, drying, optics, solid, truth
from .marks import Marks
from .scene import GROUNDS, LIGHTS, SPECIES, Brief, Slab, Wood

#: Photos of one look each: (name, seed, megapixels, with checks).
SINGLES = tuple((f"checks-{seed}", seed, 3.0, True) for seed in range(601, 611)) + tuple(
    (f"plain-{seed}", seed, 3.0, False) for seed in range(621, 625)
)
LARGE = (("checks-631", 631, 6.0, True), ("checks-632", 632, 6.0, True), ("plain-633", 633, 6.0, False))
#: Four looks at one slab each: (name, seed).
SERIES = (("series-a", 651), ("series-b", 661), ("series-c", 671))
LOOKS = 4


@dataclass(frozen=True)
class Shot:
    """One photo to render."""

    name: str
    brief: Brief
    sawn: tuple[Slab, Wood]
    day: drying.Day
    megapixels: float


def named(name: str) -> list[Shot]:
    """The shots of a name: one of `shots`, or `series-SEED` for the four looks at a slab of any other seed; none for others."""
    known = shots()
    if name in known:
        return [known[name]]
    seed = re.fullmatch(r"series-(\d+)", name)
    return series(name, int(seed[1])) if seed else []


def shots() -> dict[str, Shot]:
    """All of them by name."""
    made = [single(*what) for what in SINGLES + LARGE]
    for name, seed in SERIES:
        made += series(name, seed)
    return {shot.name: shot for shot in made}


def single(name: str, seed: int, megapixels: float, checked: bool) -> Shot:
    """One look: all checks fully grown, or none."""
    brief = _brief(name, seed, 0, megapixels > 4)
    slab, wood = _sawn(brief, seed, checked)
    count = len(solid.build(slab, wood).checks)
    return Shot(name, brief, (slab, wood), drying.Day(0, 0.0, (1.0,) * count, (1.0,) * count, _marks(seed, 0)), megapixels)


def series(name: str, seed: int) -> list[Shot]:
    """Four looks at one slab."""
    slab, wood = _sawn(_brief(name, seed, 0, False), seed, True)
    course = drying.days(LOOKS, len(solid.build(slab, wood).checks), seed)
    looks = []
    for k, (days, shrunk, grown, opened) in enumerate(course):
        brief = _brief(f"{name}-{k + 1}", seed, k, False)
        day = drying.Day(days, shrunk, grown, opened, _marks(seed, k))
        looks.append(Shot(brief.name, brief, (slab, replace(wood, wet=brief.wet)), day, 3.0))
    return looks


def _brief(name: str, seed: int, look: int, large: bool) -> Brief:
    """Slabs of about a metre by a longer lens, so that 3 megapixels show them as finely as 12 show a whole slab."""
    rng = np.random.default_rng([seed, look])
    slab_rng = np.random.default_rng([seed, 1000])
    form = str(slab_rng.choice(["plain", "flare", "hook"]))
    light = str(rng.choice(LIGHTS, p=[0.4, 0.45, 0.15]))
    ground = str(rng.choice(GROUNDS))
    return Brief(
        name=name,
        seed=seed * 10 + look,
        perfect=True,
        species=SPECIES[seed % len(SPECIES)],
        ground="concrete" if light == "shed" and ground in ("grass", "gravel") else ground,
        light=light,
        floor_cards=tuple(int(i) for i in rng.permutation(10)[:3]),
        slab_cards=(),
        form=form,
        narrow_side_up=True,
        length_mm=float(slab_rng.uniform(1400, 1700) if large else slab_rng.uniform(820, 1050)),
        width_mm=float(slab_rng.uniform(380, 500) if large else slab_rng.uniform(260, 380)),
        thickness_mm=float(slab_rng.choice([51, 57, 63.5, 76])),
        lift_mm=float(rng.choice([0, 19, 25, 38])),
        oblique_deg=float(rng.uniform(2, 24)),
        focal_35mm=float(rng.uniform(26, 28) if large else rng.uniform(36, 40)),
        wet=bool(rng.random() < 0.3) if look else bool(seed % 3 == 0),
        shadow=bool(rng.random() < 0.6),
    )


def _sawn(brief: Brief, seed: int, checked: bool) -> tuple[Slab, Wood]:
    scene = compose.compose(brief)
    rng = np.random.default_rng([seed, 2000])
    ends, face = (int(rng.integers(3, 6)), int(rng.integers(3, 6))) if checked else (0, 0)
    wood = replace(scene.wood, end_checks=ends, surface_checks=face, knots=int(rng.integers(1, 4)), streaks=0.8)
    # The flank of a short piece is as wide as that of a long one.
    return replace(scene.slab, wobble_mm=scene.slab.wobble_mm * 0.7), wood


def _marks(seed: int, look: int) -> Marks:
    rng = np.random.default_rng([seed, 3000, look])
    fixed = np.random.default_rng([seed, 3001])
    return Marks(
        seed=seed * 100,
        wet_patches=int(fixed.integers(0, 2)),
        stain=int(fixed.integers(0, 3)),
        saw=float(fixed.uniform(0, 1)),
        pith=int(fixed.integers(0, 2)),
        streaks=int(fixed.integers(1, 5)),
        bark_pockets=int(fixed.integers(0, 3)),
        pencil=int(fixed.integers(1, 4)) + int(rng.integers(0, 2)),
        tags=1,
    )


def render(shot: Shot, folder: Path, wanted) -> None:
    """One photo and its truth."""
    from . import stage

    started = time.monotonic()
    scene = compose.compose(shot.brief, shot.sawn)
    green = solid.build(*shot.sawn)
    built, names = drying.on_day(green, shot.day)
    width = round((shot.megapixels * 1e6 * 4 / 3) ** 0.5 / 16) * 16
    seen = optics.view(scene.camera, width)
    facts = truth.truth(scene, built, seen)
    for check, name in zip(facts["checks"], names, strict=True):
        check["number"] = name
    facts |= {"days": shot.day.days, "shrunk": shot.day.shrunk, "marks": vars(shot.day.marks)}
    picture = drying.paint(green, scene.wood, built, shot.day)
    effort = stage.Effort(samples=wanted.samples, threads=wanted.threads)
    light = stage.trace(scene, built, seen, develop.overscan(seen), wanted.textures, effort, picture)
    photo = develop.expose(develop.through_lens(light, seen), scene.seed, noise=0.12)
    path = folder / f"{shot.name}.jpg"
    path.with_suffix(".json").write_text(json.dumps(facts, separators=(",", ":")))
    part = path.with_suffix(".part")
    quality = develop.write_jpeg(photo, scene, part, wanted.quality, wanted.most_bytes)
    part.rename(path)
    print(f"{shot.name}: {time.monotonic() - started:.0f} s, quality {quality}, {len(names)} checks", flush=True)


def main(arguments=None) -> int:
    """Command line; 0 when every photo was written."""
    parser = argparse.ArgumentParser(prog="python -m sample_images.render.check_scenes", description=__doc__)
    parser.add_argument("names", nargs="+", help="scenes by name, `all`, or `series-SEED` for a slab of any seed on four days")
    parser.add_argument("--out", type=Path, default=Path("sample_images/rendered/checks"))
    parser.add_argument("--textures", type=Path, help="folder of photographed grounds; without it they are drawn")
    parser.add_argument("--samples", type=int, default=8, help="light paths a pixel, at most")
    parser.add_argument("--threads", type=int, default=1)
    parser.add_argument("--quality", type=int, default=85, help="JPEG quality")
    parser.add_argument("--most-bytes", type=int, default=900_000, help="lower the JPEG quality to fit this")
    wanted = parser.parse_args(arguments)
    asked = {name: named(name) for name in (shots() if wanted.names == ["all"] else wanted.names)}
    unknown = [name for name, found in asked.items() if not found]
    if unknown:
        known = ", ".join(shots())
        print(f"no scene is called {', '.join(unknown)}; there are: {known}, and series-SEED", file=sys.stderr)
        return 2
    if importlib.util.find_spec("bpy") is None:
        print("the path tracer is not installed here; see sample_images/README.md (pip install bpy)", file=sys.stderr)
        return 2
    wanted.out.mkdir(parents=True, exist_ok=True)
    failed = 0
    for shot in (shot for found in asked.values() for shot in found):
        if (wanted.out / f"{shot.name}.jpg").exists():
            continue
        try:
            render(shot, wanted.out, wanted)
        except compose.DoesNotFit as problem:
            print(problem, file=sys.stderr)
            failed += 1
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
