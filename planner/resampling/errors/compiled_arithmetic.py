"""The arithmetic of errors in the form that compiled loops call, see :mod:`planner.resampling.errors.arithmetic`."""

from __future__ import annotations

from math import erf, erfc, exp, pi, sqrt

import numpy as np

from planner.compiled import inner_njit, njit
from planner.resampling.errors.arithmetic import COMMON_POINTS, COMMON_WEIGHTS, TOGETHER

_FAR = 5.0  # deviations beyond which the normal law has nothing left: 3e-7
_TABLE_FAR, _STEPS_PER_SD = 6.0, 256  # of a table of the normal law: straight lines between its points err by 5e-7
_N_STEPS = int(2 * _TABLE_FAR * _STEPS_PER_SD)
_NORMAL = np.array([0.5 + 0.5 * erf((i / _STEPS_PER_SD - _TABLE_FAR) / sqrt(2.0)) for i in range(_N_STEPS + 2)])
_NORMAL[0], _NORMAL[_N_STEPS:] = 0.0, 1.0
_RISE = np.append(np.diff(_NORMAL), 0.0)
_POINTS, _POINT_WEIGHTS = np.asarray(COMMON_POINTS), np.asarray(COMMON_WEIGHTS)
_SHARED, _ALONE = sqrt(TOGETHER), sqrt(1.0 - TOGETHER)
_STEPS = _SHARED / _ALONE * _POINTS * _STEPS_PER_SD  # what they move a place of the table


@njit(cache=True, nogil=True, error_model="numpy")
def loss_at(error, variance, over_weight, variance_factor):
    """What choices are ranked by, at one check."""
    spread = variance_factor * variance
    value = error * error + spread
    if over_weight != 1.0:
        deviation = sqrt(max(spread, 1e-300))
        a = error / deviation
        value = value * (1.0 + (over_weight - 1.0) * 0.5 * erfc(-a / sqrt(2.0)))
        if abs(a) < 37.0:
            value += (over_weight - 1.0) * error * deviation * exp(-0.5 * a * a) / sqrt(2.0 * pi)
    return value


@njit(cache=True, nogil=True, error_model="numpy")
def level_at(error, schedule_variance, prior_variance, truth_variance):
    """Unbiased squared error against true strength, at one check."""
    return error * error + schedule_variance - prior_variance - truth_variance


@njit(cache=True, nogil=True, error_model="numpy")
def narrowing_factor(mean_square, second_moment, bias):
    """How far errors are drawn together about their bias; at most 1."""
    spread = second_moment - bias * bias
    wanted = max(mean_square - bias * bias, 0.0)
    return sqrt(wanted / spread) if spread > wanted else 1.0


@njit(cache=True, nogil=True, error_model="numpy")
def normal_tail(z):
    """Share of the standard normal law above `z`, to 3e-7."""
    if z > _FAR:
        return 0.0
    return 1.0 if z < -_FAR else 0.5 * erfc(z / sqrt(2.0))


@njit(cache=True, nogil=True, error_model="numpy")
def normal_density(z):
    """Density of the standard normal law at `z`, to 2e-6."""
    return 0.0 if abs(z) > _FAR else exp(-0.5 * z * z) / sqrt(2.0 * pi)


@njit(cache=True, nogil=True, error_model="numpy")
def inside_at(mean, deviation, tolerance):
    """Chance that a normal error lies within the tolerance; `deviation` above 0."""
    inverse = 1.0 / deviation
    return normal_tail((-tolerance - mean) * inverse) - normal_tail((tolerance - mean) * inverse)


@njit(cache=True, nogil=True, error_model="numpy")
def beyond_at(mean, deviation, limit):
    """Chance that a normal error is above a limit; `deviation` above 0."""
    return normal_tail((limit - mean) / deviation)


@njit(cache=True, nogil=True, error_model="numpy")
def normal_below(z):
    """Share of the standard normal law below `z`, from a table; half a hundred million of them are asked for."""
    return _at_place((z + _TABLE_FAR) * _STEPS_PER_SD)


@inner_njit(is_inlined=True)
def _at_place(place):
    """The table at a place, counted in its steps; its ends beyond them, 0 of NaN. Selects are faster than branches."""
    place = place if place > 0.0 else 0.0
    place = place if place < _N_STEPS else float(_N_STEPS)
    whole = np.int32(place)
    at = np.uint32(whole)
    return _NORMAL[at] + (place - whole) * _RISE[at]


@njit(cache=True, nogil=True, error_model="numpy")
def units_inside(mean, deviation, tolerance, weight, unit, target, n_units, n_targets):
    """Share of units with every target inside, their errors normal with a common part; `deviation` above 0.

    Checks of no weight do not count. Of several targets: of one, chances of checks are averaged.
    """
    n_points = len(_POINTS)
    in_target = np.zeros((n_units, n_targets))
    chance = np.zeros((n_units, n_targets, n_points))
    for k in range(len(mean)):
        if weight[k] > 0.0:
            per_step = _STEPS_PER_SD / (_ALONE * deviation[k])
            low = (-tolerance - mean[k]) * per_step + _TABLE_FAR * _STEPS_PER_SD
            high = (tolerance - mean[k]) * per_step + _TABLE_FAR * _STEPS_PER_SD
            in_target[unit[k], target[k]] += weight[k]
            found = chance[unit[k], target[k]]
            for j in range(n_points):
                found[j] += weight[k] * (_at_place(high - _STEPS[j]) - _at_place(low - _STEPS[j]))
    share = total = 0.0
    every = np.empty(n_points)
    for u in range(n_units):
        every[:] = _POINT_WEIGHTS
        of_unit = 0.0
        for t in range(n_targets):
            if in_target[u, t] > 0.0:
                of_unit += in_target[u, t]
                inverse = 1.0 / in_target[u, t]
                for j in range(n_points):
                    every[j] *= chance[u, t, j] * inverse
        total += of_unit
        for j in range(n_points):
            share += of_unit * every[j]
    return share / total


@njit(cache=True, nogil=True, error_model="numpy")
def mean_through(values, reference, left_out, fewest):
    """Mean loss of one choice without one unit (-1: none), its holes filled through a reference.

    NaN where fewer units are shared than `fewest` and than the reference holds.
    """
    lead = 0.0
    n_shared = n_held = 0
    for u in range(values.shape[0]):
        if u != left_out and not np.isnan(reference[u]):
            n_held += 1
            if not np.isnan(values[u]):
                lead += values[u] - reference[u]
                n_shared += 1
    if n_shared < min(fewest, n_held) or n_shared == 0:
        return np.nan
    lead /= n_shared
    total = 0.0
    for u in range(values.shape[0]):
        if u != left_out and not np.isnan(reference[u]):
            total += max(reference[u] + lead, 0.0) if np.isnan(values[u]) else values[u]
    return total / n_held
