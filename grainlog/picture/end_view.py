"""A sawing plan as seen from the small end: the slabs in the log, the cuts, what the mill cannot reach."""

import io

import numpy as np
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Polygon

from grainlog.errors import WrongUse
from grainlog.fit.sawing_plan import PlannedSlab, SawingPlan
from grainlog.units.writing import format_length, format_quantity

_INK, _QUIET, _PAPER, _OFF = "#22262b", "#7b828a", "#ffffff", "#b3402e"
_WOOD, _HEART, _BARK, _OFFCUT = "#d8a468", "#bf8448", "#5b4636", "#eadfce"
FORMATS = ("png", "svg")


def draw_end_view(plan: SawingPlan, title: str, units: str, kind: str = "png") -> bytes:
    """The end view, 1600 px wide or the same in SVG; lengths in `units`. Raises WrongUse for another format."""
    if kind not in FORMATS:
        raise WrongUse(f"An end view is written as {' or '.join(FORMATS)}, not {kind}.")
    figure = Figure(figsize=(8.0, 5.6), dpi=200, facecolor=_PAPER)
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0.02, 0.07, 0.96, 0.79))
    axes.set_aspect("equal")
    axes.axis("off")
    outer = plan.log.large_mm / 2 + plan.log.bark_mm
    _log(axes, plan)
    for number, slab in enumerate(plan.slabs, 1):
        _slab(axes, plan, slab, number, units, outer)
    _cuts(axes, plan, units, outer)
    # The names of the slabs stand to the right of the log, those of the cuts to the left.
    axes.set_xlim(-2.05 * outer, 2.45 * outer)
    axes.set_ylim(-1.1 * outer, 1.1 * outer)
    figure.text(0.04, 0.945, title, fontsize=13, color=_INK, weight="bold")
    figure.text(0.04, 0.9, _below(plan, units), fontsize=9.5, color=_QUIET)
    figure.text(
        0.04, 0.025, "Seen from the small end; dashed: the large end. Widths: mean of both faces over the length, "
        "± two standard uncertainties.", fontsize=7.5, color=_QUIET,
    )  # fmt: skip
    out = io.BytesIO()
    # Words stay words in SVG, and the same plan gives the same file.
    with rc_context({"svg.fonttype": "none", "svg.hashsalt": "grainlog"}):
        figure.savefig(out, format=kind, metadata={"Date": None} if kind == "svg" else None)
    return out.getvalue()


def _log(axes: Axes, plan: SawingPlan) -> None:
    small, large, bark = plan.log.small_mm / 2, plan.log.large_mm / 2, plan.log.bark_mm
    if bark > 0:
        axes.add_patch(Circle((0, 0), small + bark, facecolor=_BARK, edgecolor="none"))
    axes.add_patch(Circle((0, 0), small, facecolor=_OFFCUT, edgecolor="none"))
    axes.add_patch(Circle((0, 0), large + bark, fill=False, edgecolor=_QUIET, lw=0.9, ls=(0, (5, 4))))


def _slab(axes: Axes, plan: SawingPlan, slab: PlannedSlab, number: int, units: str, outer: float) -> None:
    heights = np.linspace(slab.top_mm, slab.bottom_mm, 40)
    half = np.sqrt(np.maximum((plan.log.small_mm / 2) ** 2 - heights**2, 0.0))
    right = half if plan.right_mm is None else np.minimum(half, plan.right_mm)
    left = half if plan.left_mm is None else np.minimum(half, -plan.left_mm)
    shape = np.concatenate([np.column_stack([right, heights]), np.column_stack([-left, heights])[::-1]])
    axes.add_patch(Polygon(shape, facecolor=_HEART if slab.holds_pith else _WOOD, edgecolor=_PAPER, lw=1.0))
    middle = (slab.top_mm + slab.bottom_mm) / 2
    axes.text(0, middle, str(number), ha="center", va="center", fontsize=9, color=_INK, weight="bold")
    edge = float(np.max(right))
    axes.plot([edge + 0.02 * outer, 1.1 * outer], [middle, middle], color=_QUIET, lw=0.5)
    axes.text(
        1.13 * outer, middle,
        f"{format_quantity(slab.width_mm, units)},  {format_quantity(slab.board_feet, units, 'board_feet')}",
        ha="left", va="center", fontsize=8.5, color=_INK,
    )  # fmt: skip


def _cuts(axes: Axes, plan: SawingPlan, units: str, outer: float) -> None:
    too_wide = [cut for cut in plan.cuts if cut.excess_mm > 0]
    for cut in too_wide:
        axes.plot([-1.06 * outer, cut.width_mm / 2], [cut.at_mm, cut.at_mm], color=_OFF, lw=0.9)
        axes.text(
            -1.09 * outer, cut.at_mm, f"{format_length(cut.excess_mm, units)} too wide", ha="right", va="center",
            fontsize=8, color=_OFF,
        )  # fmt: skip
    for edge in (plan.left_mm, plan.right_mm):
        if edge is not None:
            axes.plot([edge, edge], [-1.04 * outer, 1.04 * outer], color=_OFF, lw=1.4)
            axes.text(edge, 1.06 * outer, "trim", ha="center", va="bottom", fontsize=8.5, color=_OFF)


def _below(plan: SawingPlan, units: str) -> str:
    count = len(plan.slabs)
    said = f"{count} slab{'' if count == 1 else 's'} of {format_length(plan.mill.thickness_mm, units)}"
    said += f", {format_quantity(plan.board_feet, units, 'board_feet')}, pith {plan.pith}"
    if plan.trim_mm > 0:
        sides = "one side" if plan.sides == 1 else "both sides"
        said += f"; trim {sides} {format_length(plan.trim_mm, units)} deep"
    return said
