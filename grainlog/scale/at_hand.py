"""Scale from what is at hand where no card was there: a known rectangle on the face, or two points and their distance.

A rectangle enters the joint problem as one more card with four corners of its own, so that solution, covariance and
budget are the same as with cards and the interval is as wide as four corners deserve. Two points tell no direction of
view: the camera is then believed to look straight down, within `LEAN`, and the interval says so.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.stats import chi2

from grainlog.errors import WrongUse
from grainlog.scale.errors import ScaleError
from grainlog.scale.model import LEAN, POSE, View
from grainlog.scale.plane import FacePlane
from grainlog.scale.priors import HARD, Lens, Print, Setup
from grainlog.scale.rectangle import RULE_U_MM, Rectangle
from grainlog.scale.solve import Solution, solve

#: Stands for the reference where the solution asks for a card's number; no printed card has it.
AT_HAND = -1
#: Corners set by hand, and found in the photo, px, standard deviation of a coordinate; common practice, no source.
BY_HAND_PX, FOUND_PX = 1.5, 0.5
#: How far a camera held "straight down" leans, about each of two axes, rad; common practice, no source.
LEANS = np.radians(10.0)
#: Corners less likely than this under the stated size are refused; readings of which side is which this much worse
#: are out.
SUSPICIOUS, MUCH_WORSE = 1e-4, 9.0
#: Steps in which the other unknowns follow one that is moved.
FOLLOWING = 3
#: A second reading of which side is which that leans less than this is a real possibility, rad.
READABLE = np.radians(40.0)


@dataclass(frozen=True)
class KnownRectangle:
    """A rectangle and its corners in the photo: (4, 2) px, clockwise as seen, first side the width if `ordered`."""

    rectangle: Rectangle
    corners_px: np.ndarray
    corner_u_px: float
    ordered: bool


@dataclass(frozen=True)
class TwoPoints:
    """Two points on the face, (2, 2) px, and their distance, mm, with the standard deviations of both."""

    points_px: np.ndarray
    distance_mm: float
    distance_u_mm: float
    point_u_px: float
    leans: float


@dataclass(frozen=True)
class SeenSheet:
    """The reference as the joint problem sees it: what a `SeenCard` has, with corners of its own on it, mm."""

    corners_px: np.ndarray
    corners_mm: np.ndarray
    card: int = AT_HAND
    marker_px: float = 0.0

    @property
    def corner_ids(self) -> np.ndarray:
        """(n,) the corners in order."""
        return np.arange(len(self.corners_px))


def known_rectangle(
    corners_px: np.ndarray, rectangle: Rectangle, corner_u_px: float = BY_HAND_PX, ordered: bool = False
) -> KnownRectangle:
    """A rectangle lying on the face, by its four corners.

    Parameters
    ----------
    corners_px : (4, 2) px, upright photo
        In any order; with `ordered` the first two are the ends of a side as long as the rectangle is wide.
    rectangle : Rectangle
    corner_u_px : float
        How well each coordinate is set.

    Raises
    ------
    WrongUse
        Not four corners of a convex shape.
    """
    corners = np.asarray(corners_px, float)
    if corners.shape != (4, 2) or not np.isfinite(corners).all():
        raise WrongUse("A rectangle has four corners: give the photo pixels of each, x and y.")
    around = corners - corners.mean(0)
    clockwise = corners[np.argsort(np.arctan2(around[:, 1], around[:, 0]))]
    sides = np.roll(clockwise, -1, 0) - clockwise
    following = np.roll(sides, -1, 0)
    bends = sides[:, 0] * following[:, 1] - sides[:, 1] * following[:, 0]
    lengths = np.linalg.norm(sides, axis=1)
    if lengths.min() < 10 * corner_u_px or (bends < 0.05 * lengths * np.roll(lengths, -1)).any():
        raise WrongUse("These are not the four corners of a rectangle: give each corner once, and a larger rectangle.")
    if ordered:
        first = [int(np.flatnonzero((clockwise == corner).all(1))[0]) for corner in corners[:2]]
        if (first[1] - first[0]) % 4 not in (1, 3):
            raise WrongUse("The first two corners must be the ends of one side, not across from each other.")
        clockwise = np.roll(clockwise, -(first[0] if (first[1] - first[0]) % 4 == 1 else first[1]), 0)
    return KnownRectangle(rectangle, clockwise, corner_u_px, ordered)


def two_points(
    points_px: np.ndarray, distance_mm: float, distance_u_mm: float = RULE_U_MM, point_u_px: float = BY_HAND_PX
) -> TwoPoints:
    """Two points on the face, (2, 2) px, and their distance; the photo is taken to look straight down on it.

    Raises WrongUse where the points are too near each other to tell anything.
    """
    points = np.asarray(points_px, float)
    if points.shape != (2, 2) or not np.isfinite(points).all() or not distance_mm > 0:
        raise WrongUse("Give two points in photo pixels, x and y of each, and the distance between them.")
    if np.linalg.norm(points[1] - points[0]) < 40 * point_u_px:
        raise WrongUse(
            "The two points are too close together in the photo: take two farther apart, best near both ends."
        )
    return TwoPoints(points, float(distance_mm), distance_u_mm, point_u_px, LEANS)


def solve_at_hand(
    size_px: tuple[int, int],
    lens: Lens,
    reference: KnownRectangle | TwoPoints,
    thickness_mm: float | None = None,
    thickness_u_mm: float = 1.0,
) -> Solution:
    """Solve lens and plane of one photo from a reference that lies on the face; show it with `HandPlane`.

    Raises ScaleError where corners and size contradict each other, or leave open which side is which.
    """
    if isinstance(reference, TwoPoints):
        half = reference.distance_mm / 2
        seen = SeenSheet(reference.points_px, np.array([[-half, 0.0], [half, 0.0]]))
        share = 100 * reference.distance_u_mm / reference.distance_mm
        setup = Setup(
            "slab", thickness_mm=thickness_mm, thickness_u_mm=thickness_u_mm,
            card_thickness_mm=0.0, card_thickness_u_mm=0.0,
            ground=replace(HARD, name="at hand", curl=0.0), print=Print(100.0, 100.0, share, True),
        )  # fmt: skip
        return solve([View((seen,), size_px, lens, reference.point_u_px, reference.leans)], setup)
    return _solve_rectangle(size_px, lens, reference, thickness_mm, thickness_u_mm)


def _solve_rectangle(size_px, lens, reference: KnownRectangle, thickness_mm, thickness_u_mm) -> Solution:
    """The likelier reading of which side is the width; of two nearly as likely the one that is seen less askew."""
    what = reference.rectangle
    shares = 100 * what.width_u_mm / what.width_mm, 100 * what.height_u_mm / what.height_mm
    setup = Setup(
        "slab", thickness_mm=thickness_mm, thickness_u_mm=thickness_u_mm,
        card_thickness_mm=what.above_mm, card_thickness_u_mm=what.above_u_mm,
        ground=replace(HARD, name="at hand", curl=HARD.curl if what.curled else 0.0),
        print=Print(100.0, 100.0, shares[0], True, shares[1]),
    )  # fmt: skip
    half = np.array([what.width_mm, what.height_mm]) / 2
    corners_mm = half * [[-1, 1], [1, 1], [1, -1], [-1, -1]]
    square = abs(what.width_mm - what.height_mm) < 1e-9
    readings = []
    for shift in (0,) if reference.ordered or square else (0, 1):
        seen = SeenSheet(np.roll(reference.corners_px, -shift, 0), corners_mm)
        try:
            solution = solve([View((seen,), size_px, lens, reference.corner_u_px)], setup)
        except ScaleError:
            continue
        whitened = solution.problem.residuals(solution.vector)
        lean = HandPlane(solution).slant(np.zeros(2))
        readings.append((float(whitened @ whitened), lean, solution))
    if not readings:
        raise ScaleError(_NOT_THAT)
    best = min(strain for strain, *_ in readings)
    # Eight coordinates against the six of a pose leave two to judge by.
    if chi2.sf(best, 2) < SUSPICIOUS:
        raise ScaleError(_NOT_THAT)
    likely = sorted(
        (reading for reading in readings if reading[0] < best + MUCH_WORSE), key=lambda reading: reading[1]
    )
    if len(likely) > 1 and likely[1][1] < READABLE:
        raise ScaleError(
            "The sides of this rectangle are too nearly alike to tell which is which: give first the two corners "
            "along its width, or use a longer rectangle."
        )
    return likely[0][2]


_NOT_THAT = (
    "These four corners do not fit a rectangle of that size seen by this camera: check the size, set the corners "
    "exactly, and see that it lies flat."
)


@dataclass(frozen=True)
class HandPlane(FacePlane):
    """The face plane by a reference at hand: a `FacePlane` with the reference's own outline, and bends in `spread`."""

    def card_outlines_px(self) -> dict[int, np.ndarray]:
        """{AT_HAND: (32, 2) px outline of the rectangle}; nothing for two points."""
        problem = self.solution.problem
        corners = problem.print_mm
        if len(corners) < 4:
            return {}
        edge = np.vstack([np.linspace(a, b, 8, endpoint=False) for a, b in zip(corners, np.roll(corners, -1, 0))])
        world = problem.world(self._unknowns, np.zeros(len(edge), int), edge)
        rotation, move = self._pose
        return {AT_HAND: self.camera.project(world @ rotation.T + move)}

    def spread(self, measure: Callable[[FacePlane], np.ndarray]) -> tuple[np.ndarray, dict[str, np.ndarray]]:
        """As `FacePlane.spread`, with what bends: a lean either way shortens a face, which no slope at zero shows.

        The even part of `measure` along each principal axis of the covariance, by the three-point Gauss-Hermite rule
        (exact for a square and for a modulus): its mean square counts as variance, since the offset is not corrected
        (JCGM 100:2008, F.2.4.5).
        """
        u, budget = super().spread(measure)
        here = np.asarray(measure(self))
        bends = []
        for ahead, behind in self._apart:
            both = [np.asarray(measure(HandPlane(self.solution, self.view, vector))) for vector in (ahead, behind)]
            bends.append((both[0] + both[1]) / 2 - here)
        bends = np.array(bends)
        means = bends / 3
        second = (bends**2 / 3 - means**2).sum(0) + means.sum(0) ** 2
        budget[LEAN] = np.sqrt(budget.get(LEAN, 0.0) ** 2 + second)
        return np.sqrt(u**2 + second), budget

    @cached_property
    def _apart(self) -> list[tuple[np.ndarray, np.ndarray]]:
        """Pairs of unknowns, sqrt(3) standard uncertainties either way along each principal axis of the pose, that
        still fit.

        A straight step would leave what was observed by the square of its length, so all other axes follow it.
        """
        problem, free = self.solution.problem, self.solution.problem.free
        variances, axes = np.linalg.eigh(self.solution.covariance[np.ix_(free, free)])
        posed = np.array([name[0] in POSE for name in problem.names])[free]
        pairs = []
        for place, (variance, axis) in enumerate(zip(variances, axes.T)):
            if (axis[posed] ** 2).sum() < 0.5:  # lens, print and paper act in proportion
                continue
            others = np.delete(axes, place, 1)
            pair = []
            for way in (1, -1):
                vector = self._unknowns.copy()
                vector[free] += way * np.sqrt(3 * variance) * axis
                for _ in range(FOLLOWING):
                    follow = np.linalg.lstsq(
                        problem.jacobian(vector) @ others, -problem.residuals(vector), rcond=None
                    )[0]
                    vector[free] += others @ follow
                pair.append(vector)
            pairs.append(tuple(pair))
        return pairs
