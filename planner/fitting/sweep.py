"""Every subset of ages, one curve, one batch: errors at the checks and what each cell's scatter adds.

Two compiled loops. :func:`sweep` fits every schedule once to the full cell means; :func:`resample`
refits one schedule to many drawn sets of cell means. Both read plain arrays and write into arrays
that the caller made, hold no lock and draw nothing, so threads share nothing but their inputs.
"""

from __future__ import annotations

from math import log

import numpy as np
from numba import njit

from planner.terms.settings import CurveName

from .sensitivities import sensitivities, shape_at
from .smoothers import LOGARITHMIC, PIECEWISE, PIECEWISE_LOG, smoother_weights
from .starts import N_GRID, N_ROWS, climb_hills, fit_shape, grid_heights
from .variable_projection import CONVERGED, EXPONENTIAL, HYPERBOLIC

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
    """Logarithms; NaN where there is none."""
    logs = np.empty(values.shape[0])
    for i in range(values.shape[0]):
        logs[i] = log(values[i]) if values[i] > 0.0 else np.nan
    return logs


@njit(cache=True, nogil=True, error_model="numpy")
def _gather(n, members, maturity, log_maturity, mean, log_mean, is_relative, age, log_age, value, log_value, weight):
    """Scaled ages, means and weights of one schedule in one batch; False where a cell is missing."""
    scale = maturity[members[0]]
    log_scale = log_maturity[members[0]]
    for i in range(n):
        j = members[i]
        if not (mean[j] > 0.0 and maturity[j] > 0.0):
            return False
        age[i] = maturity[j] / scale
        if i > 0 and not age[i] > age[i - 1]:
            return False
        log_age[i] = log_maturity[j] - log_scale
        value[i] = mean[j]
        log_value[i] = log_mean[j]
        weight[i] = 1.0 / (mean[j] * mean[j]) if is_relative else 1.0
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
        shape ``(n_schedules, n_checks, most_ages)``; divide by the specimens and sum.
    status
        Out: converged, at a bound, unconverged or not fitted, shape ``(n_schedules,)``.
    n_second_looks
        Out: one cell, how many fits climbed another hill of the grid too.
    """
    most = members.shape[1]
    age = np.empty(most)
    log_age = np.empty(most)
    value = np.empty(most)
    log_value = np.empty(most)
    log_maturity, log_mean = logs_of(maturity), logs_of(mean)  # once, not for every schedule
    weight = np.empty(most)
    answer = np.empty(most)
    answers = np.empty((3, most))
    n_checks = check_maturity.shape[0]
    n_recorded = maturity.shape[0]
    heights = np.empty(
        (n_recorded, n_recorded, N_GRID), dtype=np.float32
    )  # by first age and age, filled when first wanted
    is_tabled = np.zeros((n_recorded, n_recorded), dtype=np.bool_)
    square = np.empty(N_GRID, dtype=np.float32)
    gain = np.empty(N_GRID, dtype=np.float32)
    places = np.empty(N_ROWS, dtype=np.int64)
    for s in range(members.shape[0]):
        n = n_ages[s]
        status[s] = NOT_FITTED
        for k in range(n_checks):
            error[s, k] = np.nan
            for i in range(most):
                contribution[s, k, i] = 0.0
        if n < fewest or not _gather(
            n, members[s], maturity, log_maturity, mean, log_mean, is_relative, age, log_age, value, log_value, weight
        ):
            continue
        scale = maturity[members[s, 0]]
        if curve <= EXPONENTIAL:
            first, second, ultimate, cost, code, is_doubtful = fit_shape(
                curve, n, age, log_age, value, log_value, weight, answers
            )
            if is_doubtful:
                begin = members[s, 0]
                for i in range(n):
                    j = members[s, i]
                    if not is_tabled[begin, j]:
                        grid_heights(curve, age[i], log_age[i], heights[begin, j])
                        is_tabled[begin, j] = True
                first, second, ultimate, cost, code, n_climbed = climb_hills(
                    curve, n, age, log_age, value, weight, first, second, ultimate, cost, code,
                    members[s], heights[begin], square, gain, places, answers,
                )  # fmt: skip
                n_second_looks[0] += n_climbed > 0
            status[s] = code
            is_told_apart = sensitivities(curve, n, age, log_age, value, weight, first, second, answers)
            for k in range(n_checks):
                g, g1, g2 = shape_at(curve, check_maturity[k] / scale, first, second)
                error[s, k] = ultimate * g / check_truth[k] - 1.0
                for i in range(n):
                    if is_told_apart:
                        a = g * answers[0, i] + ultimate * (g1 * answers[1, i] + g2 * answers[2, i])
                    else:
                        a = np.inf
                    noise = a * cv[members[s, i]] * value[i] / check_truth[k]
                    contribution[s, k, i] = noise * noise
        else:
            status[s] = CONVERGED
            for k in range(n_checks):
                smoother_weights(curve, n, age, log_age, weight, check_maturity[k] / scale, answer)
                prediction = 0.0
                for i in range(n):
                    prediction += answer[i] * value[i]
                    noise = answer[i] * cv[members[s, i]] * value[i] / check_truth[k]
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
    age = np.empty(n)
    log_age = np.empty(n)
    value = np.empty(n)
    log_value = np.empty(n)
    weight = np.empty(n)
    drawn = np.empty(n)
    answer = np.empty(n)
    scratch = np.empty((3, n))
    heights = np.empty((n, N_GRID), dtype=np.float32)
    is_tabled = False
    square = np.empty(N_GRID, dtype=np.float32)
    gain = np.empty(N_GRID, dtype=np.float32)
    places = np.empty(N_ROWS, dtype=np.int64)
    rows = np.arange(n).astype(members.dtype)  # as in the sweep, or all would be compiled for two types
    n_checks = check_maturity.shape[0]
    error[:] = np.nan
    if not _gather(
        n,
        members,
        maturity,
        logs_of(maturity),
        mean,
        logs_of(mean),
        is_relative,
        age,
        log_age,
        value,
        log_value,
        weight,
    ):
        return
    scale = maturity[members[0]]
    for d in range(noise.shape[0]):
        for i in range(n):
            drawn[i] = value[i] * max(1.0 + noise[d, i], 1e-3)
            if curve == EXPONENTIAL:
                log_value[i] = log(drawn[i])
            if is_relative:
                weight[i] = 1.0 / (drawn[i] * drawn[i])
        if curve <= EXPONENTIAL:
            first, second, ultimate, cost, code, is_doubtful = fit_shape(
                curve, n, age, log_age, drawn, log_value, weight, scratch
            )
            if is_doubtful:
                if not is_tabled:
                    for i in range(n):
                        grid_heights(curve, age[i], log_age[i], heights[i])
                    is_tabled = True
                first, second, ultimate, cost, code, _climbed = climb_hills(
                    curve, n, age, log_age, drawn, weight, first, second, ultimate, cost, code,
                    rows, heights, square, gain, places, scratch,
                )  # fmt: skip
            for k in range(n_checks):
                g, _g1, _g2 = shape_at(curve, check_maturity[k] / scale, first, second)
                error[d, k] = ultimate * g / check_truth[k] - 1.0
        else:
            for k in range(n_checks):
                smoother_weights(curve, n, age, log_age, weight, check_maturity[k] / scale, answer)
                prediction = 0.0
                for i in range(n):
                    prediction += answer[i] * drawn[i]
                error[d, k] = prediction / check_truth[k] - 1.0
