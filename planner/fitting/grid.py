"""A coarse grid of shapes, surveyed for the hills of the explained sum of squares: where a fit may start.

Heights of the grid depend on the ages alone, so one table serves every schedule with the same first age.
Sums over ages are kept age by age: the next schedule of a sweep shares all but its last ages with the one
before, and adds only these. Single precision is enough for where to start.
"""

from __future__ import annotations

from math import exp, log

import numpy as np

from planner.compiled import inner_njit, njit
from planner.fitting.quick_exp import quick_exp
from planner.fitting.variable_projection import (
    AGE,
    EXPONENTIAL,
    HIGHEST_POWER,
    HYPERBOLIC,
    LOG_AGE,
    LOWEST_POWER,
    MEAN,
    WEIGHT,
)

# Rows lie evenly in the logarithm of the second parameter (the first age minus the offset, or the power),
# columns evenly in the first, ln(half) or ln(tau). Place = column * N_ROWS + row: loops over places then run
# through whole columns.
N_ROWS = 12
N_COLUMNS = 20
N_GRID = N_ROWS * N_COLUMNS
_LOG_AHEADS = np.linspace(log(0.02), log(2.0), N_ROWS)
_LOG_POWERS = np.linspace(log(LOWEST_POWER), log(HIGHEST_POWER), N_ROWS)
_POWER_STEP = float(_LOG_POWERS[1] - _LOG_POWERS[0])
_AHEADS, _POWERS = np.exp(_LOG_AHEADS), np.exp(_LOG_POWERS)
_HALF_FROM, _HALF_STEP = -3.0, 0.5
_TAU_FROM = -1.0
_TAU_STEPS = 0.4 * (1.0 + 0.06 / _POWERS)  # slow growth is like itself over a longer range
_POWER_FACTORS = np.exp(_POWERS * _TAU_STEPS)
_DEEPEST = 16.0  # heights below exp(-16) are none: were they equal, any flat series would seem to be explained
# exp(-z) by its series, for z up to 1, good to 1e-4 in its 16th power
_NONE, _ONE, _HALF, _SIXTH, _TWENTYFOURTH = (np.float32(value) for value in (1e-30, 1, 1 / 2, 1 / 6, 1 / 24))
_FLOOR = np.float32(0.375) ** np.float32(16)  # what the series says at the deepest


@inner_njit()
def grid_shape(curve, row, column):
    """Scaled shape parameters of a place of the grid; columns may be fractions."""
    if curve == HYPERBOLIC:
        return _HALF_FROM + _HALF_STEP * column, _LOG_AHEADS[row]
    return _TAU_FROM + _TAU_STEPS[row] * column, _POWERS[row]


@inner_njit(is_inlined=True)
def log_of_row(curve, row):
    """Logarithm of what all places of a row share: the first age minus the offset, or the power."""
    return _LOG_AHEADS[row] if curve == HYPERBOLIC else _LOG_POWERS[row]


@njit(cache=True, nogil=True, error_model="numpy")
def no_heights(n_first, n_ages):
    """A table of heights that none has been put into yet, see :func:`survey`."""
    heights = np.empty((n_first, n_ages, N_GRID), dtype=np.float32)
    for begin in range(n_first):
        for j in range(n_ages):
            heights[begin, j, 0] = np.nan
    return heights


@inner_njit()
def grid_heights(curve, age, log_age, begin, j, heights):
    """Shape at one scaled maturity for every place of the grid, into ``heights[begin, j]``."""
    if curve == HYPERBOLIC:
        for column in range(N_COLUMNS):
            half = exp(_HALF_FROM + _HALF_STEP * column)
            for row in range(N_ROWS):
                reach = age - 1.0 + _AHEADS[row]
                heights[begin, j, column * N_ROWS + row] = reach / (reach + half)
        return
    for row in range(N_ROWS):
        power = exp(_POWERS[row] * (_TAU_FROM - log_age))
        for column in range(N_COLUMNS):
            heights[begin, j, column * N_ROWS + row] = min(power, _DEEPEST) * (1.0 / 16.0)
            power *= _POWER_FACTORS[row]
    for k in range(N_GRID):
        z = heights[begin, j, k]
        height = _ONE - z * (_ONE - z * (_HALF - z * (_SIXTH - z * _TWENTYFOURTH)))
        height *= height
        height *= height
        height *= height
        heights[begin, j, k] = height * height - _FLOOR


@inner_njit()
def survey(curve, n, fitted, begin, rows, heights, kept, sums):
    """Work out what every place of the grid explains of one fit.

    Parameters
    ----------
    begin, rows
        Heights of the fitted ages stand in ``heights[begin, rows[i]]``.
    heights
        In and out: see :func:`grid_heights`; filled where first wanted, the first place NaN before.
    kept
        In and out: ages whose sums are kept, from the first, -1 where none is, ``(most_ages,)``. Put -1 into
        its first place where means, weights or the first age have changed.
    sums
        In and out, ``(2 most_ages + 2, N_GRID)``: sums of squares of the first, the first two, ... ages but the
        last, then their products with the means, then the sum of squares that each place explains, then each row's
        highest, ``N_ROWS`` of them.
    """
    most = kept.shape[0]
    last = n - 1
    n_kept = 0
    while n_kept < last and kept[n_kept] == rows[n_kept]:
        n_kept += 1
    for i in range(n_kept, n):
        j = rows[i]
        if np.isnan(heights[begin, j, 0]):
            grid_heights(curve, fitted[AGE, i], fitted[LOG_AGE, i], begin, j, heights)
        w = np.float32(fitted[WEIGHT, i])
        wm = np.float32(fitted[WEIGHT, i] * fitted[MEAN, i])
        if i == 0:
            for k in range(N_GRID):
                sums[0, k] = _NONE + w * heights[begin, j, k] * heights[begin, j, k]
                sums[most, k] = wm * heights[begin, j, k]
        elif i < last:
            for k in range(N_GRID):
                sums[i, k] = sums[i - 1, k] + w * heights[begin, j, k] * heights[begin, j, k]
                sums[most + i, k] = sums[most + i - 1, k] + wm * heights[begin, j, k]
        else:  # its sums are not kept: the next schedule has another last age
            for k in range(N_GRID):
                product = sums[most + i - 1, k] + wm * heights[begin, j, k]
                square = sums[i - 1, k] + w * heights[begin, j, k] * heights[begin, j, k]
                sums[2 * most, k] = product * product / square
        kept[i] = j if i < last else -1
    explained, tops = 2 * most, 2 * most + 1
    # Highest of each row: four quarters of the columns against each other, then the five that are left.
    for k in range(N_GRID // 4):
        one, two = sums[explained, k], sums[explained, k + N_GRID // 4]
        three, four = sums[explained, k + N_GRID // 2], sums[explained, k + 3 * N_GRID // 4]
        one = one if one > two else two
        three = three if three > four else four
        sums[tops, k] = one if one > three else three
    for column in range(1, N_COLUMNS // 4):
        for row in range(N_ROWS):
            here, there = sums[tops, row], sums[tops, column * N_ROWS + row]
            sums[tops, row] = here if here > there else there


@inner_njit()
def top_of(row, sums):
    """What the highest place of a row explains."""
    return float(sums[sums.shape[0] - 1, row])


@inner_njit()
def is_hill(row, sums):
    """Whether no neighbouring row rises above a row."""
    top = top_of(row, sums)
    return (row == 0 or top > top_of(row - 1, sums)) and (row == N_ROWS - 1 or top >= top_of(row + 1, sums))


@inner_njit(is_inlined=True)
def _peak(before, here, after):
    """Where the parabola through three even steps is highest, from the middle one."""
    bend = before - 2.0 * here + after
    return min(max(0.5 * (before - after) / bend, -0.5), 0.5) if bend < 0.0 else 0.0


@inner_njit(is_inlined=True)
def column_of(row, sums):
    """Column of the highest place of a row."""
    explained, tops = sums.shape[0] - 2, sums.shape[0] - 1
    found = 0
    for column in range(N_COLUMNS):
        found = column if sums[explained, column * N_ROWS + row] == sums[tops, row] else found
    return found


@inner_njit(is_inlined=True)
def ridge(row, column, sums):
    """Uphill along a row from a column: where its top is, between columns by a parabola, and how high."""
    explained = sums.shape[0] - 2
    here = sums[explained, column * N_ROWS + row]
    while column > 0 and sums[explained, (column - 1) * N_ROWS + row] > here:
        column -= 1
        here = sums[explained, column * N_ROWS + row]
    while column < N_COLUMNS - 1 and sums[explained, (column + 1) * N_ROWS + row] > here:
        column += 1
        here = sums[explained, column * N_ROWS + row]
    if column == 0 or column == N_COLUMNS - 1:
        return float(column), float(here)
    before = float(sums[explained, (column - 1) * N_ROWS + row])
    after = float(sums[explained, (column + 1) * N_ROWS + row])
    share = _peak(before, float(here), after)
    return column + share, here - 0.25 * (before - after) * share


@inner_njit(is_inlined=True)
def start_on_grid(sums):
    """Scaled shape parameters of the exponential at the highest point of its grid, between places by parabolas."""
    top = 0
    highest = top_of(0, sums)
    for row in range(1, N_ROWS):
        here = top_of(row, sums)
        if here > highest:
            highest, top = here, row
    place = column_of(top, sums)
    column, here = ridge(top, place, sums)
    if top == 0 or top == N_ROWS - 1:
        return grid_shape(EXPONENTIAL, top, column)
    column_before, before = ridge(top - 1, place, sums)
    column_after, after = ridge(top + 1, place, sums)
    share = _peak(before, here, after)
    first, second = grid_shape(EXPONENTIAL, top, column)
    first_before, _ = grid_shape(EXPONENTIAL, top - 1, column_before)
    first_after, _ = grid_shape(EXPONENTIAL, top + 1, column_after)
    first += 0.5 * share * (first_after - first_before + share * (first_before - 2.0 * first + first_after))
    return first, second * quick_exp(share * _POWER_STEP)
