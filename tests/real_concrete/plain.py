"""A second, plain implementation of cross-validated errors: loops and a general solver, no code in common.

It reads the growth records alone. Parameters and bounds are those that the curves document: hyperbolic
``S (t - o) / (t - o + h)`` with h between first/1000 and 1000 last and o between -first and 0.98 first;
exponential ``S exp(-(c / t)^a)`` with c between first/1000 and 1000 last and a between 0.1 and 6.
"""

from __future__ import annotations

from math import exp, inf, log
from warnings import catch_warnings

import numpy as np
from scipy.optimize import OptimizeWarning, curve_fit

STARTS = (0.03, 0.3, 1.0, 5.0)  # times the geometric middle of the ages


def hyperbolic(t, ultimate, half, offset):  # type: ignore[no-untyped-def]
    since = np.maximum(t - offset, 0.0)
    return ultimate * since / (since + half)


def exponential(t, ultimate, time, shape):  # type: ignore[no-untyped-def]
    return ultimate * np.exp(-np.minimum((time / t) ** shape, 700.0))


def predict(ages: list[float], means: list[float], curve: str, weighting: str, target: float) -> float:
    """Fit one mix by itself and read the curve at the target."""
    if curve == "piecewise linear":
        return through_means(ages, means, target)
    if curve == "piecewise linear in log age":
        return through_means([log(age) for age in ages], means, log(target))
    scatter = means if weighting == "relative" else [1.0] * len(means)
    if curve == "logarithmic":
        slope, level = np.polyfit([log(age) for age in ages], means, 1, w=[1.0 / s for s in scatter])
        return float(level + slope * log(target))
    first, last = ages[0], ages[-1]
    law = hyperbolic if curve == "hyperbolic" else exponential
    if law is hyperbolic:
        low, high = [-inf, 1e-3 * first, -first], [inf, 1e3 * last, 0.98 * first]
        seconds = [-0.9 * first, 0.0, 0.5 * first, 0.9 * first]
    else:
        low, high = [-inf, 1e-3 * first, 0.1], [inf, 1e3 * last, 6.0]
        seconds = [0.15, 0.4, 1.0, 3.0]
    middle = exp((log(first) + log(last)) / 2)
    least, best = inf, 0.0
    for factor in STARTS:
        for second in seconds:
            start = [max(means), min(max(factor * middle, low[1]), high[1]), second]
            try:
                with catch_warnings(action="ignore", category=OptimizeWarning):  # of a covariance nobody reads
                    found, _ = curve_fit(
                        law, ages, means, start, sigma=scatter, bounds=(low, high), max_nfev=3000,
                        x_scale=[max(means), middle, 1.0], ftol=1e-14, xtol=1e-14, gtol=1e-14,
                    )  # fmt: skip
            except RuntimeError:
                continue
            misfit = sum(((law(a, *found) - m) / s) ** 2 for a, m, s in zip(ages, means, scatter, strict=True))
            if misfit < least:
                least, best = misfit, float(law(target, *found))
    return best


def through_means(places: list[float], means: list[float], wanted: float) -> float:
    """Straight from mean to mean; beyond the ends the end segment goes on."""
    i = 0
    while i < len(places) - 2 and wanted > places[i + 1]:
        i += 1
    return means[i] + (means[i + 1] - means[i]) * (wanted - places[i]) / (places[i + 1] - places[i])


def rms_error(records, ages: list[float], curve: str, weighting: str, target: float) -> float:  # type: ignore[no-untyped-def]
    """Root mean square over the mixes of predicted over measured minus 1, each mix fitted by itself."""
    total = 0.0
    for record in records:
        means = [record.mean_mpa(age) for age in ages]
        total += (predict(ages, means, curve, weighting, target) / record.mean_mpa(target) - 1.0) ** 2
    return float((total / len(records)) ** 0.5)
