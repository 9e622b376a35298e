"""Compiled loops over sets of ages for curves that have learnt from other batches.

Every mean of a set counts as one of `NOMINAL` specimens, so that a fit depends on the set alone, as with the free
curves; the specimens of a schedule enter its variance. One age is enough.
"""

from __future__ import annotations

from math import exp, log

import numpy as np

from planner.compiled import njit
from planner.mixed_model.shape_loops import fit_one, log_growth

FITTED, NOT_FITTED = 0, 3  # as in :mod:`planner.fitting.batch_sweep`
NOMINAL = 2.0  # specimens behind a mean, as a fit counts it: two make a test result, common practice, no source


@njit(cache=True, nogil=True, error_model="numpy")
def mean_at(knots, at):
    """Log strength of the mean curve, its slope, and the variance of what a batch's own terms leave, at a log maturity.

    `knots` holds log maturity, log strength, slope and that variance, ``(4, n_knots)``; the curve is cubic between
    them and straight beyond, the variance straight between them and constant beyond.
    """
    last = knots.shape[1] - 1
    inside = min(max(at, knots[0, 0]), knots[0, last])
    left = 0
    while left < last - 1 and knots[0, left + 1] <= inside:
        left += 1
    width = knots[0, left + 1] - knots[0, left]
    u = (inside - knots[0, left]) / width
    rise = knots[1, left + 1] - knots[1, left]
    first, second = knots[2, left] * width, knots[2, left + 1] * width
    square, cube = 3.0 * rise - 2.0 * first - second, first + second - 2.0 * rise
    slope = (first + u * (2.0 * square + 3.0 * u * cube)) / width
    value = knots[1, left] + u * (first + u * (square + u * cube)) + (at - inside) * slope
    return value, slope, knots[3, left] + u * (knots[3, left + 1] - knots[3, left])


@njit(cache=True, nogil=True, error_model="numpy")
def is_usable(members, n, maturity, mean):
    """Whether a set has every mean, at maturities that rise from above 0."""
    for i in range(n):
        j = members[i]
        if not (mean[j] > 0.0 and maturity[j] > 0.0):
            return False
        if i > 0 and not maturity[j] > maturity[members[i - 1]]:
            return False
    return True


@njit(cache=True, nogil=True, error_model="numpy")
def is_begun(s, members, n, maturity, mean, error, contribution, status):
    """Clear the results of set `s`, and say whether it can be fitted."""
    error[s] = np.nan
    contribution[s] = 0.0
    is_fitted = is_usable(members, n, maturity, mean)
    status[s] = FITTED if is_fitted else NOT_FITTED
    return is_fitted


@njit(cache=True, nogil=True, error_model="numpy")
def sweep_population(
    members, n_ages, maturity, mean, cv, knots, own, check_maturity, check_truth, error, contribution, status
):
    """Read one batch from every set of its ages by the population prior.

    Parameters
    ----------
    members, n_ages, maturity, mean, cv, check_maturity, check_truth, error, contribution, status
        As in :func:`planner.fitting.batch_sweep.sweep`.
    knots
        As in :func:`mean_at`.
    own
        Variances of a batch's (alpha, beta) about the mean curve, which is not known for sure, ``(2,)``.
    """
    n_recorded, n_checks = maturity.shape[0], check_maturity.shape[0]
    slope, weight, behind = np.zeros(n_recorded), np.zeros(n_recorded), np.zeros(n_recorded)
    for j in range(n_recorded):
        if mean[j] > 0.0 and maturity[j] > 0.0:
            value, slope[j], left = mean_at(knots, log(maturity[j]))
            weight[j] = 1.0 / (cv[j] * cv[j] / NOMINAL + left)
            behind[j] = log(mean[j]) - value
    at_value, at_slope = np.empty(n_checks), np.empty(n_checks)
    for k in range(n_checks):
        at_value[k], at_slope[k] = np.nan, 0.0
        if check_maturity[k] > 0.0:
            at_value[k], at_slope[k], _left = mean_at(knots, log(check_maturity[k]))
    for s in range(members.shape[0]):
        n = n_ages[s]
        if not is_begun(s, members[s], n, maturity, mean, error, contribution, status):
            continue
        j00, j01, j11, q0, q1 = 1.0 / own[0], 0.0, 1.0 / own[1], 0.0, 0.0
        for i in range(n):
            j = members[s, i]
            j00 += weight[j]
            j01 += weight[j] * slope[j]
            j11 += weight[j] * slope[j] * slope[j]
            q0 += weight[j] * behind[j]
            q1 += weight[j] * slope[j] * behind[j]
        determinant = j00 * j11 - j01 * j01
        for k in range(n_checks):
            toward0 = (j11 - j01 * at_slope[k]) / determinant
            toward1 = (j00 * at_slope[k] - j01) / determinant
            ratio = exp(at_value[k] + toward0 * q0 + toward1 * q1) / check_truth[k]
            error[s, k] = ratio - 1.0
            for i in range(n):
                j = members[s, i]
                noise = (toward0 + toward1 * slope[j]) * weight[j] * cv[j] * ratio
                contribution[s, k, i] = noise * noise


@njit(cache=True, nogil=True, error_model="numpy")
def sweep_shape(
    members, n_ages, maturity, mean, cv, center, penalty, scatter, check_maturity, check_truth, error, contribution,
    status,
):  # fmt: skip
    """Read one batch from every set of its ages by the shape prior.

    Parameters
    ----------
    members, n_ages, maturity, mean, cv, check_maturity, check_truth, error, contribution, status
        As in :func:`planner.fitting.batch_sweep.sweep`.
    center, penalty, scatter
        Mean of (ln tau, ln a), inverse of their covariance, and relative scatter of single specimens about a curve,
        ``(2,)``, ``(2, 2)`` and a number.
    """
    most, n_checks = members.shape[1], check_maturity.shape[0]
    log_maturity, log_mean, rows = np.empty(most), np.empty(most), np.empty((2, most))
    weight = np.full(most, NOMINAL / (scatter * scatter))
    for s in range(members.shape[0]):
        n = n_ages[s]
        if not is_begun(s, members[s], n, maturity, mean, error, contribution, status):
            continue
        for i in range(n):
            log_maturity[i], log_mean[i] = log(maturity[members[s, i]]), log(mean[members[s, i]])
        tau, a, log_ultimate, _square, v00, v01, v11, m0, m1 = fit_one(
            n, log_maturity, log_mean, weight, center[0], center[1], center, penalty, rows
        )
        for k in range(n_checks):
            if not check_maturity[k] > 0.0:
                continue
            growth, r0, r1 = log_growth(log(check_maturity[k]), tau, a)
            ratio = exp(log_ultimate + growth) / check_truth[k]
            error[s, k] = ratio - 1.0
            along0, along1 = (r0 - m0) * v00 + (r1 - m1) * v01, (r0 - m0) * v01 + (r1 - m1) * v11
            for i in range(n):
                gain = 1.0 / n + weight[i] * (along0 * rows[0, i] + along1 * rows[1, i])
                noise = gain * cv[members[s, i]] * ratio
                contribution[s, k, i] = noise * noise
