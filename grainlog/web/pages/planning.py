"""The sawing plan: before the first cut, which slabs a log will give, beside what photos measured of it afterwards."""

from threading import Lock

from flask import Blueprint, current_app, render_template, request, url_for

from grainlog.errors import GrainlogError
from grainlog.fit.plan_words import mill_warnings, plan_text, rules_text
from grainlog.web.errors import PageRefused
from grainlog.web.plan_form import FIELDS, NEEDED, SIDES, PlanForm, read_plan
from grainlog.web.wording import MenuEntry, units
from grainlog.yard.query import SlabRow

pages = Blueprint("planning", __name__)
MENU = (MenuEntry(21, "Sawing plan", "planning.plan"),)
#: matplotlib's settings are shared between threads.
_drawing = Lock()


@pages.get("/plan")
def plan():
    """The form and, once the log is described, its plan."""
    form = read_plan(request.args, units())
    measured, unknown = _measured(form)
    problems = {**form.problems, **({"beside": unknown} if unknown else {})}
    made = form.plan
    return render_template(
        "plan.html", form=form, problems=problems, made=made, fields=FIELDS, needed=NEEDED, sides=SIDES, measured=measured,
        logs=[(log.name, log.name) for log in current_app.extensions["yard"].logs.all()],
        said=plan_text(made, units()) if made else "", warnings=mill_warnings(made, units()) if made else [],
        rules=rules_text(made.log) if made else "", picture=url_for(".end_view", **form.typed),
    )  # fmt: skip


@pages.get("/plan/end-view.svg")
def end_view():
    """The plan as seen from the small end."""
    # matplotlib is slow to load.
    from grainlog.picture.end_view import draw_end_view

    form = read_plan(request.args, units())
    if form.plan is None:
        raise PageRefused("There is no plan to draw; describe the log on the page of the sawing plan.")
    with _drawing:
        drawn = draw_end_view(form.plan, "Sawing plan", units(), "svg")
    return current_app.response_class(drawn, mimetype="image/svg+xml")


def _measured(form: PlanForm) -> tuple[dict[int, SlabRow], str]:
    """The slabs of the log that is to stand beside the plan, by their place in it; and what is wrong with its name."""
    if form.plan is None or "beside" not in form.typed:
        return {}, ""
    try:
        return {row.order: row for row in current_app.extensions["yard"].logs.slabs(form.typed["beside"])}, ""
    except GrainlogError as error:
        return {}, str(error)
