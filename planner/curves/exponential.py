"""Exponential curve: a slow start, a steep middle, and an ultimate strength approached for ever."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike

from planner.curves.curve import Formula, best_scale, half_way, rising
from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import CurveName

_LARGEST_LOG = 700.0  # exp of more overflows; strength is exactly 0 long before


@dataclass(frozen=True, slots=True)
class Exponential(Formula):
    """``S = Su exp(-(tau / t)^a)``, 0 at age zero.

    Parameters are (ultimate_mpa Su, time_h tau, shape a). At tau the curve stands at 1/e of the ultimate
    strength. The time constant is kept within a thousandth of the first and a thousand times the last
    maturity, the shape between 0.1 (a straight line in log age over any span that is broken) and 6
    (a step).

    References
    ----------
    Freiesleben Hansen and Pedersen, three-parameter equation.  (from memory)
    """

    name: ClassVar[CurveName] = "exponential"
    fewest_ages: ClassVar[int] = 3
    n_parameters: ClassVar[int | None] = 3
    parameter_names: ClassVar[tuple[str, ...]] = ("ultimate_mpa", "time_h", "shape")

    def _strength(self, maturities_h: FloatArray, parameters: FloatArray, /) -> FloatArray:
        """Read the curve [MPa] at maturities [h], shape ``(n,)``."""
        ultimate, tau, shape = parameters
        log_ratio, _ = _log_ratio(maturities_h, tau)
        return np.asarray(ultimate * np.exp(-_power(log_ratio, shape)), dtype=np.float64)

    def _derivative(self, maturities_h: FloatArray, parameters: FloatArray, /) -> FloatArray:
        """Differentiate strength by (Su, tau, a), shape ``(n, 3)``; 0 at age zero."""
        ultimate, tau, shape = parameters
        log_ratio, _ = _log_ratio(maturities_h, tau)
        power = _power(log_ratio, shape)
        unit = np.exp(-power)
        by_power = -ultimate * unit * power
        return np.stack([unit, by_power * shape / tau, by_power * log_ratio], axis=-1)

    def _growth_rate(self, maturities_h: FloatArray, parameters: FloatArray, /) -> FloatArray:
        """Differentiate strength by maturity [MPa/h], shape ``(n,)``; 0 at age zero."""
        ultimate, tau, shape = parameters
        log_ratio, positive_h = _log_ratio(maturities_h, tau)
        power = _power(log_ratio, shape)
        rate = ultimate * np.exp(-power) * power * shape / positive_h
        return np.asarray(rate, dtype=np.float64)

    def start(self, maturity_h: ArrayLike, mean_mpa: ArrayLike) -> FloatArray:
        """Guess the time constant from where the means pass 1/e of the largest, with a shape of 1."""
        maturities = rising(maturity_h)
        means = np.asarray(mean_mpa, dtype=np.float64)
        lowest, highest = self.bounds(maturities)
        tau = float(np.clip(half_way(maturities, means, float(np.exp(-1.0))), lowest[0], highest[0]))
        unit = self.strength(maturities, (1.0, tau, 1.0))
        return np.array([best_scale(unit, means), tau, 1.0])

    def bounds(self, maturity_h: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return lowest and highest (tau [h], a) for means at rising maturities."""
        maturities = rising(maturity_h)
        return np.array([1e-3 * maturities[0], 0.1]), np.array([1e3 * maturities[-1], 6.0])


def _log_ratio(maturities_h: FloatArray, tau: float) -> tuple[FloatArray, FloatArray]:
    """Return ln(tau / t) and t, with age zero moved to the smallest number above it, where strength is 0."""
    positive_h = np.maximum(maturities_h, np.finfo(np.float64).tiny)
    return np.log(tau) - np.log(positive_h), positive_h


def _power(log_ratio: FloatArray, shape: float) -> FloatArray:
    return np.exp(np.minimum(shape * log_ratio, _LARGEST_LOG))
