"""Pairing a device, links for showing the yard, and the units of a browser."""

import base64
import io

import segno
from flask import (
    Blueprint,
    abort,
    current_app,
    flash,
    make_response,
    redirect,
    render_template,
    request,
    url_for,
)

from grainlog.web.gate import (
    COOKIE_SECONDS,
    DEVICE_COOKIE,
    GUEST_COOKIE,
    UNITS_COOKIE,
    guest_may,
    here_only,
    keep_visitor,
    open_to_all,
)
from grainlog.web.wording import UNITS, MenuEntry

pages = Blueprint("pairing", __name__)
MENU = (MenuEntry(90, "Devices and links", "pairing.devices"),)


@pages.get("/pair")
@open_to_all
def pair():
    """The page that a device sees which is not paired."""
    return render_template("pair.html", code=request.args.get("code", "")[:20])


@pages.post("/pair")
@open_to_all
def pair_now():
    """Pair this device with the code of the moment."""
    if not current_app.extensions["tries"].allowed():
        abort(429)
    if not current_app.extensions["pairing"].spend(request.form.get("code", "")[:40]):
        return render_template("pair.html", code="", problem="That code is not good, or no longer. Ask for a new one."), 403
    token = current_app.extensions["yard"].visitors.pair(request.form.get("name", ""))
    return keep_visitor(redirect(url_for("wall.wall")), DEVICE_COOKIE, token)


@pages.get("/see/<token>")
@open_to_all
def see(token: str):
    """The door of a link: the yard to look at."""
    if not current_app.extensions["tries"].allowed():
        abort(429)
    if current_app.extensions["yard"].visitors.guest(token) is None:
        abort(403)
    return keep_visitor(redirect(url_for("wall.wall")), GUEST_COOKIE, token)


@pages.get("/devices")
def devices():
    """Who may use the page: paired devices and links."""
    visitors = current_app.extensions["yard"].visitors
    return render_template("devices.html", devices=visitors.devices(), links=visitors.links())


@pages.post("/devices/code")
@here_only
def new_code():
    """A fresh pairing code, as text and as a QR code."""
    code = current_app.extensions["pairing"].fresh()
    addresses = sorted(current_app.extensions.get("lan_addresses", ()))
    drawn = io.BytesIO()
    if addresses:
        segno.make(f"{addresses[0]}/pair?code={code}", error="m").save(drawn, kind="png", scale=6, border=4)
    visitors = current_app.extensions["yard"].visitors
    return render_template(
        "devices.html", devices=visitors.devices(), links=visitors.links(), code=code, address=addresses[:1], qr=base64.b64encode(drawn.getvalue()).decode()
    )


@pages.post("/devices/<int:key>/revoke")
@here_only
def revoke_device(key: int):
    """Shut a device out."""
    current_app.extensions["yard"].visitors.revoke_device(key)
    flash("That device is shut out.")
    return redirect(url_for(".devices"))


@pages.post("/links")
def new_link():
    """A link that shows the yard read-only; its address is shown this once."""
    days = request.form.get("days", "30")
    token = current_app.extensions["yard"].visitors.make_link(request.form.get("note", ""), int(days) if days.isdecimal() else 0)
    visitors = current_app.extensions["yard"].visitors
    address = url_for(".see", token=token, _external=True)
    return render_template("devices.html", devices=visitors.devices(), links=visitors.links(), link=address)


@pages.post("/links/<int:key>/revoke")
def revoke_link(key: int):
    """Make a link void."""
    current_app.extensions["yard"].visitors.revoke_link(key)
    flash("That link no longer shows anything.")
    return redirect(url_for(".devices"))


@pages.get("/units/<system>")
@guest_may
def choose_units(system: str):
    """Inches or millimetres for this browser, and back to where it came from."""
    if system not in UNITS:
        abort(404)
    back = request.args.get("back", "")
    # Only a path of this page: a second slash would make it another site's.
    safe = back if back.startswith("/") and not back.startswith(("//", "/\\")) else url_for("wall.wall")
    response = make_response(redirect(safe))
    response.set_cookie(UNITS_COOKIE, system, max_age=COOKIE_SECONDS, httponly=True, samesite="Lax")
    return response
