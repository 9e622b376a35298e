"""The sweep over every batch in one compiled call: the loop over batches would cost more than the fits."""

from __future__ import annotations

import numpy as np
from numba import njit

from .sweep import sweep


@njit(cache=True, nogil=True, error_model="numpy")
def sweep_views(
    curve,
    fewest,
    members,
    n_ages,
    maturity,
    mean,
    prior,
    cv,
    is_relative,
    first_check,
    check_maturity,
    check_truth,
    error,
    contribution,
    prior_variance,
    totals,
):
    """Sweep every view and hold each against its own checks.

    Parameters
    ----------
    curve, fewest, members, n_ages, cv, is_relative
        As in :func:`planner.fitting.sweep.sweep`.
    maturity, mean, prior
        Of every view: maturity [h], cell mean [MPa], specimens behind it, ``(n_views, n_recorded)``.
    first_check
        Where the checks of each view begin; one more at the end, ``(n_views + 1,)``.
    check_maturity, check_truth
        Of every check, ``(n_checks,)``.
    error, contribution
        Out, ``(n_sets, n_checks)`` and ``(n_sets, n_checks, most_ages)``.
    prior_variance
        Out: variance with the specimens each view really had, ``(n_sets, n_checks)``.
    totals
        In and out: fits by status (4), second looks (1).
    """
    n_sets = members.shape[0]
    status = np.empty(n_sets, dtype=np.int8)
    looks = np.zeros(1, dtype=np.int64)
    for view in range(maturity.shape[0]):
        start, stop = first_check[view], first_check[view + 1]
        part = np.empty((n_sets, stop - start))
        shares = np.empty((n_sets, stop - start, members.shape[1]))
        sweep(curve, fewest, members, n_ages, maturity[view], mean[view], cv, is_relative,
              check_maturity[start:stop], check_truth[start:stop], part, shares, status, looks)  # fmt: skip
        for s in range(n_sets):
            totals[status[s]] += 1
            for k in range(stop - start):
                error[s, start + k] = part[s, k]
                variance = 0.0
                for i in range(n_ages[s]):
                    contribution[s, start + k, i] = shares[s, k, i]
                    variance += shares[s, k, i] / max(prior[view, members[s, i]], 1.0)
                for i in range(n_ages[s], members.shape[1]):
                    contribution[s, start + k, i] = 0.0
                prior_variance[s, start + k] = variance
    totals[4] += looks[0]
