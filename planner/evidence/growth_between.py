"""Growth between two means: a monotone cubic of strength over the logarithm of maturity.

Its slopes are those of F. N. Fritsch and J. Butland, "A method for constructing local monotone piecewise cubic
interpolants", SIAM J. Sci. Stat. Comput. 5 (1984), with the usual three-point slopes at an end (from memory; held
against another implementation in the tests). Knots are four: the two means, and one next to either.
"""

from __future__ import annotations

import numpy as np

from planner.terms.arrays import FloatArray

N_HALVINGS = 50
STEEPEST_END = 3.0  # times the first secant, so that an end does not overshoot


def strength_along(log_h: FloatArray, mean_mpa: FloatArray, at: FloatArray) -> FloatArray:
    """Strength at logarithms of maturity between the two middle means [MPa], ``(n_settings,)``.

    Parameters
    ----------
    log_h
        Logarithms of the knots' maturities, NaN where one next to the middle two is missing, ``(4, n_settings)``.
    mean_mpa
        Their strengths, ``(4,)``.
    at
        ``(n_settings,)``.
    """
    return _Cubic(log_h, mean_mpa).strength((at - log_h[1]) / (log_h[2] - log_h[1]))


def along_growth(log_h: FloatArray, mean_mpa: FloatArray, wanted_mpa: float) -> tuple[FloatArray, FloatArray]:
    """Where growth reaches a strength between the two middle means, and how fast it grows there.

    Parameters
    ----------
    log_h, mean_mpa
        As in :func:`strength_along`.
    wanted_mpa
        From the second mean to the third.

    Returns
    -------
    tuple
        Logarithm of the maturity, and MPa for each unit of it; each ``(n_settings,)``. Where the stronger mean is not
        the more mature, as under constants that do not suit, the strength is reached as far between the two as it
        lies between their means, and nothing moves it.
    """
    cubic = _Cubic(log_h, mean_mpa)
    low, high = np.zeros(log_h.shape[1]), np.ones(log_h.shape[1])
    for _ in range(N_HALVINGS):
        middle = (low + high) / 2.0
        is_weaker = cubic.strength(middle) < wanted_mpa
        low, high = np.where(is_weaker, middle, low), np.where(is_weaker, high, middle)
    share = (wanted_mpa - mean_mpa[1]) / (mean_mpa[2] - mean_mpa[1])
    step = log_h[2] - log_h[1]
    found = np.where(step > 0, high, share)
    with np.errstate(divide="ignore", invalid="ignore"):
        rate = np.where(step > 0, cubic.growth(found) / step, np.inf)
    return np.asarray(log_h[1] + found * step), np.asarray(rate)


class _Cubic:
    """Between the two middle knots, over the share of the way from one to the other."""

    def __init__(self, log_h: FloatArray, mean_mpa: FloatArray) -> None:
        step = np.diff(log_h, axis=0)
        with np.errstate(divide="ignore", invalid="ignore"):
            secant = np.where(step > 0, np.diff(mean_mpa)[:, None] / step, np.nan)
            first = _slope(secant[1], step[1], secant[0], step[0], secant[2], step[2])
            last = _slope(secant[1], step[1], secant[2], step[2], secant[0], step[0])
        self._start, self._rise = float(mean_mpa[1]), float(mean_mpa[2] - mean_mpa[1])
        self._first, self._last = first * step[1], last * step[1]

    def strength(self, share: FloatArray) -> FloatArray:
        """``(n_settings,)``."""
        left = 1.0 - share
        of_slopes = share * left * (left * self._first - share * self._last)
        return np.asarray(self._start + share**2 * (3.0 - 2.0 * share) * self._rise + of_slopes)

    def growth(self, share: FloatArray) -> FloatArray:
        """Its derivative, ``(n_settings,)``."""
        left = 1.0 - share
        of_slopes = left * (1.0 - 3.0 * share) * self._first + share * (3.0 * share - 2.0) * self._last
        return np.asarray(6.0 * share * left * self._rise + of_slopes)


def _slope(
    secant: FloatArray,
    step: FloatArray,
    beside: FloatArray,
    step_beside: FloatArray,
    far: FloatArray,
    step_far: FloatArray,
) -> FloatArray:
    """Slope at a knot: of the secants on both sides, else of the two on one side, else that of the only one."""
    weight, weight_beside = 2.0 * step_beside + step, step_beside + 2.0 * step
    inner = np.where(secant * beside > 0, (weight + weight_beside) / (weight / secant + weight_beside / beside), 0.0)
    end = ((2.0 * step + step_far) * secant - step * far) / (step + step_far)
    end = np.clip(end, 0.0, STEEPEST_END * secant)
    return np.where(np.isfinite(beside), inner, np.where(np.isfinite(far), end, secant))
