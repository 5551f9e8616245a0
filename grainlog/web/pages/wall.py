"""The shed wall: every slab drawn as its true outline, all to one scale, and a top laid on where it fits."""

from dataclasses import dataclass

from flask import (
    Blueprint,
    Flask,
    Response,
    current_app,
    g,
    make_response,
    render_template,
    request,
    url_for,
)

from grainlog.web.errors import PageRefused
from grainlog.web.gate import guest_may
from grainlog.web.wall_order import Order, Orders, summary
from grainlog.web.wall_tiles import Tile, Tiles, stand
from grainlog.web.wall_wish import ORDERS, SCALES, Wish, read_wish
from grainlog.web.wording import MenuEntry, units
from grainlog.yard.life_state import STATUSES

pages = Blueprint("wall", __name__)
MENU = (MenuEntry(1, "Wall", "wall.wall", for_guests=True),)

#: Slabs in one answer, and laid on again at once.
PART, AGAIN = 60, 6
#: So many stand in one answer at most, for a wall that is to be as long again as it was.
LONGEST = 600
#: Seconds spent on laying pieces before an answer goes out; the slabs left over are asked for again, a few at a time.
LAYING_SECONDS = 1.0


@dataclass(frozen=True)
class _Asked:
    wish: Wish
    order: Order


def begin(app: Flask) -> None:
    """Make room for what the wall remembers between its parts."""
    yard = app.extensions["yard"]
    app.extensions["wall orders"], app.extensions["wall tiles"] = Orders(yard), Tiles(yard)


@pages.get("/")
@guest_may
def wall():
    """The wall from its first slab or another on, or whole for printing."""
    asked, start, whole = _asked(), _start(), "whole" in request.args
    wish, order = asked.wish, asked.order
    tiles = _tiles(asked, start, len(order.rows) if whole else PART)
    left = start + len(tiles) < len(order.rows)
    return render_template(
        "wall.html", wish=wish, tiles=tiles, stand=stand(order.tallest_mm, wish.scale, units()), caption_px=96 if wish.pieces else 68,
        summary=_told(asked), next_start=start + PART if left else None, next=_next(asked, start + PART), scales=SCALES, **_choices(),
    )  # fmt: skip


def _choices() -> dict:
    """What the lists of the form hold, (value, what it says) each."""
    yard = current_app.extensions["yard"]
    places = [] if not g.visitor.may_write else yard.places.stacks()
    named = [" ".join(part for part in (shed, stack) if part) for shed, stack, _ in places]
    return {
        "species": [(name, name) for name in yard.logs.species()],
        "places": [(name, name) for name in named],
        "statuses": [(name, name) for name, here in STATUSES.items() if here],
        "orders": [(key, said) for key, (said, _, _) in ORDERS.items() if key != "tag"],
    }


@pages.get("/wall/more")
@guest_may
def more():
    """The slabs that stand next on the wall, to be put behind those already there."""
    asked, start = _asked(), _start()
    count = min(max(request.args.get("count", PART, type=int), PART), LONGEST)
    answer = _fragment(asked, _tiles(asked, start, count))
    following = _next(asked, start + count)
    if following:
        answer.headers["X-Wall-Next"] = following
    return answer


@pages.get("/wall/laid")
@guest_may
def laid():
    """A few slabs of the wall again, with the top laid on them."""
    asked = _asked()
    numbers = {number for number in request.args.getlist("slab", type=int)[:AGAIN]}
    rows = [row for row in asked.order.rows if row.number in numbers]
    tiles = current_app.extensions["wall tiles"].of(rows, asked.order, asked.wish.pieces, units())
    answer = _fragment(asked, tiles)
    answer.headers["X-Wall-Told"] = _told(asked)
    return answer


def _told(asked: _Asked) -> str:
    states = current_app.extensions["wall tiles"].states(asked.order, asked.wish.pieces)
    return summary(asked.wish, asked.order, units(), states)


def _asked() -> _Asked:
    guest = not g.visitor.may_write
    wish = read_wish(request.args, units(), guest)
    return _Asked(wish, current_app.extensions["wall orders"].of(wish))


def _tiles(asked: _Asked, start: int, count: int) -> list[Tile]:
    rows = asked.order.rows[start : start + count]
    return current_app.extensions["wall tiles"].of(rows, asked.order, asked.wish.pieces, units(), LAYING_SECONDS)


def _fragment(asked: _Asked, tiles: list[Tile]) -> Response:
    drawn = stand(asked.order.tallest_mm, asked.wish.scale, units())
    return make_response(render_template("wall_tiles.html", tiles=tiles, stand=drawn))


def _next(asked: _Asked, start: int) -> str | None:
    return url_for(".more", **asked.wish.asked(start=str(start))) if start < len(asked.order.rows) else None


def _start() -> int:
    start = request.args.get("start", 0, type=int)
    if start < 0:
        raise PageRefused("The wall begins at its first slab.")
    return start
