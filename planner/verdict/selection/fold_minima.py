"""Compiled loops over joint choices: lowest mean loss of every schedule, and without each unit in turn."""

from __future__ import annotations

import numpy as np

from planner.compiled import njit
from planner.resampling.errors.compiled_arithmetic import mean_through


@njit(cache=True, nogil=True, error_model="numpy")
def lowest_by_fold(loss, base, fewest, lowest, joint, left_out):  # type: ignore[no-untyped-def]
    """Fill the lowest means of some schedules.

    Where a unit lacks an age (NaN) a joint choice is scored through a reference, see
    :func:`planner.resampling.errors.arithmetic.fill_holes`.

    Parameters
    ----------
    loss
        ``(n_choices, n_joints, n_units)``; NaN is a hole, infinite cannot be fitted.
    base
        Loss of the reference, NaN in its own holes, ``(n_units,)``.
    fewest
        Units that must be shared with the reference, or all that it holds.
    lowest, joint
        Out: means and their joints, ``(n_units + 1, n_choices)``; infinite where too few units are shared or
        where the unit left out could not be predicted. The last row leaves nothing out.
    left_out
        Out: loss of that joint on the unit left out, ``(n_units, n_choices)``; NaN where there is none.
    """
    n_choices, n_joints, n_units = loss.shape
    for c in range(n_choices):
        for fold in range(n_units + 1):
            lowest[fold, c] = np.inf
            joint[fold, c] = 0
            if fold < n_units:
                left_out[fold, c] = np.nan
        for j in range(n_joints):
            total = 0.0
            has_hole = False
            for u in range(n_units):
                total += loss[c, j, u]
                has_hole |= np.isnan(loss[c, j, u]) or np.isnan(base[u])
            if np.isinf(loss[c, j]).any():
                continue
            for fold in range(n_units + 1):
                is_left_out = fold < n_units
                if is_left_out and (np.isnan(loss[c, j, fold]) or n_units == 1):
                    continue
                if has_hole:
                    mean = mean_through(loss[c, j], base, fold if is_left_out else -1, fewest)
                else:
                    mean = (total - loss[c, j, fold]) / (n_units - 1) if is_left_out else total / n_units
                if mean < lowest[fold, c]:
                    lowest[fold, c] = mean
                    joint[fold, c] = j
                    if is_left_out:
                        left_out[fold, c] = loss[c, j, fold]


@njit(cache=True, nogil=True)
def lowest_by_schedule(loss, schedule, is_counted, lowest, row):  # type: ignore[no-untyped-def]
    """Fill the lowest mean loss of every schedule and the row that has it, of equals the first.

    Parameters
    ----------
    loss
        Complete, ``(n_rows, n_units)``.
    schedule
        Of each row, ``(n_rows,)``.
    is_counted
        Units that the mean is over, ``(n_units,)``.
    lowest, row
        Out: infinite and -1 where a schedule has no row, ``(n_choices,)``.
    """
    lowest[:] = np.inf
    row[:] = -1
    n_counted = is_counted.sum()
    for i in range(len(loss)):
        total = 0.0
        for u in range(loss.shape[1]):
            if is_counted[u]:
                total += loss[i, u]
        mean = total / n_counted
        if mean < lowest[schedule[i]]:
            lowest[schedule[i]] = mean
            row[schedule[i]] = i
