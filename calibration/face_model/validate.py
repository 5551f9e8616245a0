"""Figures of the committed weights: `python -m calibration.face_model.validate --textures FOLDER --photos FOLDER`.

Everything goes through `grainlog.face.network.looked_at`, as in the package: OpenCV, no torch. Views come from
seeds that training never saw; without a folder of photographed grounds all grounds are drawn. `--write` records the
figures that tests/face/test_network.py then holds the weights to.
"""

import argparse
import hashlib
import json
from pathlib import Path

import cv2
import numpy as np

from grainlog.face import network
from grainlog.face.opinion import cover
from grainlog.scale.flat import FlatView

from .figures import Tally, by_ground, table
from .hidden_figures import HiddenTally
from .scene import OTHER, VOID, WOOD, make

RECORD = Path(__file__).with_name("figures.json")
WEIGHTS = Path(network.__file__).with_name("face_model.onnx")
TEST_SEEDS = range(5000, 5018)
#: In the test three of five views have something put over their slab or close by it.
TEST_HIDING = 0.6


def recorded() -> dict:
    """Figures of the test's own views: drawn grounds only, palettes that training never saw."""
    tally, hidden = Tally(), HiddenTally()
    for seed in TEST_SEEDS:
        sample = make(seed, held_out=True, hiding=TEST_HIDING)
        said = network.looked_at(sample.view())
        tally.add(sample.label, said.classes.argmax(-1).astype(np.uint8))
        hidden.add(said.hidden > 0.5, sample.hidden, sample.seen, sample.mm_per_px)
    return {
        "weights_sha256": hashlib.sha256(WEIGHTS.read_bytes()).hexdigest(),
        "views": len(tally.overlaps),
        "precision": [round(float(value), 4) for value in tally.precision],
        "recall": [round(float(value), 4) for value in tally.recall],
        "wood_iou_median": round(tally.overlap, 4),
        "hidden_precision": round(hidden.precision, 4),
        "hidden_recall": round(hidden.recall, 4),
    }


def generated(seeds, held_out: bool, textures: str | None) -> tuple[dict[str, Tally], HiddenTally, np.ndarray]:
    """A tally a ground with `all` first, that of what is hidden, and pixels and wood pixels in ten steps of the wood score, (10, 2)."""
    samples, guesses, sure = [], [], np.zeros((10, 2), np.int64)
    whole, hidden = Tally(), HiddenTally()
    for seed in seeds:
        sample = make(seed, held_out, textures=textures)
        said = network.looked_at(sample.view())
        hidden.add(said.hidden > 0.5, sample.hidden, sample.seen, sample.mm_per_px)
        scores = said.classes
        found = scores.argmax(-1).astype(np.uint8)
        whole.add(sample.label, found)
        bin_of = np.minimum((scores[..., WOOD] * 10).astype(int), 9)[sample.seen]
        right = (sample.label == WOOD)[sample.seen]
        sure += np.stack([np.bincount(bin_of, minlength=10), np.bincount(bin_of[right], minlength=10)], 1)
        samples.append(sample)
        guesses.append(found)
    return {"all": whole} | by_ground(samples, guesses), hidden, sure


def photos(folder: Path) -> list[str]:
    """Table rows of path-traced photos with truth: the largest piece of wood against the true wood, at 4 mm/px."""
    from tests.face.truth_viewer import TruthViewer

    rows = ["| photo | ground | wood | wood IoU | area, % | flank recall |", "|---" * 6 + "|"]
    for path in sorted(folder.glob("*.jpg")):
        viewer = TruthViewer.read(path)
        view = viewer.flat_view(4.0)
        classes = network.class_scores(view).argmax(-1)
        for card, on_face in zip(view.cards, view.cards_on_face):
            classes[cover(card, view) > 0.5] = WOOD if on_face else OTHER
        wood = cover(viewer.outline_mm("wood_px"), view) > 0.5
        flank = (cover(viewer.outline_mm("silhouette_px"), view) > 0.5) & ~wood
        found = _largest((classes == WOOD) | (classes == VOID))
        overlap = (found & wood).sum() / (found | wood).sum()
        rows.append(
            f"| {path.stem} | {viewer.truth['ground']} | {viewer.truth['species']} | {overlap:.4f} | "
            f"{100 * (found.sum() / wood.sum() - 1):+.2f} | {(classes[flank] == network.FLANK).mean():.2f} |"
        )
    return rows


def traced(photo: Path, trace: Path, mm_per_px: float) -> str:
    """Overlap with a hand trace of a photo without cards from straight above: wood and voids, and with the flank."""
    rgb = cv2.imread(str(photo))[..., ::-1].copy()
    h, w = rgb.shape[:2]
    above = np.array([w * mm_per_px / 2, -h * mm_per_px / 2, 2200.0])
    view = FlatView(rgb, np.ones((h, w), bool), mm_per_px, np.zeros(2), (), (), above)
    classes = network.class_scores(view).argmax(-1)
    truth = cv2.imread(str(trace), cv2.IMREAD_GRAYSCALE) > 0
    wood = _largest((classes == WOOD) | (classes == VOID))
    whole = _largest((classes == WOOD) | (classes == VOID) | (classes == network.FLANK))
    overlaps = [(found & truth).sum() / (found | truth).sum() for found in (wood, whole)]
    return f"{photo.stem}: wood and voids {overlaps[0]:.3f}, with the flank {overlaps[1]:.3f}"


def _largest(mask: np.ndarray) -> np.ndarray:
    _, label, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8))
    return label == 1 + stats[1:, cv2.CC_STAT_AREA].argmax()


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--textures", help="folder of photographed grounds (JPEG)")
    parser.add_argument("--photos", type=Path, help="folder of path-traced photos with truth")
    parser.add_argument("--views", type=int, default=0, help="generated views in each of the two tables")
    parser.add_argument("--from-seed", type=int, default=20_000, help="the first of them; 0 for those that training prints")
    parser.add_argument("--traced", nargs=3, metavar=("PHOTO", "TRACE", "MM_PER_PX"), help="a photo with a hand trace")
    parser.add_argument("--write", action="store_true", help="record the figures of the test")
    wanted = parser.parse_args()
    cv2.setNumThreads(1)
    if wanted.write:
        RECORD.write_text(json.dumps(recorded(), indent=1) + "\n")
    for name, held_out in (("New seeds", False), ("Held-out grounds and palettes", True)) if wanted.views else ():
        tallies, hidden, sure = generated(range(wanted.from_seed, wanted.from_seed + wanted.views), held_out, wanted.textures)
        print(f"### {name}\n\n{table(tallies)}\n\nWhere a face is hidden: {hidden.sentence()}.\n")
        print(
            "Share of wood by score, in tenths: " + ", ".join(f"{r / max(n, 1):.2f}" for n, r in sure) + "\n",
            flush=True,
        )
    if wanted.traced:
        print(traced(Path(wanted.traced[0]), Path(wanted.traced[1]), float(wanted.traced[2])))
    if wanted.photos:
        print("\n".join(photos(wanted.photos)))


if __name__ == "__main__":
    main()
