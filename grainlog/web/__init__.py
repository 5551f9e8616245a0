"""The shed page: the yard on a phone and a screen, served from the machine that keeps it.

`make_app` is the page of one yard as a Flask application; `serve` runs it under waitress. Flask and waitress because the
page is plain server-rendered HTML with a few dozen routes: Flask carries templates that escape by themselves, signed
cookies and a test client; waitress is one process with threads, in pure Python, on every system, and its yard opens one
database connection per use, so threads share nothing.
"""

from grainlog.web.app import make_app
from grainlog.web.serving import serve

__all__ = ["make_app", "serve"]
