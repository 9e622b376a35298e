"""Compiled fits of the curves that are linear in the cell means: their weights are the whole answer.

``prediction = sum(weight_i * mean_i)``, so error and variance of a prediction are exact.
"""

from __future__ import annotations

from math import log

from numba import njit

LOGARITHMIC = 2
PIECEWISE = 3
PIECEWISE_LOG = 4


@njit(cache=True, nogil=True, error_model="numpy")
def smoother_weights(curve, n, age, log_age, weight, at, out):
    """Weights of the cell means in the prediction at one scaled maturity, into ``out[:n]``.

    Outside the span of the ages the end segment (or the straight line in ln age) is continued.
    """
    if curve == LOGARITHMIC:
        sw = st = stt = 0.0
        for i in range(n):
            sw += weight[i]
            st += weight[i] * log_age[i]
        centre = st / sw
        for i in range(n):
            stt += weight[i] * (log_age[i] - centre) ** 2
        lever = (log(at) - centre) / stt
        for i in range(n):
            out[i] = weight[i] * (1.0 / sw + lever * (log_age[i] - centre))
        return
    right = 1
    while right < n - 1 and age[right] < at:
        right += 1
    for i in range(n):
        out[i] = 0.0
    if curve == PIECEWISE:
        share = (at - age[right - 1]) / (age[right] - age[right - 1])
    else:
        share = (log(at) - log_age[right - 1]) / (log_age[right] - log_age[right - 1])
    out[right - 1] = 1.0 - share
    out[right] = share
