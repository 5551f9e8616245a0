"""The length of each check over time, with how sure each is; what a tape said beside what the photos say."""

import io

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from grainlog.checks.history import TAPE_U_MM, CheckHistory
from grainlog.errors import WrongUse
from grainlog.picture.check_colours import Stroke, strokes_of
from grainlog.picture.plot_axes import dated_axes
from grainlog.units.factors import MM_PER_INCH

FORMATS = ("png", "svg")
#: Of more checks than this only the longest are drawn.
MOST_DRAWN = 12
_INK, _QUIET = "#22262b", "#7b828a"


def draw_growth(history: CheckHistory, units: str = "in", kind: str = "png") -> bytes:
    """Length over time, 1600 x 1000 px or the same in SVG. Raises WrongUse where there is nothing to draw."""
    if kind not in FORMATS:
        raise WrongUse(f"A picture of checks over time is written as {' or '.join(FORMATS)}, not {kind}.")
    strokes = strokes_of(one.name for look in history.looks for one in look.sightings)
    taped = [look for look in history.hand if look.length_mm is not None]
    if not strokes and not taped:
        raise WrongUse(f"No check of slab {history.tag} was seen yet, so there is nothing to draw.")
    figure = Figure(figsize=(8.0, 5.0), dpi=200, facecolor="#ffffff")
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0.085, 0.105, 0.79, 0.755))
    unit = MM_PER_INCH if units == "in" else 1.0
    longest = {
        name: max(one.check.length for _, one in history.sightings_of(name)) for name in strokes if history.sightings_of(name)
    }
    drawn = sorted(longest, key=lambda name: -longest[name])[:MOST_DRAWN]
    ends = [_line(axes, history, name, strokes[name], unit) for name in drawn]
    _tape(axes, taped, unit)
    axes.set_ylim(bottom=0)
    days = [look.day for look in history.looks if look.counts] + [look.day for look in taped]
    margin = max((max(days) - min(days)) / 25, (max(days) - min(days)).resolution * 1)
    axes.set_xlim(min(days) - margin, max(days) + margin)
    _names(axes, ends, max(days) + margin)
    _waxed(axes, history)
    _frame(axes, figure, history, len(longest) - len(drawn), units)
    out = io.BytesIO()
    figure.savefig(out, format=kind, metadata={"Date": None} if kind == "svg" else None)
    return out.getvalue()


def _line(axes: Axes, history: CheckHistory, name: str, stroke: Stroke, unit: float):
    """One check's line; returns (last length in units, name, colour)."""
    seen = history.sightings_of(name)
    days = [look.day for look, _ in seen]
    length = [one.check.length / unit for _, one in seen]
    axes.errorbar(
        days, length, [2 * one.check.length_u / unit for _, one in seen], color=stroke.on_white, lw=2.0, marker="o", ms=4.5,
        elinewidth=0.9, capsize=2.5, ls=(0, (3, 1.5)) if stroke.dashed else "-",
    )  # fmt: skip
    return length[-1], name, stroke.on_white


def _tape(axes: Axes, taped, unit: float) -> None:
    for look in taped:
        axes.errorbar([look.day], [look.length_mm / unit], [2 * TAPE_U_MM / unit], fmt="D", ms=5, mfc="#ffffff", color=_INK, capsize=2.5)
        axes.annotate(
            f"tape, {look.check or look.end + ' end'}", (look.day, look.length_mm / unit), xytext=(6, -10),
            textcoords="offset points", fontsize=7.5, color=_INK,
        )  # fmt: skip


def _names(axes: Axes, ends, right) -> None:
    """Names beside the last points, pushed apart so that none covers another."""
    low, high = axes.get_ylim()
    step = 0.038 * (high - low)
    places, last = [], low - step
    for value, name, colour in sorted(ends):
        last = max(value, last + step)
        places.append((last, value, name, colour))
    over = max(0.0, places[-1][0] - high) if places else 0.0
    for place, value, name, colour in places:
        axes.annotate(
            name, (right, value), xytext=(right, place - over), textcoords="data", va="center", ha="left", fontsize=9,
            weight="bold", color=colour, annotation_clip=False,
        )  # fmt: skip


def _waxed(axes: Axes, history: CheckHistory) -> None:
    for look in history.hand:
        if look.wax is not None:
            said = f"{look.end or 'both'} end{'' if look.end else 's'} {'waxed' if look.wax else 'wax off'}"
            axes.axvline(look.day, color=_QUIET, lw=1.0, ls=(0, (1, 2)))
            axes.annotate(
                said, (look.day, 1.0), xycoords=("data", "axes fraction"), xytext=(3, -4), textcoords="offset points", rotation=90,
                fontsize=7.5, color=_QUIET, va="top",
            )  # fmt: skip


def _frame(axes: Axes, figure: Figure, history: CheckHistory, left_out: int, units: str) -> None:
    figure.text(0.085, 0.945, f"Slab {history.tag}: length of its checks", fontsize=13, color=_INK, weight="bold")
    first = history.running[0] if history.running else None
    said = "No check is seen to grow in the newest photos."
    if first is not None:
        per_week = first.change.per_week_mm / (MM_PER_INCH if units == "in" else 1.0)
        said = f"{len(history.running)} running; the fastest, {first.name}, by {per_week:.2g} {units} a week until {first.until}."
    figure.text(0.085, 0.898, said, fontsize=9.5, color=_QUIET)
    below = "Bars: two standard uncertainties; length of the part wider than 0.5 mm"
    below += f"; {left_out} shorter ones are left out" if left_out else ""
    figure.text(0.875, 0.018, below, fontsize=7.5, color=_QUIET, ha="right")
    dated_axes(axes, f"length, {units}")
