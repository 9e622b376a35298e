"""The hyperbola fitted by one parameter: for a given lead it is a straight line in the reciprocal of age."""

from __future__ import annotations

from math import log

import numpy as np

from planner.compiled import inner_njit
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


@inner_njit(is_inlined=True)
def solve_reciprocal(n, fitted, lead):
    """Least squares of the hyperbola by the one parameter that it is not linear in.

    ``ultimate reach / (reach + half)`` is ``ultimate + fall / (age + lead)``: for a given lead a straight line in
    the reciprocal. A Newton step in the lead alone takes a quarter of what both shape parameters take.

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
        per_spread = 1.0 / spread
        ultimate = (s2 * sm - s1 * m1) * per_spread
        fall = (sw * m1 - s1 * sm) * per_spread
        cost = smm - ultimate * sm - fall * m1
        if not cost <= before + slack:
            break
        along = (sw * s3 - s1 * s2) * per_spread
        across = (s2 * s2 - s1 * s3) * per_spread
        bend = s4 - across * s2 - along * s3
        if not bend > 1e-9 * s4:
            break
        # The slope of the sum of squares is fall * slope; its bend is the exact one where that is a hill.
        slope = ultimate * s2 + fall * s3 - m2
        bend *= fall
        exact = bend + 2.0 * (ultimate * s3 + fall * s4 - m3) - slope * along
        step = slope / (exact if exact * bend > 0.5 * bend * bend else bend)
        ahead = 1.0 + lead
        moved = abs(step)
        if not moved < 1e6 * ahead:
            break
        # Errors are squared from step to step: what is still to come after this one is about moved^3 / moved_before^2,
        # as a share of the lead. Below the tolerance the step is the last, and need not be tried.
        moved /= ahead
        if moved <= STEP_TOLERANCE or 4.0 * moved * moved * moved <= STEP_TOLERANCE * moved_before * moved_before:
            # Its sums follow from these ones, good to step^3.
            s1 += step * (step * (s3 - step * s4) - s2)
            s2 += step * (3.0 * step * s4 - 2.0 * s3)
            m1 += step * (step * m3 - m2)
            return _finished(n, fitted, lead + step, sw, s1, s2, sm, m1, smm)
        before = cost
        lead += min(max(step, -0.7 * ahead), 2.0 * ahead)
        moved_before = moved if moved <= 0.7 else 0.0
    return 0.0, 0.0, 0.0, UNCONVERGED


@inner_njit(is_inlined=True)
def _finished(n, fitted, lead, sw, s1, s2, sm, m1, smm):
    """Shape parameters and residual of the straight line in the reciprocal; unconverged outside the box."""
    per_spread = 1.0 / (sw * s2 - s1 * s1)
    ultimate = (s2 * sm - s1 * m1) * per_spread
    fall = (sw * m1 - s1 * sm) * per_spread
    half = -fall / ultimate
    ahead = 1.0 + lead - half  # of the offset, at the first age
    least_half, most_half, least_ahead, most_ahead = hyperbolic_bounds(fitted[AGE, n - 1])
    if not (ultimate > 0.0 and least_half < half < most_half and least_ahead < ahead < most_ahead):
        return 0.0, 0.0, 0.0, UNCONVERGED
    return log(half), log(ahead), max(smm - ultimate * sm - fall * m1, 0.0), CONVERGED
