"""The gate: who comes in, what they may do, and what every answer carries.

- This machine itself (a loopback address, asked for under a name of this machine) may do everything.
- A paired device, known by its signed cookie, may do the same, except what only this machine may (`here_only`).
- A link's visitor may read what is marked `guest_may`, and nothing else.
- Everybody else sees the pairing page.

Forged requests: a request must name this machine as its host (against names that are made to point here), what changes
something must come from a page of ours (`Origin` and `Sec-Fetch-Site` where the browser sends them) and carry the token
of the form. Nothing here protects against somebody who listens on the network: the page is plain HTTP.
"""

import ipaddress
from collections.abc import Callable
from urllib.parse import urlsplit

from flask import (
    Flask,
    Response,
    abort,
    current_app,
    g,
    redirect,
    request,
    session,
    url_for,
)
from itsdangerous import BadSignature, URLSafeSerializer

from grainlog.web.tokens import PairingCode, Tries
from grainlog.yard.page_visitors import Visitor, new_token

DEVICE_COOKIE = "grainlog_device"
GUEST_COOKIE = "grainlog_guest"
UNITS_COOKIE = "grainlog_units"
#: A year: the drying time of a slab; revoking works at once all the same.
COOKIE_SECONDS = 366 * 24 * 3600
FORM_TOKEN = "form_token"
FORM_HEADER = "X-Form-Token"
_SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
_LOCAL_NAMES = frozenset({"localhost", "127.0.0.1", "::1"})

HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; connect-src 'self'; "
        "font-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), geolocation=(), microphone=(), payment=(), usb=()",
}


def guest_may(view: Callable) -> Callable:
    """Mark a view that a link's visitor may see; it must leave out prices, places and owners when `g.visitor` is one."""
    view._guest_may = True
    return view


def here_only(view: Callable) -> Callable:
    """Mark a view that only this machine itself may use."""
    view._here_only = True
    return view


def open_to_all(view: Callable) -> Callable:
    """Mark a view that anybody may see: the pairing page and what it needs."""
    view._open_to_all = True
    return view


def takes(most_bytes: int) -> Callable:
    """Mark a view that takes a body of up to so many bytes; others take what a form needs."""

    def mark(view: Callable) -> Callable:
        view._takes = most_bytes
        return view

    return mark


def install(app: Flask, names: frozenset[str]) -> None:
    """Put the gate before every view of the page.

    names : host names and addresses under which this machine may be asked for, beside its local ones.
    """
    app.extensions["pairing"] = PairingCode()
    app.extensions["tries"] = Tries(most=20, seconds=600)
    allowed = frozenset(name.lower() for name in names) | _LOCAL_NAMES

    @app.before_request
    def enter():
        if _host_of(request.host) not in allowed:
            abort(421)
        g.visitor = _visitor()
        view = app.view_functions.get(request.endpoint or "")
        for_all = view is not None and getattr(view, "_open_to_all", False) or request.endpoint == "static"
        if (most := getattr(view, "_takes", None)) is not None:
            request.max_content_length = most
        # Before the body is looked at: a stranger's upload is not read.
        if (g.visitor is not None or for_all) and request.method not in _SAFE:
            _refuse_forged()
        if for_all:
            return None
        if g.visitor is None:
            return redirect(url_for("pairing.pair")) if _wants_page() else abort(403)
        if getattr(view, "_here_only", False) and g.visitor.kind != "here":
            abort(403)
        if g.visitor.kind == "guest" and not (getattr(view, "_guest_may", False) and request.method in _SAFE):
            abort(403)
        return None

    @app.after_request
    def leave(response: Response) -> Response:
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        # What a slab's page shows changes, and a shared phone should not keep it.
        response.headers.setdefault("Cache-Control", "no-store")
        return response

    app.jinja_env.globals["form_token"] = form_token


def form_token() -> str:
    """The token that a form of this browser carries, made at the first use."""
    if FORM_TOKEN not in session:
        session[FORM_TOKEN] = new_token()
    return session[FORM_TOKEN]


def signer(app: Flask | None = None) -> URLSafeSerializer:
    """What signs the cookies of devices and guests."""
    return URLSafeSerializer((app or current_app).secret_key, salt="grainlog visitor")


def keep_visitor(response: Response, cookie: str, token: str) -> Response:
    """Hand the visitor their cookie; no script can read it and no other site's request carries it."""
    response.set_cookie(
        cookie, signer().dumps(token), max_age=COOKIE_SECONDS, httponly=True,
        samesite="Strict" if cookie == DEVICE_COOKIE else "Lax",
    )  # fmt: skip
    return response


def _visitor() -> Visitor | None:
    visitors = current_app.extensions["yard"].visitors
    # A proxy's requests come from this machine too, but whoever speaks through it does not.
    forwarded = any(name in request.headers for name in ("X-Forwarded-For", "Forwarded", "X-Real-IP", "Via"))
    if _is_loopback(request.remote_addr) and _host_of(request.host) in _LOCAL_NAMES and not forwarded:
        return Visitor("here")
    for cookie, who in ((DEVICE_COOKIE, visitors.device), (GUEST_COOKIE, visitors.guest)):
        if (signed := request.cookies.get(cookie)) is not None:
            try:
                found = who(signer().loads(signed))
            except (BadSignature, AttributeError):
                continue
            if found is not None:
                return found
    return None


def _refuse_forged() -> None:
    site = request.headers.get("Sec-Fetch-Site")
    origin = request.headers.get("Origin")
    if site not in (None, "same-origin", "none") or (origin is not None and urlsplit(origin).netloc != request.host):
        abort(403)
    given = request.headers.get(FORM_HEADER) or request.form.get(FORM_TOKEN)
    if not given or FORM_TOKEN not in session or given != session[FORM_TOKEN]:
        abort(403)


def _wants_page() -> bool:
    return request.method in _SAFE and request.accept_mimetypes.accept_html


def _host_of(host: str) -> str:
    """The host without its port, as in `localhost:8123` or `[::1]:8123`."""
    return (urlsplit(f"//{host}").hostname or "").lower()


def _is_loopback(address: str | None) -> bool:
    try:
        return address is not None and ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False
