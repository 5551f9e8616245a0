"""Axes of a plot over time, as all plots here have them: few lines, quiet figures, days written short."""

from matplotlib.axes import Axes
from matplotlib.dates import AutoDateLocator, ConciseDateFormatter

QUIET = "#7b828a"


def dated_axes(axes: Axes, upright: str) -> None:
    """Dress axes whose x are days; `upright` says what y is."""
    axes.set_ylabel(upright, color=QUIET, fontsize=9)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(QUIET)
    axes.tick_params(colors=QUIET, labelsize=8.5)
    locator = AutoDateLocator(minticks=4, maxticks=8)
    axes.xaxis.set_major_locator(locator)
    axes.xaxis.set_major_formatter(ConciseDateFormatter(locator, show_offset=False))
    axes.grid(axis="y", color="#e6e8ea", lw=0.7)
    axes.set_axisbelow(True)
