"""From checks to units, compiled: what the search adds up for every joint and every set of ages."""

from __future__ import annotations

from numba import njit


@njit(cache=True, nogil=True, error_model="numpy")
def add_to_units(
    error, contribution, prior_variance, weight, truth_variance, unit, tolerance, square, level, shares, is_over
):
    """Add errors and variances at checks up to units; a hole at any check (NaN) makes a hole of its unit.

    Parameters
    ----------
    error, contribution, prior_variance
        Of every set of ages: ``(n_sets, n_checks)``, ``(n_sets, n_checks, most_ages)``, ``(n_sets, n_checks)``.
    weight
        Of each check in its unit, targets and all; sums to 1 over each unit, ``(n_checks,)``.
    truth_variance, unit, tolerance
        CV^2 / m of the companions, unit of each check, tolerated error.
    square, level, shares, is_over
        Out, zero on entry: mean squared error, unbiased squared error but for the schedule's own variance,
        variance of one specimen at each age ``(n_sets, n_units, most_ages)``, over-predicted beyond tolerance.
    """
    n_sets, n_checks = error.shape
    most = contribution.shape[2]
    for s in range(n_sets):
        for k in range(n_checks):
            u = unit[k]
            e = error[s, k]
            square[s, u] += weight[k] * e * e
            level[s, u] += weight[k] * (e * e - prior_variance[s, k] - truth_variance[k])
            is_over[s, u] |= e > tolerance
            for i in range(most):
                shares[s, u, i] += weight[k] * contribution[s, k, i]
