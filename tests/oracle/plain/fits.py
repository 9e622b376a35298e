"""The curve of one batch through the means of a few ages, and how a reading answers to each mean."""

from __future__ import annotations

from functools import cache

import numpy as np
from scipy.optimize import least_squares


def reading(curve: str, weighting: str, maturity_h, mean_mpa, at_h: float) -> tuple[float, np.ndarray]:
    """Strength that the fitted curve reads at a maturity, and its derivative by each mean."""
    t, y = np.asarray(maturity_h, dtype=float), np.asarray(mean_mpa, dtype=float)
    if curve == "hyperbolic":
        return _hyperbola(weighting, t, y, at_h)
    if curve == "logarithmic":
        root = 1.0 / y if weighting == "relative" else np.ones_like(y)
        lines = np.stack([np.ones_like(t), np.log(t)], axis=1)
        slopes = np.array([1.0, np.log(at_h)]) @ np.linalg.pinv(lines * root[:, None]) * root
        return float(slopes @ y), slopes
    scale = np.log if curve == "piecewise linear in log age" else np.asarray
    places, place = scale(t), float(scale(at_h))
    left = max(0, min(int(np.sum(places[1:-1] < place)), len(t) - 2))
    slopes = np.zeros_like(y)
    slopes[left + 1] = (place - places[left]) / (places[left + 1] - places[left])
    slopes[left] = 1.0 - slopes[left + 1]
    return float(slopes @ y), slopes


def strength(p, ages):
    return p[0] * (ages - p[2]) / (ages - p[2] + p[1])


def bounds(t) -> tuple[np.ndarray, np.ndarray]:
    """What ultimate strength, half time and offset may be."""
    return np.array([0.0, 1e-3 * t[0], -t[0]]), np.array([np.inf, 1e3 * t[-1], 0.98 * t[0]])


@cache
def fitted_hyperbola(weighting: str, t: tuple[float, ...], y: tuple[float, ...]) -> np.ndarray:
    """Ultimate strength, half time and offset between the bounds, by scipy, the best of several starts."""
    ages, means = np.array(t), np.array(y)
    sigma = means if weighting == "relative" else np.ones_like(means)
    found = None
    for half, offset in ((20.0, 0.0), (5.0, 0.9 * t[0]), (100.0, -0.5 * t[0])):
        tried = least_squares(
            lambda p: (strength(p, ages) - means) / sigma, (1.2 * y[-1], half, offset), bounds=bounds(t),
            x_scale=(y[-1], t[0], t[0]), xtol=1e-15, ftol=1e-15, gtol=1e-15, max_nfev=2000,
        )  # fmt: skip
        if found is None or tried.cost < found.cost * (1 - 1e-9):
            found = tried
    assert found is not None
    return found.x


def _hyperbola(weighting: str, t: np.ndarray, y: np.ndarray, at_h: float) -> tuple[float, np.ndarray]:
    """A parameter on its bound does not answer to the means; residuals are left out of the derivative."""
    sigma = y if weighting == "relative" else np.ones_like(y)
    p = fitted_hyperbola(weighting, tuple(t.tolist()), tuple(y.tolist()))
    low, high = bounds(t)
    free = np.array([True, low[1] * 1.001 < p[1] < high[1] * 0.999, low[2] * 0.99999 < p[2] < high[2] * 0.99999])
    free[2] &= p[2] > low[2] + 1e-5 * t[0]

    def slopes_by_parameter(ages):
        since = np.asarray(ages) - p[2]
        by = [since / (since + p[1]), -p[0] * since / (since + p[1]) ** 2, -p[0] * p[1] / (since + p[1]) ** 2]
        return np.stack(by, axis=-1)[..., free]

    slopes = slopes_by_parameter(at_h) @ np.linalg.pinv(slopes_by_parameter(t) / sigma[:, None]) / sigma
    return float(strength(p, at_h)), slopes
