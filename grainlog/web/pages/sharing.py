"""The share page: a haul's slabs divided among its people as evenly as can be, drawn, and kept when it is agreed."""

from flask import (
    Blueprint,
    current_app,
    flash,
    redirect,
    render_template,
    request,
    url_for,
)

from grainlog.errors import GrainlogError
from grainlog.web.errors import PageRefused
from grainlog.web.share_form import BY, read_share
from grainlog.web.wall_order import Order, tallest
from grainlog.web.wall_tiles import stand
from grainlog.web.wording import MenuEntry, units
from grainlog.yard.hauls_share import Shared, share_haul

pages = Blueprint("sharing", __name__)
MENU = (MenuEntry(20, "Share a haul", "sharing.share"),)


@pages.get("/share")
def share():
    """Choose a haul, say what is wished, and see the division."""
    yard = current_app.extensions["yard"]
    name = request.args.get("haul", "").strip()
    hauls = [haul.name for haul in yard.hauls.all()]
    if not name:
        return render_template("share.html", hauls=hauls, haul=None)
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
        "share.html", hauls=hauls, haul=haul, form=form, made=made, problem=problem, ways=BY,
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
