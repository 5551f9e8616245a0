"""The share page: a haul's slabs divided among its people as evenly as can be, drawn, and kept when it is agreed."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from flask import (
    Blueprint,
    current_app,
    flash,
    redirect,
    render_template,
    request,
    url_for,
)

from grainlog.errors import GrainlogError, WrongUse
from grainlog.web.errors import PageRefused
from grainlog.web.haul_form import read_haul
from grainlog.web.share_form import BY, read_share
from grainlog.web.wall_order import Order, tallest
from grainlog.web.wall_tiles import stand
from grainlog.web.wording import MenuEntry, units
from grainlog.yard.filing import folded
from grainlog.yard.hauls_share import Shared, share_haul

pages = Blueprint("sharing", __name__)
MENU = (MenuEntry(20, "Share a haul", "sharing.share"),)


@pages.get("/share")
def share():
    """Choose a haul or start one, say what is wished, and see the division."""
    return _page(request.args.get("haul", "").strip())


@pages.post("/share/haul")
def say():
    """Start a haul, or add to one; what cannot be kept is shown again with the reason."""
    yard = current_app.extensions["yard"]
    known = request.form.get("known", "").strip()
    typed = {**request.form.to_dict(), **({"haul": known} if known else {})}
    try:
        form = read_haul(typed, request.form.getlist("log"))
        if known and form.empty:
            raise PageRefused("Nothing was said; fill in what you know.")
        if not known and any(folded(one.name) == folded(form.name) for one in yard.hauls.all()):
            raise PageRefused(
                f"There is a haul {form.name} already; choose it above to add to it, or give another name."
            )
        haul = yard.hauls.keep(form.name, **form.said)
    except WrongUse as problem:
        return _page(known, typed | {"logs": request.form.getlist("log")}, str(problem)), 400
    flash("Kept." if known else f"The haul {haul.name} is kept.")
    return redirect(url_for(".share", haul=haul.name), 303)


def _page(name: str, typed: Mapping[str, Any] | None = None, wrong: str = ""):
    yard = current_app.extensions["yard"]
    all_hauls = yard.hauls.all()
    taken = {log for haul in all_hauls for log in haul.logs}
    hauls = [haul.name for haul in all_hauls]
    about = {
        "hauls": hauls, "typed": typed or {}, "wrong": wrong, "today": date.today().isoformat(),
        "free_logs": [log.name for log in yard.logs.all() if log.name not in taken],
    }  # fmt: skip
    if not name:
        return render_template("share.html", haul=None, **about)
    haul = yard.hauls.haul(name)
    form = read_share(request.args, haul.there, list(haul.hours))
    made, problem = None, ""
    if "divide" in request.args:
        try:
            made = share_haul(
                yard.hauls, yard.lives, haul.name, form.people, form.by_value, form.together(haul.there),
                form.wishes(haul.there), form.grades(haul.there),
            )  # fmt: skip
        except GrainlogError as error:
            if error.exit_code != 2:
                raise
            problem = str(error)
    drawn = current_app.extensions["wall tiles"].of(haul.there, Order.plain(haul.there), (), units())
    tiles = {tile.tag: tile for tile in drawn}
    shares = {} if made is None else made.division.shares
    return render_template(
        "share.html", **about, haul=haul, form=form, made=made, problem=problem, ways=BY,
        lots={person: [tiles[tag] for tag in tags] for person, tags in shares.items()},
        stand=stand(tallest(haul.there), "far", units()), caption_px=68,
    )  # fmt: skip


@pages.post("/share/keep")
def keep():
    """Write the division that was shown into the yard: each slab its owner."""
    yard = current_app.extensions["yard"]
    haul = yard.hauls.haul(request.form.get("haul", ""))
    owners = {row.number: request.form.get(f"owner-{row.tag}", "").strip()[:120] for row in haul.there}
    shown = {name for name in request.form if name.startswith("owner-")}
    if not all(owners.values()) or len(shown) != len(owners):
        raise PageRefused("The slabs of this haul changed since the division was made; divide it again.")
    people = list(dict.fromkeys([*haul.hours, *owners.values()]))
    made: Shared = share_haul(yard.hauls, yard.lives, haul.name, people, wishes=owners, keep=True)
    flash(f"Kept: each of {len(owners)} slabs of {made.haul} now has its owner.")
    return redirect(url_for(".share", haul=haul.name), 303)
