"""Shapes and slopes of a fitted curve, and how the fit answers to each cell mean.

Shape parameters are scaled as in :mod:`planner.fitting.variable_projection`.
"""

from __future__ import annotations

from planner.compiled import inner_njit
from planner.fitting.quick_exp import quick_exp
from planner.fitting.variable_projection import (
    AGE,
    EXPONENTIAL,
    HYPERBOLIC,
    LOG_AGE,
    MEAN,
    RELEASE,
    SHAPE,
    WEIGHT,
    powers_at,
    shape_bounds,
)


@inner_njit(is_inlined=True)
def natural(curve, first, second):
    """Half time and the first age's distance from the offset of the hyperbola; the exponential's stay as they are."""
    if curve == HYPERBOLIC:
        return quick_exp(first), quick_exp(second)
    return first, second


@inner_njit(is_inlined=True)
def shape_at(curve, age, log_age, one, other):
    """Shape and slopes at one scaled maturity, by natural parameters; zero strength before the offset."""
    if curve == HYPERBOLIC:
        reach = age - 1.0 + other
        if reach <= 0.0:
            return 0.0, 0.0, 0.0
        inverse = 1.0 / (reach + one)
        return reach * inverse, -one * reach * inverse * inverse, one * other * inverse * inverse
    lag = one - log_age
    power = quick_exp(other * lag)
    g = quick_exp(-power)
    return g, -g * power * other, -g * power * lag


@inner_njit()
def shapes_at(curve, n, fitted, one, other):
    """Shape and slopes at fitted maturities, none before the offset, into the rows from ``SHAPE``."""
    if curve == EXPONENTIAL:
        powers_at(n, fitted, one, other)
    for i in range(n):
        if curve == HYPERBOLIC:
            reach = fitted[AGE, i] - 1.0 + other
            inverse = 1.0 / (reach + one)
            fitted[SHAPE, i] = reach * inverse
            fitted[SHAPE + 1, i] = -one * reach * inverse * inverse
            fitted[SHAPE + 2, i] = one * other * inverse * inverse
        else:
            steep = -fitted[SHAPE, i] * fitted[SHAPE + 1, i]
            fitted[SHAPE + 1, i] = steep * other
            fitted[SHAPE + 2, i] = steep * (one - fitted[LOG_AGE, i])


@inner_njit()
def ultimate_of(curve, n, fitted, one, other):
    """Ultimate strength of least squares for given natural parameters."""
    shapes_at(curve, n, fitted, one, other)
    square = product = 0.0
    for i in range(n):
        square += fitted[WEIGHT, i] * fitted[SHAPE, i] * fitted[SHAPE, i]
        product += fitted[WEIGHT, i] * fitted[SHAPE, i] * fitted[MEAN, i]
    return product / square if square > 1e-280 else 0.0


@inner_njit(is_inlined=True)
def sensitivities(curve, n, fitted, first, second, one, other):
    """How ultimate strength and shape answer to each cell mean, first order in the residuals.

    By scaled parameters and the natural ones that they stand for. Into the rows from ``SHAPE``: d ultimate / d mean,
    d first / d mean, d second / d mean. A parameter held by its bound does not answer; how it would answer without
    its bound goes into ``RELEASE`` (of the second one, where both are held). Returns ultimate strength, whether the
    ages can tell parameters apart, and the bends h11, h12, h22 of the sum of squares with the leans of the ultimate
    strength on either shape.
    """
    first_low, first_high, second_low, second_high = shape_bounds(curve, fitted[LOG_AGE, n - 1])
    shapes_at(curve, n, fitted, one, other)
    s00 = s01 = s02 = s11 = s12 = s22 = m0 = 0.0
    for i in range(n):
        height, slope1, slope2 = fitted[SHAPE, i], fitted[SHAPE + 1, i], fitted[SHAPE + 2, i]
        w0 = fitted[WEIGHT, i] * height
        s00 += w0 * height
        s01 += w0 * slope1
        s02 += w0 * slope2
        s11 += fitted[WEIGHT, i] * slope1 * slope1
        s12 += fitted[WEIGHT, i] * slope1 * slope2
        s22 += fitted[WEIGHT, i] * slope2 * slope2
        m0 += w0 * fitted[MEAN, i]
    if not s00 > 1e-280:
        return 0.0, False, (0.0, 0.0, 0.0, 0.0, 0.0)
    inverse = 1.0 / s00
    ultimate = m0 * inverse
    lean1 = s01 * inverse
    lean2 = s02 * inverse
    scale = ultimate * ultimate
    h11 = scale * (s11 - s01 * lean1)
    h12 = scale * (s12 - s01 * lean2)
    h22 = scale * (s22 - s02 * lean2)
    bends = (h11, h12, h22, lean1, lean2)
    is_first_free = first_low < first < first_high
    is_second_free = second_low < second < second_high
    i11 = i12 = i22 = 0.0
    if is_first_free and is_second_free:
        determinant = h11 * h22 - h12 * h12
        if not determinant > 1e-13 * h11 * h22:
            return ultimate, False, bends
        per = 1.0 / determinant
        i11, i12, i22 = h22 * per, -h12 * per, h11 * per
    elif is_first_free:
        if not h11 > 0.0:
            return ultimate, False, bends
        i11 = 1.0 / h11
    elif is_second_free:
        if not h22 > 0.0:
            return ultimate, False, bends
        i22 = 1.0 / h22
    release1 = release2 = 0.0  # what either residual product adds to the answer of the released parameter
    if not is_second_free:
        lean = h12 / h11 if is_first_free else 0.0
        bend = h22 - lean * h12
        if bend > 1e-13 * h22:
            release1, release2 = -lean / bend, 1.0 / bend
    elif not is_first_free:
        bend = h11 - h12 * h12 / h22
        if bend > 1e-13 * h11:
            release1, release2 = 1.0 / bend, -h12 / h22 / bend
    for i in range(n):
        height, slope1, slope2 = fitted[SHAPE, i], fitted[SHAPE + 1, i], fitted[SHAPE + 2, i]
        k1 = ultimate * (slope1 - height * lean1) * fitted[WEIGHT, i]
        k2 = ultimate * (slope2 - height * lean2) * fitted[WEIGHT, i]
        move1 = i11 * k1 + i12 * k2
        move2 = i12 * k1 + i22 * k2
        fitted[RELEASE, i] = release1 * k1 + release2 * k2
        fitted[SHAPE + 1, i] = move1
        fitted[SHAPE + 2, i] = move2
        fitted[SHAPE, i] = fitted[WEIGHT, i] * height * inverse - ultimate * (lean1 * move1 + lean2 * move2)
    return ultimate, True, bends
