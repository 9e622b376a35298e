"""The hyperbola fitted by one parameter: for a given lead it is a straight line in the reciprocal of age."""

from __future__ import annotations

from math import log

import numpy as np
from numba import njit

from .variable_projection import COST_SLACK, HYPERBOLIC, STEP_TOLERANCE, shape_bounds

_MOST_EVALUATIONS = 12  # few fits need more than five


@njit(cache=True, nogil=True, error_model="numpy")
def solve_reciprocal(n, age, mean, weight, lead):
    """Least squares of the hyperbola by the one parameter that it is not linear in.

    ``ultimate reach / (reach + half)`` is ``level + fall / (age + lead)``: for a given lead a straight line in
    the reciprocal. Kaufman's step in the lead alone takes a quarter of what both shape parameters take.

    Returns first, second, ultimate, residual sum of squares, and whether that is the fit: not where the box
    of shape parameters holds it, nor where a step did not lead down; those are for :func:`solve`.
    """
    sw = sm = smm = 0.0
    for i in range(n):
        sw += weight[i]
        sm += weight[i] * mean[i]
        smm += weight[i] * mean[i] * mean[i]
    slack = COST_SLACK * smm
    before = np.inf
    moved_before = 0.0
    is_settled = False
    for _ in range(_MOST_EVALUATIONS):
        s1 = s2 = s3 = s4 = m1 = m2 = 0.0
        for i in range(n):
            inverse = 1.0 / (age[i] + lead)
            w1 = weight[i] * inverse
            w2 = w1 * inverse
            w3 = w2 * inverse
            s1 += w1
            s2 += w2
            s3 += w3
            s4 += w3 * inverse
            m1 += w1 * mean[i]
            m2 += w2 * mean[i]
        spread = sw * s2 - s1 * s1
        if not spread > 1e-9 * sw * s2:
            break  # nearly straight in age: the reciprocals hardly differ
        level = (s2 * sm - s1 * m1) / spread
        fall = (sw * m1 - s1 * sm) / spread
        cost = smm - level * sm - fall * m1
        if not cost <= before + slack:
            break
        if is_settled:
            half = -fall / level
            ahead = 1.0 + lead - half
            if not (level > 0.0 and half > 0.0 and ahead > 0.0):
                break
            first, second = log(half), log(ahead)
            first_low, first_high, second_low, second_high = shape_bounds(HYPERBOLIC, age[n - 1])
            if first_low < first < first_high and second_low < second < second_high:
                return first, second, level, max(cost, 0.0), True
            break
        along = (sw * s3 - s1 * s2) / spread
        across = (s2 * s2 - s1 * s3) / spread
        bend = s4 - across * s2 - along * s3
        if not bend > 1e-9 * s4:
            break
        step = (level * s2 + fall * s3 - m2) / (fall * bend)
        ahead = 1.0 + lead
        moved = abs(step) / ahead
        if not moved < 1e6:
            break
        before = cost
        lead += min(max(step, -0.7 * ahead), 2.0 * ahead)
        # As in :func:`solve`: what is still to come after this step.
        is_settled = moved <= STEP_TOLERANCE or moved * moved <= 0.7 * STEP_TOLERANCE * moved_before
        moved_before = moved if moved <= 0.7 else 0.0
    return 0.0, 0.0, 0.0, 0.0, False
