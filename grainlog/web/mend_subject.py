"""What is mended: a photo that waits, or a survey in the yard, with its record and what it was measured with."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from flask import abort, current_app

from grainlog.web.errors import PageRefused
from grainlog.web.inbox import Waiting
from grainlog.web.inbox_pictures import shown
from grainlog.web.mend_ground import FromAbove, Ground, ground_of, mark_of_ground
from grainlog.yard import SurveyEntry
from grainlog.yard.tags import tag_of


@dataclass(frozen=True)
class Subject:
    """What is mended.

    picture : the file whose pixels the record speaks of. photos : the first photo, and the others where several were joined.
    asked : what it was measured with, hand edits included.
    """

    picture: Path
    photos: tuple[Path, tuple[Path, ...]]
    record: Mapping[str, Any]
    asked: Mapping[str, Any]
    name: str

    def ground(self, name: str | None) -> Ground:
        """The ground of that name (see `mend_ground`)."""
        return ground_of(self.record, name)

    def shown_on(self, ground: Ground) -> bytes:
        """The picture of a ground, as a JPEG without metadata. Raises PhotoError."""
        if isinstance(ground, FromAbove):
            mark = f"{mark_of_ground(self.record)}{ground.name}"
            return current_app.extensions["pictures"].made(mark, lambda: ground.picture(self.picture))
        return shown(self.picture, "large")


def waiting_subject(number: int) -> tuple[Waiting, Subject]:
    """A photo that waits, measured. Raises PageRefused while it is not; 404 where there is none."""
    waiting = current_app.extensions["inbox"].get(number) or abort(404)
    result = waiting.result()
    if waiting.state != "measured" or result is None:
        raise PageRefused("This photo is being measured; wait a moment, then mend it.")
    # Of several photos the flat view that is kept is their joined picture.
    picture = waiting.folder / "flat.jpg" if result["record"].get("photos") else waiting.photo
    return waiting, Subject(picture, (waiting.photo, waiting.others), result["record"], result["asked"], waiting.title)


def survey_subject(survey: int) -> tuple[int, Subject]:
    """A survey in the yard, with the number of its slab. Raises FilingRefused for one that cannot be mended, NoSuchSlab."""
    from grainlog.survey.hand_checks import said_checks
    from grainlog.survey.said import said_of

    yard = current_app.extensions["yard"]
    yard.versions.require_mendable(survey)
    slab = yard.versions.slab_of(survey)
    entry = next(one for one in yard.slab(slab).surveys if one.id == survey)
    asked = said_of(entry.record) | {"checks": said_checks(entry.record)} | on_joined(entry.record)
    name = f"slab {tag_of(slab)}, {entry.surveyed_at.date()}"
    return slab, Subject(_picture_of(entry), (entry.original, entry.further), entry.record, asked, name)


def on_joined(record: Mapping[str, Any]) -> dict[str, Any]:
    """What was drawn on a slab in several photos, on their joined picture (photo 0 of `survey.drawn`); empty for one photo."""
    return {name: {**drawn, "photo": 0} for name, drawn in (record.get("by_hand_shown") or {}).items()}


def _picture_of(entry: SurveyEntry) -> Path:
    if not entry.record.get("photos"):
        return entry.original
    if entry.flat is None:
        raise PageRefused(
            "The picture joined from its photos was not kept, so there is nothing to draw on; add its photos again."
        )
    return entry.flat
