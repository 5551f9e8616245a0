"""Mending by hand: the wood edge and the checks of a photo that waits or of a survey in the yard; the scale where no card lies."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from flask import (
    Blueprint,
    abort,
    current_app,
    flash,
    redirect,
    render_template,
    request,
    url_for,
)

from grainlog.errors import GrainlogError
from grainlog.web.errors import PageRefused
from grainlog.web.inbox import Waiting
from grainlog.web.inbox_pictures import shown
from grainlog.web.inbox_words import plain
from grainlog.web.measuring import mend_task
from grainlog.web.mend_lines import lines_of, read_mending, read_reference
from grainlog.web.wording import read_length, units
from grainlog.yard import SurveyEntry
from grainlog.yard.tags import tag_of

pages = Blueprint("mending", __name__)


@dataclass(frozen=True)
class _Subject:
    """What is mended: a photo with its record, and what it was measured with."""

    photo: Path
    record: dict[str, Any]
    asked: dict[str, Any]
    name: str


def _of_photo(number: int) -> tuple[Waiting, _Subject]:
    waiting = current_app.extensions["inbox"].get(number) or abort(404)
    result = waiting.result()
    if waiting.state != "measured" or result is None:
        raise PageRefused("This photo is being measured; wait a moment, then mend it.")
    return waiting, _Subject(waiting.photo, result["record"], result["asked"], waiting.photo_name)


def _of_survey(survey: int) -> tuple[int, SurveyEntry, _Subject]:
    from grainlog.survey.hand_checks import said_checks
    from grainlog.survey.said import said_of

    yard = current_app.extensions["yard"]
    yard.versions.require_mendable(survey)
    slab = yard.versions.slab_of(survey)
    entry = next(one for one in yard.slab(slab).surveys if one.id == survey)
    record = dict(entry.record)
    asked = said_of(record) | {"checks": said_checks(record)}
    return slab, entry, _Subject(entry.original, record, asked, f"slab {tag_of(slab)}, {entry.surveyed_at.date()}")


def _page(subject: _Subject, lines: str, picture: str, attempt: str, save: str, back: str, earlier=()):
    return render_template(
        "mend.html",
        subject=subject,
        lines_url=lines,
        picture_url=picture,
        try_url=attempt,
        save_url=save,
        back_url=back,
        earlier=earlier,
    )


@pages.get("/mend/photo/<int:number>")
def mend_photo(number: int):
    """Mend a photo that waits."""
    _, subject = _of_photo(number)
    here = {"number": number}
    return _page(
        subject, url_for(".photo_lines", **here), url_for("capture.picture", **here, kind="large"), url_for(".try_photo", **here),
        url_for(".save_photo", **here), url_for("capture.look", **here),
    )  # fmt: skip


@pages.get("/mend/photo/<int:number>/lines")
def photo_lines(number: int):
    """The lines of a photo that waits."""
    _, subject = _of_photo(number)
    return lines_of(subject.record, subject.asked, units())


@pages.post("/mend/photo/<int:number>/try")
def try_photo(number: int):
    """The outline that dabs would give."""
    return _tried(_of_photo(number)[1])


@pages.post("/mend/photo/<int:number>")
def save_photo(number: int):
    """Have a photo measured again with what was drawn."""
    waiting, subject = _of_photo(number)
    mending = read_mending(request.form.get("drawn", ""), subject.record, subject.asked)
    current_app.extensions["inbox"].ask(number, mending.said, waiting.facts or {})
    current_app.extensions["measuring"].wake()
    return redirect(url_for("capture.look", number=number), 303)


@pages.get("/mend/survey/<int:survey>")
def mend_survey(survey: int):
    """Mend a survey in the yard: a new version of it, the old one stays."""
    slab, _, subject = _of_survey(survey)
    here = {"survey": survey}
    return _page(
        subject, url_for(".survey_lines", **here), url_for(".survey_photo", **here), url_for(".try_survey", **here),
        url_for(".save_survey", **here), _slab_page(slab), current_app.extensions["yard"].versions.earlier(survey),
    )  # fmt: skip


@pages.get("/mend/survey/<int:survey>/lines")
def survey_lines(survey: int):
    """The lines of a survey."""
    _, _, subject = _of_survey(survey)
    return lines_of(subject.record, subject.asked, units())


@pages.get("/mend/survey/<int:survey>/photo.jpg")
def survey_photo(survey: int):
    """The photo of a survey, encoded anew."""
    _, entry, _ = _of_survey(survey)
    return shown(entry.original, "large"), {"Content-Type": "image/jpeg", "Cache-Control": "private, max-age=86400"}


@pages.post("/mend/survey/<int:survey>/try")
def try_survey(survey: int):
    """The outline that dabs would give."""
    return _tried(_of_survey(survey)[2])


@pages.post("/mend/survey/<int:survey>")
def save_survey(survey: int):
    """A new version of a survey, measured with what was drawn."""
    from grainlog.web.measuring_process import MeasureTask

    slab, entry, subject = _of_survey(survey)
    mending = read_mending(request.form.get("drawn", ""), subject.record, subject.asked)
    facts = {"slab": slab, "overrule": True}
    task = MeasureTask(entry.original, mending.said, facts, units())
    result = _asked(task)
    made = result.measured
    # A survey keeps the name its photo came with; the file in the yard is called by its hash.
    made.record["photo"]["name"] = subject.record["photo"]["name"]
    version = current_app.extensions["yard"].versions.replace(survey, made.record, made.flat, made.overlay, mending.why)
    flash(f"Mended: this is version {version}; the ones before it are kept.")
    return redirect(_slab_page(slab), 303)


@pages.get("/mend/survey/<int:survey>/version/<int:version>.jpg")
def version_picture(survey: int, version: int):
    """The marked photo of an earlier version."""
    earlier = current_app.extensions["yard"].versions.earlier(survey)
    found = next((one for one in earlier if one.version == version and one.overlay is not None), None) or abort(404)
    return shown(found.overlay, "large"), {"Content-Type": "image/jpeg", "Cache-Control": "private, max-age=86400"}


@pages.post("/mend/survey/<int:survey>/version/<int:version>")
def bring_back(survey: int, version: int):
    """Make an earlier version the newest again."""
    versions = current_app.extensions["yard"].versions
    now = versions.bring_back(survey, version)
    flash(f"Version {version} is back, as version {now}.")
    return redirect(_slab_page(versions.slab_of(survey)), 303)


@pages.get("/new/<int:number>/scale")
def at_hand(number: int):
    """Give the scale of a photo without cards by what is at hand."""
    waiting = current_app.extensions["inbox"].get(number) or abort(404)
    return _scale_page(waiting, {})


@pages.post("/new/<int:number>/scale")
def give_scale(number: int):
    """Have a photo measured with a scale given by hand."""
    inbox = current_app.extensions["inbox"]
    waiting = inbox.get(number) or abort(404)
    said = dict(waiting.said or {})
    if request.form.get("kind") == "cards":
        said["reference"] = None
        said["cards_on"] = None
    else:
        try:
            said["reference"] = read_reference(request.form, read_length)
        except GrainlogError as error:
            return _scale_page(waiting, request.form, plain(str(error))), 400
        said["cards_on"] = "slab"
    inbox.ask(number, said, waiting.facts or {})
    current_app.extensions["measuring"].wake()
    return redirect(url_for("capture.look", number=number), 303)


def _scale_page(waiting: Waiting, typed, problem: str | None = None):
    from grainlog.photo import read_photo

    photo = read_photo(waiting.photo)
    return render_template(
        "at_hand.html", waiting=waiting, width=photo.width, height=photo.height, typed=typed, problem=problem
    )


def _tried(subject: _Subject):
    from grainlog.web.measuring_process import TryTask

    sent = request.get_json(silent=True)
    if not isinstance(sent, dict):
        raise PageRefused("These dabs did not arrive whole; dab again.")
    dabs = {name: sent.get(name) or [] for name in ("wood_px", "not_wood_px")}
    return {"outline": _asked(TryTask(subject.photo, subject.asked, dabs))}


def _asked(task):
    return mend_task(lambda bench: bench.ask(task), current_app.extensions["measuring"])


def _slab_page(slab: int) -> str:
    if "slab.slab" in current_app.view_functions:
        return url_for("slab.slab", tag=tag_of(slab))
    return url_for("wall.wall")
