"""Which joint choices of a piece the choosing rule may need: compiled loops over all of them.

Most joint choices are far from the best. Their losses are linear in ``1 / n``, so one sum over units tells
that without the losses of the units: a schedule costs as many multiplications as it has ages. Losses are
worked out where that sum leaves a doubt.
"""

from __future__ import annotations

import numpy as np

from planner.compiled import njit

_ROUNDING = 1.0 + 1e-9  # sums in two orders differ by less; a row too many costs nothing


@njit(cache=True, nogil=True, error_model="numpy")
def promising(
    square,
    single_variance,
    local_set,
    n_ages,
    specimens,
    factor,
    n_specimens,
    limit,
    hole_limit,
    wanted,
    low_mean,
    score,
    best,
    is_promising,
):
    """Find the best joint of every schedule, and mark the joint choices that may be near the best or low.

    Parameters
    ----------
    square, single_variance, local_set, n_ages, specimens, factor
        As in :func:`planner.resampling.errors.expansion.expand`; `local_set` rises.
    n_specimens
        Of each schedule, ``(n_choices,)``.
    limit
        Highest mean loss that is near, without each unit, last row without none, for every number of
        specimens, ``(n_units + 1, most_specimens + 1)``.
    hole_limit
        The same where a unit lacks an age, for the mean over the others, ``(most_specimens + 1,)``.
    wanted, low_mean
        Schedules that may be low, and the mean loss up to which they are.
    score, best
        Out: lowest mean loss over the units that hold a schedule, infinite with fewer than half of them,
        and its joint, ``(n_choices,)``.
    is_promising
        Out, false on entry, ``(n_choices, n_joints)``. None that is near or low is left out.
    """
    n_joints, _n_sets, n_units = square.shape
    n_choices, most_ages = specimens.shape
    most = limit.shape[1] - 1
    by_age, greatest = np.empty(most_ages), np.empty(most_ages)
    ceiling = np.empty(most + 1)
    score[:] = np.inf
    best[:] = 0
    start = 0
    while start < n_choices:
        s = local_set[start]
        n = n_ages[s]
        stop = start
        while stop < n_choices and local_set[stop] == s:
            stop += 1
        inverse = np.empty((n, stop - start))
        for i in range(n):
            greatest[i] = 0.0
            for c in range(start, stop):
                inverse[i, c - start] = factor / specimens[c, i]
                greatest[i] = max(greatest[i], inverse[i, c - start])
        totals = np.empty(stop - start)
        for j in range(n_joints):
            by_age[:] = 0.0
            fixed = 0.0
            n_held = 0
            for u in range(n_units):
                if np.isnan(square[j, s, u]):
                    continue
                n_held += 1
                fixed += square[j, s, u]
                for i in range(n):
                    by_age[i] += single_variance[j, s, u, i]
            if n_held == 0:
                continue
            for m in range(most + 1):  # the sum over units up to which a row is near
                ceiling[m] = n_held * (limit[n_units, m] if n_held == n_units else hole_limit[m])
            if n_held == n_units and n_units > 1:
                for u in range(n_units):
                    largest = square[j, s, u]
                    for i in range(n):
                        largest += single_variance[j, s, u, i] * greatest[i]
                    for m in range(most + 1):
                        ceiling[m] = max(ceiling[m], (n_units - 1) * limit[u, m] + largest)
            totals[:] = fixed
            for i in range(n):
                for c in range(stop - start):
                    totals[c] += by_age[i] * inverse[i, c]
            is_judged = 2 * n_held >= n_units
            for c in range(start, stop):
                total = totals[c - start]
                mean = total / n_held
                if is_judged and mean < score[c]:
                    score[c] = mean
                    best[c] = j
                is_near = total <= ceiling[n_specimens[c]] * _ROUNDING
                is_low = wanted[c] and n_held == n_units and mean <= low_mean * _ROUNDING
                is_promising[c, j] = is_near or is_low
        start = stop


@njit(cache=True, nogil=True, error_model="numpy")
def losses_at(square, single_variance, local_set, n_ages, specimens, factor, choice, joint, loss):
    """Loss of each unit as in :func:`planner.resampling.errors.expansion.expand`, for single joint choices.

    ``choice`` and ``joint`` are ``(n_rows,)``; ``loss`` is filled, ``(n_rows, n_units)``.
    """
    for r in range(choice.shape[0]):
        c, j = choice[r], joint[r]
        s = local_set[c]
        for u in range(square.shape[2]):
            total = square[j, s, u]
            for i in range(n_ages[s]):
                total += single_variance[j, s, u, i] * (factor / specimens[c, i])
            loss[r, u] = total


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
                        count = m
                        while count <= most and threshold[f, count] > mean:
                            threshold[f, count] = mean
                            count += 1
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
