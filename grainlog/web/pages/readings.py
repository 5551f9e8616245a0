"""A walk along the stacks with a moisture meter: one slab at a time, a number pad, and nothing lost on the way."""

from collections.abc import Mapping
from datetime import date

from flask import (
    Blueprint,
    current_app,
    flash,
    make_response,
    redirect,
    render_template,
    request,
    url_for,
)

from grainlog.drying import format_moisture
from grainlog.errors import WrongUse
from grainlog.web.errors import PageRefused
from grainlog.web.reading_entry import METHODS, STAYS, entries_from, new_id
from grainlog.web.wording import MenuEntry, units
from grainlog.yard import Yard
from grainlog.yard.life_words import place_text
from grainlog.yard.tags import number_of, tag_of
from grainlog.yard.walking import Stop, stops

pages = Blueprint("readings", __name__)
MENU = (MenuEntry(3, "Readings", "readings.readings"),)


@pages.get("/readings")
def readings():
    """The slab whose turn it is, by its tag or the first on the way."""
    way = _way(_yard())
    tag = request.args.get("slab", "").strip()
    at = _place_of(way, number_of(tag)) if tag else 0
    answer = make_response(_page(way, at, request.args))
    # A phone that lets go of the page where there is no network can bring it back; asked for anew, it comes anew.
    answer.headers["Cache-Control"] = "private, no-cache"
    return answer


@pages.post("/readings")
def keep():
    """Keep what was read and go on to the next slab; the same form sent twice is kept once."""
    typed, wants_data = request.form, request.accept_mimetypes.best_match(["text/html", "application/json"]) == "application/json"
    number = number_of(typed.get("slab", ""))
    try:
        entries = entries_from(typed, number, units(), date.today())
        kept = _yard().drying.readings.add(entries, date.today(), once=typed.get("id", ""))
    except WrongUse as problem:
        if wants_data:
            raise
        way = _way(_yard())
        return _page(way, _place_of(way, number), typed, str(problem)), 400
    if wants_data:
        return {"kept": kept.new, "already": kept.already, "readings": list(kept.names)}
    flash(f"Kept for slab {tag_of(number)}." if kept.new else f"The yard had that of slab {tag_of(number)} already.")
    way = _way(_yard())
    at = _place_of(way, number)
    stays = {name: typed[name] for name in STAYS if typed.get(name)}
    following = way[at + 1].row.tag if at + 1 < len(way) else None
    return redirect(url_for(".readings", slab=following or tag_of(number), undo=typed.get("id") if kept.new else None, **stays), 303)


@pages.post("/readings/undo")
def undo():
    """Take back what was sent under an id; it stays in the yard, marked as taken back, and counts no more."""
    back = _yard().drying.readings.take_back_sent(request.form.get("id", ""))
    if request.accept_mimetypes.best_match(["text/html", "application/json"]) == "application/json":
        return {"taken_back": len(back)}
    flash(f"Taken back, of slab {tag_of(back[0].slab)}." if back else "There was nothing left to take back.")
    return redirect(url_for(".readings", slab=tag_of(back[0].slab) if back else None), 303)


def _yard() -> Yard:
    return current_app.extensions["yard"]


def _way(yard: Yard) -> list[Stop]:
    return stops(yard.slabs(), yard.lives.of_all(), yard.drying.readings.of_all())


def _place_of(way: list[Stop], number: int) -> int:
    """Where a slab comes on the way. Raises NoSuchSlab, also for one that is gone."""
    found = next((at for at, stop in enumerate(way) if stop.row.number == number), None)
    if found is None:
        _yard().slab(number)
        raise PageRefused(f"Slab {tag_of(number)} is no longer there, so it cannot be read; go on with another.")
    return found


def _page(way: list[Stop], at: int, typed: Mapping[str, str], problem: str = ""):
    return render_template(
        "readings.html",
        way=[_told(stop) for stop in way],
        at=at,
        typed=typed,
        problem=problem,
        methods=METHODS,
        stays=STAYS,
        today=date.today().isoformat(),
        id=new_id(),
        undo=request.args.get("undo", "") if request.method == "GET" else "",
    )


def _told(stop: Stop) -> dict[str, str]:
    """One slab of the way as the page and its script show it."""
    row, last = stop.row, stop.last
    before = f"last {format_moisture(last.reading.moisture)} on {last.reading.day}" if last else "no reading yet"
    lies = place_text(stop.life) if stop.life.shed or stop.life.stack else "place not said"
    return {"tag": row.tag, "what": f"{row.species or 'species not said'}, {row.log} {row.order}", "place": lies, "last": before}
