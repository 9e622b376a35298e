"""The hyperbola fitted by one parameter: for a given lead it is a straight line in the reciprocal of age."""

from __future__ import annotations

from math import log

import numpy as np

from planner.compiled import njit
from planner.fitting.variable_projection import (
    AGE,
    CONVERGED,
    COST_SLACK,
    MEAN,
    STEP_TOLERANCE,
    UNCONVERGED,
    WEIGHT,
    hyperbolic_bounds,
)

_MOST_EVALUATIONS = 12  # few fits need more than five


@njit(cache=True, nogil=True, error_model="numpy")
def solve_reciprocal(n, fitted, lead):
    """Least squares of the hyperbola by the one parameter that it is not linear in.

    ``ultimate reach / (reach + half)`` is ``ultimate + fall / (age + lead)``: for a given lead a straight line in
    the reciprocal. Kaufman's step in the lead alone takes a quarter of what both shape parameters take.

    Returns first, second, residual sum of squares and status: unconverged where the box of shape parameters
    holds the fit or a step did not lead down; those are for :func:`solve`.
    """
    sw = sm = smm = 0.0
    for i in range(n):
        sw += fitted[WEIGHT, i]
        sm += fitted[WEIGHT, i] * fitted[MEAN, i]
        smm += fitted[WEIGHT, i] * fitted[MEAN, i] * fitted[MEAN, i]
    slack = COST_SLACK * smm
    before = np.inf
    moved_before = 0.0
    for _ in range(_MOST_EVALUATIONS):
        s1 = s2 = s3 = s4 = m1 = m2 = m3 = 0.0
        for i in range(n):
            inverse = 1.0 / (fitted[AGE, i] + lead)
            w1 = fitted[WEIGHT, i] * inverse
            w2 = w1 * inverse
            w3 = w2 * inverse
            s1 += w1
            s2 += w2
            s3 += w3
            s4 += w3 * inverse
            m1 += w1 * fitted[MEAN, i]
            m2 += w2 * fitted[MEAN, i]
            m3 += w3 * fitted[MEAN, i]
        spread = sw * s2 - s1 * s1
        if not spread > 1e-9 * sw * s2:
            break  # nearly straight in age: the reciprocals hardly differ
        ultimate = (s2 * sm - s1 * m1) / spread
        fall = (sw * m1 - s1 * sm) / spread
        cost = smm - ultimate * sm - fall * m1
        if not cost <= before + slack:
            break
        along = (sw * s3 - s1 * s2) / spread
        across = (s2 * s2 - s1 * s3) / spread
        bend = s4 - across * s2 - along * s3
        if not bend > 1e-9 * s4:
            break
        step = (ultimate * s2 + fall * s3 - m2) / (fall * bend)
        ahead = 1.0 + lead
        moved = abs(step) / ahead
        if not moved < 1e6:
            break
        if moved <= STEP_TOLERANCE or moved * moved <= 0.7 * STEP_TOLERANCE * moved_before:
            # As in :func:`solve`: the step is the last. Its sums follow from these ones, good to step^3.
            s1 += step * (step * s3 - s2)
            s2 += step * (3.0 * step * s4 - 2.0 * s3)
            m1 += step * (step * m3 - m2)
            return _finished(n, fitted, lead + step, sw, s1, s2, sm, m1, smm)
        before = cost
        lead += min(max(step, -0.7 * ahead), 2.0 * ahead)
        moved_before = moved if moved <= 0.7 else 0.0
    return 0.0, 0.0, 0.0, UNCONVERGED


@njit(cache=True, nogil=True, error_model="numpy")
def _finished(n, fitted, lead, sw, s1, s2, sm, m1, smm):
    """Shape parameters and residual of the straight line in the reciprocal; unconverged outside the box."""
    spread = sw * s2 - s1 * s1
    ultimate = (s2 * sm - s1 * m1) / spread
    fall = (sw * m1 - s1 * sm) / spread
    half = -fall / ultimate
    ahead = 1.0 + lead - half  # of the offset, at the first age
    least_half, most_half, least_ahead, most_ahead = hyperbolic_bounds(fitted[AGE, n - 1])
    if not (ultimate > 0.0 and least_half < half < most_half and least_ahead < ahead < most_ahead):
        return 0.0, 0.0, 0.0, UNCONVERGED
    return log(half), log(ahead), max(smm - ultimate * sm - fall * m1, 0.0), CONVERGED
