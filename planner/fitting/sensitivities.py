"""Shapes and slopes of a fitted curve, and how the fit answers to each cell mean.

Shape parameters are scaled as in :mod:`planner.fitting.variable_projection`.
"""

from __future__ import annotations

from math import exp, log

from numba import njit

from .variable_projection import EXPONENTIAL, HYPERBOLIC, powers_at, shape_bounds


@njit(cache=True, nogil=True, error_model="numpy")
def shape_at(curve, age, first, second):
    """Shape and slopes at one scaled maturity; zero strength before the offset."""
    if curve == HYPERBOLIC:
        half = exp(first)
        ahead = exp(second)
        reach = age - 1.0 + ahead
        if reach <= 0.0:
            return 0.0, 0.0, 0.0
        inverse = 1.0 / (reach + half)
        return reach * inverse, -half * reach * inverse * inverse, half * ahead * inverse * inverse
    lag = first - log(age)
    power = exp(second * lag)
    g = exp(-power)
    return g, -g * power * second, -g * power * lag


@njit(cache=True, nogil=True, error_model="numpy")
def shapes_at(curve, n, age, log_age, first, second, shapes):
    """Shape and slopes at fitted maturities, none before the offset, into the rows of ``shapes``."""
    half = exp(first) if curve == HYPERBOLIC else 0.0
    ahead = exp(second) if curve == HYPERBOLIC else 0.0
    if curve == EXPONENTIAL:
        powers_at(n, log_age, first, second, shapes)
    for i in range(n):
        if curve == HYPERBOLIC:
            reach = age[i] - 1.0 + ahead
            inverse = 1.0 / (reach + half)
            shapes[0, i] = reach * inverse
            shapes[1, i] = -half * reach * inverse * inverse
            shapes[2, i] = half * ahead * inverse * inverse
        else:
            steep = -shapes[0, i] * shapes[1, i]
            shapes[1, i] = steep * second
            shapes[2, i] = steep * (first - log_age[i])


@njit(cache=True, nogil=True, error_model="numpy")
def sensitivities(curve, n, age, log_age, mean, weight, first, second, answers):
    """How ultimate strength and shape answer to each cell mean, first order in the residuals.

    Into rows of ``answers``: 0 d ultimate / d mean, 1 d first / d mean, 2 d second / d mean. A
    parameter held by its bound does not answer. False where the ages cannot tell parameters apart.
    """
    first_low, first_high, second_low, second_high = shape_bounds(curve, age[n - 1])
    shapes_at(curve, n, age, log_age, first, second, answers)
    s00 = s01 = s02 = s11 = s12 = s22 = m0 = 0.0
    for i in range(n):
        height, slope1, slope2 = answers[0, i], answers[1, i], answers[2, i]
        w0 = weight[i] * height
        s00 += w0 * height
        s01 += w0 * slope1
        s02 += w0 * slope2
        s11 += weight[i] * slope1 * slope1
        s12 += weight[i] * slope1 * slope2
        s22 += weight[i] * slope2 * slope2
        m0 += w0 * mean[i]
    if not s00 > 1e-280:
        return False
    ultimate = m0 / s00
    lean1 = s01 / s00
    lean2 = s02 / s00
    scale = ultimate * ultimate
    h11 = scale * (s11 - s01 * lean1)
    h12 = scale * (s12 - s01 * lean2)
    h22 = scale * (s22 - s02 * lean2)
    is_first_free = first_low < first < first_high
    is_second_free = second_low < second < second_high
    i11 = i12 = i22 = 0.0
    if is_first_free and is_second_free:
        determinant = h11 * h22 - h12 * h12
        if not determinant > 1e-13 * h11 * h22:
            return False
        i11, i12, i22 = h22 / determinant, -h12 / determinant, h11 / determinant
    elif is_first_free:
        if not h11 > 0.0:
            return False
        i11 = 1.0 / h11
    elif is_second_free:
        if not h22 > 0.0:
            return False
        i22 = 1.0 / h22
    for i in range(n):
        height, slope1, slope2 = answers[0, i], answers[1, i], answers[2, i]
        k1 = ultimate * (slope1 - height * lean1) * weight[i]
        k2 = ultimate * (slope2 - height * lean2) * weight[i]
        move1 = i11 * k1 + i12 * k2
        move2 = i12 * k1 + i22 * k2
        answers[1, i] = move1
        answers[2, i] = move2
        answers[0, i] = weight[i] * height / s00 - ultimate * (lean1 * move1 + lean2 * move2)
    return True
