"""The sweep over joints and batches, and what it adds up to, compiled: plain loops would cost more than the fits."""

from __future__ import annotations

import numpy as np

from planner.compiled import njit
from planner.fitting.batch_sweep import resample, sweep
from planner.resampling.errors.compiled_arithmetic import level_at


@njit(cache=True, nogil=True, error_model="numpy")
def add_to_units(
    error,
    contribution,
    prior_variance,
    weight,
    truth_variance,
    unit,
    tolerance,
    most_error,
    square,
    level,
    single_variance,
    is_over,
):
    """Add errors and variances at checks up to units; a hole at any check (NaN) makes a hole of its unit.

    Parameters
    ----------
    error, contribution, prior_variance
        Of every set of ages: ``(n_sets, n_checks)``, ``(n_sets, n_checks, most_ages)``, ``(n_sets, n_checks)``.
    weight
        Of each check in its unit, targets and all; sums to 1 over each unit, ``(n_checks,)``.
    truth_variance, unit, tolerance
        CV^2 / m of the specimens that tell the truth, unit of each check, tolerated error.
    most_error
        What errors count as in the squared error at the most; levels know no such cap.
    square, level, single_variance, is_over
        Out, zero on entry: mean squared error, unbiased squared error but for the schedule's own variance,
        variance of one specimen at each age ``(n_sets, n_units, most_ages)``, over-predicted beyond tolerance.
    """
    n_sets, n_checks = error.shape
    most = contribution.shape[2]
    for s in range(n_sets):
        for k in range(n_checks):
            u = unit[k]
            e = error[s, k]
            counted = min(max(e, -most_error), most_error) if e == e else e  # a hole stays one
            square[s, u] += weight[k] * counted * counted
            level[s, u] += weight[k] * level_at(e, 0.0, prior_variance[s, k], truth_variance[k])
            is_over[s, u] |= e > tolerance
            for i in range(most):
                single_variance[s, u, i] += weight[k] * contribution[s, k, i]


@njit(cache=True, nogil=True, error_model="numpy")
def sweep_joints(
    curves,
    fewest,
    is_relative,
    settings,
    members,
    n_ages,
    maturity,
    mean,
    prior,
    cv,
    first_check,
    check_maturity,
    check_truth,
    weight,
    truth_variance,
    unit,
    tolerance,
    most_error,
    error,
    contribution,
    prior_variance,
    square,
    level,
    single_variance,
    is_over,
    totals,
):
    """Sweep every view with every joint, hold each against its own checks, and add these up to units.

    Parameters
    ----------
    curves, fewest, is_relative, settings
        Of every joint: code of the curve, fewest ages it can be fitted to, weighting, position of the maturity
        setting, ``(n_joints,)``.
    members, n_ages, cv
        As in :func:`planner.fitting.batch_sweep.sweep`.
    maturity
        Of every setting and view [h], ``(n_settings, n_views, n_recorded)``.
    mean, prior
        Of every view: cell mean [MPa], specimens behind it, ``(n_views, n_recorded)``.
    first_check
        Where the checks of each view begin; one more at the end, ``(n_views + 1,)``.
    check_maturity, check_truth
        Of every check, ``(n_settings, n_checks)`` and ``(n_checks,)``.
    weight, truth_variance, unit, tolerance, most_error
        As in :func:`add_to_units`.
    error, contribution, prior_variance
        Out: of every joint, ``(n_joints, n_sets, n_checks)``, contributions with an axis of ages more;
        prior_variance with the specimens each view really had. Without any joint they are not kept.
    square, level, single_variance, is_over
        In and out, of every joint, see :func:`add_to_units`. Without any joint nothing is added up.
    totals
        In and out: fits by status (4), second looks (1), of every joint ``(n_joints, 5)``.
    """
    n_sets, most = members.shape
    n_checks = check_truth.shape[0]
    is_kept = error.shape[0] > 0
    n_scratch = 0 if is_kept else 1
    errors = np.empty((n_scratch, n_sets, n_checks))
    contributions = np.empty((n_scratch, n_sets, n_checks, most))
    prior_variances = np.empty((n_scratch, n_sets, n_checks))
    status = np.empty(n_sets, dtype=np.int8)
    looks = np.zeros(1, dtype=np.int64)
    for j in range(curves.shape[0]):
        e = error[j] if is_kept else errors[0]
        c = contribution[j] if is_kept else contributions[0]
        p = prior_variance[j] if is_kept else prior_variances[0]
        looks[0] = 0
        for view in range(mean.shape[0]):
            start, stop = first_check[view], first_check[view + 1]
            part = np.empty((n_sets, stop - start))
            single = np.empty((n_sets, stop - start, most))
            sweep(curves[j], fewest[j], members, n_ages, maturity[settings[j], view], mean[view], cv, is_relative[j],
                  check_maturity[settings[j], start:stop], check_truth[start:stop], part, single, status,
                  looks)  # fmt: skip
            for s in range(n_sets):
                totals[j, status[s]] += 1
                for k in range(stop - start):
                    e[s, start + k] = part[s, k]
                    variance = 0.0
                    for i in range(n_ages[s]):
                        c[s, start + k, i] = single[s, k, i]
                        variance += single[s, k, i] / max(prior[view, members[s, i]], 1.0)
                    for i in range(n_ages[s], most):
                        c[s, start + k, i] = 0.0
                    p[s, start + k] = variance
        totals[j, 4] += looks[0]
        if square.shape[0] > 0:
            add_to_units(
                e, c, p, weight, truth_variance, unit, tolerance, most_error, square[j], level[j], single_variance[j],
                is_over[j],
            )  # fmt: skip


@njit(cache=True, nogil=True, error_model="numpy")
def resample_views(curve, members, maturity, mean, is_relative, noise, first_check, check_maturity, check_truth, error):
    """Refit one schedule to drawn cell means of every view.

    Parameters
    ----------
    curve, members, is_relative
        As in :func:`planner.fitting.batch_sweep.resample`.
    maturity, mean, first_check, check_maturity, check_truth
        As in :func:`sweep_joints`.
    noise
        Relative departures of the cell means, ``(n_views, n_draws, n_ages)``.
    error
        Out: signed relative errors, ``(n_draws, n_checks)``; NaN where not fitted.
    """
    for view in range(maturity.shape[0]):
        start, stop = first_check[view], first_check[view + 1]
        part = np.empty((error.shape[0], stop - start))
        resample(curve, members, maturity[view], mean[view], is_relative, noise[view],
                 check_maturity[start:stop], check_truth[start:stop], part)  # fmt: skip
        for d in range(error.shape[0]):
            for k in range(stop - start):
                error[d, start + k] = part[d, k]
