"""Compiled least squares for the two curves with shape parameters, by variable projection.

A curve is ``strength = ultimate * shape(maturity; first, second)``. For a given shape the ultimate
strength is a ratio of two sums, so only two parameters are searched, by a Levenberg-Marquardt iteration
inside a box: with Kaufman's Jacobian first, with exact second derivatives where that creeps. Ages enter
scaled by the youngest one, which makes every fit independent of the units of maturity.

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

from math import exp, log

import numpy as np

from planner.compiled import njit

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
_MOST_ITERATIONS = 400  # few fits need more than ten
_CHEAP_ITERATIONS = 6
STEP_TOLERANCE = 2e-7  # of ln(half), offset / first age, ln(tau), a
COST_SLACK = 1e-13  # rounding of the residual sum of squares, relative to the sum of squares itself
_LONGEST_FIRST = 2.0  # step of ln(half) or ln(tau)
_LONGEST_SECOND = 1.0
_MOST_DAMPING = 1e12
_SAME_TOP = 0.01  # shape parameters: tops of two hills lie farther apart


@njit(cache=True, nogil=True, error_model="numpy")
def hyperbolic_bounds(last: float) -> tuple[float, float, float, float]:
    """The same for the hyperbola before logarithms are taken: half, and the first age minus the offset."""
    return 1e-3, 1e3 * last, 0.02, 2.0


@njit(cache=True, nogil=True, error_model="numpy")
def shape_bounds(curve: int, last: float) -> tuple[float, float, float, float]:
    """Box of the scaled shape parameters: first low, first high, second low, second high.

    The same box as the curve's own file states, divided by the first age.
    """
    if curve == HYPERBOLIC:
        least_half, most_half, least_ahead, most_ahead = hyperbolic_bounds(last)
        return log(least_half), log(most_half), log(least_ahead), log(most_ahead)
    return log(1e-3), log(1e3 * last), LOWEST_POWER, HIGHEST_POWER


@njit(cache=True, nogil=True, error_model="numpy")
def powers_at(n, fitted, first, second):
    """Shapes and powers of the exponential: loop by loop, since each power is slow to come."""
    for i in range(n):
        fitted[SHAPE + 1, i] = exp(second * (first - fitted[LOG_AGE, i]))
    for i in range(n):
        fitted[SHAPE, i] = exp(-fitted[SHAPE + 1, i])


@njit(cache=True, nogil=True, error_model="numpy")
def moments(curve, n, fitted, first, second):
    """Weighted sums of products of shape (0), its two slopes (1, 2) and the means (m).

    Returns s00, s01, s02, s11, s12, s22, m0, m1, m2: everything an iteration needs follows from these nine
    numbers.
    """
    s00 = s01 = s02 = s11 = s12 = s22 = m0 = m1 = m2 = 0.0
    half = exp(first) if curve == HYPERBOLIC else 0.0
    ahead = exp(second) if curve == HYPERBOLIC else 0.0  # of the offset, at the first age
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


@njit(cache=True, nogil=True, error_model="numpy")
def bends(curve, n, fitted, first, second):
    """Weighted sums of the shape's second slopes with the means (m) and with the shape itself (q).

    Returns m11, m12, m22, q11, q12, q22: with the nine moments they give the exact second derivatives.
    """
    m11 = m12 = m22 = q11 = q12 = q22 = 0.0
    half = exp(first) if curve == HYPERBOLIC else 0.0
    ahead = exp(second) if curve == HYPERBOLIC else 0.0
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
            power = exp(second * lag)
            height = exp(-power)
            steep = -height * power
            turn = 1.0 - power
            bend11 = steep * second * second * turn
            bend12 = steep * (1.0 + second * lag * turn)
            bend22 = steep * lag * lag * turn
        wm = fitted[WEIGHT, i] * fitted[MEAN, i]
        wh = fitted[WEIGHT, i] * height
        m11 += wm * bend11
        m12 += wm * bend12
        m22 += wm * bend22
        q11 += wh * bend11
        q12 += wh * bend12
        q22 += wh * bend22
    return m11, m12, m22, q11, q12, q22


@njit(cache=True, nogil=True, error_model="numpy")
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
            step1 = (h22 * b1 - h12 * b2) / determinant
            step2 = (h11 * b2 - h12 * b1) / determinant
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


@njit(cache=True, nogil=True, error_model="numpy")
def solve(curve, n, fitted, first, second, known_first, known_second):
    """Least squares from one start: first, second, residual sum of squares, status.

    Kaufman's normal equations first, which are cheap and nearly exact where residuals are small. A fit
    that they do not finish creeps along a bent valley, and goes on with exact second derivatives. A climb
    that comes to a top that is known already (NaN: none is) ends there, with an infinite residual.
    """
    box = shape_bounds(curve, fitted[AGE, n - 1])
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
        if iteration >= _CHEAP_ITERATIONS:
            m11, m12, m22, q11, q12, q22 = bends(curve, n, fitted, first, second)
            r1 = m1 - ultimate * s01
            r2 = m2 - ultimate * s02
            lean1 = r1 - ultimate * s01
            lean2 = r2 - ultimate * s02
            e11 = scale * (s11 + q11) - ultimate * m11 - lean1 * lean1 * inverse
            e12 = scale * (s12 + q12) - ultimate * m12 - lean1 * lean2 * inverse
            e22 = scale * (s22 + q22) - ultimate * m22 - lean2 * lean2 * inverse
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
