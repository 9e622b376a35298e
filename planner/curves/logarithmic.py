"""Logarithmic curve: equal gain of strength for every doubling of maturity."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike

from planner.curves.curve import Formula, above_zero, rising
from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import CurveName


@dataclass(frozen=True, slots=True)
class Logarithmic(Formula):
    """``S = a + b ln t``.

    Parameters are (intercept_mpa a, slope_mpa b), the strength at 1 h and the gain while maturity grows
    e-fold. Not bounded; negative at small maturities.

    References
    ----------
    Plowman, strength against the logarithm of maturity.  (from memory)
    """

    name: ClassVar[CurveName] = "logarithmic"
    fewest_ages: ClassVar[int] = 2
    n_parameters: ClassVar[int | None] = 2
    parameter_names: ClassVar[tuple[str, ...]] = ("intercept_mpa", "slope_mpa")
    is_linear: ClassVar[bool] = True

    def _strength(self, maturities_h: FloatArray, parameters: FloatArray, /) -> FloatArray:
        """Read the curve [MPa] at maturities above 0 h, shape ``(n,)``."""
        intercept, slope = parameters
        logs = np.log(above_zero(maturities_h, curve=self.name))
        return np.asarray(intercept + slope * logs, dtype=np.float64)

    def _derivative(self, maturities_h: FloatArray, _parameters: FloatArray, /) -> FloatArray:
        """Differentiate strength by (a, b), shape ``(n, 2)``; the same whatever the parameters."""
        logs = np.log(above_zero(maturities_h, curve=self.name))
        return np.stack([np.ones_like(logs), logs], axis=-1)

    def _growth_rate(self, maturities_h: FloatArray, parameters: FloatArray, /) -> FloatArray:
        """Differentiate strength by maturity [MPa/h], shape ``(n,)``."""
        _, slope = parameters
        return np.asarray(slope / above_zero(maturities_h, curve=self.name), dtype=np.float64)

    def start(self, maturity_h: ArrayLike, mean_mpa: ArrayLike) -> FloatArray:
        """Draw the line through the first and the last mean."""
        logs = np.log(rising(maturity_h))
        means = np.asarray(mean_mpa, dtype=np.float64)
        if logs.size < self.fewest_ages:
            raise ValueError(f"A logarithmic curve needs {self.fewest_ages} ages, given {logs.size}.")
        slope = (means[-1] - means[0]) / (logs[-1] - logs[0])
        return np.array([means[0] - slope * logs[0], slope])
