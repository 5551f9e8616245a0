"""The process that measures for the page: it reads photos and answers; only the page itself writes anything down.

It is told tasks over a pipe and answers each with steps, then one answer; it ends when the pipe closes.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

import numpy as np

from grainlog.errors import GrainlogError, WrongUse
from grainlog.face.find import Rough
from grainlog.face.found import FaceNotFound
from grainlog.photo import Photo, read_photo
from grainlog.scale.detect import CardsSeen, find_cards
from grainlog.scale.errors import ScaleError
from grainlog.scale.mosaic_view import MosaicViewer
from grainlog.scale.plane import FaceViewer
from grainlog.scale.tag_find import find_tags
from grainlog.survey import Request, Survey
from grainlog.survey.errors import SurveyError
from grainlog.survey.plane import plane_of
from grainlog.survey.said import dabs_of, request_of
from grainlog.survey.several import tie_photos
from grainlog.survey.tags import without_tags
from grainlog.yard import Yard
from grainlog.yard.adding import NO_CHOICE, Known, Measured, measured, measuring_process
from grainlog.yard.errors import FilingRefused
from grainlog.yard.tag_filing import survey_by_tag
from grainlog.yard.tag_reading import TagChoice

#: What a photo is measured with until somebody says how thick the slab is and how it lies; such a survey is not filed.
ASSUMED = {"thickness_mm": [50.8], "lift_mm": 0.0}
Viewer = FaceViewer | MosaicViewer


@dataclass(frozen=True)
class Result:
    """A photo that was measured for the page.

    asked : what was said of it, as it was measured. assumed : names of what nobody had said and was assumed.
    question : what the tags in the photo leave open, or None.
    """

    measured: Measured
    asked: dict[str, Any]
    assumed: tuple[str, ...]
    question: str | None

    def as_json(self) -> dict[str, Any]:
        """As the inbox keeps it, without its pictures."""
        choice = asdict(self.measured.choice)
        return {
            "record": self.measured.record,
            "asked": self.asked,
            "assumed": list(self.assumed),
            "question": self.question,
            "choice": choice,
        }


@dataclass(frozen=True)
class MeasureTask:
    """Measure a photo, or several of one slab. said, facts : as in `inbox.Waiting`. units : of its picture."""

    photo: Path
    said: Mapping[str, Any]
    facts: Mapping[str, Any]
    units: str
    further: tuple[Path, ...] = ()

    def run(self, bench: "Bench", step: Callable[[str], None]) -> Result:
        """The photo, measured. Raises GrainlogError."""
        photos = bench.photos((self.photo, *self.further))
        places = [self.said["cards_on"]] if self.said.get("cards_on") else ["floor", "slab"]
        problem: GrainlogError | None = None
        for place in places:
            try:
                return self._measured(bench.yard, photos, {**self.said, "cards_on": place}, step)
            except (ScaleError, SurveyError, FaceNotFound) as error:
                # Nobody said where the cards lie: where they cannot lie there, they lie elsewhere.
                problem = problem or error
        assert problem is not None
        raise problem

    def _measured(
        self, yard: Yard, photos: Sequence[Photo], said: dict[str, Any], step: Callable[[str], None]
    ) -> Result:
        assumed: tuple[str, ...] = ()
        try:
            survey, choice, question = self._survey(yard, photos, said, step)
        except WrongUse:
            missing = {name: value for name, value in ASSUMED.items() if said.get(name) in (None, [])}
            if said["cards_on"] != "floor" or not missing or said.get("reference"):
                raise
            assumed = tuple(missing)
            survey, choice, question = self._survey(yard, photos, {**said, **missing}, step)
        further = tuple((path, photo.sha256) for path, photo in zip(self.further, photos[1:]))
        made = measured(survey, photos[0].sha256, self.units, choice, further, said.get("checks"))
        return Result(made, said, assumed, question)

    def _survey(self, yard, photos, said, step) -> tuple[Survey, TagChoice, str | None]:
        request = _request(yard, said)
        slab, overrule = self.facts.get("slab"), bool(self.facts.get("overrule"))
        log = self.facts.get("log") or "to be said"
        try:
            return *survey_by_tag(yard, photos, request, slab, overrule, log, step), None
        except FilingRefused as question:
            if overrule:
                raise
            survey, _ = survey_by_tag(yard, photos, request, slab, True, log, step)
            return survey, NO_CHOICE, str(question)


@dataclass(frozen=True)
class TryTask:
    """The outline that dabs would give, at low resolution. said : what the photo was measured with."""

    photo: Path
    further: tuple[Path, ...]
    said: Mapping[str, Any]
    dabs: Mapping[str, Any]

    def run(self, bench: "Bench", step: Callable[[str], None]) -> list[list[float]]:
        """[[x, y], ...] px of the photo, or of the picture joined from several. Raises GrainlogError."""
        viewer, rough = bench.rough((self.photo, *self.further), self.said)
        dabs = dabs_of(self.dabs).moved(lambda points: viewer.plane.to_mm(points[:, :2]))
        outline = viewer.plane.to_px(rough.outline(dabs=dabs))
        return np.round(outline, 1).tolist()


class Bench:
    """What the process keeps at hand: its yard, the last photos, and the rough look at them."""

    def __init__(self, yard: Yard):
        self.yard = yard
        self._photos: tuple[tuple[Path, ...], tuple[Photo, ...]] | None = None
        self._rough: tuple[tuple, Viewer, Rough] | None = None

    def photos(self, paths: tuple[Path, ...]) -> tuple[Photo, ...]:
        """Photos, from memory if they were the last ones."""
        if self._photos is None or self._photos[0] != paths:
            self._rough = self._photos = None
            self._photos = (paths, tuple(read_photo(path) for path in paths))
        return self._photos[1]

    def rough(self, paths: tuple[Path, ...], said: Mapping[str, Any]) -> tuple[Viewer, Rough]:
        """The viewer of photos and its rough look, from memory if they were the last ones."""
        photos = self.photos(paths)
        lies = {name: value for name, value in said.items() if name not in ("outline", "dabs", "checks")}
        key = (paths, repr(sorted(lies.items())))
        if self._rough is None or self._rough[0] != key:
            if lies.get("cards_on") == "floor":
                lies |= {name: value for name, value in ASSUMED.items() if lies.get(name) in (None, [])}
            viewer = _viewer(photos, _request(self.yard, lies))
            self._rough = (key, viewer, Rough.of(viewer))
        return self._rough[1:]


def _viewer(photos: Sequence[Photo], request: Request) -> Viewer:
    """The face square-on, tags taken away, as `survey_of` looks at it."""
    if len(photos) > 1:
        viewer = tie_photos(photos, request).viewer
        return without_tags(viewer, find_tags(viewer.picture.rgb))
    seen = find_cards(photos[0].pixels) if request.reference is None else CardsSeen((), ())
    viewer = FaceViewer(plane_of(photos[0], seen, request), photos[0].pixels)
    return without_tags(viewer, find_tags(photos[0].pixels))


def main(pipe: Connection, folder: Path) -> None:
    """The life of the process."""
    measuring_process()
    with Yard.open(folder) as yard:
        bench = Bench(yard)
        while True:
            try:
                task = pipe.recv()
            except (EOFError, OSError):
                return
            try:
                answer = "done", task.run(bench, lambda step: pipe.send(("step", step)))
            except GrainlogError as error:
                answer = "refused", str(error)
            except Exception as error:  # whatever it was, the process is there for the next photo
                answer = "broken", repr(error)
            try:
                pipe.send(answer)
            except OSError:
                return


def _request(yard: Yard, said: Mapping[str, Any]) -> Request:
    known = Known.of(yard)
    request = request_of(said, known.prints, known.cameras)
    return replace(request, checks=not said.get("no_checks", False))
