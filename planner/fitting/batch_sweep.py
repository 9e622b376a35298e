"""Every subset of ages, one curve, one batch: errors at the checks and what each cell's scatter adds.

Two compiled loops. :func:`sweep` fits every schedule once to the full cell means; :func:`resample`
refits one schedule to many drawn sets of cell means. Both read plain arrays and write into arrays
that the caller made, hold no lock and draw nothing, so threads share nothing but their inputs.
"""

from __future__ import annotations

from math import log

import numpy as np

from planner.compiled import inner_njit, njit
from planner.fitting.bound_scatter import near_a_bound
from planner.fitting.grid import N_GRID, no_heights
from planner.fitting.sensitivities import natural, sensitivities, shape_at, ultimate_of
from planner.fitting.smoothers import LOGARITHMIC, PIECEWISE, PIECEWISE_LOG, smoother_weights
from planner.fitting.starts import fit_shape
from planner.fitting.variable_projection import (
    AGE,
    CONVERGED,
    EXPONENTIAL,
    HYPERBOLIC,
    LOG_AGE,
    MEAN,
    N_LINES,
    RELEASE,
    SCATTER,
    SHAPE,
    WEIGHT,
)
from planner.terms.plan.settings import CurveName

CURVE_CODES: dict[CurveName, int] = {
    "hyperbolic": HYPERBOLIC,
    "exponential": EXPONENTIAL,
    "logarithmic": LOGARITHMIC,
    "piecewise linear": PIECEWISE,
    "piecewise linear in log age": PIECEWISE_LOG,
}
FEWEST_AGES: dict[CurveName, int] = {
    "hyperbolic": 3,
    "exponential": 3,
    "logarithmic": 2,
    "piecewise linear": 2,
    "piecewise linear in log age": 2,
}
ITERATIVE: frozenset[CurveName] = frozenset({"hyperbolic", "exponential"})
NOT_FITTED = 3  # too few ages for the curve, or a hole in the records


@njit(cache=True, nogil=True, error_model="numpy")
def logs_of(values):
    """Logarithms; -infinity of 0, NaN where there is none."""
    logs = np.empty(values.shape[0])
    for i in range(values.shape[0]):
        logs[i] = log(values[i]) if values[i] > 0.0 else (-np.inf if values[i] == 0.0 else np.nan)
    return logs


@inner_njit()
def _gather(n, members, maturity, log_maturity, mean, is_relative, fitted):
    """Scaled ages, means and weights of one schedule in one batch; False where a cell is missing."""
    scale = maturity[members[0]]
    log_scale = log_maturity[members[0]]
    for i in range(n):
        j = members[i]
        if not (mean[j] > 0.0 and maturity[j] > 0.0):
            return False
        fitted[AGE, i] = maturity[j] / scale
        if i > 0 and not fitted[AGE, i] > fitted[AGE, i - 1]:
            return False
        fitted[LOG_AGE, i] = log_maturity[j] - log_scale
        fitted[MEAN, i] = mean[j]
        fitted[WEIGHT, i] = 1.0 / (mean[j] * mean[j]) if is_relative else 1.0
    return True


@njit(cache=True, nogil=True, error_model="numpy")
def sweep(
    curve,
    fewest,
    members,
    n_ages,
    maturity,
    mean,
    cv,
    is_relative,
    check_maturity,
    check_truth,
    error,
    contribution,
    status,
    n_second_looks,
):
    """Fit every schedule to one batch and hold it against the checks.

    Parameters
    ----------
    curve, fewest
        Code of the curve and the fewest ages it can be fitted to.
    members
        Ages of each schedule as positions, rising, shape ``(n_schedules, most_ages)``.
    n_ages
        Ages in each schedule, shape ``(n_schedules,)``.
    maturity, mean, cv
        Of every recorded age: maturity [h], cell mean [MPa] (NaN: a hole), scatter (relative),
        shape ``(n_recorded,)``.
    is_relative
        Weights 1/mean^2 instead of 1.
    check_maturity, check_truth
        Maturity [h] and true strength [MPa] of each check, shape ``(n_checks,)``.
    error
        Out: predicted over actual minus 1, shape ``(n_schedules, n_checks)``; NaN where not fitted.
    contribution
        Out: ``(a_i cv_i mean_i / truth)^2``, the variance one specimen at each age would add,
        shape ``(n_schedules, n_checks, most_ages)``; divide by the specimens and sum. Where scatter can carry a
        parameter to its bound or away from it, see :mod:`planner.fitting.bound_scatter`.
    status
        Out: converged, at a bound, unconverged or not fitted, shape ``(n_schedules,)``.
    n_second_looks
        Out: one cell, how many fits climbed another hill of the grid too.
    """
    most = members.shape[1]
    fitted = np.empty((N_LINES, most))
    log_maturity, log_check = logs_of(maturity), logs_of(check_maturity)  # once, not for every schedule
    n_checks = check_maturity.shape[0]
    n_recorded = maturity.shape[0]
    heights = no_heights(n_recorded, n_recorded)  # by first age and age
    kept = np.full(most, -1, dtype=members.dtype)
    sums = np.empty((2 * most + 2, N_GRID), dtype=np.float32)
    for s in range(members.shape[0]):
        n = n_ages[s]
        status[s] = NOT_FITTED
        for k in range(n_checks):
            error[s, k] = np.nan
            for i in range(most):
                contribution[s, k, i] = 0.0
        if n < fewest or not _gather(n, members[s], maturity, log_maturity, mean, is_relative, fitted):
            continue
        begin = members[s, 0]
        scale = maturity[begin]
        if curve <= EXPONENTIAL:
            first, second, code, n_climbed = fit_shape(curve, n, fitted, begin, members[s], heights, kept, sums, False)
            n_second_looks[0] += n_climbed > 0
            status[s] = code
            for i in range(n):
                fitted[SCATTER, i] = cv[members[s, i]] * fitted[MEAN, i]
            one, other = natural(curve, first, second)
            ultimate, is_told_apart, bends = sensitivities(curve, n, fitted, first, second, one, other)
            is_near, share, spread, d_ultimate, d_first, d_second = near_a_bound(
                curve, n, fitted, first, second, ultimate, is_told_apart, bends
            )
            for k in range(n_checks):
                log_age = log_check[k] - log_maturity[begin]
                g, g1, g2 = shape_at(curve, check_maturity[k] / scale, log_age, one, other)
                per_truth = 1.0 / check_truth[k]
                error[s, k] = ultimate * g * per_truth - 1.0
                released = (g * d_ultimate + ultimate * (g1 * d_first + g2 * d_second)) if is_near else 0.0
                for i in range(n):
                    if is_told_apart:
                        a = g * fitted[SHAPE, i] + ultimate * (g1 * fitted[SHAPE + 1, i] + g2 * fitted[SHAPE + 2, i])
                    else:
                        a = np.inf
                    square = a * a
                    if is_near:
                        more = released * fitted[RELEASE, i]
                        square = max(square + more * (2.0 * share * a + spread * more), 0.0)  # rounding
                    noise = fitted[SCATTER, i] * per_truth
                    contribution[s, k, i] = square * noise * noise
        else:
            status[s] = CONVERGED
            for k in range(n_checks):
                smoother_weights(curve, n, fitted, check_maturity[k] / scale)
                prediction = 0.0
                for i in range(n):
                    prediction += fitted[SHAPE, i] * fitted[MEAN, i]
                    noise = fitted[SHAPE, i] * cv[members[s, i]] * fitted[MEAN, i] / check_truth[k]
                    contribution[s, k, i] = noise * noise
                error[s, k] = prediction / check_truth[k] - 1.0


@njit(cache=True, nogil=True, error_model="numpy")
def resample(curve, members, maturity, mean, is_relative, noise, check_maturity, check_truth, error):
    """Refit one schedule to drawn cell means of one batch.

    Parameters
    ----------
    members
        Positions of the schedule's ages, shape ``(n_ages,)``; the curve must be fit for that many.
    noise
        Relative departures of the cell means, shape ``(n_draws, n_ages)``.
    error
        Out: signed relative errors, shape ``(n_draws, n_checks)``; NaN where not fitted.
    """
    n = members.shape[0]
    fitted = np.empty((N_LINES, n))
    value = np.empty(n)
    heights = no_heights(1, n)
    kept = np.empty(n, dtype=members.dtype)
    sums = np.empty((2 * n + 2, N_GRID), dtype=np.float32)
    rows = np.arange(n).astype(members.dtype)  # as in the sweep, or all would be compiled for two types
    n_checks = check_maturity.shape[0]
    error[:] = np.nan
    log_maturity, log_check = logs_of(maturity), logs_of(check_maturity)
    if not _gather(n, members, maturity, log_maturity, mean, is_relative, fitted):
        return
    scale = maturity[members[0]]
    for i in range(n):
        value[i] = fitted[MEAN, i]
    for d in range(noise.shape[0]):
        for i in range(n):
            fitted[MEAN, i] = value[i] * max(1.0 + noise[d, i], 1e-3)
            if is_relative:
                fitted[WEIGHT, i] = 1.0 / (fitted[MEAN, i] * fitted[MEAN, i])
        if curve <= EXPONENTIAL:
            kept[0] = -1
            first, second, _code, _n_climbed = fit_shape(curve, n, fitted, rows[0], rows, heights, kept, sums, False)
            one, other = natural(curve, first, second)
            ultimate = ultimate_of(curve, n, fitted, one, other)
            for k in range(n_checks):
                log_age = log_check[k] - log_maturity[members[0]]
                g, _g1, _g2 = shape_at(curve, check_maturity[k] / scale, log_age, one, other)
                error[d, k] = ultimate * g / check_truth[k] - 1.0
        else:
            for k in range(n_checks):
                smoother_weights(curve, n, fitted, check_maturity[k] / scale)
                prediction = 0.0
                for i in range(n):
                    prediction += fitted[SHAPE, i] * fitted[MEAN, i]
                error[d, k] = prediction / check_truth[k] - 1.0
