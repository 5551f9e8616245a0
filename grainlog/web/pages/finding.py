"""The find page: which slab, or which two, hold a top; where they lie, and what has to be lifted off to reach them."""

from dataclasses import dataclass

from flask import (
    Blueprint,
    Flask,
    current_app,
    redirect,
    render_template,
    request,
    url_for,
)

from grainlog.errors import GrainlogError
from grainlog.fit.defects import KINDS
from grainlog.fit.piece import Piece
from grainlog.web.errors import PageRefused
from grainlog.web.find_form import CHECK_WISHES, FACES, WAYS, read_form
from grainlog.web.find_shapes import LARGEST, DrawnTops
from grainlog.web.gate import takes
from grainlog.web.laid_drawing import LaidDrawing, of_found, of_pair
from grainlog.web.wording import units
from grainlog.yard.finding import Found, FoundSlab
from grainlog.yard.fit_pairs import FoundPair, FoundPairs, PairRequest
from grainlog.yard.fit_words import (
    lies_text,
    miss_text,
    notes,
    nothing_text,
    pair_fits_text,
    pair_notes,
    pair_remarks,
    piece_name,
    remarks,
    spare_text,
)
from grainlog.yard.life_state import STATUSES
from grainlog.yard.lifting_words import lifting_lines

pages = Blueprint("finding", __name__)


def begin(app: Flask) -> None:
    """Make room for shapes that are sent."""
    app.extensions["drawn tops"] = DrawnTops()


@dataclass(frozen=True)
class Answer:
    """One slab, or two, in words. lift : for each slab where it lies and lines about what lies above."""

    numbers: tuple[int, ...]
    about: str
    fits: str
    lines: tuple[str, ...]
    drawing: LaidDrawing
    lift: tuple[tuple[int, str, tuple[str, ...]], ...] = ()


@pages.get("/find")
def find():
    """The form and, once a top is named, its answers."""
    yard, tops = current_app.extensions["yard"], current_app.extensions["drawn tops"]
    form = read_form(request.args, units(), lambda mark: tops.get(mark).piece)
    answers: list[Answer] = []
    misses: list[Answer] = []
    said: list[str] = []
    problems = dict(form.problems)
    if form.request is not None:
        try:
            if isinstance(form.request, PairRequest):
                answers, misses, said = _pairs(yard.fits.pairs(form.request))
            else:
                answers, misses, said = _slabs(yard, yard.fits.find(form.request), form.pieces[0])
        except GrainlogError as error:
            if error.exit_code != 2:
                raise
            problems["top"] = str(error)
    searched = form.request is not None and not problems
    return render_template(
        "find.html", form=form, problems=problems, searched=searched, answers=answers, misses=misses, said=said,
        wanted=" and ".join(piece_name(piece, units()) for piece in form.pieces), ways=WAYS, faces=FACES,
        check_wishes=CHECK_WISHES, kinds=", ".join(KINDS), species=[(name, name) for name in yard.logs.species()],
        shape=None if "shape" not in form.typed or "shape" in problems else tops.get(form.typed["shape"]),
        statuses=[(name, name) for name, here in STATUSES.items() if here],
        longest_mm=max((one.drawing.width_mm for one in (*answers, *misses)), default=1.0),
    )  # fmt: skip


@pages.post("/find/shape")
@takes(LARGEST)
def send_shape():
    """Take a shape of one's own from an SVG or DXF file, and find wood for it."""
    file = request.files.get("drawing")
    if file is None or not file.filename:
        raise PageRefused("No file was chosen; choose an SVG or DXF drawing of the top.")
    mark = current_app.extensions["drawn tops"].take(file.stream.read(LARGEST + 1), file.filename)
    return redirect(url_for(".find", shape=mark), 303)


def _slabs(yard, found: Found, piece: Piece) -> tuple[list[Answer], list[Answer], list[str]]:
    answers = [_slab(one, _lifting(yard, one.candidate.number, one.candidate.place)) for one in found.answers]
    said = remarks(found)
    if not answers:
        said.insert(0, nothing_text(found, piece, units()))
    return answers, [_slab(one, ()) for one in found.misses], said


def _slab(one: FoundSlab, lift: tuple) -> Answer:
    fits = (
        "; ".join(f"fits by {spare_text(laid, units())}" for laid in one.laid) if one.fits else miss_text(one, units())
    )
    lines = [lies_text(laid, units()) for laid in one.laid if laid.shape is not None] if one.fits else []
    lines += [f"{one.waste_share:.0%} of its wood is left over", *notes(one, units())] if one.fits else []
    about = ", ".join([one.candidate.species or "species not said", f"log {one.candidate.log}"])
    return Answer((one.candidate.number,), about, fits, tuple(lines), of_found(one), lift)


def _lifting(yard, number: int, place: str) -> tuple:
    lines = tuple(lifting_lines(yard.lifting(number), units())) if place else ()
    return ((number, place, lines),)


def _pairs(found: FoundPairs) -> tuple[list[Answer], list[Answer], list[str]]:
    said = [] if found.answers else ["No two slabs in the yard make that top."]
    said += pair_remarks(found)
    return [_pair(one) for one in found.answers], [_pair(one) for one in found.misses], said


def _pair(one: FoundPair) -> Answer:
    lines = (f"{one.waste_share:.0%} of the wood is left over", *pair_notes(one, units()))
    lift = tuple((slab.number, slab.place, ()) for slab in (one.first, one.second))
    return Answer((one.first.number, one.second.number), f"log {one.first.log}", pair_fits_text(one, units()), lines, of_pair(one), lift)
