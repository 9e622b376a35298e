"""The curve of one batch through the means of a few ages, and how much a reading answers to each mean."""

from __future__ import annotations

from functools import cache

import numpy as np
from scipy import stats
from scipy.optimize import least_squares


def reading(
    curve: str, weighting: str, maturity_h, mean_mpa, at_h: float, scatter_mpa=None
) -> tuple[float, np.ndarray]:
    """Strength that the fitted curve reads at a maturity, and the size of its answer to each mean.

    `scatter_mpa` is the standard deviation of one specimen at each age; without it no scatter meets a bound.
    """
    t, y = np.asarray(maturity_h, dtype=float), np.asarray(mean_mpa, dtype=float)
    if curve == "hyperbolic":
        scatter = np.zeros(len(t)) if scatter_mpa is None else np.asarray(scatter_mpa, dtype=float)
        return _hyperbola(weighting, *(tuple(each.tolist()) for each in (t, y)), float(at_h), tuple(scatter.tolist()))
    if curve == "logarithmic":
        slopes = np.array([1.0, np.log(at_h)]) @ fitted_line(weighting, tuple(t.tolist()), tuple(y.tolist()))
        return float(slopes @ y), slopes
    scale = np.log if curve == "piecewise linear in log age" else np.asarray
    places, place = scale(t), float(scale(at_h))
    left = max(0, min(int(np.sum(places[1:-1] < place)), len(t) - 2))
    slopes = np.zeros_like(y)
    slopes[left + 1] = (place - places[left]) / (places[left + 1] - places[left])
    slopes[left] = 1.0 - slopes[left + 1]
    return float(slopes @ y), slopes


@cache
def fitted_line(weighting: str, t: tuple[float, ...], y: tuple[float, ...]) -> np.ndarray:
    """Intercept and slope over the logarithm of age as they answer to each mean, ``(2, n_ages)``."""
    root = 1.0 / np.array(y) if weighting == "relative" else np.ones(len(y))
    lines = np.stack([np.ones(len(t)), np.log(t)], axis=1)
    return np.linalg.pinv(lines * root[:, None]) * root


def strength(p, ages):
    return p[0] * (ages - p[2]) / (ages - p[2] + p[1])


def strength_slopes(p, ages):
    """Derivatives by ultimate strength, half time and offset, ``(n_ages, 3)``."""
    since = ages - p[2]
    both = since + p[1]
    return np.stack([since / both, -p[0] * since / both**2, -p[0] * p[1] / both**2], axis=1)


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
            lambda p: (strength(p, ages) - means) / sigma, (1.2 * y[-1], half, offset),
            jac=lambda p: strength_slopes(p, ages) / sigma[:, None], bounds=bounds(t), x_scale=(y[-1], t[0], t[0]),
            xtol=1e-15, ftol=1e-15, gtol=1e-15, max_nfev=2000,
        )  # fmt: skip
        if found is None or tried.cost < found.cost * (1 - 1e-9):
            found = tried
    assert found is not None
    found.x.setflags(write=False)  # kept for all who ask
    return found.x


@cache
def _hyperbola(
    weighting: str, at: tuple[float, ...], means: tuple[float, ...], at_h: float, scatter_mpa: tuple[float, ...]
) -> tuple[float, np.ndarray]:
    """Residuals are left out of the derivative."""
    t, y, scatter = np.array(at), np.array(means), np.array(scatter_mpa)
    sigma = y if weighting == "relative" else np.ones_like(y)
    p = fitted_hyperbola(weighting, at, means)
    low, high = bounds(t)
    is_free = np.array([True, low[1] * 1.001 < p[1] < high[1] * 0.999, low[2] * 0.99999 < p[2] < high[2] * 0.99999])
    is_free[2] &= p[2] > low[2] + 1e-5 * t[0]

    def slopes_by_parameter(ages):
        """By ultimate strength, and by the logarithms of the half time and of the first age less the offset."""
        since, half = np.asarray(ages) - p[2], p[1]
        ahead = t[0] - p[2]
        by = [
            since / (since + half),
            -p[0] * since * half / (since + half) ** 2,
            p[0] * half * ahead / (since + half) ** 2,
        ]
        return np.stack(by, axis=-1)

    def answers(used) -> np.ndarray:
        """Of every parameter to every mean, those that are not used held."""
        found = np.zeros((3, len(t)))
        found[used] = np.linalg.pinv(slopes_by_parameter(t)[:, used] / sigma[:, None]) / sigma
        return found

    gradient = slopes_by_parameter(at_h)
    slopes = gradient @ answers(is_free)
    if scatter.any():
        slopes = np.sqrt(_beside_bounds(p, t, y, gradient, is_free, answers, scatter / np.sqrt(3.0)))
    slopes.setflags(write=False)  # kept for all who ask
    return float(strength(p, at_h)), slopes


def _beside_bounds(p, t, y, gradient, is_free, answers, deviation) -> np.ndarray:
    """Squared answers to each mean where scatter of three specimens may carry a parameter to its bound or off it.

    The reading is held + pushed, the pushed parameter a normal value cut at its bound; moments by integration.
    """
    low, high = bounds(t)
    value = np.array([0.0, np.log(p[1]), np.log(t[0] - p[2])])
    lowest = np.array([-np.inf, np.log(low[1]), np.log(t[0] - high[2])])
    highest = np.array([np.inf, np.log(high[1]), np.log(t[0] - low[2])])
    held = [i for i in (2, 1) if not is_free[i]]
    best = (np.inf, None)
    for i in held[:1] or (1, 2):
        whole = is_free.copy()
        whole[i] = True
        answer = answers(whole)[i]
        spread = np.sqrt(np.sum((answer * deviation) ** 2))
        if held:
            is_low = abs(value[i] - lowest[i]) < abs(value[i] - highest[i])
            inside = (answer @ (y - strength(p, t))) * (1.0 if is_low else -1.0)
        else:
            inside = min(value[i] - lowest[i], highest[i] - value[i])
        if (z := inside / spread) < best[0]:
            best = (z, i)
    z, i = best
    whole, without = is_free.copy(), is_free.copy()
    whole[i], without[i] = True, False
    free, kept = gradient @ answers(whole), gradient @ answers(without)
    if not abs(z) < 4.0:
        return (gradient @ answers(is_free)) ** 2
    grid, mass = _normal()
    cut = np.maximum(z + grid, 0.0)
    variance = float(mass @ cut**2 - (mass @ cut) ** 2)
    together = float(mass @ (cut * grid))
    pushed = free - kept
    return kept**2 + 2.0 * together * kept * pushed + variance * pushed**2


@cache
def _normal() -> tuple[np.ndarray, np.ndarray]:
    """Values of the normal law and the mass at each."""
    grid = np.linspace(-9.0, 9.0, 200_001)
    return grid, stats.norm.pdf(grid) * (grid[1] - grid[0])
