"""Where the compiled fits start, and the second look for a better hill elsewhere.

The hyperbola starts from equations that are linear in all it is made of, which finds the best fit of nearly
every batch; where something is left unexplained, the fit is held against a grid of shapes. The exponential may
have a better hill elsewhere at any residual, so the grid is always asked, and the fit starts from its top.
Every hill of the grid that the fit does not stand on and that might be higher is climbed as well.
"""

from __future__ import annotations

from math import exp, log

import numpy as np

from planner.compiled import inner_njit
from planner.fitting.grid import N_ROWS, column_of, grid_shape, is_hill, log_of_row, start_on_grid, survey, top_of
from planner.fitting.reciprocal import solve_reciprocal
from planner.fitting.variable_projection import (
    AGE,
    CONVERGED,
    COST_SLACK,
    HYPERBOLIC,
    LOG_AGE,
    LOWEST_POWER,
    MEAN,
    UNCONVERGED,
    WEIGHT,
    solve,
)

_SAME_ROW = 0.3  # ln of the second parameter: nearer starts climb the same hill, the rows lie closer
_AS_EXPECTED = exp(0.3)  # times the second parameter: a fit that ends farther from its start may have left its hill
_MOST_WORSE = 10.0  # times the residual of the fit: hills of the grid that leave more are not climbed
# Residual sum of squares, relative, below which a converged hyperbola is not held against the grid: those that
# had a better hill elsewhere all left more than 0.5 % in trials.
_SURE = 2.5e-3


@inner_njit(is_inlined=True)
def start_hyperbolic(n, fitted):
    """Start of the hyperbola: ``strength (age + c) = a age + b`` is linear in a, b and c.

    Returns half, offset, and c, the lead of the reciprocal; NaN where the equations say none.
    """
    # Normal equations of: strength * age = a * age + b - c * strength
    saa = sab = sac = sbb = sbc = scc = ra = rb = rc = 0.0
    for i in range(n):
        w = fitted[WEIGHT, i] / (fitted[AGE, i] * fitted[AGE, i])
        product = fitted[MEAN, i] * fitted[AGE, i]
        saa += w * fitted[AGE, i] * fitted[AGE, i]
        sab += w * fitted[AGE, i]
        sac -= w * fitted[AGE, i] * fitted[MEAN, i]
        sbb += w
        sbc -= w * fitted[MEAN, i]
        scc += w * fitted[MEAN, i] * fitted[MEAN, i]
        ra += w * fitted[AGE, i] * product
        rb += w * product
        rc -= w * fitted[MEAN, i] * product
    m1 = sbb * scc - sbc * sbc
    m2 = sab * scc - sbc * sac
    m3 = sab * sbc - sbb * sac
    determinant = saa * m1 - sab * m2 + sac * m3
    offset = 0.0
    half = fitted[AGE, n - 1]
    lead = np.nan
    if abs(determinant) > 1e-13 * saa * sbb * scc:
        a = (ra * m1 - sab * (rb * scc - sbc * rc) + sac * (rb * sbc - sbb * rc)) / determinant
        b = (saa * (rb * scc - rc * sbc) - ra * m2 + sac * (sab * rc - rb * sac)) / determinant
        c = (saa * (sbb * rc - sbc * rb) - sab * (sab * rc - rb * sac) + ra * m3) / determinant
        if a != 0.0:
            offset = -b / a
            half = c + offset
        lead = c
    if not -1.0 <= offset <= 0.98:
        # The offset ends at its bound: strength (age - offset) = a (age - offset) - half strength
        offset = -1.0 if offset < -1.0 else 0.98
        srr = srs = sss = sq = sp = 0.0
        for i in range(n):
            reach = fitted[AGE, i] - offset
            w = fitted[WEIGHT, i] / (reach * reach)
            product = fitted[MEAN, i] * reach
            srr += w * reach * reach
            srs += w * product
            sss += w * fitted[MEAN, i] * fitted[MEAN, i]
            sq += w * reach * product
            sp += w * fitted[MEAN, i] * product
        determinant = srr * sss - srs * srs
        if determinant > 1e-13 * srr * sss:
            half = (srs * sq - srr * sp) / determinant
    return half, offset, lead


@inner_njit()
def start_exponential(n, fitted):
    """Start of the exponential: with the ultimate guessed, ``ln(-ln(S/Su))`` is linear in ln(age)."""
    highest = fitted[MEAN, 0]
    for i in range(1, n):
        highest = max(highest, fitted[MEAN, i])
    log_ultimate = log(1.1 * highest)
    sw = st = sv = stt = stv = 0.0
    for i in range(n):
        depth = log_ultimate - log(fitted[MEAN, i])
        if depth < 14.0:
            value = log(depth)
            # Error of `value` for a given error of the mean: 1 / (S ln(S/Su)).
            w = fitted[WEIGHT, i] * fitted[MEAN, i] * fitted[MEAN, i] * depth * depth
            sw += w
            st += w * fitted[LOG_AGE, i]
            sv += w * value
            stt += w * fitted[LOG_AGE, i] * fitted[LOG_AGE, i]
            stv += w * fitted[LOG_AGE, i] * value
    spread = sw * stt - st * st
    if spread <= 1e-12 * sw * stt:
        return 0.5 * (fitted[LOG_AGE, 0] + fitted[LOG_AGE, n - 1]), 1.0
    slope = (sw * stv - st * sv) / spread
    a = min(max(-slope, 0.15), 5.0)
    return (sv - slope * st) / sw / a, a


@inner_njit()
def _higher(curve, n, fitted, from_first, from_second, first, second, cost, status, total):
    """Climb from another start; the better of both fits."""
    new_first, new_second, new_cost, new_status = solve(curve, n, fitted, from_first, from_second, first, second)
    if new_cost < cost - 1e-12 * total or (new_status < status and new_cost <= cost):
        return new_first, new_second, new_cost, new_status
    return first, second, cost, status


@inner_njit()
def fit_shape(curve, n, fitted, begin, rows, heights, kept, sums, is_sure):
    """Least squares from the best start there is.

    Parameters
    ----------
    fitted
        Rows as in :mod:`planner.fitting.variable_projection`.
    begin, rows, heights, kept, sums
        Table and scratch of :func:`survey`.
    is_sure
        Hold every fit against the grid, however little it leaves.

    Returns
    -------
    tuple
        Scaled shape parameters, status, and how many other hills were climbed.
    """
    total = 0.0
    for i in range(n):
        total += fitted[WEIGHT, i] * fitted[MEAN, i] * fitted[MEAN, i]
    if curve == HYPERBOLIC:
        half, offset, lead = start_hyperbolic(n, fitted)
        first, second, cost, status = 0.0, 0.0, 0.0, UNCONVERGED
        if lead > -1.0:
            first, second, cost, status = solve_reciprocal(n, fitted, lead)
        if status == UNCONVERGED:
            from_first, from_second = log(max(half, 1e-3)), log(1.0 - offset)
            first, second, cost, status = solve(curve, n, fitted, from_first, from_second, np.nan, np.nan)
        if status != UNCONVERGED and cost <= _SURE * total and not is_sure:
            return first, second, status, 0
        survey(curve, n, fitted, begin, rows, heights, kept, sums)
    else:
        survey(curve, n, fitted, begin, rows, heights, kept, sums)
        from_first, from_second = start_on_grid(sums)
        first, second, cost, status = solve(curve, n, fitted, from_first, from_second, np.nan, np.nan)
        is_missed = n == 3 and cost > 1e-12 * total  # three means can nearly always be met
        is_near = from_second < _AS_EXPECTED * second and second < _AS_EXPECTED * from_second
        is_elsewhere = status != CONVERGED or not is_near
        # A fit at the lowest power lies below all that the linearised start can say.
        if is_missed or status == UNCONVERGED or (is_elsewhere and second > LOWEST_POWER):
            from_first, from_second = start_exponential(n, fitted)
            first, second, cost, status = _higher(
                curve, n, fitted, from_first, from_second, first, second, cost, status, total
            )
    log_second = second if curve == HYPERBOLIC else log(second)  # of 1 - offset, or of the power
    n_climbed = 0
    for row in range(N_ROWS):
        if not is_hill(row, sums):
            continue
        if status != UNCONVERGED and total - top_of(row, sums) > _MOST_WORSE * cost + COST_SLACK * total:
            continue
        if status != UNCONVERGED and abs(log_of_row(curve, row) - log_second) < _SAME_ROW:
            continue
        from_first, from_second = grid_shape(curve, row, float(column_of(row, sums)))
        n_climbed += 1
        first, second, cost, status = _higher(
            curve, n, fitted, from_first, from_second, first, second, cost, status, total
        )
        log_second = second if curve == HYPERBOLIC else log(second)
    return first, second, status, n_climbed
