"""Whether a person in the picture is told: `python -m tests.spoilt [FOLDER ...]` paints one over rendered photos with truth.

Each photo is measured as it is (false alarms) and with somebody in dark or pale clothes over a corner, an end, and a long side
(`tests/survey/spoilt_photo.py`). Without a folder the committed samples are used. `--seeds N` stands N people, turned otherwise, in
each place; `--keep FILE` writes one row a photo.
"""

import argparse
import csv
import multiprocessing
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
import shapely

from grainlog.errors import GrainlogError
from grainlog.photo import read_photo
from grainlog.survey import measure_photo
from tests.accuracy import SAMPLES, Sample, samples
from tests.survey.spoilt_photo import Slab, person

PLACES = {"nobody": None, "corner": lambda slab: slab.corner, "end": lambda slab: slab.end, "side": lambda slab: slab.on_side(0.35)}
#: Notes that name what hides the slab.
TOLD = {"slab-hidden", "edge-hidden", "face-covered"}


@dataclass(frozen=True)
class Told:
    """What came of one photo.

    refused : why it was not measured, else empty
    told : whether a note names what hides the slab
    hidden_m2 : of the true face, under the person
    """

    photo: str
    place: str
    clothes: str
    seed: int
    hidden_m2: float = 0.0
    refused: str = ""
    told: bool = False
    confidence: float = 0.0
    iou: float = 0.0
    notes: str = ""


def measured(job: tuple[Sample, str, str, int]) -> Told:
    """One photo measured, with somebody in it unless the place is "nobody"."""
    sample, place, clothes, seed = job
    photo = read_photo(sample.photo)
    hidden = 0.0
    if place != "nobody":
        rgb = person(photo.pixels, sample.truth, PLACES[place](Slab.of(sample.truth)), clothes == "dark", seed)
        hidden = _hidden_m2(photo.pixels, rgb, sample.truth)
        photo = replace(photo, pixels=rgb)
    row = Told(sample.photo.stem, place, clothes, seed, round(hidden, 4))
    try:
        survey = measure_photo(photo, replace(sample.request, checks=False))
    except GrainlogError as problem:
        return replace(row, refused=type(problem).__name__)
    codes = [note.code for note in survey.face.notes]
    found, true = (
        shapely.make_valid(shapely.Polygon(ring))
        for ring in (survey.face.wood, survey.viewer.plane.to_mm(np.array(sample.truth["outline"]["wood_px"])))
    )
    iou = found.intersection(true).area / found.union(true).area
    return replace(row, told=bool(TOLD & set(codes)), confidence=round(survey.face.confidence, 3), iou=round(iou, 4), notes="+".join(codes))


def _hidden_m2(before: np.ndarray, after: np.ndarray, truth: dict) -> float:
    wood = np.zeros(before.shape[:2], np.uint8)
    cv2.fillPoly(wood, [np.round(np.array(truth["outline"]["wood_px"])).astype(np.int32)], 1)
    covered = (np.abs(before.astype(int) - after).max(-1) > 3) & (wood > 0)
    return float(covered.sum() / Slab.of(truth).px_per_mm ** 2 / 1e6)


def table(rows: list[Told]) -> list[str]:
    """One line for each place."""
    lines = ["| somebody stands over | photos | refused | told | confidence above 0.9 | told or not above 0.9 |", "| --- " * 6 + "|"]
    for place in PLACES:
        part = [row for row in rows if row.place == place]
        kept = [row for row in part if not row.refused]
        sure = sum(row.confidence > 0.9 for row in kept)
        either = sum(row.told or row.confidence <= 0.9 for row in kept)
        lines.append(f"| {place} | {len(part)} | {len(part) - len(kept)} | {sum(row.told for row in kept)} | {sure} | {either} |")
    return lines


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", nargs="*", type=Path, default=[SAMPLES])
    parser.add_argument("--seeds", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--keep", type=Path, help="write the rows to this CSV file")
    asked = parser.parse_args()
    jobs = []
    for sample in samples(asked.folders):
        jobs.append((sample, "nobody", "", 0))
        places = [place for place in PLACES if place != "nobody"]
        jobs += [(sample, place, clothes, seed) for place in places for clothes in ("dark", "pale") for seed in range(asked.seeds)]
    with multiprocessing.get_context("spawn").Pool(asked.jobs, cv2.setNumThreads, (1,)) as pool:
        rows = list(pool.imap(measured, jobs))
    if asked.keep:
        with open(asked.keep, "w", newline="") as file:
            writer = csv.DictWriter(file, vars(rows[0]).keys())
            writer.writeheader()
            writer.writerows(map(vars, rows))
    print("\n".join(table(rows)))


if __name__ == "__main__":
    main()
