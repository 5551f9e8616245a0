"""Slabs with the pieces laid on them, all to one scale, as PNG or SVG."""

import io
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from matplotlib.path import Path

from grainlog.errors import WrongUse
from grainlog.units.factors import MM_PER_INCH

FORMATS = ("png", "svg")
_WOOD, _EDGE, _INK, _QUIET, _PAPER, _MISS = "#c89560", "#7a4e28", "#22262b", "#6d747b", "#ffffff", "#b0246f"
_TREATED = {"avoid": ("#3a2516", 0.9), "fill": ("#4f86a6", 0.75), "leave": ("#9a6a3c", 0.6)}
_WIDE_IN, _DPI = 10.0, 160
_TEXT_SHARE = 0.34


@dataclass(frozen=True, eq=False)
class Drawing:
    """One slab, or the two parts of a pair, in the picture.

    name, said : its name, and lines that say how it fits
    wood : polygons, mm; voids in them stay open
    pieces : polygons, mm
    misses : pieces where they come nearest to fitting, mm
    defects : (polygon, treatment)
    """

    name: str
    said: tuple[str, ...]
    wood: tuple[shapely.Geometry, ...]
    pieces: tuple[shapely.Polygon, ...] = ()
    misses: tuple[shapely.Polygon, ...] = ()
    defects: tuple[tuple[shapely.Geometry, str], ...] = field(default=())


def draw_laid_out(drawings: Sequence[Drawing], title: str, units: str, kind: str = "png") -> bytes:
    """All drawings below each other to one scale. Raises WrongUse for none, or for another format."""
    if kind not in FORMATS:
        raise WrongUse(f"A picture of slabs is written as {' or '.join(FORMATS)}, not {kind or 'without an ending'}.")
    if not drawings:
        raise WrongUse("No slab was found, so there is nothing to draw.")
    boxes = [shapely.union_all(one.wood).bounds for one in drawings]
    longest = max(right - left for left, _, right, _ in boxes)
    gap = 0.05 * longest
    # Room for the lines of text beside a narrow slab.
    line = longest / (1 - _TEXT_SHARE) * 0.021
    heights = [
        max(high - low, line * (1.6 + len(one.said))) for one, (_, low, _, high) in zip(drawings, boxes, strict=True)
    ]
    across, tall = longest / (1 - _TEXT_SHARE), sum(heights) + gap * (len(heights) + 1) + 5 * line
    figure = Figure(figsize=(_WIDE_IN, _WIDE_IN * tall / across), dpi=_DPI, facecolor=_PAPER)
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_xlim(-_TEXT_SHARE * across - 0.0, longest + 0.02 * across)
    axes.set_ylim(tall, 0)
    axes.set_aspect("equal", anchor="NW")
    axes.axis("off")
    left = -_TEXT_SHARE * across + 0.02 * across
    axes.text(left, 1.6 * line, title, fontsize=12, fontweight="bold", color=_INK, va="center")
    y = 3 * line + gap / 2
    for one, (x0, low, _, high), height in zip(drawings, boxes, heights, strict=True):
        _draw_one(axes, one, x0, y + (height + (high - low)) / 2 + low, line)
        axes.text(left, y + 0.7 * line, one.name, fontsize=11, fontweight="bold", color=_INK, va="center")
        for row, said in enumerate(one.said):
            axes.text(left, y + (2.0 + row) * line, said, fontsize=8.5, color=_QUIET, va="center")
        y += height + gap
    _scale_bar(axes, units, longest, y + 0.2 * line, line)
    out = io.BytesIO()
    figure.savefig(out, format=kind, metadata={"Date": None} if kind == "svg" else None)
    return out.getvalue()


def _draw_one(axes: Axes, one: Drawing, x0: float, base: float, line: float) -> None:
    def placed(shape: shapely.Geometry) -> shapely.Geometry:
        # y runs up in the slab frame and down the page.
        return shapely.transform(shape, lambda points: np.stack([points[:, 0] - x0, base - points[:, 1]], axis=1))

    for wood in one.wood:
        _patch(axes, placed(wood), facecolor=_WOOD, edgecolor=_EDGE, linewidth=0.9)
    for shape, treatment in one.defects:
        colour, alpha = _TREATED[treatment]
        _patch(axes, placed(shape), facecolor=colour, edgecolor=colour, linewidth=0.6, alpha=alpha)
    for piece in one.pieces:
        _patch(axes, placed(piece), facecolor=(1, 1, 1, 0.42), edgecolor=_INK, linewidth=1.6)
    for piece in one.misses:
        _patch(axes, placed(piece), facecolor="none", edgecolor=_MISS, linewidth=1.5, linestyle=(0, (5, 3)))
        off = placed(piece.difference(shapely.union_all(one.wood)))
        _patch(axes, off, facecolor=_MISS, edgecolor=_MISS, linewidth=0.8, alpha=0.85)


def _patch(axes: Axes, shape: shapely.Geometry, **style) -> None:
    for part in shapely.get_parts(shape):
        if part.geom_type != "Polygon" or part.is_empty:
            continue
        rings = [shapely.get_coordinates(ring) for ring in (part.exterior, *part.interiors)]
        codes = [Path.MOVETO, *[Path.LINETO]]
        path = Path.make_compound_path(*[Path(ring, [codes[0], *[codes[1]] * (len(ring) - 1)]) for ring in rings])
        axes.add_patch(PathPatch(path, joinstyle="round", **style))


def _scale_bar(axes: Axes, units: str, longest: float, y: float, line: float) -> None:
    size, name = (12 * MM_PER_INCH, "1 ft") if units == "in" else (500.0, "500 mm")
    if size > longest / 2:
        size, name = (3 * MM_PER_INCH, "3 in") if units == "in" else (50.0, "50 mm")
    axes.plot([0, size], [y, y], color=_INK, linewidth=2.2, solid_capstyle="butt")
    axes.text(size + 0.6 * line, y, f"{name}, one scale for all", fontsize=8.5, color=_QUIET, va="center")
