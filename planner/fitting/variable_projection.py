"""Compiled least squares for the two curves with shape parameters, by variable projection.

A curve is ``strength = ultimate * shape(maturity; first, second)``. For a given shape the ultimate
strength is a ratio of two sums, so only two parameters are searched, by a damped Newton iteration inside a
box whose first step has Kaufman's Jacobian in place of second derivatives. Ages enter scaled by the youngest
one, which makes every fit independent of the units of maturity.

Scaled shape parameters
    hyperbolic    ``first = ln(half)``, ``second = ln(1 - offset)``
    exponential   ``first = ln(tau)``,  ``second = a``

Nothing here reorders floating-point sums (no fastmath): equal inputs give equal bits on any number
of threads.

References
----------
Golub & Pereyra 1973, SIAM J. Numer. Anal. 10:413; Kaufman 1975, BIT 15:49.
"""

from __future__ import annotations

from math import log

import numpy as np

from planner.compiled import inner_njit
from planner.fitting.quick_exp import quick_exp

HYPERBOLIC = 0
EXPONENTIAL = 1

# Rows of the one array that a fit works on, ``fitted``, ``(N_LINES, most_ages)``: what is fitted, ages scaled by the
# youngest one, three rows of scratch for shapes and slopes, and two for what a bound does to the scatter of a reading.
# One array is passed on faster than nine.
AGE, LOG_AGE, MEAN, WEIGHT, SHAPE, SCATTER, RELEASE, N_LINES = 0, 1, 2, 3, 4, 7, 8, 9

CONVERGED = 0
AT_BOUND = 1
UNCONVERGED = 2

LOWEST_POWER, HIGHEST_POWER = 0.1, 6.0  # of the exponential
_LOG_LEAST, _LOG_MOST = log(1e-3), log(1e3)  # half or tau, of the first and of the last age
_LOG_LEAST_AHEAD, _LOG_MOST_AHEAD = log(0.02), log(2.0)  # of the hyperbola: the first age minus the offset
_MOST_ITERATIONS = 400  # few fits need more than ten
STEP_TOLERANCE = 2e-7  # of ln(half), offset / first age, ln(tau), a
COST_SLACK = 1e-13  # rounding of the residual sum of squares, relative to the sum of squares itself
_LONGEST_FIRST = 2.0  # step of ln(half) or ln(tau)
_LONGEST_SECOND = 1.0
_MOST_DAMPING = 1e12
_SAME_TOP = 0.01  # shape parameters: tops of two hills lie farther apart


@inner_njit()
def hyperbolic_bounds(last: float) -> tuple[float, float, float, float]:
    """The same for the hyperbola before logarithms are taken: half, and the first age minus the offset."""
    return 1e-3, 1e3 * last, 0.02, 2.0


@inner_njit()
def shape_bounds(curve: int, log_last: float) -> tuple[float, float, float, float]:
    """Box of the scaled shape parameters: first low, first high, second low, second high.

    The same box as the curve's own file states, divided by the first age.
    """
    if curve == HYPERBOLIC:
        return _LOG_LEAST, _LOG_MOST + log_last, _LOG_LEAST_AHEAD, _LOG_MOST_AHEAD
    return _LOG_LEAST, _LOG_MOST + log_last, LOWEST_POWER, HIGHEST_POWER


@inner_njit()
def powers_at(n, fitted, first, second):
    """Shapes and powers of the exponential: loop by loop, since each power is slow to come."""
    for i in range(n):
        fitted[SHAPE + 1, i] = quick_exp(second * (first - fitted[LOG_AGE, i]))
    for i in range(n):
        fitted[SHAPE, i] = quick_exp(-fitted[SHAPE + 1, i])


@inner_njit(is_inlined=True)
def moments(curve, n, fitted, first, second):
    """Weighted sums of products of shape (0), its two slopes (1, 2) and the means (m).

    Returns s00, s01, s02, s11, s12, s22, m0, m1, m2: everything an iteration needs follows from these nine
    numbers.
    """
    s00 = s01 = s02 = s11 = s12 = s22 = m0 = m1 = m2 = 0.0
    half = quick_exp(first) if curve == HYPERBOLIC else 0.0
    ahead = quick_exp(second) if curve == HYPERBOLIC else 0.0  # of the offset, at the first age
    if curve == EXPONENTIAL:
        powers_at(n, fitted, first, second)
    for i in range(n):
        if curve == HYPERBOLIC:
            reach = fitted[AGE, i] - 1.0 + ahead
            inverse = 1.0 / (reach + half)
            height = reach * inverse
            slope1 = -half * inverse * height
            slope2 = half * inverse * inverse * ahead
        else:
            lag = first - fitted[LOG_AGE, i]
            height = fitted[SHAPE, i]
            slope1 = -height * fitted[SHAPE + 1, i]
            slope2 = slope1 * lag
            slope1 *= second
        w0 = fitted[WEIGHT, i] * height
        w1 = fitted[WEIGHT, i] * slope1
        w2 = fitted[WEIGHT, i] * slope2
        s00 += w0 * height
        s01 += w0 * slope1
        s02 += w0 * slope2
        s11 += w1 * slope1
        s12 += w1 * slope2
        s22 += w2 * slope2
        m0 += w0 * fitted[MEAN, i]
        m1 += w1 * fitted[MEAN, i]
        m2 += w2 * fitted[MEAN, i]
    return s00, s01, s02, s11, s12, s22, m0, m1, m2


@inner_njit(is_inlined=True)
def bends(curve, n, fitted, first, second, ultimate):
    """Weighted sums of the residuals with the shape's second slopes: with the moments, the exact second derivatives.

    Of the exponential, shapes and powers of this very point stand in their rows, as :func:`moments` leaves them.
    """
    p11 = p12 = p22 = 0.0
    half = quick_exp(first) if curve == HYPERBOLIC else 0.0
    ahead = quick_exp(second) if curve == HYPERBOLIC else 0.0
    for i in range(n):
        if curve == HYPERBOLIC:
            reach = fitted[AGE, i] - 1.0 + ahead
            inverse = 1.0 / (reach + half)
            height = reach * inverse
            slope2 = half * inverse * inverse * ahead
            turn = 1.0 - 2.0 * half * inverse
            bend11 = -half * inverse * height * turn
            bend12 = slope2 * turn
            bend22 = slope2 * (1.0 - 2.0 * ahead * inverse)
        else:
            lag = first - fitted[LOG_AGE, i]
            power = fitted[SHAPE + 1, i]
            height = fitted[SHAPE, i]
            steep = -height * power
            turn = 1.0 - power
            bend11 = steep * second * second * turn
            bend12 = steep * (1.0 + second * lag * turn)
            bend22 = steep * lag * lag * turn
        residual = fitted[WEIGHT, i] * (fitted[MEAN, i] - ultimate * height)
        p11 += residual * bend11
        p12 += residual * bend12
        p22 += residual * bend22
    return p11, p12, p22


@inner_njit(is_inlined=True)
def boxed_step(curve, h11, h12, h22, b1, b2, first, second, box):
    """Step to the top of a quadratic inside the box: where one parameter meets its bound, the other answers."""
    first_low, first_high, second_low, second_high = box
    is_first_free = not ((first <= first_low and b1 <= 0.0) or (first >= first_high and b1 >= 0.0))
    is_second_free = not ((second <= second_low and b2 <= 0.0) or (second >= second_high and b2 >= 0.0))
    step1 = 0.0
    step2 = 0.0
    if is_first_free and is_second_free:
        determinant = h11 * h22 - h12 * h12
        if determinant > 1e-14 * h11 * h22:
            inverse = 1.0 / determinant
            step1 = (h22 * b1 - h12 * b2) * inverse
            step2 = (h11 * b2 - h12 * b1) * inverse
        else:
            step1 = 0.5 * b1 / h11
            step2 = 0.5 * b2 / h22
        if curve == EXPONENTIAL and second + step2 > 0.5 * second:
            # Along the valley of equal powers tau^a the product a ln(tau) is straight, ln(tau) is not.
            step1 *= second / (second + step2)
        step1 = min(max(step1, -_LONGEST_FIRST), _LONGEST_FIRST)
        if second + step2 < second_low or second + step2 > second_high:
            step2 = second_low - second if second + step2 < second_low else second_high - second
            step1 = (b1 - h12 * step2) / h11
        elif first + step1 < first_low or first + step1 > first_high:
            step1 = first_low - first if first + step1 < first_low else first_high - first
            step2 = (b2 - h12 * step1) / h22
    elif is_first_free:
        step1 = b1 / h11
    elif is_second_free:
        step2 = b2 / h22
    step1 = min(max(step1, -_LONGEST_FIRST), _LONGEST_FIRST)
    step2 = min(max(step2, -_LONGEST_SECOND), _LONGEST_SECOND)
    return (
        min(max(first + step1, first_low), first_high),
        min(max(second + step2, second_low), second_high),
    )


@inner_njit()
def solve(curve, n, fitted, first, second, known_first, known_second):
    """Least squares from one start: first, second, residual sum of squares, status.

    The first step is Kaufman's, who knows no bends of the curve and so leads up from afar. The others take the exact
    second derivatives, which square the error from step to step and do not creep along a bent valley. A climb that
    comes to a top that is known already (NaN: none is) ends there, with an infinite residual.
    """
    box = shape_bounds(curve, fitted[LOG_AGE, n - 1])
    first_low, first_high, second_low, second_high = box
    total = 0.0
    for i in range(n):
        total += fitted[WEIGHT, i] * fitted[MEAN, i] * fitted[MEAN, i]
    slack = COST_SLACK * total
    first = min(max(first, first_low), first_high)
    second = min(max(second, second_low), second_high)
    s00, s01, s02, s11, s12, s22, m0, m1, m2 = moments(curve, n, fitted, first, second)
    inverse = 1.0 / s00 if s00 > 1e-280 else 0.0
    gain = m0 * m0 * inverse  # the sum of squares explained
    damping = 0.0
    moved_before = 0.0
    status = UNCONVERGED
    for iteration in range(_MOST_ITERATIONS):
        # Half the slopes of the explained sum of squares, and its bend; ultimate is projected out.
        ultimate = m0 * inverse
        scale = ultimate * ultimate
        h11 = scale * (s11 - s01 * s01 * inverse)
        h12 = scale * (s12 - s01 * s02 * inverse)
        h22 = scale * (s22 - s02 * s02 * inverse)
        b1 = ultimate * (m1 - ultimate * s01)
        b2 = ultimate * (m2 - ultimate * s02)
        if iteration > 0:
            if curve == EXPONENTIAL and damping > 0.0:
                powers_at(n, fitted, first, second)  # those of a step that led down may stand in their rows
            p11, p12, p22 = bends(curve, n, fitted, first, second, ultimate)
            lean1 = m1 - 2.0 * ultimate * s01
            lean2 = m2 - 2.0 * ultimate * s02
            e11 = scale * s11 - ultimate * p11 - lean1 * lean1 * inverse
            e12 = scale * s12 - ultimate * p12 - lean1 * lean2 * inverse
            e22 = scale * s22 - ultimate * p22 - lean2 * lean2 * inverse
            # Only a bend that is a hill in every direction leads to its top.
            if e11 > 0.0 and e22 > 0.0 and e11 * e22 - e12 * e12 > 1e-14 * e11 * e22:
                h11, h12, h22 = e11, e12, e22
        next_first, next_second = boxed_step(
            curve, h11 * (1.0 + damping) + 1e-300, h12, h22 * (1.0 + damping) + 1e-300, b1, b2, first, second, box
        )
        step1, step2 = next_first - first, next_second - second
        moved = max(abs(step1), abs(step2))
        # Steps shrink by a nearly constant factor, or faster where bends are exact: what is still to come after
        # this one is about moved * factor. Below the tolerance the step is the last, and need not be tried.
        if moved <= STEP_TOLERANCE or (damping == 0.0 and moved * moved <= 0.7 * STEP_TOLERANCE * moved_before):
            gain += 2.0 * (b1 * step1 + b2 * step2) - h11 * step1 * step1 - h22 * step2 * step2
            gain -= 2.0 * h12 * step1 * step2
            first, second = next_first, next_second
            is_held = not (first_low < first < first_high and second_low < second < second_high)
            status = AT_BOUND if is_held else CONVERGED
            break
        t00, t01, t02, t11, t12, t22, n0, n1, n2 = moments(curve, n, fitted, next_first, next_second)
        next_inverse = 1.0 / t00 if t00 > 1e-280 else 0.0
        next_gain = n0 * n0 * next_inverse
        if next_gain >= gain - slack:
            first, second, gain, inverse = next_first, next_second, next_gain, next_inverse
            s00, s01, s02, s11, s12, s22, m0, m1, m2 = t00, t01, t02, t11, t12, t22, n0, n1, n2
            if abs(first - known_first) < _SAME_TOP and abs(second - known_second) < _SAME_TOP:
                return first, second, np.inf, UNCONVERGED
            moved_before = moved if damping == 0.0 else 0.0
            damping = 0.1 * damping if damping > 1e-6 else 0.0
        else:
            damping = min(max(10.0 * damping, 1e-3), _MOST_DAMPING)
            moved_before = 0.0
    return first, second, max(total - gain, 0.0), status
