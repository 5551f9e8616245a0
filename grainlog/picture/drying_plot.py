"""A slab's drying as a picture: its readings, the curve through them, where it is going, and how sure that is."""

import io
from datetime import date, timedelta

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from grainlog.drying.assess import Assessed
from grainlog.drying.reading import Reading, at_least, reading_u
from grainlog.errors import WrongUse
from grainlog.picture.plot_axes import dated_axes

_WOOD, _INK, _QUIET, _AIR, _PAPER = "#8a4b1f", "#22262b", "#7b828a", "#4f86a6", "#ffffff"
_MARKS = {"pin": "o", "pinless": "s", "oven-dry": "D", "weight": "^"}
_MOST_AHEAD = timedelta(days=3 * 365)
FORMATS = ("png", "svg")


def draw_drying(assessed: Assessed, title: str, kind: str = "png") -> bytes:
    """A slab's drying, 1600 x 1000 px or the same in SVG. Raises WrongUse without a reading, or for another format."""
    if kind not in FORMATS:
        raise WrongUse(f"A picture of drying is written as {' or '.join(FORMATS)}, not {kind}.")
    if not assessed.readings:
        raise WrongUse("The slab has no reading yet, so there is nothing to draw; enter one first.")
    figure = Figure(figsize=(8.0, 5.0), dpi=200, facecolor=_PAPER)
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0.085, 0.11, 0.775, 0.76))
    first, last = _span(assessed)
    axes.set_xlim(first, last)
    top = _top(assessed)
    axes.set_ylim(0, top)
    _air(axes, assessed, first, last)
    _curve(axes, assessed, first, last)
    _points(axes, assessed.readings, top)
    _target(axes, assessed, first, last)
    _frame(axes, figure, title, _below(assessed))
    out = io.BytesIO()
    metadata = {"Date": None} if kind == "svg" else None
    figure.savefig(out, format=kind, metadata=metadata)
    return out.getvalue()


def _span(assessed: Assessed) -> tuple[date, date]:
    days = [one.day for one in assessed.readings]
    first, last = min(days), max(*days, assessed.today)
    forecast = assessed.forecast
    if forecast is not None:
        end = forecast.late or (forecast.day or last) + timedelta(days=365)
        last = min(max(last, end), last + _MOST_AHEAD)
    margin = max((last - first) // 20, timedelta(days=5))
    return first - margin, last + margin


def _top(assessed: Assessed) -> float:
    highest = max(100 * min(one.moisture + 2 * reading_u(one), one.moisture * 1.4) for one in assessed.readings)
    return max(20.0, 1.08 * highest, 140 * assessed.target)


def _air(axes: Axes, assessed: Assessed, first: date, last: date) -> None:
    emc = assessed.air.equilibrium
    axes.axhspan(100 * (emc.value - 2 * emc.u), 100 * (emc.value + 2 * emc.u), color=_AIR, alpha=0.13, lw=0)
    axes.axhline(100 * emc.value, color=_AIR, lw=1.0)
    said = "shed's air" if assessed.air.measured else "air, not\nmeasured"
    above = emc.value >= assessed.target
    _beside(axes, last, 100 * emc.value, f"{said}\n{100 * emc.value:.0f} %", _AIR, "bottom" if above else "top")


def _curve(axes: Axes, assessed: Assessed, first: date, last: date) -> None:
    curve = assessed.curve
    if curve is None:
        return
    count = 160
    days = [curve.first + (last - curve.first) * i / (count - 1) for i in range(count)]
    low, middle, high = 100 * curve.band(days)
    axes.fill_between(days, low, high, color=_WOOD, alpha=0.16, lw=0)
    ahead = next((i for i, day in enumerate(days) if day >= curve.last), count)
    axes.plot(days[: ahead + 1], middle[: ahead + 1], color=_WOOD, lw=2.0)
    axes.plot(days[ahead:], middle[ahead:], color=_WOOD, lw=2.0, ls=(0, (4, 2)))


def _points(axes: Axes, readings: tuple[Reading, ...], top: float) -> None:
    for method, mark in _MARKS.items():
        some = [one for one in readings if one.method == method]
        if not some:
            continue
        axes.errorbar(
            [one.day for one in some], [100 * one.moisture for one in some],
            [[100 * (one.moisture - at_least(one)) for one in some], [200 * reading_u(one) for one in some]],
            fmt=mark, ms=5.5, color=_INK, mfc=_PAPER if method == "weight" else _INK, elinewidth=0.9, capsize=2.5, label=method,
        )  # fmt: skip
    axes.legend(loc="upper right", frameon=False, fontsize=8.5, labelcolor=_INK, handletextpad=0.3)


def _target(axes: Axes, assessed: Assessed, first: date, last: date) -> None:
    target = 100 * assessed.target
    above = assessed.air.equilibrium.value >= assessed.target
    axes.axhline(target, color=_INK, lw=1.0, ls=(0, (1, 2)))
    _beside(axes, last, target, f"target\n{target:.0f} %", _INK, "top" if above else "bottom")
    forecast = assessed.forecast
    if forecast is None or forecast.early is None or forecast.early > last:
        return
    late = min(forecast.late or last, last)
    axes.plot([max(forecast.early, first), late], [target, target], color=_WOOD, lw=4.5, solid_capstyle="butt")
    if forecast.day is not None and forecast.day <= last:
        axes.plot([forecast.day], [target], marker="|", ms=13, mew=2.2, color=_WOOD)


def _beside(axes: Axes, last: date, y: float, text: str, colour: str, side: str) -> None:
    axes.annotate(
        text, (last, y), xytext=(6, 0), textcoords="offset points", va=side, ha="left", fontsize=8.5, color=colour,
        annotation_clip=False,
    )  # fmt: skip


def _frame(axes: Axes, figure: Figure, title: str, below: str) -> None:
    figure.text(0.085, 0.945, title, fontsize=13, color=_INK, weight="bold")
    figure.text(0.085, 0.898, below, fontsize=9.5, color=_QUIET)
    figure.text(0.86, 0.018, "Bars and bands: two standard uncertainties", fontsize=7.5, color=_QUIET, ha="right")
    dated_axes(axes, "moisture, % of dry weight")


def _below(assessed: Assessed) -> str:
    if assessed.forecast is None:
        return "Too few readings of one kind for a curve: three days are needed."
    return assessed.forecast.sentence
