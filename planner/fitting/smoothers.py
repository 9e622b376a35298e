"""Compiled fits of the curves that are linear in the cell means: their weights are the whole answer.

``prediction = sum(weight_i * mean_i)``, so error and variance of a prediction are exact.
"""

from __future__ import annotations

from math import log

from planner.compiled import inner_njit
from planner.fitting.variable_projection import AGE, LOG_AGE, SHAPE, WEIGHT

LOGARITHMIC = 2
PIECEWISE = 3
PIECEWISE_LOG = 4


@inner_njit()
def smoother_weights(curve, n, fitted, at):
    """Weights of the cell means in the prediction at one scaled maturity, into the row ``SHAPE``.

    Outside the span of the ages the end segment (or the straight line in ln age) is continued.
    """
    if curve == LOGARITHMIC:
        sw = st = stt = 0.0
        for i in range(n):
            sw += fitted[WEIGHT, i]
            st += fitted[WEIGHT, i] * fitted[LOG_AGE, i]
        centre = st / sw
        for i in range(n):
            stt += fitted[WEIGHT, i] * (fitted[LOG_AGE, i] - centre) ** 2
        lever = (log(at) - centre) / stt
        for i in range(n):
            fitted[SHAPE, i] = fitted[WEIGHT, i] * (1.0 / sw + lever * (fitted[LOG_AGE, i] - centre))
        return
    right = 1
    while right < n - 1 and fitted[AGE, right] < at:
        right += 1
    for i in range(n):
        fitted[SHAPE, i] = 0.0
    if curve == PIECEWISE:
        share = (at - fitted[AGE, right - 1]) / (fitted[AGE, right] - fitted[AGE, right - 1])
    else:
        share = (log(at) - fitted[LOG_AGE, right - 1]) / (fitted[LOG_AGE, right] - fitted[LOG_AGE, right - 1])
    fitted[SHAPE, right - 1] = 1.0 - share
    fitted[SHAPE, right] = share
