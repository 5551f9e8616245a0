"""Render sample photos: `python -m sample_images.render NAME... --megapixels 12 --out FOLDER`."""

import argparse
import importlib.util
import json
import sys
import time
from pathlib import Path

import numpy as np

from . import compose, develop, named, optics, solid, truth


def main(arguments=None) -> int:
    """Command line; 0 when every photo was written."""
    parser = argparse.ArgumentParser(prog="python -m sample_images.render", description=__doc__)
    parser.add_argument("names", nargs="*", help="scenes by name; `all` for every committed one")
    parser.add_argument(
        "--random", type=int, nargs="*", default=[], metavar="SEED", help="random scenes for development"
    )
    parser.add_argument("--megapixels", type=float, default=12.0)
    parser.add_argument("--out", type=Path, default=Path("sample_images/rendered"))
    parser.add_argument("--textures", type=Path, help="folder of photographed grounds; without it they are drawn")
    parser.add_argument("--samples", type=int, default=20, help="light paths a pixel, at most")
    parser.add_argument("--threads", type=int, default=2)
    parser.add_argument("--quality", type=int, default=80, help="JPEG quality")
    parser.add_argument("--most-bytes", type=int, default=1_700_000, help="lower the JPEG quality to fit this")
    parser.add_argument("--light", type=Path, help="keep the traced light here and use it when it is there already")
    parser.add_argument("--again", action="store_true", help="render even where the photo is already there")
    wanted = parser.parse_args(arguments)
    known = {brief.name: brief for brief in named.COMMITTED}
    names = list(known) if wanted.names == ["all"] else wanted.names
    unknown = [name for name in names if name not in known]
    if unknown:
        print(f"no scene is called {', '.join(unknown)}; there are: {', '.join(known)}", file=sys.stderr)
        return 2
    if importlib.util.find_spec("bpy") is None:
        print("the path tracer is not installed here; see sample_images/README.md (pip install bpy)", file=sys.stderr)
        return 2
    briefs = [known[name] for name in names] + [named.random_brief(seed) for seed in wanted.random]
    wanted.out.mkdir(parents=True, exist_ok=True)
    width = round((wanted.megapixels * 1e6 * 4 / 3) ** 0.5 / 16) * 16
    failed = 0
    for brief in briefs:
        photo_path = wanted.out / f"{brief.name}.jpg"
        if photo_path.exists() and not wanted.again:
            continue
        try:
            render(brief, width, photo_path, wanted)
        except compose.DoesNotFit as problem:
            print(problem, file=sys.stderr)
            failed += 1
    return 1 if failed else 0


def render(brief, width, photo_path, wanted) -> None:
    """One photo and its truth; the truth is written first, so a photo is never without."""
    from . import stage

    started = time.monotonic()
    scene = compose.compose(brief)
    built = solid.build(scene.slab, scene.wood)
    seen = optics.view(scene.camera, width)
    facts = truth.truth(scene, built, seen)
    effort = stage.Effort(samples=wanted.samples, threads=wanted.threads)
    prepared = time.monotonic()
    kept = wanted.light / f"{brief.name}-{width}.npy" if wanted.light else None
    if kept and kept.exists():
        light = np.load(kept).astype(np.float32)
    else:
        light = stage.trace(scene, built, seen, develop.overscan(seen), wanted.textures, effort)
        if kept:
            kept.parent.mkdir(parents=True, exist_ok=True)
            np.save(kept, light.astype(np.float16))
    traced = time.monotonic()
    photo = develop.expose(develop.through_lens(light, seen), scene.seed, noise=0.12)
    photo_path.with_suffix(".json").write_text(json.dumps(facts, separators=(",", ":")))
    part = photo_path.with_suffix(".part")
    quality = develop.write_jpeg(photo, scene, part, wanted.quality, wanted.most_bytes)
    part.rename(photo_path)
    print(
        f"{brief.name}: {seen.size_px[0]} x {seen.size_px[1]}, prepared {prepared - started:.0f} s, traced "
        f"{traced - prepared:.0f} s, whole {time.monotonic() - started:.0f} s, quality {quality}",
        flush=True,
    )


if __name__ == "__main__":
    sys.exit(main())
