"""New photos: taken in the driveway, sent in parts, measured in the background, looked at and filed indoors."""

from urllib.parse import unquote

from flask import (
    Blueprint,
    Flask,
    abort,
    current_app,
    flash,
    redirect,
    render_template,
    request,
    url_for,
)

from grainlog.errors import GrainlogError, WrongUse
from grainlog.web.errors import PageRefused
from grainlog.web.gate import takes
from grainlog.web.inbox import Inbox, Waiting
from grainlog.web.inbox_filing import file_photo, same_measurement
from grainlog.web.inbox_parts import LARGEST, PART, Arrived, OutOfStep, Parts
from grainlog.web.inbox_pictures import shown
from grainlog.web.inbox_words import (
    last_said,
    plain,
    read_form,
    remember,
    said_for,
    typed,
)
from grainlog.web.looking import look_data
from grainlog.web.measuring import Measuring
from grainlog.web.mend_waiting import Mends
from grainlog.web.wording import MenuEntry, units
from grainlog.yard import SlabQuery
from grainlog.yard.tags import tag_of

pages = Blueprint("capture", __name__)
MENU = (MenuEntry(2, "New photo", "capture.new"),)
#: What a form with several photos may have, bytes; larger hauls go in parts.
FORM_BYTES = 78_000_000


def begin(app: Flask) -> None:
    """Take up what waits in the yard's inbox, and go on measuring where something does."""
    yard = app.extensions["yard"]
    inbox = Inbox(yard)
    app.extensions["inbox"] = inbox
    app.extensions["parts"] = Parts(inbox)
    app.extensions["mends"] = Mends(yard)
    app.extensions["measuring"] = Measuring(yard, inbox, app.extensions["mends"], app.extensions["stop"])
    for waiting in inbox.all():
        if waiting.state == "measured" and waiting.confirmed:
            inbox.change(waiting.number, confirmed=False, problem="The page was stopped before this was filed: look at it once more.")
    if app.extensions["mends"].any() or any(waiting.state == "waiting" for waiting in inbox.all()):
        app.extensions["measuring"].wake()


def _inbox() -> Inbox:
    return current_app.extensions["inbox"]


def _measuring() -> Measuring:
    return current_app.extensions["measuring"]


def _waiting(number: int) -> Waiting:
    return _inbox().get(number) or abort(404)


@pages.get("/new")
def new():
    """Take or choose photos; see which wait, are measured, need help."""
    waiting = _inbox().all()
    groups = {state: [one for one in waiting if one.state == state] for state in ("measured", "failed", "waiting")}
    last = last_said(current_app.extensions["yard"])
    return render_template(
        "new.html", groups=groups, steps=_measuring().steps, last=typed(last["said"], last["facts"], units()), part=PART,
        largest=LARGEST, logs=_logs(), species=_species(),
    )  # fmt: skip


@pages.post("/new")
@takes(FORM_BYTES)
def send():
    """Photos by a form, for a browser without scripts."""
    told = [arrived for file in request.files.getlist("photos") if file.filename for arrived in [_arrive(file)]]
    if not told:
        flash("No photo was chosen; choose one or more, then send.")
    for sentence in dict.fromkeys(told):
        flash(sentence)
    return redirect(url_for(".new"), 303)


def _arrive(file) -> str:
    try:
        arrived = current_app.extensions["parts"].take_whole(file.stream, file.filename, units())
    except WrongUse as refused:
        return str(refused)
    except GrainlogError as error:
        return f"{file.filename}: {error}"
    _measuring().wake()
    return _told(arrived)


@pages.post("/new/said")
def say():
    """What is the same for all slabs of the day: offered for each photo, and measured with."""
    yard = current_app.extensions["yard"]
    try:
        said, facts = read_form(request.form, {}, units())
    except GrainlogError as error:
        flash(str(error))
        return redirect(url_for(".new"), 303)
    remember(yard, said, facts)
    for waiting in _inbox().all():
        # What was measured with a guess, or not at all, is measured with this; what somebody looked at stays.
        if waiting.said is None and waiting.state != "waiting":
            _inbox().change(waiting.number, state="waiting", asked=waiting.asked + 1, problem=None)
    _measuring().wake()
    flash("Kept for the photos that nobody has looked at yet, and for those to come.")
    return redirect(url_for(".new"), 303)


@pages.get("/new/part")
def part_at():
    """How much of a photo has arrived."""
    return {"at": current_app.extensions["parts"].arrived(_header("X-Photo-Key"))}


@pages.post("/new/part")
def take_part():
    """One part of a photo; answers how much is here, and when it is done."""
    size, at, taken = (_header(name) for name in ("X-Photo-Size", "X-Photo-At", "X-Photo-Taken"))
    if not (size.isdecimal() and at.isdecimal()):
        raise PageRefused("That is no part of a photo; send the photo again.")
    name = unquote(_header("X-Photo-Name"), errors="replace") or "photo"
    moment = int(taken) / 1000 if taken.isdecimal() and 0 < int(taken) < 1 << 45 else None
    try:
        arrived = current_app.extensions["parts"].take(
            _header("X-Photo-Key"), int(size), int(at), request.get_data(cache=False), name, units(), moment
        )
    except OutOfStep as step:
        return {"at": step.at}, 409
    if arrived.done:
        _measuring().wake()
    return {
        "at": arrived.at,
        "done": arrived.done,
        "twice": arrived.twice,
        "said": _told(arrived) if arrived.done else None,
    }


def _header(name: str) -> str:
    return request.headers.get(name, "")[:1000]


def _told(arrived: Arrived) -> str:
    if arrived.filed is not None:
        return f"This photo is in the yard already, with slab {tag_of(arrived.filed.slab)}."
    assert arrived.waiting is not None
    name = arrived.waiting.photo_name
    return f"{name} is here already." if arrived.twice else f"{name} is here, and will be measured."


@pages.get("/new/state")
def state():
    """How far everything is, for the page to follow."""
    told = {}
    for one in _inbox().all():
        # Confirmed ahead, it is on its way into the yard until it is there or is to be looked at once more.
        now = "waiting" if one.confirmed else one.state
        told[one.number] = [now, _measuring().steps.get(one.number), one.problem]
    return {"photos": told}


@pages.get("/new/<int:number>")
def look(number: int):
    """One photo: what was measured, what is still to be said, file it or mend it."""
    waiting = _inbox().get(number)
    if waiting is None:
        if (slab := _measuring().filed.get(number)) is not None:
            flash(f"Filed as slab {tag_of(slab)}.")
            return redirect(url_for(".new"), 303)
        abort(404)
    return _shown(waiting)


def _shown(waiting: Waiting, form: dict | None = None, problem: str | None = None, code: int = 200):
    yard = current_app.extensions["yard"]
    last = last_said(yard)
    said = said_for(yard, waiting)
    facts = last["facts"] | dict(waiting.facts or {})
    result = waiting.result() if waiting.state == "measured" else None
    if result is not None:
        said = {name: value for name, value in result["asked"].items() if name not in result["assumed"]}
    values = form or typed(said, facts, units())
    others = [one.number for one in _inbox().all() if one.state == "measured" and one.number != waiting.number]
    return (
        render_template(
            "look.html", waiting=waiting, step=_measuring().steps.get(waiting.number), values=values, problem=problem,
            result=result, data=result and look_data(yard, waiting, result), logs=_logs(), species=_species(), left=len(others),
        ),
        code,
    )  # fmt: skip


@pages.post("/new/<int:number>")
def answer(number: int):
    """What was typed about one photo: file it, or measure it again first where that changes what is measured."""
    waiting, yard = _waiting(number), current_app.extensions["yard"]
    form = request.form.to_dict()
    try:
        said, facts = read_form(form, {"slab_cards": request.form.getlist("slab_cards")}, units())
        result = waiting.result() if waiting.state == "measured" else None
        before = dict(result["asked"] if result else waiting.said or {})
        _keep_as_typed(said, before, form)
        for name in ("outline", "dabs", "checks", "reference"):
            said[name] = before.get(name)
        if said["reference"]:
            said["cards_on"] = "slab"
        filing = form.get("do") == "file"
        same = result is not None and same_measurement(result["asked"], said, facts, waiting.facts or {})
        if filing and facts["slab"] is None and not facts["log"] and not (result and result["choice"]["number"]):
            raise PageRefused("Say which log the slab was sawn from, or of which slab this is another photo.")
        if filing and same and not result["assumed"]:
            current = _inbox().change(number, said=said, facts=facts) or abort(404)
            filed = file_photo(yard, _inbox(), current)
            flash(f"Filed as slab {tag_of(filed.slab)}, number {filed.order} of {filed.log}.")
            return redirect(_next_after(number), 303)
        if filing and said["cards_on"] == "floor" and not (said["thickness_mm"] and said["lift_mm"] is not None):
            raise PageRefused(
                "Say how thick the slab is, and how high it lies above the floor that the cards lie on (0 if on it)."
            )
    except GrainlogError as error:
        return _shown(waiting, form, plain(str(error)), 400 if error.exit_code == 2 else 500)
    _inbox().ask(number, said, facts, confirmed=filing and result is not None)
    _measuring().wake()
    return redirect(_next_after(number) if filing and result is not None else url_for(".look", number=number), 303)


def _keep_as_typed(said: dict, before: dict, form: dict) -> None:
    """A length that was only shown, in sixteenths perhaps, and not touched stays what it was."""
    were = typed(before, {}, units())
    for field, name in (("thickness", "thickness_mm"), ("lift", "lift_mm")):
        if before.get(name) not in (None, []) and form.get(field, "").strip() == were[field]:
            said[name] = before[name]


def _next_after(number: int) -> str:
    ready = [one.number for one in _inbox().all() if one.state == "measured" and one.number != number]
    later = [one for one in ready if one > number] or ready
    return url_for(".look", number=later[0]) if later else url_for(".new")


@pages.post("/new/<int:number>/away")
def throw_away(number: int):
    """Take a photo out of the inbox; its file is kept."""
    kept = _inbox().throw_away(number)
    flash(
        "That photo waits no more."
        if kept is None
        else f"Thrown away; the file is kept in the yard's folder, in {kept.parent.parent.name}/{kept.parent.name}."
    )
    return redirect(url_for(".new"), 303)


@pages.get("/new/<int:number>/<any(small, large, overlay, flat):kind>.jpg")
def picture(number: int, kind: str):
    """A photo that waits, encoded anew, or a picture made from it."""
    waiting = _waiting(number)
    if kind in ("small", "large"):
        return shown(waiting.photo, kind), {"Content-Type": "image/jpeg", "Cache-Control": "private, max-age=86400"}
    try:
        return (waiting.folder / f"{kind}.jpg").read_bytes(), {"Content-Type": "image/jpeg"}
    except OSError:
        abort(404)


def _logs() -> list[str]:
    return sorted({row.log for row in _rows()})


def _species() -> list[str]:
    return sorted({row.species for row in _rows() if row.species})


def _rows():
    return current_app.extensions["yard"].slabs(SlabQuery(gone_too=True))
