"""Mending by hand: the wood edge and the checks of a photo that waits or of a survey in the yard; the scale where no card lies."""

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
from grainlog.web.mend_ground import GROUNDS, mark_of_ground, mark_of_lines
from grainlog.web.mend_lines import (
    Mending,
    across,
    lines_of,
    read_mending,
    read_reference,
    strokes_to_photo,
)
from grainlog.web.mend_subject import Subject, survey_subject, waiting_subject
from grainlog.web.mend_waiting import Mends
from grainlog.web.wording import read_length, units
from grainlog.yard.tags import tag_of

pages = Blueprint("mending", __name__)
#: A picture whose address changes when it does.
_JPEG = {"Content-Type": "image/jpeg", "Cache-Control": "private, max-age=86400"}


@pages.get("/mend/photo/<int:number>")
def mend_photo(number: int):
    """Mend a photo that waits."""
    _, subject = waiting_subject(number)
    here = {"of": "photo", "number": number}
    return _page(subject, here, url_for(".save_photo", number=number), url_for("capture.look", number=number))


@pages.post("/mend/photo/<int:number>")
def save_photo(number: int):
    """Have a photo measured again with what was drawn."""
    waiting, subject = waiting_subject(number)
    mending = _drawn(subject)
    current_app.extensions["inbox"].ask(number, mending.said, waiting.facts or {})
    current_app.extensions["measuring"].wake()
    return redirect(url_for("capture.look", number=number), 303)


@pages.get("/mend/survey/<int:survey>")
def mend_survey(survey: int):
    """Mend a survey in the yard: a new version of it, the old one stays."""
    waiting = _mends().get(survey)
    if waiting is not None and waiting.problem is None:
        return redirect(url_for(".going", survey=survey))
    slab, subject = survey_subject(survey)
    earlier = current_app.extensions["yard"].versions.earlier(survey)
    here = {"of": "survey", "number": survey}
    return _page(
        subject, here, url_for(".save_survey", survey=survey), _slab_page(slab), earlier, waiting and waiting.problem
    )


@pages.post("/mend/survey/<int:survey>")
def save_survey(survey: int):
    """Have a survey measured again with what was drawn, in the background: a new version of it."""
    _, subject = survey_subject(survey)
    mending = _drawn(subject)
    _mends().ask(survey, mending.said, mending.why, units())
    current_app.extensions["measuring"].wake()
    return redirect(url_for(".going", survey=survey), 303)


@pages.get("/mend/survey/<int:survey>/going")
def going(survey: int):
    """How far measuring a survey again is; once it is done, the slab."""
    waiting, mends = _mends().get(survey), _mends()
    slab = current_app.extensions["yard"].versions.slab_of(survey)
    if waiting is None:
        if (version := mends.made.get(survey)) is not None:
            flash(f"Mended: this is version {version}; the ones before it are kept.")
        return redirect(_slab_page(slab), 303)
    step = current_app.extensions["measuring"].mend_steps.get(survey)
    return render_template(
        "mend_waiting.html",
        survey=survey,
        waiting=waiting,
        step=step,
        name=f"slab {tag_of(slab)}",
        back_url=_slab_page(slab),
    )


@pages.get("/mend/survey/<int:survey>/state")
def survey_state(survey: int):
    """How far it is, for the page to follow."""
    waiting, step = _mends().get(survey), current_app.extensions["measuring"].mend_steps.get(survey)
    return {
        "photos": {}
        if waiting is None
        else {survey: ["failed" if waiting.problem else "waiting", step, waiting.problem]}
    }


@pages.post("/mend/survey/<int:survey>/drop")
def drop(survey: int):
    """Forget what was drawn on a survey and could not be measured."""
    slab = current_app.extensions["yard"].versions.slab_of(survey)
    _mends().drop(survey)
    flash("What was drawn is forgotten; the survey is as it was.")
    return redirect(_slab_page(slab), 303)


@pages.get("/mend/<any(photo, survey):of>/<int:number>/lines")
def lines(of: str, number: int):
    """The lines as they lie on a ground."""
    subject = _subject(of, number)
    unsaved = _mends().get(number) if of == "survey" else None
    ground = subject.ground(request.args.get("on"))
    return lines_of(subject.record, subject.asked, units(), ground, unsaved and unsaved.said)


@pages.get("/mend/<any(photo, survey):of>/<int:number>/<any(above, upright, photo):ground>.jpg")
def ground(of: str, number: int, ground: str):
    """The picture that is drawn on, encoded anew."""
    subject = _subject(of, number)
    drawn_on = subject.ground(ground)
    if drawn_on.name != ground:
        abort(404)
    return subject.shown_on(drawn_on), _JPEG


@pages.post("/mend/<any(photo, survey):of>/<int:number>/across")
def moved(of: str, number: int):
    """What was drawn so far, moved from one ground to the other."""
    subject, sent = _subject(of, number), _sent()
    _require_same(subject, str(sent.get("mark")))
    grounds = [subject.ground(str(sent.get(name))) for name in ("from", "to")]
    return {"paths": across(sent.get("paths"), *grounds)}


@pages.post("/mend/<any(photo, survey):of>/<int:number>/try")
def attempt(of: str, number: int):
    """The outline that dabs would give."""
    from grainlog.web.measuring_process import TryTask

    subject, sent = _subject(of, number), _sent()
    _require_same(subject, str(sent.get("mark")))
    drawn_on = subject.ground(str(sent.get("on")))
    dabs = strokes_to_photo(drawn_on, sent.get("dabs")) or {}
    outline = _asked(TryTask(*subject.photos, subject.asked, dabs))
    return {"outline": across([outline], subject.ground("photo"), drawn_on)[0]}


def _subject(of: str, number: int) -> Subject:
    return waiting_subject(number)[1] if of == "photo" else survey_subject(number)[1]


def _page(subject: Subject, here: dict, save: str, back: str, earlier=(), problem: str | None = None):
    """The page of one that is mended, on the ground that was asked for."""
    on = subject.ground(request.args.get("on"))
    mark = mark_of_ground(subject.record)
    pictures = {name: url_for(".ground", **here, ground=name, mark=mark) for name in GROUNDS}
    others = [name for name in GROUNDS if subject.ground(name).name == name]
    return render_template(
        "mend.html", subject=subject, here=here, on=on.name, grounds=others, pictures=pictures, save_url=save, back_url=back,
        earlier=earlier, problem=problem, mark=mark_of_lines(subject.record),
    )  # fmt: skip


def _mends() -> Mends:
    return current_app.extensions["mends"]


def _drawn(subject: Subject) -> Mending:
    _require_same(subject, request.form.get("mark", ""))
    return read_mending(
        request.form.get("drawn", ""), subject.record, subject.asked, subject.ground(request.form.get("on") or "photo")
    )


def _sent() -> dict:
    sent = request.get_json(silent=True)
    if not isinstance(sent, dict):
        raise PageRefused("What was drawn did not arrive whole; do it again.")
    return sent


def _require_same(subject: Subject, mark: str) -> None:
    """What was drawn from above lies in the frame of the outline it was drawn over, and goes with the checks that were there."""
    if mark != mark_of_lines(subject.record):
        raise PageRefused(
            "It was measured anew since this page was opened; open the page again and draw on what is there now."
        )


@pages.get("/mend/survey/<int:survey>/version/<int:version>.jpg")
def version_picture(survey: int, version: int):
    """The marked photo of an earlier version."""
    earlier = current_app.extensions["yard"].versions.earlier(survey)
    found = next((one for one in earlier if one.version == version and one.overlay is not None), None) or abort(404)
    return shown(found.overlay, "large"), _JPEG


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


def _asked(task):
    return mend_task(lambda bench: bench.ask(task), current_app.extensions["measuring"])


def _slab_page(slab: int) -> str:
    if "slab.slab" in current_app.view_functions:
        return url_for("slab.slab", tag=tag_of(slab))
    return url_for("wall.wall")
