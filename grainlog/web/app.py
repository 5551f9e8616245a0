"""The page of one yard, put together: gate, words, errors, and the pages themselves."""

import logging
import threading
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules

from flask import Flask, g, render_template, request
from werkzeug.exceptions import HTTPException

from grainlog.errors import GrainlogError
from grainlog.web import gate, pages, wording
from grainlog.web.tokens import page_key
from grainlog.yard import NoSuchSlab, Yard

#: A form with a drawn outline of some thousand points fits; photos have a limit of their own (`capture`).
FORM_BYTES = 2_000_000
FORM_FIELDS = 2000

_SENTENCES = {
    400: "That request cannot be read; go back and try again.",
    403: "This is not for this device, or the page was open for too long; open it again from the wall.",
    404: "There is no such page in this yard.",
    405: "That cannot be done here; go back to the wall.",
    413: "That is more than this page takes at once; send it in smaller parts.",
    415: "That is not a photo this page can read; send a JPEG, HEIC, PNG, TIFF or WebP.",
    421: "This machine is not known under that name; use the address that was shown when the page was started.",
    429: "Too many tries; wait ten minutes.",
}


def make_app(yard: Yard, names: frozenset[str] = frozenset()) -> Flask:
    """The page of a yard, as a Flask application.

    names : host names and addresses of this machine under which devices of the network ask for the page; empty for
        this machine alone.

    The yard must stay open as long as the application is used. Every module of `grainlog.web.pages` adds its own views
    (its `pages`, a Blueprint), and may start what works in the background (its `begin(app)`). Raises PageError.
    """
    app = Flask("grainlog.web", root_path=str(Path(__file__).parent))
    app.secret_key = page_key(yard.folder)
    app.config.update(
        MAX_CONTENT_LENGTH=FORM_BYTES,
        MAX_FORM_MEMORY_SIZE=FORM_BYTES,
        MAX_FORM_PARTS=FORM_FIELDS,
        SESSION_COOKIE_NAME="grainlog_form",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Strict",
        SEND_FILE_MAX_AGE_DEFAULT=3600,
    )
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    app.extensions["yard"] = yard
    app.extensions["stop"] = threading.Event()
    gate.install(app, names)
    wording.install(app)
    _answer_errors(app)
    modules = [import_module(f"{pages.__name__}.{found.name}") for found in iter_modules(pages.__path__)]
    for module in modules:
        if hasattr(module, "pages"):
            app.register_blueprint(module.pages)
    app.jinja_env.globals["menu"] = sorted(
        (entry for module in modules for entry in getattr(module, "MENU", ())), key=lambda entry: entry.rank
    )
    for module in modules:
        if hasattr(module, "begin"):
            module.begin(app)
    return app


def _answer_errors(app: Flask) -> None:
    @app.errorhandler(GrainlogError)
    def failed(error: GrainlogError):
        return _refusal(str(error), 404 if isinstance(error, NoSuchSlab) else 400 if error.exit_code == 2 else 500)

    @app.errorhandler(HTTPException)
    def refused(error: HTTPException):
        if error.code is None or error.code < 400:
            return error
        return _refusal(_SENTENCES.get(error.code, error.description or "That cannot be done."), error.code)

    @app.errorhandler(Exception)
    def broken(error: Exception):
        logging.getLogger("grainlog.web").error("%s %s", request.method, request.path, exc_info=error)
        return _refusal("Something in this page is broken; nothing was changed. What happened is in the program's window.", 500)


def _refusal(sentence: str, code: int):
    if request.accept_mimetypes.best_match(["text/html", "application/json"]) == "application/json":
        return {"problem": sentence}, code
    g.setdefault("visitor", None)
    return render_template("refused.html", sentence=sentence, code=code), code
