"""How good checks are found and followed: `python -m tests.check_accuracy [FOLDER]` prints the tables, measured today.

Scenes are path-traced photos with exact checks (`python -m sample_images.render.check_scenes all`); FOLDER is where they
are, by default sample_images/rendered/checks, and the committed few of sample_images/checks where that is not there.
Nothing of the finder was trained or tuned on them. Every photo is measured as a user would: cards, outline, then checks.
How they are held against the truth: tests/checks/scoring.py.
"""

import sys
import time
from pathlib import Path

import numpy as np
import shapely

from grainlog.checks.find import check_view, find_checks
from grainlog.checks.found import FoundChecks
from grainlog.face.frame import SlabFrame
from grainlog.scale.plane import FaceViewer
from tests.accuracy import SAMPLES, Sample, samples
from tests.checks.scoring import Score, Truth, score, summary

RENDERED, COMMITTED = SAMPLES / "rendered" / "checks", SAMPLES / "checks"


def truths_of(sample: Sample, plane, frame: SlabFrame) -> list[Truth]:
    """True checks of a rendered photo in the frame that was found: their pixels through the solved plane."""
    made = []
    for number, check in enumerate(sample.truth["checks"]):
        path = frame.to_slab(plane.to_mm(np.array(check["path_px"])))
        made.append(Truth(path, np.array(check["width_mm"]), check["kind"], check.get("number", number)))
    return made


def found_in(survey) -> FoundChecks:
    """The checks of a survey."""
    resolution = survey.plane.mm_per_px(survey.middle_mm)
    view = check_view(FaceViewer(survey.plane, survey.photo.pixels), resolution, survey.face.wood)
    return find_checks(view, survey.face.wood, survey.face.holes, survey.frame, resolution)


def single_scenes(folder: Path) -> list[Sample]:
    """Scenes of one look: with checks, and plain ones without."""
    return [s for s in samples([folder]) if not s.photo.stem.startswith("series")]


def main(folders: list[str]) -> None:
    """Print the tables."""
    from grainlog.survey import measure_photo

    folder = Path(folders[0]) if folders else (RENDERED if RENDERED.is_dir() else COMMITTED)
    whole, plain, slabs = Score(), Score(), 0
    print(f"| scene | mm/px | checks | recall | precision | false > 40 mm | s |\n{'| --- ' * 7}|")
    for sample in single_scenes(folder):
        survey = measure_photo(sample.photo, sample.request)
        begin = time.perf_counter()
        found = found_in(survey)
        spent = time.perf_counter() - begin
        hidden = None
        if any(survey.plane.solution.problem.setup.on_slab(card) for card in survey.plane.card_outlines_px()):
            cards = [survey.frame.to_slab(survey.plane.to_mm(px)) for px in survey.plane.card_outlines_px().values()]
            hidden = shapely.union_all([shapely.Polygon(card).buffer(10) for card in cards])
        one = score(found, truths_of(sample, survey.plane, survey.frame), hidden)
        print(f"| {sample.photo.stem} | {found.mm_per_px:.2f} | {one.checks} | {one.recall:.2f} | {one.precision:.2f} "
              f"| {one.false_long} | {spent:.2f} |", flush=True)  # fmt: skip
        whole.add(one)
        if not one.checks:
            plain.add(one)
            slabs += 1
    print(f"\nAll: {summary(whole)}.\nSlabs without checks: {slabs}, false checks over 40 mm: {plain.false_long}.")


if __name__ == "__main__":
    main(sys.argv[1:])
