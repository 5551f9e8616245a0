"""The page of one slab: its face, its numbers, its drying, its checks, where it stands, and what to do next."""

from collections.abc import Mapping
from datetime import date
from threading import Lock

from flask import (
    Blueprint,
    Flask,
    Response,
    abort,
    current_app,
    flash,
    g,
    redirect,
    render_template,
    request,
    url_for,
)

from grainlog.drying import format_moisture
from grainlog.errors import WrongUse
from grainlog.web.gate import guest_may
from grainlog.web.served_pictures import (
    FOR_GUESTS,
    ServedPictures,
    as_jpeg,
    flat_extent,
    has_marked,
    mark_of,
    mark_of_sheet,
)
from grainlog.web.slab_book import BookDrawing, book_drawing_of
from grainlog.web.slab_drawing import start_of, width_sentence
from grainlog.web.slab_facts import SlabPage, slab_page, survey_of, together
from grainlog.web.slab_said import SAYINGS
from grainlog.web.wording import read_length, units
from grainlog.yard import SurveyEntry
from grainlog.yard.drying_words import (
    READING_HEADINGS,
    dry_lines,
    lifting_caution,
    moisture_lines,
    reading_cells,
    weight_lines,
)
from grainlog.yard.life import GIVEN, WORK
from grainlog.yard.life_words import change_text, place_text, status_text
from grainlog.yard.lifting_words import mass_text
from grainlog.yard.tags import number_of
from grainlog.yard.width_along import width_at

pages = Blueprint("slab", __name__, url_prefix="/slab/<tag>")
#: matplotlib is not made for several threads at once.
_drawing = Lock()


def begin(app: Flask) -> None:
    """Make room for the pictures that this process serves."""
    app.extensions["pictures"] = ServedPictures()


@pages.get("")
@guest_may
def slab(tag: str):
    """Everything of one slab."""
    return _page(tag)


@pages.post("/<any(status, place, work, note, thickness):what>")
def say(tag: str, what: str):
    """Keep what a person says of a slab; what cannot be kept is shown again with the reason."""
    try:
        said = SAYINGS[what](current_app.extensions["yard"], number_of(tag), request.form, units())
    except WrongUse as problem:
        return _page(tag, request.form, what, str(problem)), 400
    flash(said)
    return redirect(url_for(".slab", tag=tag), 303)


@pages.get("/book/<other>")
@guest_may
def book(tag: str, other: str):
    """Two neighbours of a log opened like a book."""
    return render_template("slab_book.html", book=_opened(tag, other))


@pages.get("/book/<other>.svg")
@guest_may
def book_drawing(tag: str, other: str):
    """The same as a drawing alone."""
    drawn = render_template("slab_book.svg", book=_opened(tag, other))
    return _kept(current_app.response_class(drawn, mimetype="image/svg+xml"))


@pages.get("/<int:survey>/<any(photo, marked, flat):kind>-<any(small, large):size>.jpg")
@guest_may
def picture(tag: str, survey: int, kind: str, size: str):
    """A picture of a survey, encoded anew: without place, camera or anything else that the photo's file says."""
    if g.visitor.kind == "guest" and kind not in FOR_GUESTS:
        abort(403)
    shown = _survey(tag, survey)
    mark = mark_of(shown, kind, size)
    if request.if_none_match.contains(mark):
        return _kept(current_app.response_class(status=304), mark)
    data = current_app.extensions["pictures"].jpeg(shown, kind, size)
    return _kept(current_app.response_class(data, mimetype="image/jpeg"), mark)


@pages.get("/drying.svg")
@guest_may
def drying_plot(tag: str):
    """Readings and forecast as a picture."""
    # matplotlib is slow to load.
    from grainlog.picture.drying_plot import draw_drying

    told = current_app.extensions["yard"].drying.slab(number_of(tag))
    entry = told.entry
    title = f"Slab {entry.tag}, {entry.species or 'species not said'}"
    with _drawing:
        return current_app.response_class(draw_drying(told.assessed, title, "svg"), mimetype="image/svg+xml")


@pages.get("/checks.svg")
@guest_may
def check_plot(tag: str):
    """The growth of its checks as a picture."""
    checks = current_app.extensions["yard"].checks
    with _drawing:
        return current_app.response_class(checks.growth_plot(number_of(tag), units(), "svg"), mimetype="image/svg+xml")


@pages.get("/checks.jpg")
@guest_may
def check_sheet(tag: str):
    """The photos of one face under one another, each check in its own colour."""
    yard, number = current_app.extensions["yard"], number_of(tag)
    mark = mark_of_sheet(yard.slab(number), units())
    if request.if_none_match.contains(mark):
        return _kept(current_app.response_class(status=304), mark)
    drawn = current_app.extensions["pictures"].made(mark, lambda: as_jpeg(yard.checks.side_by_side(number, units=units())))
    return _kept(current_app.response_class(drawn, mimetype="image/jpeg"), mark)


def _page(tag: str, typed: Mapping[str, str] | None = None, failed: str = "", problem: str = "") -> str:
    asked = request.args.get("survey", "")
    survey = int(asked) if asked.isdecimal() and len(asked) < 10 else None
    yard, number = current_app.extensions["yard"], number_of(tag)
    told = slab_page(yard, number, survey, units(), g.visitor.kind == "guest")
    width, wrong_place = _asked_width(told.survey)
    return render_template(
        "slab.html",
        told=told,
        tag_text=told.entry.tag,
        marked=has_marked(told.survey),
        mend=_mend_address(told.survey),
        mending=None if g.visitor.kind == "guest" else current_app.extensions["mends"].get(told.survey.id),
        moisture=moisture_lines(told.drying) if told.drying else (),
        dry=together([*dry_lines(told.drying, units()), *weight_lines(told.drying, units())]) if told.drying else (),
        target=format_moisture(told.drying.assessed.target) if told.drying else "",
        caution=lifting_caution(told.drying) if told.drying else (0, ""),
        headings=READING_HEADINGS,
        readings=[reading_cells(one, units())[:4] if g.visitor.kind == "guest" else reading_cells(one, units()) for one in _entries(told)],
        status=status_text(told.life),
        place=place_text(told.life),
        change_text=change_text,
        mass=lambda one: mass_text(one, units()),
        statuses=GIVEN,
        works=WORK,
        stacks=() if g.visitor.kind == "guest" else yard.places.stacks(),
        today=date.today().isoformat(),
        typed=typed or {},
        failed=failed,
        problem=problem,
        flat_extent=flat_extent,
        width=width,
        wrong_place=wrong_place,
    )


def _mend_address(survey: SurveyEntry) -> str | None:
    """Where a survey is mended by hand; None for one that is history or rests on a cut."""
    if survey.before_cut or survey.cut_from is not None:
        return None
    return url_for("mending.mend_survey", survey=survey.id)


def _entries(told: SlabPage) -> tuple:
    return told.drying.entries[::-1] if told.drying else ()


def _asked_width(survey: SurveyEntry) -> tuple[tuple[str, str] | None, str]:
    """The width at a place that was typed, in words, and what was wrong with the place."""
    text = request.args.get("at", "").strip()
    if not text:
        return None, ""
    try:
        found = width_at(survey.record, read_length(text))
    except WrongUse as problem:
        return None, str(problem)
    if found is None:
        return None, f"{text} lies beyond the slab; give a place on it."
    return width_sentence(found, start_of(survey.record), units()), ""


def _survey(tag: str, survey: int) -> SurveyEntry:
    return survey_of(current_app.extensions["yard"].slab(number_of(tag)), survey)


def _opened(tag: str, other: str) -> BookDrawing:
    return book_drawing_of(current_app.extensions["yard"], number_of(tag), number_of(other))


def _kept(response: Response, mark: str | None = None) -> Response:
    """Let the browser keep an answer for a minute, and ask with its mark afterwards."""
    if mark is not None:
        response.set_etag(mark)
    response.headers["Cache-Control"] = "private, max-age=60"
    return response
