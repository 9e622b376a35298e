"""What a bound does to the scatter of a reading, where scatter may carry a parameter to its bound or away from it.

First order knows two answers: a parameter at its bound never moves, one beside it moves as if there were none. Both are
wrong where scatter decides which it is. Without its bound the parameter would lie normally about its own optimum, at
``x`` inside the bound (below 0: beyond), with standard deviation ``s``; what is read answers to ``max(x, 0)`` beside
the other parameters. With ``z = x / s``, ``a`` what a reading answers to a mean while the parameter is held, and
``b`` what the parameter adds when it is let go, the variance of a reading is the sum over the means of
``a^2 + 2 Phi(z) a b + k(z) b^2`` times that of the mean, ``k`` the variance of ``max(x, 0)`` over ``s^2``: the
covariance of any normal value with ``max(x, 0)`` is ``Phi(z)`` times that with ``x``.

``tests/fitting/test_bound_scatter.py`` holds it against refits.

References
----------
Stein 1981, Ann. Statist. 9:1135, lemma 1, for the covariance; the variance of a normal value cut at 0 is derived.
"""

from __future__ import annotations

from math import erfc, exp, pi, sqrt

from planner.compiled import inner_njit
from planner.fitting.variable_projection import LOG_AGE, MEAN, RELEASE, SCATTER, SHAPE, shape_bounds

SPECIMENS = 3.0  # at each age, for how far scatter carries a parameter; common practice, no source
FARTHEST = 4.0  # standard deviations from the bound: beyond, it changes the variance by less than 1 in 1,000


@inner_njit(is_inlined=True)
def near_a_bound(curve, n, fitted, first, second, ultimate, is_told_apart, bends):
    """Let go of the parameter whose bound is nearest.

    Parameters
    ----------
    fitted
        With the rows that :func:`planner.fitting.sensitivities.sensitivities` left, and in ``SCATTER`` the standard
        deviation of one specimen at each age [MPa].
    bends
        As returned there.

    Returns
    -------
    tuple
        Whether a bound is near; ``share`` and ``spread``, so that the variance of a reading is the sum of
        ``a^2 + 2 share a b + spread b^2`` with ``a`` as the rows from ``SHAPE`` have it; by how much ultimate strength,
        first and second go when the parameter moves by 1. ``b`` is what these do to the reading times the row
        ``RELEASE``, which is filled here.
    """
    nothing = (False, 0.0, 0.0, 0.0, 0.0, 0.0)
    if not is_told_apart:
        return nothing
    h11, h12, h22, lean1, lean2 = bends
    first_low, first_high, second_low, second_high = shape_bounds(curve, fitted[LOG_AGE, n - 1])
    is_first_free = first_low < first < first_high
    is_second_free = second_low < second < second_high
    is_held = not (is_first_free and is_second_free)
    if is_held:
        is_second = not is_second_free
        row = RELEASE
        moved = square = 0.0
        for i in range(n):
            answer = fitted[RELEASE, i]
            moved += answer * fitted[MEAN, i]  # the step that least squares would take without the bound
            square += answer * answer * fitted[SCATTER, i] * fitted[SCATTER, i]
        is_low = second <= second_low if is_second else first <= first_low
        x = moved if is_low else -moved
    else:
        square1 = square2 = 0.0
        for i in range(n):
            one, two = fitted[SHAPE + 1, i] * fitted[SCATTER, i], fitted[SHAPE + 2, i] * fitted[SCATTER, i]
            square1 += one * one
            square2 += two * two
        x1, x2 = min(first - first_low, first_high - first), min(second - second_low, second_high - second)
        is_second = x2 * x2 * square1 <= x1 * x1 * square2
        x, square = (x2, square2) if is_second else (x1, square1)
        row = SHAPE + 2 if is_second else SHAPE + 1
    if not (square > 0.0 and x * x * SPECIMENS < FARTHEST * FARTHEST * square):
        return nothing
    z = x * sqrt(SPECIMENS / square)
    share = 0.5 * erfc(-z / sqrt(2.0))
    density = exp(-0.5 * z * z) / sqrt(2.0 * pi)
    reach = z * share + density
    spread = share * (1.0 + z * z) + z * density - reach * reach
    if not is_held:  # the rows have the parameter free: a + b in place of a
        share, spread = share - 1.0, 1.0 - 2.0 * share + spread
        for i in range(n):
            fitted[RELEASE, i] = fitted[row, i]
    if is_second:
        d_first = -h12 / h11 if is_first_free else 0.0
        d_second = 1.0
    else:
        d_first = 1.0
        d_second = -h12 / h22 if is_second_free else 0.0
    d_ultimate = -ultimate * (lean1 * d_first + lean2 * d_second)
    return True, share, spread, d_ultimate, d_first, d_second
