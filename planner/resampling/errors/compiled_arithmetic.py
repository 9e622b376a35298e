"""The arithmetic of errors in the form that compiled loops call, see :mod:`planner.resampling.errors.arithmetic`."""

from __future__ import annotations

from math import erfc, exp, pi, sqrt

import numpy as np

from planner.compiled import njit

_FAR = 5.0  # deviations beyond which the normal law has nothing left: 3e-7


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
