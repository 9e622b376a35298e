"""From sets of ages to schedules: compiled loops that put specimens to every fit.

The fit of a set of ages does not know the specimens; they enter the variance ``sum(contribution / n)``
only. So each set is fitted once for each joint, and a pattern of specimens costs a few multiplications.
"""

from __future__ import annotations

from math import erfc, exp, pi, sqrt

import numpy as np
from numba import njit


@njit(cache=True, nogil=True, error_model="numpy")
def expand(square, shares, local_set, n_ages, specimens, factor, loss):
    """Loss of each unit, ``e^2 + factor v``, for every schedule and joint.

    Parameters
    ----------
    square
        Mean squared error of each unit, shape ``(n_joints, n_sets, n_units)``.
    shares
        Variance one specimen at each age adds, ``(n_joints, n_sets, n_units, most_ages)``.
    local_set, specimens
        Set of each schedule ``(n_choices,)`` and its specimens ``(n_choices, most_ages)``.
    n_ages
        Ages of each set, ``(n_sets,)``.
    loss
        Out, ``(n_choices, n_joints, n_units)``.
    """
    n_joints, _n_sets, n_units = square.shape
    inverse = np.empty(specimens.shape[1])
    for c in range(local_set.shape[0]):
        s = local_set[c]
        n = n_ages[s]
        for i in range(n):
            inverse[i] = factor / specimens[c, i]
        for j in range(n_joints):
            for u in range(n_units):
                total = square[j, s, u]
                for i in range(n):
                    total += shares[j, s, u, i] * inverse[i]
                loss[c, j, u] = total


@njit(cache=True, nogil=True, error_model="numpy")
def expand_checks(
    error,
    contribution,
    local_set,
    n_ages,
    specimens,
    factor,
    over_weight,
    is_worst,
    weight,
    unit,
    target,
    target_share,
    loss,
):
    """The same where the loss is not linear in the variance: over-prediction weighed, or the worst target.

    ``error`` is ``(n_joints, n_sets, n_checks)``, ``contribution`` has an axis of ages more; ``weight``,
    ``unit`` and ``target`` are of each check, ``target_share`` of each target.
    """
    n_joints, _n_sets, n_checks = error.shape
    n_units = loss.shape[2]
    n_targets = target_share.shape[0]
    inverse = np.empty(specimens.shape[1])
    by_target = np.empty((n_units, n_targets))
    for c in range(local_set.shape[0]):
        s = local_set[c]
        n = n_ages[s]
        for i in range(n):
            inverse[i] = 1.0 / specimens[c, i]
        for j in range(n_joints):
            by_target[:] = 0.0
            for k in range(n_checks):
                e = error[j, s, k]
                variance = 0.0
                for i in range(n):
                    variance += contribution[j, s, k, i] * inverse[i]
                spread = factor * variance
                value = e * e + spread
                if over_weight != 1.0:
                    deviation = sqrt(max(spread, 1e-300))
                    a = e / deviation
                    value = value * (1.0 + (over_weight - 1.0) * 0.5 * erfc(-a / sqrt(2.0)))
                    if abs(a) < 37.0:
                        value += (over_weight - 1.0) * e * deviation * exp(-0.5 * a * a) / sqrt(2.0 * pi)
                by_target[unit[k], target[k]] += weight[k] * value
            for u in range(n_units):
                total = 0.0
                worst = 0.0
                for t in range(n_targets):
                    total += target_share[t] * by_target[u, t]
                    if not by_target[u, t] <= worst:  # NaN counts as worse
                        worst = by_target[u, t]
                loss[c, j, u] = worst if is_worst else total


@njit(cache=True, nogil=True, error_model="numpy")
def near_rows(loss, n_specimens, threshold, least, slack, wanted, low_mean, is_near, is_low):
    """Mark the rows that the rule may need, and lower the thresholds to what is seen here.

    Parameters
    ----------
    loss
        ``(n_rows, n_units)``; rows with a hole (NaN) are left to the caller.
    n_specimens
        Of each row's schedule.
    threshold
        In and out: lowest mean loss without each unit, last row without none, among schedules with at most
        so many specimens, ``(n_units + 1, most_specimens + 1)``, not rising along the last axis.
    least
        Least penalty that any joint has, in the same rows as `threshold`, ``(n_units + 1,)``.
    slack
        A row is near where its mean, the least penalty taken off, is at most this factor times a threshold
        likewise: the rule caps the lead by the best's own square, which the penalty is no part of.
    wanted
        Rows that may be marked low.
    low_mean
        Rows whose full mean is at most this are marked low.
    """
    n_rows, n_units = loss.shape
    most = threshold.shape[1] - 1
    for pass_ in range(2):
        for r in range(n_rows):
            total = 0.0
            for u in range(n_units):
                total += loss[r, u]
            if not total < np.inf:
                continue
            m = n_specimens[r]
            for f in range(n_units + 1):
                if f < n_units:
                    if n_units == 1:
                        continue
                    mean = (total - loss[r, f]) / (n_units - 1)
                else:
                    mean = total / n_units
                if pass_ == 0:
                    if mean < threshold[f, m]:
                        level = m
                        while level <= most and threshold[f, level] > mean:
                            threshold[f, level] = mean
                            level += 1
                elif slack == np.inf or mean - least[f] <= slack * (threshold[f, m] - least[f]):
                    is_near[r] = True
            if pass_ == 1 and wanted[r] and total / n_units <= low_mean:
                is_low[r] = True


@njit(cache=True, nogil=True, error_model="numpy")
def best_joints(loss, score, best):
    """Joint of lowest mean loss of each schedule, over the units that hold it.

    ``loss`` is ``(n_choices, n_joints, n_units)``; ``score`` and ``best`` are filled, ``(n_choices,)``. The
    score is infinite where fewer than half of the units hold the schedule.
    """
    n_choices, n_joints, n_units = loss.shape
    for c in range(n_choices):
        score[c] = np.inf
        best[c] = 0
        for j in range(n_joints):
            total = 0.0
            n_held = 0
            for u in range(n_units):
                if not np.isnan(loss[c, j, u]):
                    total += loss[c, j, u]
                    n_held += 1
            if 2 * n_held >= n_units and n_held > 0 and total / n_held < score[c]:
                score[c] = total / n_held
                best[c] = j
