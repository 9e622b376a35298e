"""How far real strengths depart from any smooth law: smoothly in log maturity, wider away from breaks."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from planner.terms.arrays import FloatArray

LENGTH = 1.0  # in ln maturity: departures a factor e apart are correlated by .61; common practice, no source
# Further departure of a mix for each e-fold outside the tested ages. Laws that agree at 1 d differ widely at
# 6 h: from .13 (EN 1992-1-1 class S) to .45 (ACI 209R Type III steam) of the 1 d strength. Common practice, no source:
EARLY_SLOPE_SD = 0.22
LATE_SLOPE_SD = 0.03
_ATTEMPTS = 20
_NUGGET = 1e-6  # keeps nearly equal maturities apart


def correlation(maturity_h: FloatArray, other_h: FloatArray) -> FloatArray:
    """Correlation of departures, ``(..., n, n_other)``, from maturities ``(..., n)`` and ``(..., n_other)``."""
    apart = np.log(maturity_h)[..., :, None] - np.log(other_h)[..., None, :]
    return np.asarray(np.exp(-0.5 * (apart / LENGTH) ** 2))


def smooth_draws(maturity_h: FloatArray, sd: float, n_draws: int, generator: np.random.Generator) -> FloatArray:
    """Draw departures from nothing, ``(n_draws, n)``."""
    return np.asarray(
        sd * generator.standard_normal((n_draws, len(maturity_h))) @ _root(correlation(maturity_h, maturity_h)).T
    )


def continued(
    known: FloatArray, known_h: FloatArray, wanted_h: FloatArray, sd: float, generator: np.random.Generator
) -> FloatArray:
    """Draw a departure at wanted maturities that passes through known values.

    Parameters
    ----------
    known
        Values at `known_h`, shape ``(n_known,)``; may be empty.
    sd
        Size of the departure, relative.

    Returns
    -------
    FloatArray
        Shape ``(n_wanted,)``.
    """
    own = correlation(wanted_h, wanted_h)
    mean = np.zeros(len(wanted_h))
    if len(known_h):
        cross = correlation(wanted_h, known_h)
        inner = correlation(known_h, known_h) + _NUGGET * np.eye(len(known_h))
        gain = np.linalg.solve(inner, cross.T).T
        mean = gain @ known
        own = own - gain @ cross.T
    return np.asarray(mean + sd * (_root(own) @ generator.standard_normal(len(wanted_h))))


def outside(
    maturity_h: FloatArray,
    known_h: FloatArray,
    law: Callable[[FloatArray], FloatArray],
    generator: np.random.Generator,
) -> FloatArray:
    """Draw a further departure outside the tested maturities, growing with the logarithm of the distance.

    The breaks pin a law where they are; nothing says that the same law goes on before the youngest of
    them, where setting and the first reactions decide. A departure that would make strength fall with
    maturity is drawn again.

    Parameters
    ----------
    maturity_h
        Where it is wanted [h], ``(n,)``.
    known_h
        Tested maturities [h], rising; none: no departure, the spread of the law says it all.
    law
        Logarithm of strength at any maturities.
    """
    if not len(known_h):
        return np.zeros(len(maturity_h))
    before = np.log(np.maximum(known_h[0] / maturity_h, 1.0))
    after = np.log(np.maximum(maturity_h / known_h[-1], 1.0))
    slope = 0.0
    if before.any():
        grid_h = np.geomspace(known_h[0], min(float(maturity_h.min()), float(known_h[0])), 12)
        least_rise = float(np.min(np.diff(law(grid_h)) / np.diff(np.log(grid_h))))
        drawn = EARLY_SLOPE_SD * generator.standard_normal(_ATTEMPTS)
        possible = drawn[drawn < least_rise]
        slope = float(possible[0]) if possible.size else 0.0
    return np.asarray(slope * before + LATE_SLOPE_SD * generator.standard_normal() * after)


def _root(covariance: FloatArray) -> FloatArray:
    """A root of a covariance that may be singular: two checks at one maturity depart alike."""
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)))
