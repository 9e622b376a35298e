"""Compiled least squares for the two curves with shape parameters, by variable projection.

A curve is ``strength = ultimate * shape(maturity; first, second)``. For a given shape the ultimate
strength is a ratio of two sums, so only two parameters are searched, by a Levenberg-Marquardt
iteration with Kaufman's Jacobian inside a box. Ages enter scaled by the youngest one, which makes
every fit independent of the units of maturity.

Scaled shape parameters
    hyperbolic    ``first = ln(half)``, ``second = offset``
    exponential   ``first = ln(tau)``,  ``second = a``

Nothing here reorders floating-point sums (no fastmath): equal inputs give equal bits on any number
of threads.

References
----------
Golub & Pereyra 1973, SIAM J. Numer. Anal. 10:413; Kaufman 1975, BIT 15:49.
"""

from __future__ import annotations

from math import exp, log

from numba import njit

HYPERBOLIC = 0
EXPONENTIAL = 1

CONVERGED = 0
AT_BOUND = 1
UNCONVERGED = 2

_MOST_ITERATIONS = 60
_STEP_TOLERANCE = 3e-8  # of ln(half), offset / first age, ln(tau), a
_COST_SLACK = 1e-13  # rounding of the residual sum of squares, relative to the sum of squares itself


@njit(cache=True, nogil=True, error_model="numpy")
def shape_bounds(curve: int, last: float) -> tuple[float, float, float, float]:
    """Box of the scaled shape parameters: first low, first high, second low, second high.

    The same box as the curve's own file states, divided by the first age.
    """
    low = log(1e-3)
    high = log(1e3 * last)
    if curve == HYPERBOLIC:
        return low, high, -1.0, 0.98
    return low, high, 0.1, 6.0


@njit(cache=True, nogil=True, error_model="numpy")
def moments(curve, n, age, log_age, mean, weight, first, second):  # type: ignore[no-untyped-def]
    """Weighted sums of products of shape (0), its two slopes (1, 2) and the means (m), in one pass.

    Returns s00, s01, s02, s11, s12, s22, m0, m1, m2. Nothing is stored on the way: everything an
    iteration needs follows from these nine numbers.
    """
    s00 = s01 = s02 = s11 = s12 = s22 = m0 = m1 = m2 = 0.0
    half = exp(first) if curve == HYPERBOLIC else 0.0
    for i in range(n):
        if curve == HYPERBOLIC:
            reach = age[i] - second
            inverse = 1.0 / (reach + half)
            height = reach * inverse
            slope2 = -half * inverse * inverse
            slope1 = reach * slope2
        else:
            lag = first - log_age[i]
            power = exp(second * lag)
            height = exp(-power)
            slope1 = -height * power
            slope2 = slope1 * lag
            slope1 *= second
        w0 = weight[i] * height
        w1 = weight[i] * slope1
        w2 = weight[i] * slope2
        s00 += w0 * height
        s01 += w0 * slope1
        s02 += w0 * slope2
        s11 += w1 * slope1
        s12 += w1 * slope2
        s22 += w2 * slope2
        m0 += w0 * mean[i]
        m1 += w1 * mean[i]
        m2 += w2 * mean[i]
    return s00, s01, s02, s11, s12, s22, m0, m1, m2


@njit(cache=True, nogil=True, error_model="numpy")
def solve(curve, n, age, log_age, mean, weight, first, second):  # type: ignore[no-untyped-def]
    """Least squares from one start: first, second, ultimate, residual sum of squares, status."""
    first_low, first_high, second_low, second_high = shape_bounds(curve, age[n - 1])
    total = 0.0
    for i in range(n):
        total += weight[i] * mean[i] * mean[i]
    slack = _COST_SLACK * total
    first = min(max(first, first_low), first_high)
    second = min(max(second, second_low), second_high)
    s00, s01, s02, s11, s12, s22, m0, m1, m2 = moments(
        curve, n, age, log_age, mean, weight, first, second
    )
    inverse = 1.0 / s00 if s00 > 1e-280 else 0.0
    gain = m0 * m0 * inverse  # the sum of squares explained
    damping = 0.0
    moved_before = 0.0
    status = UNCONVERGED
    for _ in range(_MOST_ITERATIONS):
        # Kaufman's normal equations: the ultimate strength, m0 / s00, is projected out.
        ultimate = m0 * inverse
        scale = ultimate * ultimate
        h11 = scale * (s11 - s01 * s01 * inverse)
        h12 = scale * (s12 - s01 * s02 * inverse)
        h22 = scale * (s22 - s02 * s02 * inverse)
        b1 = ultimate * (m1 - ultimate * s01)
        b2 = ultimate * (m2 - ultimate * s02)
        is_first_free = not ((first <= first_low and b1 <= 0.0) or (first >= first_high and b1 >= 0.0))
        is_second_free = not ((second <= second_low and b2 <= 0.0) or (second >= second_high and b2 >= 0.0))
        d11 = h11 * (1.0 + damping) + 1e-300
        d22 = h22 * (1.0 + damping) + 1e-300
        step1 = 0.0
        step2 = 0.0
        if is_first_free and is_second_free:
            determinant = d11 * d22 - h12 * h12
            if determinant > 1e-14 * d11 * d22:
                step1 = (d22 * b1 - h12 * b2) / determinant
                step2 = (d11 * b2 - h12 * b1) / determinant
            else:
                step1 = 0.5 * b1 / d11
                step2 = 0.5 * b2 / d22
        elif is_first_free:
            step1 = b1 / d11
        elif is_second_free:
            step2 = b2 / d22
        next_first = min(max(first + min(max(step1, -2.0), 2.0), first_low), first_high)
        next_second = min(max(second + min(max(step2, -1.0), 1.0), second_low), second_high)
        moved = max(abs(next_first - first), abs(next_second - second))
        t00, t01, t02, t11, t12, t22, n0, n1, n2 = moments(
            curve, n, age, log_age, mean, weight, next_first, next_second
        )
        next_inverse = 1.0 / t00 if t00 > 1e-280 else 0.0
        next_gain = n0 * n0 * next_inverse
        if next_gain >= gain - slack:
            first, second, gain, inverse = next_first, next_second, next_gain, next_inverse
            s00, s01, s02, s11, s12, s22, m0, m1, m2 = t00, t01, t02, t11, t12, t22, n0, n1, n2
            # Steps shrink by a nearly constant factor, so what is still to come is about
            # moved * factor; stop once that is below the tolerance.
            if moved <= _STEP_TOLERANCE or (
                damping == 0.0 and moved * moved <= 0.7 * _STEP_TOLERANCE * moved_before
            ):
                status = CONVERGED
                break
            moved_before = moved if damping == 0.0 else 0.0
            damping = 0.1 * damping if damping > 1e-6 else 0.0
        else:
            if moved <= _STEP_TOLERANCE:
                status = CONVERGED
                break
            damping = max(10.0 * damping, 1e-3)
            moved_before = 0.0
    if status == CONVERGED and (
        first <= first_low or first >= first_high or second <= second_low or second >= second_high
    ):
        status = AT_BOUND
    return first, second, m0 * inverse, total - gain, status


@njit(cache=True, nogil=True, error_model="numpy")
def start_hyperbolic(n, age, mean, weight):  # type: ignore[no-untyped-def]
    """Start of the hyperbola: ``strength (age + c) = a age + b`` is linear in a, b and c."""
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
    first = log(age[n - 1])
    second = 0.0
    if abs(determinant) > 1e-13 * saa * sbb * scc:
        a = (ra * m1 - sab * (rb * scc - sbc * rc) + sac * (rb * sbc - sbb * rc)) / determinant
        b = (saa * (rb * scc - rc * sbc) - ra * m2 + sac * (sab * rc - rb * sac)) / determinant
        c = (saa * (sbb * rc - sbc * rb) - sab * (sab * rc - rb * sac) + ra * m3) / determinant
        if a != 0.0:
            second = min(max(-b / a, -0.9), 0.9)
            half = c + second
            if half > 1e-3:
                first = log(half)
    return first, second


@njit(cache=True, nogil=True, error_model="numpy")
def start_exponential(n, log_age, mean, weight, factor):  # type: ignore[no-untyped-def]
    """Start of the exponential: with the ultimate guessed, ``ln(-ln(S/Su))`` is linear in ln(age)."""
    highest = mean[0]
    for i in range(1, n):
        highest = max(highest, mean[i])
    ultimate = factor * highest
    sw = st = sv = stt = stv = 0.0
    for i in range(n):
        ratio = mean[i] / ultimate
        if ratio > 1e-6:
            depth = -log(ratio)
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
def fit_shape(curve, n, age, log_age, mean, weight):  # type: ignore[no-untyped-def]
    """Least squares from the linearised start."""
    if curve == HYPERBOLIC:
        first, second = start_hyperbolic(n, age, mean, weight)
    else:
        first, second = start_exponential(n, log_age, mean, weight, 1.1)
    return solve(curve, n, age, log_age, mean, weight, first, second)


@njit(cache=True, nogil=True, error_model="numpy")
def fit_shape_carefully(curve, n, age, log_age, mean, weight):  # type: ignore[no-untyped-def]
    """The second look: least squares from a grid of starts, the lowest residual kept."""
    best_first, best_second, best_ultimate, best_cost, best_status = fit_shape(
        curve, n, age, log_age, mean, weight
    )
    span = log_age[n - 1] + 2.0
    for i in range(4):
        for j in range(3):
            first = -1.0 + span * i / 3.0
            second = -0.6 + 0.6 * j if curve == HYPERBOLIC else 0.3 * 3.0**j
            first, second, ultimate, cost, status = solve(
                curve, n, age, log_age, mean, weight, first, second
            )
            if cost < best_cost * (1.0 - 1e-10) or (status < best_status and cost <= best_cost):
                best_first, best_second, best_ultimate = first, second, ultimate
                best_cost, best_status = cost, status
    return best_first, best_second, best_ultimate, best_cost, best_status


@njit(cache=True, nogil=True, error_model="numpy")
def shape_at(curve, age, first, second):  # type: ignore[no-untyped-def]
    """Shape and slopes at one scaled maturity; zero strength before the offset."""
    if curve == HYPERBOLIC:
        half = exp(first)
        reach = age - second
        if reach <= 0.0:
            return 0.0, 0.0, 0.0
        inverse = 1.0 / (reach + half)
        return reach * inverse, -half * reach * inverse * inverse, -half * inverse * inverse
    lag = first - log(age)
    power = exp(second * lag)
    g = exp(-power)
    return g, -g * power * second, -g * power * lag


@njit(cache=True, nogil=True, error_model="numpy")
def sensitivities(curve, n, age, log_age, mean, weight, first, second, answers):  # type: ignore[no-untyped-def]
    """How ultimate strength and shape answer to each cell mean, first order in the residuals.

    Into rows of ``answers``: 0 d ultimate / d mean, 1 d first / d mean, 2 d second / d mean. A
    parameter held by its bound does not answer. False where the ages cannot tell parameters apart.
    """
    first_low, first_high, second_low, second_high = shape_bounds(curve, age[n - 1])
    s00, s01, s02, s11, s12, s22, m0, _m1, _m2 = moments(
        curve, n, age, log_age, mean, weight, first, second
    )
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
        height, slope1, slope2 = shape_at(curve, age[i], first, second)
        k1 = ultimate * (slope1 - height * lean1) * weight[i]
        k2 = ultimate * (slope2 - height * lean2) * weight[i]
        move1 = i11 * k1 + i12 * k2
        move2 = i12 * k1 + i22 * k2
        answers[1, i] = move1
        answers[2, i] = move2
        answers[0, i] = weight[i] * height / s00 - ultimate * (lean1 * move1 + lean2 * move2)
    return True
