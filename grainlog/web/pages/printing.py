"""What is printed: scale cards and tags, true to size."""

from flask import (
    Blueprint,
    Response,
    current_app,
    flash,
    redirect,
    render_template,
    request,
    url_for,
)

from grainlog.errors import WrongUse
from grainlog.sheets.card_pdf import card_pdf
from grainlog.sheets.cards import ALL_CARDS, read_card_numbers
from grainlog.sheets.paper import PAPERS
from grainlog.web.errors import PageRefused
from grainlog.web.print_orders import layout_of, numbers_of, paper_of
from grainlog.web.wording import MenuEntry, read_length, units
from grainlog.yard.tags import tag_of

pages = Blueprint("printing", __name__)
MENU = (MenuEntry(30, "Print", "printing.printing"),)


@pages.get("/print")
def printing(problem: str = "", failed: str = ""):
    """What there is to print."""
    yard = current_app.extensions["yard"]
    return render_template(
        "printing.html",
        papers=PAPERS,
        logs=[log.name for log in yard.logs.all()],
        waiting=waiting_text([one.number for one in yard.tags.reserved()]),
        bars=yard.settings.print_bars,
        typed=request.values,
        problem=problem,
        failed=failed,
    )


@pages.get("/print/cards.pdf")
def cards():
    """Scale cards as a PDF."""
    try:
        asked = request.args.get("cards", "").strip()
        paper, numbers = paper_of(request.args), read_card_numbers(asked) if asked else ALL_CARDS
    except WrongUse as problem:
        return printing(str(problem), "cards"), 400
    return _pdf(card_pdf(numbers, paper), f"grainlog-cards-{paper.title.lower()}.pdf")


@pages.post("/print/bars")
def bars():
    """Remember how long the bars of the printed cards really are."""
    try:
        told = [read_length(request.form.get(name, "")) for name in ("bar_across", "bar_down")]
        current_app.extensions["yard"].settings.set_print_bars(*told)
    except WrongUse as problem:
        return printing(str(problem), "bars"), 400
    flash("Kept how long the bars are; photos added from now on go by it.")
    return redirect(url_for(".printing"), 303)


@pages.get("/print/tags.pdf")
def tags():
    """Tags of slabs, of a log, or of numbers that wait for their slab, as a PDF."""
    # Loads cv2 and numpy.
    from grainlog.sheets.tag_pdf import tag_sheet, trial_sheet
    from grainlog.sheets.tags import log_numbers, slab_labels

    yard = current_app.extensions["yard"]
    try:
        paper = paper_of(request.args)
        layout = layout_of(request.args, paper, units())
        if request.args.get("trial"):
            if layout is None:
                raise PageRefused("A trial page shows label stock; describe the stock first.")
            return _pdf(trial_sheet(paper, layout), f"grainlog-label-trial-{paper.title.lower()}.pdf")
        numbers = numbers_of(request.args.get("slabs", ""))
        if log := request.args.get("log", "").strip():
            numbers = tuple(dict.fromkeys([*numbers, *log_numbers(yard, log)]))
        if not numbers:
            raise PageRefused("Say which slabs the tags are for: their numbers, or a log.")
        labels = slab_labels(yard, numbers)
    except WrongUse as problem:
        return printing(str(problem), "tags"), 400
    return _pdf(tag_sheet(labels, paper, layout), f"grainlog-tags-{paper.title.lower()}.pdf")


@pages.post("/print/numbers")
def numbers():
    """Give away the next numbers, for slabs that are not in the yard yet."""
    # Loads cv2.
    from grainlog.sheets.tags import blank_labels

    count = request.form.get("count", "")
    try:
        if not (count.isdecimal() and len(count) < 4 and 0 < int(count) <= 96):
            raise PageRefused(f"'{count}' is no number of tags from 1 to 96; they fill twelve sheets.")
        labels = blank_labels(current_app.extensions["yard"], int(count), request.form.get("log", "").strip() or None)
    except WrongUse as problem:
        return printing(str(problem), "numbers"), 400
    first, last = labels[0].text.tag, labels[-1].text.tag
    flash(f"Numbers {first} to {last} now wait for their slabs; download their tags below.")
    return redirect(url_for(".printing", slabs=f"{first}-{last}" if first != last else first, _anchor="tags"), 303)


def _pdf(data: bytes, name: str) -> Response:
    response = current_app.response_class(data, mimetype="application/pdf")
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def waiting_text(waiting: list[int]) -> str:
    """Numbers as a person writes them: 3 to 8, 12."""
    runs: list[list[int]] = []
    for number in waiting:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(tag_of(run[0]) if len(run) == 1 else f"{tag_of(run[0])}-{tag_of(run[-1])}" for run in runs)
