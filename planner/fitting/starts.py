"""Where the compiled fits start, and the second look for a better hill elsewhere.

The linearised start finds the best fit of nearly every batch. Where something is left unexplained, the fit
is held against a grid of shapes, and every hill of the grid that it does not stand on is climbed as well.
Heights of the grid depend on the ages alone, so one table serves every schedule with the same first age.
"""

from __future__ import annotations

from math import exp, log

import numpy as np
from numba import njit

from .reciprocal import solve_reciprocal
from .variable_projection import CONVERGED, COST_SLACK, HYPERBOLIC, UNCONVERGED, solve

# The grid of shapes that a fit is held against: rows of the second parameter, columns of the first.
_AHEADS = (0.02, 0.035, 0.06, 0.1, 0.17, 0.28, 0.46, 0.75, 1.2, 2.0)  # first age minus offset, scaled
_POWERS = (0.1, 0.2, 0.4, 0.7, 1.0, 1.4, 2.0, 2.8, 4.0, 6.0)
_HALF_FROM, _HALF_STEP = -3.0, 0.5
_TAU_FROM, _TAU_STEP = -1.0, 0.4
# exp(-exp(z)) at even steps of z: heights of the exponential, good to 1e-4, which is enough for a start.
_LOG_FROM, _LOG_TO, _LOG_STEP = -9.0, 5.0, 0.02
_DECAY = np.exp(-np.exp(_LOG_FROM + _LOG_STEP * np.arange(round((_LOG_TO - _LOG_FROM) / _LOG_STEP) + 2)))
N_ROWS = 10
N_COLUMNS = 20
N_GRID = N_ROWS * N_COLUMNS
_SAME_ROW = 0.5  # ln of the second parameter: nearer starts climb the same hill, the rows lie closer
_MOST_WORSE = 50.0  # times the residual of the fit: hills of the grid that leave more are not climbed
# Residual sum of squares, relative, below which a converged fit is not held against the grid. Hyperbolas
# that had a better hill elsewhere all left more than 0.5 % in trials; exponentials may at any residual.
_SURE_HYPERBOLIC = 2.5e-3
_SURE_EXPONENTIAL = 1e-10


@njit(cache=True, nogil=True, error_model="numpy")
def start_hyperbolic(n, age, mean, weight):
    """Start of the hyperbola: ``strength (age + c) = a age + b`` is linear in a, b and c.

    Returns first, second, and c, the lead of the reciprocal; NaN where the equations say none.
    """
    # Normal equations of: strength * age = a * age + b - c * strength
    saa = sab = sac = sbb = sbc = scc = ra = rb = rc = 0.0
    for i in range(n):
        w = weight[i] / (age[i] * age[i])
        product = mean[i] * age[i]
        saa += w * age[i] * age[i]
        sab += w * age[i]
        sac -= w * age[i] * mean[i]
        sbb += w
        sbc -= w * mean[i]
        scc += w * mean[i] * mean[i]
        ra += w * age[i] * product
        rb += w * product
        rc -= w * mean[i] * product
    m1 = sbb * scc - sbc * sbc
    m2 = sab * scc - sbc * sac
    m3 = sab * sbc - sbb * sac
    determinant = saa * m1 - sab * m2 + sac * m3
    offset = 0.0
    half = age[n - 1]
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
            reach = age[i] - offset
            w = weight[i] / (reach * reach)
            product = mean[i] * reach
            srr += w * reach * reach
            srs += w * product
            sss += w * mean[i] * mean[i]
            sq += w * reach * product
            sp += w * mean[i] * product
        determinant = srr * sss - srs * srs
        if determinant > 1e-13 * srr * sss:
            half = (srs * sq - srr * sp) / determinant
    return log(max(half, 1e-3)), log(1.0 - offset), lead


@njit(cache=True, nogil=True, error_model="numpy")
def start_exponential(n, log_age, mean, log_mean, weight):
    """Start of the exponential: with the ultimate guessed, ``ln(-ln(S/Su))`` is linear in ln(age)."""
    highest = mean[0]
    for i in range(1, n):
        highest = max(highest, mean[i])
    log_ultimate = log(1.1 * highest)
    sw = st = sv = stt = stv = 0.0
    for i in range(n):
        depth = log_ultimate - log_mean[i]
        if depth < 14.0:
            value = log(depth)
            # Error of `value` for a given error of the mean: 1 / (S ln(S/Su)).
            w = weight[i] * mean[i] * mean[i] * depth * depth
            sw += w
            st += w * log_age[i]
            sv += w * value
            stt += w * log_age[i] * log_age[i]
            stv += w * log_age[i] * value
    spread = sw * stt - st * st
    if spread <= 1e-12 * sw * stt:
        return 0.5 * (log_age[0] + log_age[n - 1]), 1.0
    slope = (sw * stv - st * sv) / spread
    a = min(max(-slope, 0.15), 5.0)
    return (sv - slope * st) / sw / a, a


@njit(cache=True, nogil=True, error_model="numpy")
def grid_shape(curve, row, column):
    """Scaled shape parameters of one place of the grid that starts are looked for on."""
    if curve == HYPERBOLIC:
        return _HALF_FROM + _HALF_STEP * column, log(_AHEADS[row])
    return _TAU_FROM + _TAU_STEP * column, _POWERS[row]


@njit(cache=True, nogil=True, error_model="numpy")
def grid_heights(curve, age, log_age, heights):
    """Shape at one scaled maturity for every place of the grid, into ``heights``, ``(N_GRID,)``.

    Means play no part in it: one table serves every schedule that begins with the same age.
    """
    for row in range(N_ROWS):
        at = row * N_COLUMNS
        if curve == HYPERBOLIC:
            reach = age - 1.0 + _AHEADS[row]
            for column in range(N_COLUMNS):
                heights[at + column] = reach / (reach + exp(_HALF_FROM + _HALF_STEP * column))
        else:
            for column in range(N_COLUMNS):
                log_power = _POWERS[row] * (_TAU_FROM + _TAU_STEP * column - log_age)
                place = (min(max(log_power, _LOG_FROM), _LOG_TO) - _LOG_FROM) / _LOG_STEP
                below = int(place)
                share = place - below
                heights[at + column] = (1.0 - share) * _DECAY[below] + share * _DECAY[below + 1]


@njit(cache=True, nogil=True, error_model="numpy")
def survey(n, rows, heights, mean, weight, square, gain, places):
    """Find the hills of the explained sum of squares on the grid; single precision is enough for where to start.

    Parameters
    ----------
    rows, heights
        Heights of the fitted ages stand in ``heights[rows[i]]``, see :func:`grid_heights`.
    square, gain
        Scratch, ``(N_GRID,)``; `gain` ends as the explained sum of squares of every place.
    places
        Out: places of the hills, ``(N_ROWS,)``.

    Returns
    -------
    int
        Number of hills: rows of the grid whose top no neighbouring row exceeds.
    """
    for i in range(n):
        row = rows[i]
        w = np.float32(weight[i])
        wm = np.float32(weight[i] * mean[i])
        if i == 0:
            for k in range(N_GRID):
                square[k] = np.float32(1e-30) + w * heights[row, k] * heights[row, k]
                gain[k] = wm * heights[row, k]
        else:
            for k in range(N_GRID):
                square[k] += w * heights[row, k] * heights[row, k]
                gain[k] += wm * heights[row, k]
    for k in range(N_GRID):
        gain[k] = gain[k] * gain[k] / square[k]
    n_hills = 0
    before = here = np.float32(-1.0)
    place = 0
    for row in range(N_ROWS + 1):
        after = np.float32(-1.0)
        after_place = 0
        if row < N_ROWS:
            for k in range(row * N_COLUMNS, (row + 1) * N_COLUMNS):
                if gain[k] > after:
                    after = gain[k]
                    after_place = k
        if row > 0 and here > before and here >= after:
            places[n_hills] = place
            n_hills += 1
        before = here
        here = after
        place = after_place
    return n_hills


@njit(cache=True, nogil=True, error_model="numpy")
def fit_shape(curve, n, age, log_age, mean, log_mean, weight, scratch):
    """Least squares from the linearised start, and whether the grid should be asked for a better hill.

    ``log_mean`` is read for the exponential only.
    """
    is_found = False
    ultimate = cost = 0.0
    status = CONVERGED
    sure = _SURE_EXPONENTIAL
    if curve == HYPERBOLIC:
        sure = _SURE_HYPERBOLIC
        from_first, from_second, lead = start_hyperbolic(n, age, mean, weight)
        first, second = from_first, from_second
        if lead > -1.0:
            first, second, ultimate, cost, is_found = solve_reciprocal(n, age, mean, weight, lead)
    else:
        from_first, from_second = start_exponential(n, log_age, mean, log_mean, weight)
        first, second = from_first, from_second
    if not is_found:
        first, second, ultimate, cost, status = solve(
            curve, n, age, log_age, mean, weight, from_first, from_second, scratch
        )
    total = 0.0
    for i in range(n):
        total += weight[i] * mean[i] * mean[i]
    return first, second, ultimate, cost, status, status == UNCONVERGED or not cost <= sure * total


@njit(cache=True, nogil=True, error_model="numpy")
def climb_hills(
    curve,
    n,
    age,
    log_age,
    mean,
    weight,
    first,
    second,
    ultimate,
    cost,
    status,
    rows,
    heights,
    square,
    gain,
    places,
    scratch,
):
    """The second look: climb every hill of the grid that the fit does not stand on, keep the highest.

    Takes the fit of :func:`fit_shape` and gives back the better one, as :func:`solve` does, and how many
    hills were climbed.
    """
    total = 0.0
    for i in range(n):
        total += weight[i] * mean[i] * mean[i]
    n_climbed = 0
    for k in range(survey(n, rows, heights, mean, weight, square, gain, places)):
        place = places[k]
        from_first, from_second = grid_shape(curve, place // N_COLUMNS, place % N_COLUMNS)
        apart = abs(from_second - second) if curve == HYPERBOLIC else abs(log(from_second / second))
        if status != UNCONVERGED and (
            apart < _SAME_ROW or total - gain[place] > _MOST_WORSE * cost + COST_SLACK * total
        ):
            continue
        n_climbed += 1
        new_first, new_second, new_ultimate, new_cost, new_status = solve(
            curve, n, age, log_age, mean, weight, from_first, from_second, scratch
        )
        if new_cost < cost - 1e-12 * total or (new_status < status and new_cost <= cost):
            first, second, ultimate, cost, status = new_first, new_second, new_ultimate, new_cost, new_status
    return first, second, ultimate, cost, status, n_climbed
