"""From sets of ages to schedules: compiled loops that put specimens to every fit.

The fit of a set of ages does not know the specimens; they enter the variance ``sum(contribution / n)``
only. So each set is fitted once for each joint, and a pattern of specimens costs a few multiplications.
"""

from __future__ import annotations

import numpy as np

from planner.compiled import njit
from planner.resampling.errors.compiled_arithmetic import loss_at


@njit(cache=True, nogil=True, error_model="numpy")
def expand(square, single_variance, local_set, n_ages, specimens, factor, loss):
    """Loss of each unit, ``e^2 + factor v``, for every schedule and joint.

    Parameters
    ----------
    square
        Mean squared error of each unit, shape ``(n_joints, n_sets, n_units)``.
    single_variance
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
                    total += single_variance[j, s, u, i] * inverse[i]
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
                variance = 0.0
                for i in range(n):
                    variance += contribution[j, s, k, i] * inverse[i]
                by_target[unit[k], target[k]] += weight[k] * loss_at(error[j, s, k], variance, over_weight, factor)
            for u in range(n_units):
                total = 0.0
                worst = 0.0
                for t in range(n_targets):
                    total += target_share[t] * by_target[u, t]
                    if not by_target[u, t] <= worst:  # NaN counts as worse
                        worst = by_target[u, t]
                loss[c, j, u] = worst if is_worst else total
