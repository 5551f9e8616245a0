"""The page of a log: what is known of it, and its slabs as they came off the mill."""

from datetime import date

from flask import (
    Blueprint,
    current_app,
    flash,
    g,
    redirect,
    render_template,
    request,
    url_for,
)

from grainlog.errors import WrongUse
from grainlog.web.errors import PageRefused
from grainlog.web.gate import guest_may
from grainlog.web.log_board import boards_of
from grainlog.web.slab_said import day_of
from grainlog.web.wording import units
from grainlog.yard.life_words import change_text

pages = Blueprint("log", __name__)


@pages.get("/log")
@guest_may
def log():
    """One log, by its name."""
    return _page(request.args.get("name", ""))


@pages.post("/log")
def say():
    """Keep what a person says of a log."""
    typed = request.form
    name = typed.get("name", "")
    yard = current_app.extensions["yard"]
    try:
        pith = typed.get("pith", "").strip()
        if pith and not (pith.isdecimal() and 0 < int(pith) < 1000):
            raise PageRefused(f"'{pith}' is no place in the log; count the slabs from 1.")
        days = {"felled_on": day_of(typed, "felled"), "sawn_on": day_of(typed, "sawn")}
        facts = {fact: typed.get(fact, "").strip() or None for fact in ("stood_at", "metal", "trimmed_sides")}
        note = typed.get("note", "")
        species = typed.get("species", "").strip()[:200]
        if not (any(days.values()) or species or pith or any(facts.values()) or note.strip()):
            raise PageRefused("Nothing was said; fill in what you know.")
        if species:
            yard.logs.name_species(name, species)
        if any(days.values()) or pith:
            yard.drying.wood.set_log(name, date.today(), **days, pith_order=int(pith) if pith else None)
        if any(facts.values()) or note.strip():
            yard.logs.tell(name, **facts, note=note)
    except WrongUse as problem:
        return _page(name, str(problem)), 400
    flash("Kept.")
    return redirect(url_for(".log", name=name), 303)


def _page(name: str, problem: str = "") -> str:
    yard = current_app.extensions["yard"]
    facts, rows = yard.logs.log(name), yard.logs.slabs(name)
    return render_template(
        "log.html",
        facts=facts,
        guest=g.visitor.kind == "guest",
        boards=boards_of(yard, rows, units()),
        change_text=change_text,
        species=yard.logs.species(),
        typed=request.form,
        problem=problem,
        today=date.today().isoformat(),
    )
