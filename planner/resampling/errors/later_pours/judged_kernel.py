"""Compiled loop over programmes: error, shares and worst batch of each, from moments of its readings."""

from __future__ import annotations

from math import sqrt

import numpy as np

from planner.compiled import njit
from planner.resampling.errors.arithmetic import LEAST_DEVIATION
from planner.resampling.errors.compiled_arithmetic import normal_below, units_inside


@njit(cache=True, nogil=True, error_model="numpy")
def judge_rows(
    at, specimens, mean, variance, n_others, single_variance, prior_variance, weight, unit, target, truth_variance,
    numbers, tolerance, out,
):  # fmt: skip
    """Fill rms, share inside, share beyond above and worst unit of every row and number of trial batches.

    Errors of a calibration on m trial batches are taken as normal at every check: the mean is that over the
    trial batches, the variance ``(var + v) / m``. They are drawn together about their common mean until
    their mean square is the level, as measured errors are narrowed elsewhere. Inside is a unit that keeps every target.
    """
    n_checks = weight.shape[0]
    most = specimens.shape[1]
    n_units, n_targets = unit.max() + 1, target.max() + 1
    centre, spread_about, counted = np.empty(n_checks), np.empty(n_checks), np.empty(n_checks)
    own, inverse = np.empty(n_checks), np.empty(most)
    judged = np.empty(n_units, dtype=np.bool_)
    by_unit = np.empty(n_units)
    in_unit = np.empty(n_units)
    for r in range(at.shape[0]):
        p = at[r]
        judged[:] = True
        in_unit[:] = 0.0
        n = 0
        for i in range(most):
            if specimens[r, i] > 0:
                inverse[i] = 1.0 / specimens[r, i]
                n = i + 1
        for k in range(n_checks):
            if not (abs(mean[p, k]) < np.inf and n_others[p, k] > 0.0):
                judged[unit[k]] = False
                continue
            in_unit[unit[k]] += weight[k]
            own[k] = 0.0
            for i in range(n):
                own[k] += single_variance[p, k, i] * inverse[i]
        n_judged = 0
        for u in range(n_units):
            judged[u] = judged[u] and in_unit[u] > 0.0
            n_judged += judged[u]
        if n_judged == 0:
            continue
        for j in range(numbers.shape[0]):
            m = numbers[j]
            is_told = True
            level = floor = bias = second = 0.0
            for k in range(n_checks):
                if not judged[unit[k]]:
                    continue
                if n_others[p, k] < 2.0 and m > 1.0:
                    is_told = False
                e, v = mean[p, k], own[k] / m
                w = weight[k] / n_judged
                spread = variance[p, k] / m
                level += w * (
                    e * e + spread - variance[p, k] / n_others[p, k] + v - prior_variance[p, k] / m
                    - truth_variance[k]
                )  # fmt: skip
                floor += w * v
                bias += w * e
                second += w * (e * e + spread + v)
            if not is_told:
                continue
            square = max(level, floor)
            wanted = max(square - bias * bias, 0.0)
            wide = second - bias * bias
            factor = sqrt(wanted / wide) if wide > wanted else 1.0
            inside = beyond = 0.0
            by_unit[:] = 0.0
            for k in range(n_checks):
                counted[k] = 0.0
                if not judged[unit[k]]:
                    continue
                w = weight[k] / n_judged
                e = bias + factor * (mean[p, k] - bias)
                d = max(factor * sqrt((variance[p, k] + own[k]) / m), LEAST_DEVIATION)
                above = normal_below((e - tolerance) / d)
                inside += w * (1.0 - above - normal_below((-tolerance - e) / d))
                beyond += w * above
                centre[k], spread_about[k], counted[k] = e, d, w
                by_unit[unit[k]] += weight[k] * (e * e + d * d)
            if n_targets > 1:
                inside = units_inside(centre, spread_about, tolerance, counted, unit, target, n_units, n_targets)
            out[0, r, j] = sqrt(square)
            out[1, r, j] = inside
            out[2, r, j] = beyond
            worst = 0.0
            for u in range(n_units):
                if judged[u]:
                    worst = max(worst, by_unit[u])
            out[3, r, j] = sqrt(worst)
