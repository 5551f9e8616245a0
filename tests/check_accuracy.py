"""How good checks are found and followed: `python -m tests.check_accuracy [FOLDER]` prints the tables, measured today.

Scenes are path-traced photos with exact checks (`python -m sample_images.render.check_scenes all`); FOLDER is where they
are, by default sample_images/rendered/checks, and the committed few of sample_images/checks where that is not there.
Nothing of the finder was trained or tuned on them. Every photo is measured as a user would: cards, outline, then checks.
How they are held against the truth: tests/checks/scoring.py; what the widths can say at all: tests/checks/known_shape.py.
"""

import sys
import time
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import shapely

from grainlog.checks.board import lay_board
from grainlog.checks.find import check_view, find_checks
from grainlog.checks.follow import IDENTITY, CheckLook, follow
from grainlog.checks.found import FoundChecks
from grainlog.checks.register import NotTheSame, look_at, register
from grainlog.face.frame import SlabFrame
from grainlog.scale.flat import FlatView
from grainlog.scale.plane import FaceViewer
from tests.accuracy import SAMPLES, Sample, samples
from tests.checks.known_shape import shifts
from tests.checks.scoring import Score, Truth, score, summary

#: Rendered scenes that the finder was looked at with while it was made; they stand in no table.
DEVELOPMENT = ("checks-601", "checks-602")
RENDERED, COMMITTED = SAMPLES / "rendered" / "checks", SAMPLES / "checks"


def truths_of(sample: Sample, plane, frame: SlabFrame) -> list[Truth]:
    """True checks of a rendered photo in the frame that was found: their pixels through the solved plane."""
    made = []
    for number, check in enumerate(sample.truth["checks"]):
        path = frame.to_slab(plane.to_mm(np.array(check["path_px"])))
        made.append(Truth(path, np.array(check["width_mm"]), check["kind"], check.get("number", number)))
    return made


def view_of(survey) -> FlatView:
    """The flat view of a survey that checks are looked for in."""
    return check_view(FaceViewer(survey.plane, survey.photo.pixels), survey.plane.mm_per_px(survey.middle_mm), survey.face.wood)


def found_in(survey) -> FoundChecks:
    """The checks of a survey."""
    resolution = survey.plane.mm_per_px(survey.middle_mm)
    return find_checks(view_of(survey), survey.face.wood, survey.face.holes, survey.frame, resolution)


def single_scenes(folder: Path) -> list[Sample]:
    """Scenes of one look, with checks and plain ones without, but for those that were looked at during development."""
    return [s for s in samples([folder]) if not s.photo.stem.startswith("series") and s.photo.stem not in DEVELOPMENT]


def look_in(survey):
    """The face of a survey as it is compared with others."""
    return look_at(view_of(survey), survey.face.wood, survey.face.holes, survey.frame)


@dataclass
class Followed:
    """Sums over the looks after the first of a series."""

    sightings: int = 0
    kept: int = 0
    growth_mm: list = field(default_factory=list)
    growth_z: list = field(default_factory=list)
    shape_mm: list = field(default_factory=list)
    shrinkage: list = field(default_factory=list)
    refused: int = 0
    not_compared: int = 0

    def add(self, other: "Followed") -> None:
        """Take in another series."""
        for name in ("sightings", "kept", "growth_mm", "growth_z", "shape_mm", "shrinkage", "refused", "not_compared"):
            setattr(self, name, getattr(self, name) + getattr(other, name))

    def line(self) -> str:
        """For people."""
        growth, shrinkage = np.abs(self.growth_mm), np.abs(self.shrinkage)
        return (
            f"{self.kept} of {self.sightings} sightings keep their name; growth off by {np.median(growth):.1f} mm (median), "
            f"{100 * np.mean(growth <= 6):.0f} % within 6 mm, {100 * np.mean(np.abs(self.growth_z) <= 2):.0f} % within 2u "
            f"(a reader told path and shape: {np.median(np.abs(self.shape_mm)):.1f} mm); "
            f"shrinkage off by {100 * shrinkage.max():.2f} points at most; {self.refused} looks refused, {self.not_compared} "
            "sightings not compared"
        )


def followed(series: list[Sample], measure) -> Followed:
    """Follow one rendered slab over its looks."""
    result, looks, numbers, first, first_shrunk = Followed(), [], [], None, 0.0
    shifted: dict[int, dict[int, float]] = {}
    for sample in series:
        survey = measure(sample.photo, sample.request)
        found, look = found_in(survey), look_in(survey)
        matrix = IDENTITY
        if first is None:
            first, first_shrunk = look, sample.truth["shrunk"]
        else:
            try:
                laid = register(first, look)
            except NotTheSame as refusal:
                print(f"{sample.photo.stem}: {refusal.code}")
                result.refused += 1
                continue
            true = 1 - (1 - sample.truth["shrunk"]) / (1 - first_shrunk)
            result.shrinkage.append(laid.shrinkage - true)
            matrix = laid.matrix
        truths = truths_of(sample, survey.plane, survey.frame)
        pairs = score(found, truths).pairs
        looks.append(CheckLook(sample.truth["days"], found.checks, matrix))
        numbers.append({id(check): truth for truth, check in pairs})
        board = lay_board(view_of(survey), survey.face.wood, survey.face.holes, survey.frame)
        for truth, check in pairs:
            now = shifts(board, truth, {"butt": (1,), "top": (-1,)}.get(check.end, (-1, 1)))
            if now and now.keys() == (before := shifted.get(truth.number, {})).keys():
                result.shape_mm.append(sum(now.values()) - sum(before.values()))
            shifted[truth.number] = now
    named: dict[int, str] = {}
    before: dict[int, Truth] = {}
    for sightings, known in zip(follow(looks), numbers):
        for sighting in sightings:
            truth = known.get(id(sighting.check))
            if truth is None:
                continue
            if truth.number in named:
                result.sightings += 1
                result.kept += named[truth.number] == sighting.name
                grown = truth.length - before[truth.number].length
                if sighting.change.growth_mm is None:
                    result.not_compared += 1
                else:
                    result.growth_mm.append(sighting.change.growth_mm - grown)
                    result.growth_z.append(result.growth_mm[-1] / sighting.change.growth_u_mm)
            named.setdefault(truth.number, sighting.name)
            before[truth.number] = truth
    return result


def main(folders: list[str]) -> None:
    """Print the tables."""
    from grainlog.survey import measure_photo

    folder = Path(folders[0]) if folders else (RENDERED if RENDERED.is_dir() else COMMITTED)
    whole, plain, slabs = Score(), Score(), 0
    print(f"| scene | mm/px | checks | recall | precision | false > 40 mm | core s |\n{'| --- ' * 7}|")
    for sample in single_scenes(folder):
        survey = measure_photo(sample.photo, sample.request)
        begin = time.process_time()
        found = found_in(survey)
        spent = time.process_time() - begin
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
    by_slab: dict[str, list[Sample]] = {}
    together = Followed()
    for sample in samples([folder]):
        if sample.photo.stem.startswith("series"):
            by_slab.setdefault(sample.photo.stem.rpartition("-")[0], []).append(sample)
    for name, series in by_slab.items():
        one = followed(series, measure_photo)
        together.add(one)
        print(f"{name}, {len(series)} looks: {one.line()}.", flush=True)
    if together.sightings:
        print(f"All series: {together.line()}.")


if __name__ == "__main__":
    main(sys.argv[1:])