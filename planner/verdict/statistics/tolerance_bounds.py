"""How large the errors of batches not in the records may be.

All of it takes the errors of the batches as independent normal draws of one law. Feed it nested errors: those
of a choice on the batches that chose it are too small, and then the 95 % bound on the RMS holds in 66 to 84 %
of simulated programmes. Nested errors come from choices that differ between folds, and the bound holds in 88
to 92 %; the full 95 % are for a choice named beforehand. One outlying mix breaks it as well.
"""

from __future__ import annotations

from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from planner.terms.arrays import FloatArray

N_NODES = 128  # of the Gauss-Legendre rule; the factors stand to 1e-9 from 48 on
FEWEST_FOR_SAFE_READING = 3  # a spread from two batches would multiply the reading by absurd factors


def rms_upper_bound(errors: ArrayLike, *, confidence: float = 0.95) -> float:
    """Upper confidence bound on the root mean square error of a new batch.

    ``sqrt(sum e^2 / q)``, q the ``1 - confidence`` quantile of chi-square with as many degrees of freedom as
    batches. Exact for errors about zero; with a bias b the sum is spread less than chi-square of the same
    mean, because ``2 s^4 + 4 b^2 s^2 < 2 (s^2 + b^2)^2``, so that the bound errs to the large side.

    Parameters
    ----------
    errors
        Signed relative errors, one per batch, shape ``(n_batches,)``.
    confidence
        Confidence, between 0 and 1.

    Raises
    ------
    ValueError
        Without batches, with errors that are not finite, or with a confidence outside 0 to 1.
    """
    from scipy.special import chdtri

    signed = checked_errors(errors)
    check_inside(confidence=confidence)
    return float(np.sqrt(np.sum(signed**2) / chdtri(signed.size, confidence)))


def true_rms_upper_bound(
    rms: float, *, noise: float, noise_share: float, n_batches: int, confidence: float = 0.95
) -> float:
    """Upper confidence bound on the true RMS error where the truth was measured with known noise.

    What was measured is the sum ``rms^2 + noise``. It is spread like chi-square with as many degrees of freedom
    as its two parts give it together (Satterthwaite): the error of a batch is one, and the noise of its checks
    averages out between them. The sum is bounded, and the noise, which is known, is then taken out:
    ``(rms^2 + noise) df / q - noise``, q the ``1 - confidence`` quantile. Multiplying the noise as well would bound
    what companions scatter, not what the curve errs by. Nested errors of heavy tails, slow batches and crossover
    are held by it too, see ``python -m tests.statistics.bound_coverage``.

    Parameters
    ----------
    rms
        Against true strength, nested, floored at what the specimens' scatter alone gives.
    noise
        Mean square of the measured truth's scatter, 0 or more.
    noise_share
        What is left of a batch's noise variance after averaging its checks, 1 with a single check, 1/2 with two.
    n_batches
        Batches judged.
    confidence
        Confidence, between 0 and 1.

    References
    ----------
    Satterthwaite 1946, Biometrics Bulletin 2:110 (from memory).
    """
    from scipy.special import chdtri

    check_inside(confidence=confidence)
    if n_batches < 1 or rms < 0.0 or noise < 0.0 or not 0.0 < noise_share <= 1.0:
        raise ValueError(
            "A bound needs a batch, an error and a noise of 0 or more and a share above 0 and at most 1, given "
            f"{n_batches}, {rms}, {noise} and {noise_share}."
        )
    square = rms**2
    total = square + noise
    if total == 0.0:
        return 0.0
    degrees = n_batches * total**2 / (square**2 + noise_share * noise * (noise + 2.0 * square))
    return float(np.sqrt(max(total * degrees / chdtri(degrees, confidence) - noise, square)))


def tolerance_factor(n_batches: int, *, content: float, confidence: float, sides: Literal[1, 2]) -> float:
    """Standard deviations from the mean that hold a share ``content`` of all batches, with ``confidence``.

    One-sided ``t / sqrt(n)``, t the quantile of the noncentral t with noncentrality ``z sqrt(n)``. Two-sided:
    given the distance of the mean from its true value the needed half-width is known, and what is left is one
    chi-square probability, integrated over that distance.

    Parameters
    ----------
    n_batches
        Batches behind mean and standard deviation, 2 or more.
    content
        Share of all batches to be held, between 0 and 1.
    confidence
        Probability that they are, between 0 and 1.
    sides
        1 for below (or above) one bound, 2 for between two.

    References
    ----------
    Krishnamoorthy and Mathew 2009, Statistical Tolerance Regions, chapter 2 (from memory; derived again).
    """
    check_inside(content=content, confidence=confidence)
    if n_batches < 2:
        raise ValueError(f"A tolerance factor needs 2 or more batches, given {n_batches}.")
    if sides not in (1, 2):
        raise ValueError(f"A tolerance interval has 1 or 2 sides, given {sides}.")
    compute = _one_sided_factor if sides == 1 else _two_sided_factor
    return compute(int(n_batches), float(content), float(confidence))


def reach(errors: ArrayLike, *, content: float, confidence: float) -> float | None:
    """Distance from zero within which a share ``content`` of all batches lies, with ``confidence``.

    ``|mean| + k sd`` with the two-sided factor k: no tolerance below it may be promised. None with one batch.
    """
    signed = checked_errors(errors)
    if signed.size < 2:
        return None
    factor = tolerance_factor(signed.size, content=content, confidence=confidence, sides=2)
    return float(abs(np.mean(signed)) + factor * np.std(signed, ddof=1))


def safe_reading_factor(errors: ArrayLike, *, assurance: float, confidence: float) -> float | None:
    """By what factor the curve must read above a strength before that strength may be relied on.

    An error is ``predicted / actual - 1``. If it is at most u, a reading of ``f (1 + u)`` means an actual
    strength of f or more. u is the one-sided upper tolerance bound ``mean + k sd``, never below 0: no credit
    for a curve that reads low.

    Parameters
    ----------
    errors
        Signed relative errors, one per batch, shape ``(n_batches,)``; next-batch errors where the curve
        serves later pours.
    assurance
        Share of batches that must have the strength, between 0 and 1.
    confidence
        Probability that they do, between 0 and 1.

    Returns
    -------
    The factor, 1 or more; None with fewer than three batches.
    """
    signed = checked_errors(errors)
    check_inside(assurance=assurance, confidence=confidence)
    if signed.size < FEWEST_FOR_SAFE_READING:
        return None
    factor = tolerance_factor(signed.size, content=assurance, confidence=confidence, sides=1)
    return 1.0 + max(0.0, float(np.mean(signed) + factor * np.std(signed, ddof=1)))


@cache
def _one_sided_factor(n_batches: int, content: float, confidence: float) -> float:
    from scipy.special import nctdtrit, ndtri

    root = np.sqrt(n_batches)
    return float(nctdtrit(n_batches - 1, ndtri(content) * root, confidence) / root)


@cache
def _two_sided_factor(n_batches: int, content: float, confidence: float) -> float:
    from scipy.optimize import brentq
    from scipy.special import chdtrc

    nodes, weights = np.polynomial.legendre.leggauss(N_NODES)
    # beyond 9 standard deviations of the mean the integrand is below 1e-17
    distance = 4.5 * (nodes + 1.0) / np.sqrt(n_batches)
    density = 4.5 * weights * np.sqrt(2.0 / np.pi) * np.exp(-0.5 * n_batches * distance**2)
    squared_width = _half_width(distance, content) ** 2

    def excess(factor: float) -> float:
        needed = (n_batches - 1) * squared_width / factor**2
        return float(density @ chdtrc(n_batches - 1, needed)) - confidence

    upper = 2.0
    while excess(upper) < 0.0:
        upper *= 2.0
    return float(brentq(excess, 1e-6, upper, xtol=1e-12, rtol=1e-12))


def _half_width(distance: FloatArray, content: float) -> FloatArray:
    """Half-widths r with ``Phi(d + r) - Phi(d - r) = content``, by bisection, same shape as ``distance``."""
    from scipy.special import ndtr, ndtri

    # from d - r to d + r with this r holds all of the central interval of the same content
    upper = distance + ndtri(0.5 + 0.5 * content)
    lower = np.zeros_like(upper)
    for _ in range(60):
        middle = 0.5 * (lower + upper)
        is_short = ndtr(distance + middle) - ndtr(distance - middle) < content
        lower = np.where(is_short, middle, lower)
        upper = np.where(is_short, upper, middle)
    return np.asarray(0.5 * (lower + upper), dtype=np.float64)


def checked_errors(errors: ArrayLike) -> FloatArray:
    """Errors as a flat array of finite numbers, or a ValueError that says what is wrong."""
    signed = np.asarray(errors, dtype=np.float64)
    if signed.ndim != 1 or signed.size == 0:
        raise ValueError(f"Errors must be one row with a value per batch, given shape {signed.shape}.")
    if not np.all(np.isfinite(signed)):
        bad = np.flatnonzero(~np.isfinite(signed)).tolist()
        raise ValueError(f"Errors must be finite, those at positions {bad} are not. Leave such batches out.")
    return signed


def check_inside(**values: float) -> None:
    """Raise a ValueError naming every value that is not strictly between 0 and 1."""
    bad = [f"{name} {value}" for name, value in values.items() if not 0.0 < value < 1.0]
    if bad:
        raise ValueError(f"Shares and levels lie between 0 and 1, given {', '.join(bad)}.")
