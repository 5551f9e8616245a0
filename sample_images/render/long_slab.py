"""Render a long slab in overlapping photos: `python -m sample_images.render.long_slab long-walnut --out FOLDER`.

Each slab is photographed from the left and from the right, cards left where they are, and once from higher up with all of
it in the frame, to compare. The truth beside each photo is that of the whole slab.
"""

import argparse
import json
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from . import compose, develop, lay, optics, solid, truth
from .scene import Brief, Camera, Card, Scene

BRIEFS = {
    "long-walnut": Brief(
        "long-walnut", 4101, True, "walnut", "concrete", "overcast", (0, 1, 2, 3), (), "plain", True, 3400, 500, 63.5, 19, 12, 25
    ),
    "long-oak": Brief(
        "long-oak", 4202, False, "white oak", "grass", "overcast", (), (4, 5, 6), "flare", True, 3300, 480, 70, 0, 14, 26
    ),
}
#: Along the slab from its middle, and on which side of it for cards on the floor, mm.
FLOOR_PLACES, SLAB_PLACES = ((-1350, -1), (-120, -1), (260, 1), (1380, 1)), (-1250, 40, 1280)
#: Clear of the slab by this much, mm.
CLEAR_MM = 300
WRONG_PRINT = (1.003, 1.0)


def scene_of(brief: Brief) -> tuple[Scene, solid.Solid]:
    """The slab, the ground and the cards; the camera is the one that sees it all."""
    scene = compose.compose(replace(brief, floor_cards=(), slab_cards=()))
    built = solid.build(scene.slab, scene.wood)
    given = replace(scene.given, cards_on="slab" if brief.slab_cards else "floor")
    return replace(scene, cards=tuple(_cards(brief, scene, built)), given=given), built


def _cards(brief: Brief, scene: Scene, built: solid.Solid) -> Iterator[Card]:
    rng = np.random.default_rng(brief.seed + 5)
    ring = np.asarray(built.bark.exterior.coords)
    for number, (x, side) in zip(brief.floor_cards, FLOOR_PLACES):
        near = ring[np.abs(ring[:, 0] - x) < 250][:, 1]
        y = near.max() + CLEAR_MM if side > 0 else near.min() - CLEAR_MM
        place = lay.slab_to_world(np.array([[x, y]]), scene.lie, scene.slab)[0]
        turn = scene.lie.turn_rad + rng.normal(0, 0.1) + (0 if side > 0 else np.pi / 2)
        yield Card(number, "floor", float(place[0]), float(place[1]), float(turn), compose.PAPER_MM)
    for number, x in zip(brief.slab_cards, SLAB_PLACES):
        turn = rng.normal(0, 0.15) + np.pi / 2
        y = built.wood.intersection(compose.box(x - 20, -900, x + 20, 900)).centroid.y
        outline = compose._turned(compose.scale_card.outline(), x, y, turn)
        rest = compose._cup_rest(outline, scene.lie, scene.slab)
        yield compose._lain(number, "slab", x, y, turn, brief, False, WRONG_PRINT, rng, rest)


def cameras_of(brief: Brief, scene: Scene) -> Iterator[tuple[str, Camera]]:
    """The one photo from high up, then from the left and from the right of the middle."""
    rng = np.random.default_rng(brief.seed)
    yield "one", scene.camera
    for name, x in (("left", -720.0), ("right", 740.0)):
        yield name, replace(
            scene.camera,
            height_mm=float(rng.uniform(1950, 2150)),
            aim_x_mm=scene.lie.x_mm + x + float(rng.uniform(-40, 40)),
            aim_y_mm=scene.lie.y_mm + float(rng.uniform(-60, 60)),
            roll_rad=float(np.radians(rng.normal(0, 2))),
            oblique_rad=scene.camera.oblique_rad + float(np.radians(rng.uniform(-3, 3))),
        )


def main(arguments=None) -> int:
    """Command line."""
    parser = argparse.ArgumentParser(prog="python -m sample_images.render.long_slab", description=__doc__)
    parser.add_argument("name", choices=sorted(BRIEFS))
    parser.add_argument("--out", type=Path, default=Path("sample_images/rendered/several"))
    parser.add_argument("--width", type=int, default=2016)
    parser.add_argument("--samples", type=int, default=5)
    wanted = parser.parse_args(arguments)
    from . import stage

    brief = BRIEFS[wanted.name]
    scene, built = scene_of(brief)
    wanted.out.mkdir(parents=True, exist_ok=True)
    for name, camera in cameras_of(brief, scene):
        part = replace(scene, name=f"{brief.name}-{name}", camera=camera)
        seen = optics.view(camera, wanted.width)
        light = stage.trace(part, built, seen, develop.overscan(seen), None, stage.Effort(samples=wanted.samples, threads=1))
        photo = develop.expose(develop.through_lens(light, seen), brief.seed + len(name), noise=0.12)
        facts = truth.truth(part, built, seen)
        (wanted.out / f"{part.name}.json").write_text(json.dumps(facts, separators=(",", ":")))
        develop.write_jpeg(photo, part, wanted.out / f"{part.name}.jpg", 80, 900_000)
    return 0


if __name__ == "__main__":
    sys.exit(main())
