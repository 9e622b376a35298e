"""Compiled loop over joint choices: lowest mean loss without each unit in turn, and with all."""

from __future__ import annotations

import numpy as np
from numba import njit


@njit(cache=True, nogil=True, error_model="numpy")
def lowest_by_fold(loss, base, fewest, lowest, joint, left_out):  # type: ignore[no-untyped-def]
    """Fill the lowest means of some schedules.

    Where a unit lacks an age (NaN) a joint choice is scored through a reference: the reference's mean plus
    the mean difference over the units that both have.

    Parameters
    ----------
    loss
        ``(n_choices, n_joints, n_units)``; NaN is a hole, infinite cannot be fitted.
    base
        Loss of the reference in every unit, ``(n_units,)``.
    fewest
        Units that must be shared with the reference, or all there are.
    lowest, joint
        Out: means and their joints, ``(n_units + 1, n_choices)``; infinite where too few units are shared or
        where the unit left out could not be predicted. The last row leaves nothing out.
    left_out
        Out: loss of that joint on the unit left out, ``(n_units, n_choices)``; NaN where there is none.
    """
    n_choices, n_joints, n_units = loss.shape
    base_total = base.sum()
    for c in range(n_choices):
        for fold in range(n_units + 1):
            lowest[fold, c] = np.inf
            joint[fold, c] = 0
            if fold < n_units:
                left_out[fold, c] = np.nan
        for j in range(n_joints):
            lead = 0.0
            n_held = 0
            is_fitted = True
            for u in range(n_units):
                value = loss[c, j, u]
                if value == np.inf:
                    is_fitted = False
                elif value == value:
                    lead += value - base[u]
                    n_held += 1
            if not is_fitted:
                continue
            for fold in range(n_units + 1):
                n, rest, reference, n_trained = n_held, lead, base_total / n_units, n_units
                if fold < n_units:
                    value = loss[c, j, fold]
                    if value != value or n_units == 1:
                        continue
                    n -= 1
                    n_trained -= 1
                    rest -= value - base[fold]
                    reference = (base_total - base[fold]) / n_trained
                if n < min(fewest, n_trained):
                    continue
                mean = max(reference + rest / n, 0.0)
                if mean < lowest[fold, c]:
                    lowest[fold, c] = mean
                    joint[fold, c] = j
                    if fold < n_units:
                        left_out[fold, c] = loss[c, j, fold]
