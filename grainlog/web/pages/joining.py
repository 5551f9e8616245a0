"""New photos that show one slab: measured together, or each by itself again."""

from flask import Blueprint, current_app, flash, redirect, request, url_for

from grainlog.web.inbox_joining import join, take_apart

pages = Blueprint("joining", __name__)


@pages.post("/new/join")
def join_photos():
    """Measure photos that show one slab together."""
    joined = join(current_app.extensions["inbox"], request.form.getlist("photo", type=int))
    current_app.extensions["measuring"].wake()
    flash(f"{len(joined.hashes)} photos are measured together, as one slab.")
    return redirect(url_for("capture.look", number=joined.number), 303)


@pages.post("/new/<int:number>/apart")
def part_photos(number: int):
    """Let photos that were joined wait by themselves again."""
    take_apart(current_app.extensions["inbox"], number)
    current_app.extensions["measuring"].wake()
    flash("Each of these photos waits by itself again.")
    return redirect(url_for("capture.new"), 303)
