"""A slab on one day of its drying: narrower across the grain, its checks longer or shorter, the face painted to match.

The green slab and its fully grown checks are what `solid.build` makes; a day takes a share of each check and squeezes the
whole face across the grain. Wood keeps its figure while it shrinks, so the picture is squeezed, not painted anew.
"""

from dataclasses import dataclass, replace

import numpy as np
import shapely

from . import wood
from .marks import Marks, draw
from .scene import Wood
from .solid import Check, Skirt, Solid

#: A check shorter than this has not opened yet, mm.
LEAST_MM = 22.0


@dataclass(frozen=True)
class Day:
    """One look at a slab.

    days : since the first look
    shrunk : share of the green width that is gone across the grain (0.05 is 5 %)
    grown : for each full check (in the order of `solid.build`), the share of its length that is open
    opened : for each, the share of its greatest width
    marks : what else lies on the face
    """

    days: int
    shrunk: float
    grown: tuple[float, ...]
    opened: tuple[float, ...]
    marks: Marks


def days(count: int, checks: int, seed: int) -> tuple[tuple[float, float, tuple[float, ...], tuple[float, ...]], ...]:
    """A made-up course of drying: (days, shrunk, grown, opened) for `count` looks at `checks` checks.

    Checks open one after another and then run, quickly first; on the last day some have closed up to half their width.
    """
    rng = np.random.default_rng(seed)
    when = np.concatenate([[0], np.cumsum(rng.integers(18, 45, count - 1))])
    last = rng.uniform(0.03, 0.075)
    shrunk = last * (when / when[-1]) ** 0.8
    starts = rng.uniform(-0.6, 0.55, checks)
    pace = rng.uniform(0.5, 1.6, checks)
    course = []
    for k, moment in enumerate(when / when[-1]):
        open_share = np.clip((moment - starts) / (1 - starts), 0, 1) ** (0.6 * pace)
        closing = np.where((k == count - 1) & (rng.random(checks) < 0.3), 0.55, 1.0)
        course.append((int(when[k]), float(shrunk[k]), tuple(open_share.round(3)), tuple((open_share**0.5 * closing).round(3))))
    return tuple(course)


def on_day(green: Solid, day: Day) -> tuple[Solid, tuple[int, ...]]:
    """The slab as it is that day, in its own frame; and which full check each of its checks is."""
    squeeze = 1 - day.shrunk
    checks, names = [], []
    for index, (check, grown, opened) in enumerate(zip(green.checks, day.grown, day.opened, strict=True)):
        part = _part(check, grown, opened)
        if part is not None:
            checks.append(replace(part, path=part.path * [1, squeeze]))
            names.append(index)
    skirts = tuple(Skirt(skirt.points * [1, squeeze, 1], skirt.kind, skirt.bark) for skirt in green.skirts)
    scaled = (shapely.transform(shape, lambda p: p * [1, squeeze]) for shape in (green.grown, green.wood, green.bark))
    return Solid(*scaled, skirts, tuple(checks), green.thickness_mm), tuple(names)


def _part(check: Check, grown: float, opened: float) -> Check | None:
    along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(check.path, axis=0), axis=1))])
    if grown * along[-1] < LEAST_MM:
        return None
    # An end check runs in from its end; a surface check grows both ways from its middle.
    centre = 0.0 if check.kind == "end" else 0.5
    low, high = (1 - grown) * centre * along[-1], (centre + (1 - centre) * grown) * along[-1]
    stations = np.linspace(low, high, max(8, int((high - low) / 4)))
    path = np.column_stack([np.interp(stations, along, check.path[:, k]) for k in (0, 1)])
    stretched = np.interp((stations - low) / (high - low) * along[-1], along, check.width)
    return Check(path, np.maximum(stretched * opened, 0.25), check.kind)


def paint(green: Solid, species: Wood, now: Solid, day: Day) -> wood.FacePicture:
    """The face that day: painted green without checks, marks and checks drawn on it, squeezed across the grain."""
    squeeze = 1 - day.shrunk
    picture = draw(wood.paint(replace(green, checks=()), species), green, species.species, day.marks)
    # Drawn before the squeeze, so the width is drawn wider by as much.
    wide = tuple(replace(c, path=c.path / [1, squeeze], width=c.width / squeeze) for c in now.checks)
    picture = cracked(picture, wide)
    (left, top), (width, height) = picture.origin_mm, picture.size_mm
    return replace(picture, origin_mm=(left, top * squeeze), size_mm=(width, height * squeeze))


def cracked(picture: wood.FacePicture, checks: tuple[Check, ...], dark=(0.055, 0.045, 0.04)) -> wood.FacePicture:
    """`picture` with the checks on top of everything, mixed as light mixes, so that a pixel half in a check loses half."""
    shape = picture.wood.shape[:2]
    cover = wood.crack_cover(checks, shape, picture.origin_mm, picture.size_mm[0] / shape[1])
    rows, columns = np.flatnonzero(cover.any(1)), np.flatnonzero(cover.any(0))
    if not len(rows):
        return picture
    part = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
    share, painted, gloss = cover[part], picture.wood.copy(), picture.gloss.copy()
    light = _linear(painted[part])
    painted[part] = _coded(light + share[..., None] * (_linear(np.array(dark, np.float32)) - light))
    gloss[part] = np.clip(gloss[part] + 0.5 * share, 0, 1)
    return replace(picture, wood=painted, gloss=gloss)


def _linear(coded):
    """sRGB 0..1 to linear light (IEC 61966-2-1)."""
    coded = np.clip(coded, 0, 1)
    return np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4).astype(np.float32)


def _coded(light):
    light = np.clip(light, 0, 1)
    return np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055).astype(np.float32)
