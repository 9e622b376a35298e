"""What share of new batches will be within the tolerance, and how little a few batches can prove."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from planner.terms.arrays import FloatArray
from planner.verdict.statistics.tolerance_bounds import check_inside, checked_errors

N_NODES = 64  # of the Gauss-Legendre rule over the spread; the bound stands to 1e-6
MOST_STEPS = 20  # of Newton; none of 357 rules, with shares from 1e-9 to 1 - 1e-9, took more than 6
NEAR = 1e-7  # tolerances: a step that moves no edge by more is the last, and the next would be far smaller
LEAST_EDGE = 1e-6  # tolerances; at 0 the share does not fall
SQRT_2_PI = math.sqrt(2.0 * math.pi)
NEGLIGIBLE = 1e-9  # a share nearer to 0 or 1 is not told from it


def share_inside_lower(errors: ArrayLike, *, tolerance: float, confidence: float = 0.95) -> float | None:
    """Lower confidence bound on the share of new batches with an absolute error within the tolerance.

    The errors are taken as normal. With Z standard normal and W chi-square with B - 1 degrees of freedom, the
    spread ``sg = sd sqrt((B - 1) / W)`` and the mean ``m = mean - Z sg / sqrt(B)`` are what the batches leave
    possible; the bound is the ``1 - confidence`` quantile of ``Phi((tol - m) / sg) - Phi((-tol - m) / sg)``. It is
    found without draws: for a given sg the share falls as ``|m|`` grows, so its distribution is one integral
    over W.

    Parameters
    ----------
    errors
        Signed relative errors, one per batch, nested, shape ``(n_batches,)``.
    tolerance
        Relative, both directions, above 0.
    confidence
        Confidence, between 0 and 1.

    Returns
    -------
    The bound between 0 and 1; None with one batch, which shows no spread.

    References
    ----------
    Generalised confidence interval, Weerahandi 1993 (from memory; the tests measure its coverage).
    """
    signed = checked_errors(errors)
    check_inside(confidence=confidence)
    if not tolerance > 0.0:
        raise ValueError(f"The tolerance must be above 0, given {tolerance}.")
    if signed.size < 2:
        return None
    mean, spread = abs(float(np.mean(signed))), float(np.std(signed, ddof=1))
    if spread <= 1e-12 * tolerance:
        return float(mean <= tolerance)

    return _lower(mean / tolerance, spread / tolerance, signed.size, confidence)


def share_inside_lower_at(share: float, n_batches: int, *, confidence: float = 0.95) -> float:
    """The same bound for centred normal errors of which this share lies within the tolerance.

    For a share that no single normal error has, as that of batches which keep several targets: their worst errors are
    seldom near 0, so a normal law of the same spread would put too many of them inside.

    Parameters
    ----------
    share
        Of new batches inside, as estimated, between 0 and 1.
    n_batches
        That it was estimated from, 2 or more.
    """
    from scipy.special import ndtri

    check_inside(confidence=confidence)
    if n_batches < 2:
        raise ValueError(f"A bound takes 2 batches or more, given {n_batches}.")
    if not NEGLIGIBLE < share < 1.0 - NEGLIGIBLE:
        return float(np.clip(share, 0.0, 1.0))
    return _lower(0.0, 1.0 / float(ndtri((1.0 + share) / 2.0)), n_batches, confidence)


def _lower(mean: float, spread: float, n_batches: int, confidence: float) -> float:
    """The bound of :func:`share_inside_lower`, mean and spread in tolerances."""
    from scipy.optimize import brentq

    @cache  # brentq asks for both ends once more
    def excess(share: float) -> float:
        return _chance_below(share, mean, spread, n_batches) - (1.0 - confidence)

    if excess(NEGLIGIBLE) >= 0.0:
        return 0.0
    if excess(1.0 - NEGLIGIBLE) <= 0.0:
        return 1.0 - NEGLIGIBLE
    return float(brentq(excess, NEGLIGIBLE, 1.0 - NEGLIGIBLE, xtol=1e-6, rtol=1e-6))


def share_inside_lower_free(n_batches: int, n_missed: int, *, confidence: float = 0.95) -> float:
    """Lower confidence bound on the share inside from counts alone, free of any distribution.

    The smallest share that does not make so few misses rarer than ``1 - confidence``; without a miss
    ``(1 - confidence) ** (1 / n_batches)``.

    Parameters
    ----------
    n_batches
        Batches checked, 1 or more.
    n_missed
        Those outside the tolerance.

    References
    ----------
    Clopper and Pearson 1934, Biometrika 26:404 (from memory).
    """
    from scipy.special import betaincinv

    check_inside(confidence=confidence)
    _check_batches(n_batches)
    if not 0 <= n_missed <= n_batches:
        raise ValueError(f"Missed batches are 0 to {n_batches} of {n_batches}, given {n_missed}.")
    if n_missed == n_batches:
        return 0.0
    return float(betaincinv(n_batches - n_missed, n_missed + 1, 1.0 - confidence))


def most_claimable_assurance(n_batches: int, *, confidence: float = 0.95) -> float:
    """Largest share inside that so many batches can carry at this confidence when none of them misses."""
    return share_inside_lower_free(n_batches, 0, confidence=confidence)


def batches_needed(assurance: float, *, confidence: float = 0.95) -> int:
    """Fewest batches, none of them missing, that carry this share inside at this confidence."""
    check_inside(assurance=assurance, confidence=confidence)
    # a count that fits exactly must not be lost to the last digit of the logarithms
    return max(1, math.ceil(math.log1p(-confidence) / math.log(assurance) - 1e-9))


def _check_batches(n_batches: int) -> None:
    if n_batches < 1:
        raise ValueError(f"At least one batch is needed, given {n_batches}.")


def _chance_below(share: float, mean: float, spread: float, n_batches: int) -> float:
    """Chance that the share inside is below ``share``; mean (not negative) and spread in tolerances."""
    from scipy.special import chdtrc, chdtri, ndtr, ndtri

    degrees = n_batches - 1
    # at the spread 1 / z even a mean of 0 has no larger share inside; all larger spreads are below
    sharpest = float(ndtri(0.5 + 0.5 * share))
    open_chance = float(chdtrc(degrees, degrees * (spread * sharpest) ** 2))
    if open_chance < 1e-15:
        return 1.0
    nodes, weights = _gauss_rule()
    # the edge mean leaves 0 like a square root: run through the levels quadratically from there
    root = 0.5 * (nodes + 1.0)
    upper_tail = open_chance * (1.0 - root**2)
    possible = spread * np.sqrt(degrees / chdtri(degrees, upper_tail))
    edge = _edge_mean(possible, share)
    scale = np.sqrt(n_batches) / possible
    inside = ndtr((mean + edge) * scale) - ndtr((mean - edge) * scale)
    return 1.0 - open_chance * float(np.sum(weights * root * inside))


@cache
def _gauss_rule() -> tuple[FloatArray, FloatArray]:
    """Nodes and weights between -1 and 1: an eigenproblem, solved once and not for every trial share."""
    nodes, weights = np.polynomial.legendre.leggauss(N_NODES)
    return nodes, weights


def _edge_mean(spread: FloatArray, share: float) -> FloatArray:
    """Means m >= 0 at which just ``share`` lies between -1 and 1, same shape as ``spread``.

    By Newton's method in m squared, in which the logarithm of the share inside is nearly straight: steps from above
    come down to the edge, most often in three or four.
    """
    from scipy.special import ndtr, ndtri

    edge = np.maximum(1.0 - spread * ndtri(share), LEAST_EDGE)  # here no more than share lies below 1
    for _ in range(MOST_STEPS):
        upper, lower = (1.0 - edge) / spread, (1.0 + edge) / spread
        inside = ndtr(upper) - ndtr(-lower)
        fall = (np.exp(-0.5 * upper**2) - np.exp(-0.5 * lower**2)) / (SQRT_2_PI * spread)  # of the share, as m grows
        before, change = edge, 2.0 * edge * inside * np.log(inside / share) / fall
        edge = np.sqrt(np.maximum(before**2 + change, LEAST_EDGE**2))
        if np.max(np.abs(edge - before)) < NEAR:
            break
    return np.asarray(edge, dtype=np.float64)
