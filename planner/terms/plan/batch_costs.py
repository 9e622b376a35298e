"""What several trial batches cost that may be cast at different hours."""

from __future__ import annotations

import numpy as np

from planner.terms.arrays import FloatArray, IntArray


def cost_of_batches(batch_cost: FloatArray, which: IntArray | int, n_trial_batches: IntArray | int) -> FloatArray:
    """So many trial batches of each schedule, those beyond the castings as the last; without what is paid once.

    Parameters
    ----------
    batch_cost
        Of one trial batch at each casting, ``(n_castings, n_schedules)``.
    which, n_trial_batches
        Of any two shapes that go together.
    """
    last = len(batch_cost) - 1
    upto = np.cumsum(batch_cost, axis=0)
    number = np.asarray(n_trial_batches)
    at = np.minimum(number - 1, last)
    return np.asarray(upto[at, which] + (number - 1 - at) * batch_cost[last, which])
