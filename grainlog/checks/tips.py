"""How far the tip of an end check has moved between two looks, by both together.

Past its tip the grain's own line goes on and looks like a narrow check, but it looks alike on both days: what is wider on one
day than on the other is the check. So both widths along the line are explained at once, as a taper of each day's own plus one
line of the grain plus what differs by chance, for every pair of tips; how likely each pair is says the growth and how sure it is.

Method: Gaussian processes with linear terms (Rasmussen and Williams 2006, "Gaussian Processes for Machine Learning", section
2.7), summed over a grid of tips. The covariances are those of widths past the tips in made-up views.
"""

from dataclasses import dataclass

import numpy as np

from grainlog.checks.found import COUNTED_MM, Check

#: The line of the grain: its mean width, mm; variances, mm2, that hold over long and short stretches, and these lengths, mm.
LINE_MM, LONG_MM2, LONG_MM, SHORT_MM2, SHORT_MM = 0.25, 0.10, 60.0, 0.05, 14.0
#: What differs by chance from day to day: variance, mm2, and length, mm; that of single places; and of
#: a ragged check, share of its width, as far as it is so wide, mm.
CHANCE_MM2, CHANCE_MM, PLACE_MM2, RAGGED, MOST_RAGGED_MM = 0.015, 8.0, 0.002, 0.10, 3.0
#: A wet face shows its grain darker than a dry one: standard deviation of a day's contrast, share.
CONTRAST = 0.3
#: Tapers, mm per mm: what is expected, its standard deviation, and the least.
TAPER, TAPER_U, LEAST_TAPER = 0.06, 0.06, 0.5 / 30
#: Widths are compared from so far inside the tips to so far outside, mm, at places this far apart.
INSIDE_MM, OUTSIDE_MM, PLACES_MM = 36.0, 24.0, 2.0
#: Where a taper ends lies from so far inside the tip that was found to so far outside, mm; a tip is likely near the found one.
BACK_MM, AHEAD_MM, NEAR_FOUND_MM = 50.0, 40.0, 6.0
#: So many places are needed of each look.
LEAST_PLACES = 10
#: How the two looks lie on each other along the slab, mm, standard deviation.
LAID_U_MM = 1.0
#: The most that a taper that is not known adds, mm2.
_MOST_TAPER_MM2 = 100.0


@dataclass(frozen=True)
class Line:
    """A look at the line of a check: `at` (n,) mm, growing inwards from its end, in a frame that looks share; `width` (n,) mm there;
    where its tip was found."""

    at: np.ndarray
    width: np.ndarray
    tip: float


def line_of(check: Check, to_first: np.ndarray) -> Line | None:
    """The line of an end check in the frame of the first look; None where what lies beyond its tip was not measured."""
    if check.beyond is None or check.beyond_width is None or check.end is None:
        return None
    x = (np.vstack([check.path, check.beyond]) @ to_first[:, :2].T + to_first[:, 2])[
        :, 0
    ]
    if x[len(check.path) - 1] < x[0]:
        x = -x
    width, order = (
        np.concatenate([check.width, check.beyond_width]),
        np.argsort(x, kind="stable"),
    )
    return Line(x[order], width[order], float(x[len(check.path) - 1]))


def tip_moved(before: Line, now: Line) -> tuple[float, float] | None:
    """How far the tip has moved on, mm, and its standard uncertainty; None where too little of either line shows."""
    tips, outer = (before.tip, now.tip), max(before.tip, now.tip) + OUTSIDE_MM
    places = [
        np.arange(
            max(line.at[0], line.tip - INSIDE_MM),
            min(outer, line.at[-1]) + 1e-9,
            PLACES_MM,
        )
        for line in (before, now)
    ]
    if min(map(len, places)) < LEAST_PLACES:
        return None
    at, day = np.concatenate(places), np.repeat([0, 1], [len(some) for some in places])
    off = (
        np.concatenate(
            [
                np.interp(some, line.at, line.width)
                for some, line in zip(places, (before, now))
            ]
        )
        - LINE_MM
    )
    whiten = np.linalg.inv(np.linalg.cholesky(_covariance(at, day, off)))
    seen = whiten @ off
    ends, tapers = [], []
    for which, tip in enumerate(tips):
        end = np.arange(tip - BACK_MM, tip + AHEAD_MM + 1e-9, PLACES_MM)
        ends.append(end)
        tapers.append(
            whiten
            @ np.where(
                (day == which)[:, None], np.maximum(end[None, :] - at[:, None], 0), 0
            )
        )
    return _summed(seen, ends, tapers, tips)


def _covariance(at: np.ndarray, day: np.ndarray, off: np.ndarray) -> np.ndarray:
    """(n, n) mm2 of the widths without the tapers."""
    apart, same = np.abs(at[:, None] - at[None, :]), day[:, None] == day[None, :]
    ragged = RAGGED * np.clip(off, 0, MOST_RAGGED_MM)
    line = LONG_MM2 * np.exp(-apart / LONG_MM) + SHORT_MM2 * np.exp(
        -0.5 * (apart / SHORT_MM) ** 2
    )
    chance = (CHANCE_MM2 + ragged[:, None] * ragged[None, :]) * np.exp(
        -0.5 * (apart / CHANCE_MM) ** 2
    )
    chance += (CONTRAST / RAGGED) ** 2 * ragged[:, None] * ragged[None, :]
    return line + same * chance + PLACE_MM2 * np.eye(len(at))


def _summed(seen, ends, tapers, tips) -> tuple[float, float]:
    """Growth and its u over all pairs of tips; tapers are linear, so for each pair they are solved in closed form."""
    sure = 1 / TAPER_U**2
    aa, bb, ab = (
        (tapers[0] ** 2).sum(0)[:, None] + sure,
        (tapers[1] ** 2).sum(0)[None, :] + sure,
        tapers[0].T @ tapers[1],
    )
    a, b = (
        (tapers[0].T @ seen)[:, None] + TAPER * sure,
        (tapers[1].T @ seen)[None, :] + TAPER * sure,
    )
    both = aa * bb - ab**2
    slopes = (bb * a - ab * b) / both, (aa * b - ab * a) / both
    score = 0.5 * (a * slopes[0] + b * slopes[1]) - 0.5 * np.log(both)
    possible = (slopes[0] > LEAST_TAPER) & (slopes[1] > LEAST_TAPER)
    # A check counts as far as it is wide enough, which the taper reaches before its end.
    short = [COUNTED_MM / np.maximum(slope, LEAST_TAPER) for slope in slopes]
    counted = ends[0][:, None] - short[0], ends[1][None, :] - short[1]
    for tip, found in zip(counted, tips):
        score = score - np.log1p(((tip - found) / NEAR_FOUND_MM) ** 2)
    score = np.where(possible, score, score.min() - 1e3)
    weight = np.exp(score - score.max())
    weight /= weight.sum()
    grown = counted[1] - counted[0]
    growth = float((weight * grown).sum())
    spread = float((weight * (grown - growth) ** 2).sum())
    taper = [
        (far / np.maximum(slope, LEAST_TAPER)) ** 2 * other / both
        for far, slope, other in zip(short, slopes, (bb, aa))
    ]
    return growth, float(
        np.sqrt(
            spread
            + min(float((weight * sum(taper)).sum()), _MOST_TAPER_MM2)
            + LAID_U_MM**2
        )
    )
