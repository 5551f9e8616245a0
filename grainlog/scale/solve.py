"""Solve the joint problem, judge the ground, leave out cards that contradict the others."""

from dataclasses import dataclass, replace

import numpy as np
from scipy.stats import chi2

from grainlog.scale.detect import RejectedCard
from grainlog.scale.errors import NoCardError, ScaleError
from grainlog.scale.model import SOURCE, Problem, View
from grainlog.scale.priors import HARD, SOFT, Setup
from grainlog.scale.refine import misfit_px
from grainlog.scale.start import placings

#: Corner noise before the residuals are looked at, px, and how many corners' worth of belief it carries.
USUAL_CORNER_PX, USUAL_CORNER_WEIGHT = 0.04, 12
#: Corner residuals beyond this many standard deviations lose influence (Cauchy).
ROBUST_WIDTH = 3.0
#: The descent ends when a step gains less than this share of the cost, or after this many steps.
STILL, MOST_STEPS = 1e-7, 60
#: A solution less likely than this under its own model sets off the search for a bad card.
SUSPICIOUS = 1e-4
#: A flat card's corners fit to 0.02 to 0.1 px; beyond this (and beyond the other cards) it is bent or smeared.
BENT_CORNER_PX = 0.4
#: The less expected ground is believed when the photo makes it this many times likelier.
CONVINCING = 3.0


@dataclass(frozen=True)
class Solution:
    """The solved problem.

    problem : Problem
    vector : (n,) float64
        The unknowns.
    covariance : (n, n) float64
        Of the unknowns; rows and columns of what is held fixed are zero.
    shares : dict of str to (n, n) float64
        The covariance taken apart by source; they add up to `covariance`.
    left_out : tuple of RejectedCard
    ground_judged : bool
        Whether the ground was judged from the photo.
    """

    problem: Problem
    vector: np.ndarray
    covariance: np.ndarray
    shares: dict[str, np.ndarray]
    left_out: tuple[RejectedCard, ...]
    ground_judged: bool

    @property
    def reprojection_px(self) -> float:
        """Per-axis RMS of the corner residuals that kept their influence, px."""
        off = self.problem.predicted_px(self.vector) - self.problem.seen_px
        inlier = np.abs(off) < ROBUST_WIDTH * 2 * self.problem.corner_px
        return float(np.sqrt(np.mean(off[inlier] ** 2)))


@dataclass(frozen=True)
class _Fit:
    problem: Problem
    vector: np.ndarray
    cost: float  # robust, corners and priors
    log_evidence: float


def solve(views: list[View], setup: Setup) -> Solution:
    """Solve plane, lens and cards of one or several photos of one slab together.

    Parameters
    ----------
    views : list of View
        Further views are tied to the first by cards that they share with it.
    setup : Setup
        `setup.ground` None: judged between `HARD` and `SOFT` by the evidence of the photo (Laplace approximation);
        where it cannot tell, floor cards are taken to lie on soft ground and slab cards on the hard face.
        A floor card whose height says that it lies on the slab is taken to (`problem.setup.slab_cards`).

    Raises
    ------
    NoCardError
        No card is left.
    ScaleError
        Two cards contradict each other and nothing says which one is right, or views share no card.

    Notes
    -----
    Robust least squares with normal priors (maximum a posteriori; Cauchy's loss on the corners); first-order covariance
    (JCGM 100:2008, 5.1.2, in matrix form), taken apart by which residuals (corners or which prior) it comes from.
    """
    if not views or not any(view.cards for view in views):
        raise NoCardError(
            "No scale card was found; lay two to four printed cards flat beside or on the slab, all of each card in the photo."
        )
    _require_tied(views)
    left_out: list[RejectedCard] = []
    fit, judged = _best_ground(views, setup)
    while _unlikely(fit):
        cards = fit.problem.cards
        if len(cards) == 1:
            break
        if len(cards) > 2 and (raised := _one_on_slab(views, setup, cards)) is not None:
            fit, judged = raised
            setup = setup.with_slab_cards(fit.problem.setup.slab_cards)
            continue
        without = {card: _best_ground(_drop(views, card), setup)[0] for card in cards if _still_tied(_drop(views, card))}
        if not without:
            break
        worst = min(without, key=lambda card: _badness(without[card]))
        if len(cards) == 2 or _badness(without[worst]) > 0.5 * _badness(fit):
            if len(cards) == 2:
                raise ScaleError(
                    f"Cards {cards[0]} and {cards[1]} contradict each other: lay both flat, check that both were printed "
                    "at 100 %, or say which one lies on the slab (--slab-card); a third card would tell which is wrong."
                )
            break
        left_out.append(RejectedCard(worst, "it contradicts the other cards (bent, tilted, or printed at another size)"))
        views = _drop(views, worst)
        fit, judged = _best_ground(views, setup)
    covariance, shares = _covariance(fit)
    return Solution(fit.problem, fit.vector, covariance, shares, tuple(left_out), judged)


def _one_on_slab(views: list[View], setup: Setup, cards: list[int]) -> tuple[_Fit, bool] | None:
    """The solution with one more card on the slab, where that alone takes the contradiction away."""
    if setup.thickness_mm is None or setup.cards_on != "floor":
        return None
    options = [card for card in cards if not setup.on_slab(card)]
    tried = [_best_ground(views, setup.with_slab_cards(setup.slab_cards | {card})) for card in options]
    likely = [found for found in tried if not _unlikely(found[0])]
    return min(likely, key=lambda found: _badness(found[0])) if likely else None


def _drop(views: list[View], card: int) -> list[View]:
    kept = [replace(view, cards=tuple(seen for seen in view.cards if seen.card != card)) for view in views]
    return [view for view in kept if view.cards]


def _still_tied(views: list[View]) -> bool:
    known = {seen.card for seen in views[0].cards} if views else set()
    for view in views[1:]:
        mine = {seen.card for seen in view.cards}
        if not known & mine:
            return False
        known |= mine
    return bool(known)


def _require_tied(views):
    if not _still_tied(views):
        raise ScaleError("These photos share no scale card; leave the cards where they are and let each photo show one of the last.")


def _best_ground(views: list[View], setup: Setup) -> tuple[_Fit, bool]:
    if setup.ground is not None:
        return _fit(views, setup), False
    soft = _fit(views, setup.with_ground(SOFT))
    hard = _refit(soft, setup.with_ground(HARD))
    expected, other = (soft, hard) if not hard.problem.all_on_slab else (hard, soft)
    return (other if other.log_evidence > expected.log_evidence + np.log(CONVINCING) else expected), True


def _fit(views: list[View], setup: Setup) -> _Fit:
    best = None
    noise = _corner_noise(views)
    for placing in placings(views):
        problem = Problem(views, setup, placing, noise)
        vector, cost = _descend(problem, problem.start)
        if best is None or cost < best[2]:
            best = problem, vector, cost
        # As good as the noise allows, no prior strained: the other start would only cost time.
        if cost < 2 * len(problem.seen_px):
            break
    if best is None:
        raise ScaleError("The cards cannot be laid on one plane; check that they lie flat and take the photo from higher up.")
    return _finished(*best)


def _refit(fit: _Fit, setup: Setup) -> _Fit:
    """The same photos on another ground, from where `fit` stands; card tilts, heights and curls begin at nothing."""
    problem = Problem(fit.problem.views, setup, fit.problem.placing, fit.problem.corner_px)
    flatness = np.array([SOURCE.get(name[0]) == "card flatness" for name in problem.names])
    vector, cost = _descend(problem, np.where(flatness, 0.0, fit.vector))
    return _finished(problem, vector, cost)


def _finished(problem: Problem, vector: np.ndarray, cost: float) -> _Fit:
    information = _information(problem, vector)[0]
    return _Fit(problem, vector, cost, -cost - 0.5 * np.linalg.slogdet(information)[1])


def _descend(problem: Problem, vector: np.ndarray) -> tuple[np.ndarray, float]:
    """Levenberg-Marquardt with the corners' influence reweighted at every step; returns vector and robust cost.

    SciPy's `least_squares` with the same loss finds the same minimum (tested) in about five times the time.
    """
    cost = _robust_cost(problem, problem.residuals(vector))
    damping = 1e-3
    for _ in range(MOST_STEPS):
        information, jacobian, weight = _information(problem, vector)
        slope = jacobian.T @ (weight * problem.residuals(vector))
        while True:
            step = np.linalg.solve(information + damping * np.diag(np.diag(information)), -slope)
            ahead = vector.copy()
            ahead[problem.free] += step
            ahead_cost = _robust_cost(problem, problem.residuals(ahead))
            if ahead_cost <= cost or damping > 1e8:
                break
            damping *= 8
        gain = cost - ahead_cost
        if gain < 0:
            break
        vector, cost, damping = ahead, ahead_cost, max(damping / 8, 1e-9)
        if gain < STILL * (1 + cost):
            break
    return vector, cost


def _robust_cost(problem: Problem, whitened: np.ndarray) -> float:
    """Half the sum of squares of the priors, and of the corners after Cauchy's loss."""
    corners = 2 * len(problem.seen_px)
    square = whitened**2
    if not np.isfinite(square).all():
        return np.inf
    bent = ROBUST_WIDTH**2 * np.log1p(square[:corners] / ROBUST_WIDTH**2)
    return float(bent.sum() + square[corners:].sum()) / 2


def _corner_noise(views: list[View]) -> float:
    """Corner noise, px: each card against its own homography, so that no belief about the scene is mistaken for noise.

    The middle card's variance (a bent card must not speak for the others), with the usual noise as a prior. Where a view
    states its noise, because four corners always fit themselves, that counts.
    """
    if stated := [view.corner_px for view in views if view.corner_px is not None]:
        return max(stated)
    variances, freedom = [], []
    for seen in (seen for view in views for seen in view.cards):
        off = misfit_px(seen.corners_mm, seen.corners_px)
        freedom.append(max(off.size - 8, 1))
        variances.append((off**2).sum() / freedom[-1])
    weight = sum(freedom)
    squares = weight * float(np.median(variances)) + USUAL_CORNER_WEIGHT * USUAL_CORNER_PX**2
    return float(np.sqrt(squares / (weight + USUAL_CORNER_WEIGHT)))


def _information(problem: Problem, vector: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Information matrix of the free unknowns, Jacobian, and the weight of each residual."""
    jacobian = problem.jacobian(vector)
    whitened = problem.residuals(vector)
    corners = 2 * len(problem.seen_px)
    weight = np.ones(len(whitened))
    weight[:corners] = 1 / (1 + (whitened[:corners] / ROBUST_WIDTH) ** 2)
    return jacobian.T @ (weight[:, None] * jacobian), jacobian, weight


def _covariance(fit: _Fit) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    information, jacobian, weight = _information(fit.problem, fit.vector)
    inverse = np.linalg.inv(information)
    sources = fit.problem.sources()
    size = len(fit.vector)
    shares = {}
    for source in dict.fromkeys(sources):
        rows = jacobian[sources == source] * np.sqrt(weight[sources == source])[:, None]
        reach = inverse @ rows.T
        share = np.zeros((size, size))
        share[np.ix_(fit.problem.free, fit.problem.free)] = reach @ reach.T
        shares[str(source)] = share
    return sum(shares.values()), shares


def _badness(fit: _Fit) -> float:
    """Strain of the priors and misfit of the corners at the usual noise, over what is to be expected of both."""
    believed = fit.vector[fit.problem.believed]
    square = (_corner_rms(fit) / USUAL_CORNER_PX) ** 2
    misfit = ROBUST_WIDTH**2 * np.log1p(square / ROBUST_WIDTH**2)
    return float(believed @ believed / len(believed) + 12 * misfit.sum() / len(misfit))


def _corner_rms(fit: _Fit) -> np.ndarray:
    """(cards,) per-axis RMS of each card's corner residuals, px."""
    square = ((fit.problem.predicted_px(fit.vector) - fit.problem.seen_px) ** 2).mean(1)
    cards = fit.problem.card_of
    return np.sqrt(np.bincount(cards, square) / np.bincount(cards))


def _unlikely(fit: _Fit) -> bool:
    """Whether the priors (tilt, height, curl, print, lens) are strained beyond belief, or one card's corners are."""
    believed = fit.vector[fit.problem.believed]
    strained = chi2.sf(float(believed @ believed), len(believed)) < SUSPICIOUS or np.abs(believed).max() > 4.5
    rms = _corner_rms(fit)
    return bool(strained or rms.max() > max(BENT_CORNER_PX, 4 * np.median(rms)))
