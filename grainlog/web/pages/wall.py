"""The shed wall: every slab drawn as its true outline, all to one scale."""

from flask import Blueprint, current_app, render_template

from grainlog.web.gate import guest_may
from grainlog.web.wording import MenuEntry

pages = Blueprint("wall", __name__)
MENU = (MenuEntry(1, "Wall", "wall.wall", for_guests=True),)


@pages.get("/")
@guest_may
def wall():
    """The wall."""
    return render_template("wall.html", slabs=current_app.extensions["yard"].slabs())
