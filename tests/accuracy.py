"""How good: `python -m tests.accuracy` prints the tables of ACCURACY.md, measured on this machine today.

1. Scale alone: the true outline's pixels put through the solution (rendered samples).
2. The automatic wood edge against the true one (rendered samples).
3. The stated uncertainty against what was off, over simulated photos whose errors are drawn from the stated priors.
4. The whole of `measure` on the samples: value, truth, and how many u it is off.

With folder names as arguments, photos with truth in those folders are used instead of the committed samples.
"""

import json
import sys
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
import shapely

from grainlog.face.frame import slab_frame
from grainlog.face.measures import Thickness, measure_outline
from grainlog.photo import Photo, read_photo
from grainlog.scale.detect import find_cards
from grainlog.scale.model import View
from grainlog.scale.plane import FacePlane
from grainlog.scale.priors import HARD, SOFT, Lens
from grainlog.scale.solve import solve
from grainlog.survey import Request, measure_photo
from grainlog.survey.uncertainty import BOW_MM, CUP_MM, EdgeDoubt, measure_face
from tests.scale.simulate import scene

SAMPLES = Path(__file__).parent.parent / "sample_images"
NAMES = ("length_mm", "width_min_mm", "width_mean_mm", "width_max_mm", "area_mm2")


@dataclass(frozen=True)
class Sample:
    """A photo with its truth."""

    photo: Path
    truth: dict

    @property
    def request(self) -> Request:
        """What the person tells the tool."""
        given = self.truth["given"]
        return Request(
            given["cards_on"],
            thickness=Thickness.from_readings([given["thickness_mm"]]),
            lift_mm=given["lift_mm"],
        )


def samples(folders=(SAMPLES,)) -> list[Sample]:
    """All photos with a truth beside them."""
    found = []
    for folder in folders:
        for file in sorted(Path(folder).glob("*.json")):
            photo = file.with_suffix(".jpg")
            if photo.exists():
                found.append(Sample(photo, json.loads(file.read_text())))
    return found


def true_measures(truth: dict):
    """Measures of the true outline, by the same definitions."""
    wood = np.array(truth["outline"]["wood_mm"])
    holes = [np.array(hole) for hole in truth["outline"].get("wood_holes_mm", [])]
    frame = slab_frame(wood)
    return measure_outline(frame.to_slab(wood), [frame.to_slab(hole) for hole in holes])


@dataclass(frozen=True)
class ScaleScore:
    """Relative errors of the scale alone, and the corner residual, px."""

    length: float
    area: float
    reprojection_px: float
    cards: int


def scale_alone(sample: Sample, photo: Photo | None = None, lens: Lens | None = None) -> ScaleScore:
    """The true outline's pixels through the solved plane (outer outline; voids left in on both sides).

    lens : what is believed of it; left out, no more than the metadata say.
    """
    photo = photo or read_photo(sample.photo)
    lens = lens or Lens.from_metadata(photo.focal_35mm_mm)
    view = View(find_cards(photo.pixels).cards, (photo.width, photo.height), lens)
    plane = FacePlane(solve([view], sample.request.setup()))
    got = _outer(plane.to_mm(np.array(sample.truth["outline"]["wood_px"])))
    true = _outer(np.array(sample.truth["outline"]["wood_mm"]))
    return ScaleScore(
        got.length_mm / true.length_mm - 1,
        got.area_mm2 / true.area_mm2 - 1,
        plane.solution.reprojection_px,
        len(plane.solution.problem.cards),
    )


def _outer(wood):
    return measure_outline(slab_frame(wood).to_slab(wood))


@dataclass(frozen=True)
class EdgeScore:
    """The found wood outline against the true one, both on the solved face.

    iou : overlap
    offset_mm : signed mean edge offset, positive where the found edge lies outside
    offset_95_mm : 95 % of the found edge lies within this of the true one
    area : relative
    scores : (value - truth) / u by measure
    """

    iou: float
    offset_mm: float
    offset_95_mm: float
    area: float
    confidence: float
    scores: dict[str, float]
    warnings: tuple[str, ...]


def wood_edge(sample: Sample) -> EdgeScore:
    """Measure the photo as a user would and compare."""
    survey = measure_photo(sample.photo, sample.request)
    outline = sample.truth["outline"]
    true_px = np.array(outline["wood_px"])
    true = shapely.Polygon(survey.plane.to_mm(true_px)).buffer(0)
    found = shapely.Polygon(survey.face.wood).buffer(0)
    along = shapely.get_coordinates(shapely.segmentize(found.exterior, 2.0))
    points = shapely.points(along)
    distance = shapely.distance(points, true.exterior)
    signed = np.where(shapely.contains(true, points), -distance, distance)
    truth = true_measures(sample.truth)
    scores = {}
    for name in NAMES:
        quantity = survey.measured.quantities[name]
        scores[name] = (quantity.value - getattr(truth, name)) / quantity.u
    area = survey.measured.quantities["area_mm2"].value / truth.area_mm2 - 1
    return EdgeScore(
        found.intersection(true).area / found.union(true).area,
        float(signed.mean()),
        float(np.quantile(distance, 0.95)),
        area,
        survey.face.confidence,
        scores,
        tuple(notice.code for notice in survey.notices),
    )


#: Layouts of the simulated photos: (cards, where, ground).
LAYOUTS = ((4, "floor", SOFT), (3, "floor", HARD), (2, "floor", SOFT), (2, "slab", HARD), (3, "slab", HARD), (1, "floor", HARD))
DOUBT = EdgeDoubt(0.8, 1.5, 0.8, 1.5)


def uncertainty_scores(photos: int = 96) -> dict[str, np.ndarray]:
    """(value - truth) / u over simulated photos; corners, lens, cards, print, heights, tilt, cup, outline all drawn."""
    scores: dict[str, list[float]] = {name: [] for name in (*NAMES, "board_feet")}
    for seed in range(photos):
        cards, cards_on, ground = LAYOUTS[seed % len(LAYOUTS)]
        simulated = scene(
            1000 + seed,
            cards,
            cards_on,
            ground,
            bend_mm=(CUP_MM, BOW_MM),
            edge_mm=(DOUBT.side_common, DOUBT.side_local),
        )
        plane = FacePlane(solve([simulated.view], simulated.setup))
        measured = measure_face(plane, plane.to_mm(simulated.outline_px), (), None, DOUBT)
        truth = _outer(simulated.outline_mm)
        for name in NAMES:
            quantity = measured.quantities[name]
            scores[name].append((quantity.value - getattr(truth, name)) / quantity.u)
        feet = measured.quantities["board_feet"]
        true_feet = truth.area_mm2 * simulated.thickness_mm / 25.4**3 / 144
        scores["board_feet"].append((feet.value - true_feet) / feet.u)
    return {name: np.array(values) for name, values in scores.items()}


def _table(head: list[str], rows: list[list[str]]) -> None:
    print("| " + " | ".join(head) + " |")
    print("|" + " --- |" * len(head))
    for row in rows:
        print("| " + " | ".join(row) + " |")
    print()


def main(folders) -> None:
    """Print all tables."""
    found = samples(folders or (SAMPLES,))
    print(f"Measured {date.today().isoformat()} on {len(found)} rendered photos.\n")
    print("### Scale alone (true outline pixels through the solution)\n")
    scales = {sample.photo.stem: scale_alone(sample) for sample in found}
    rows = []
    for sample in found:
        score = scales[sample.photo.stem]
        world = "perfect" if sample.truth["perfect"] else "imperfect"
        rows.append(
            [sample.photo.stem, world, f"{score.cards} {sample.truth['given']['cards_on']}", f"{100 * score.length:+.3f} %",
             f"{100 * score.area:+.3f} %", f"{score.reprojection_px:.3f} px"]
        )  # fmt: skip
    _table(["photo", "world", "cards", "length", "area", "corner residual"], rows)
    strict = [scales[s.photo.stem] for s in found if s.truth["perfect"] and scales[s.photo.stem].cards >= 2]
    for name in ("length", "area"):
        off = 100 * np.abs([getattr(score, name) for score in strict])
        if len(off):
            print(f"perfect world, 2 or more cards, {name}: median {np.median(off):.3f} %, worst {off.max():.3f} %")
    print("\n### Automatic wood edge\n")
    edges = {sample.photo.stem: wood_edge(sample) for sample in found}
    rows = [
        [name, f"{e.iou:.4f}", f"{e.offset_mm:+.2f} mm", f"{e.offset_95_mm:.1f} mm", f"{100 * e.area:+.2f} %", f"{e.confidence:.2f}",
         " ".join(f"{e.scores[n]:+.1f}" for n in NAMES)]
        for name, e in edges.items()
    ]  # fmt: skip
    _table(["photo", "IoU", "mean offset", "95 % within", "area", "confidence", "off by, in u (" + ", ".join(NAMES) + ")"], rows)
    iou = np.array([e.iou for e in edges.values()])
    offset = np.abs([e.offset_mm for e in edges.values()])
    print(f"IoU: median {np.median(iou):.4f}, worst {iou.min():.4f}; |mean offset|: median {np.median(offset):.2f} mm")
    print("\n### Stated uncertainty, 96 simulated photos, every error drawn from its prior\n")
    scores = uncertainty_scores()
    _table(
        ["measure", "RMS of (value - truth) / u", "within 2u"],
        [[n, f"{np.sqrt(np.mean(v**2)):.2f}", f"{100 * np.mean(np.abs(v) < 2):.0f} %"] for n, v in scores.items()],
    )


if __name__ == "__main__":
    main(sys.argv[1:])
