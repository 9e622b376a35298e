"""Hyperbolic curve: strength rises from an offset and levels off at the ultimate strength."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike

from planner.curves.curve import Formula, best_scale, half_way, rising
from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import CurveName


@dataclass(frozen=True, slots=True)
class Hyperbolic(Formula):
    """``S = Su (t - t0) / (t - t0 + h)``, 0 up to t0.

    Parameters are (ultimate_mpa Su, half_h h, offset_h t0). The half time h is the reciprocal of the rate
    constant k of the usual form ``Su k (t - t0) / (1 + k (t - t0))``: the curve stands at half of Su when
    h has passed since the offset.

    The half time is kept within a thousandth of the first and a thousand times the last maturity; beyond
    these the curve is flat, or straight, over every fitted age. The offset stays below 0.98 of the first
    maturity, where strength was measured and cannot be zero. Real records do ask for negative offsets:
    concrete gains nothing before it is cast, so a negative offset only bends the young end of the curve.
    It is therefore allowed, but no further back than the first maturity, because earlier than that the
    ages can hardly tell it from a larger ultimate strength and half time. The ultimate strength has no bound.

    References
    ----------
    ASTM C1074, appendix; the offset form after Carino.  (from memory)
    """

    name: ClassVar[CurveName] = "hyperbolic"
    fewest_ages: ClassVar[int] = 3
    n_parameters: ClassVar[int | None] = 3
    parameter_names: ClassVar[tuple[str, ...]] = ("ultimate_mpa", "half_h", "offset_h")

    def _strength(self, maturities_h: FloatArray, parameters: FloatArray, /) -> FloatArray:
        """Read the curve [MPa] at maturities [h], shape ``(n,)``."""
        ultimate, half, offset = parameters
        since = _since(maturities_h, offset)
        return np.asarray(ultimate * (since / (since + half)), dtype=np.float64)

    def _derivative(self, maturities_h: FloatArray, parameters: FloatArray, /) -> FloatArray:
        """Differentiate strength by (Su, h, t0), shape ``(n, 3)``; 0 up to the offset."""
        ultimate, half, offset = parameters
        since = _since(maturities_h, offset)
        unit = since / (since + half)
        by_half = -ultimate * unit / (since + half)
        return np.stack([unit, by_half, -self._growth_rate(maturities_h, parameters)], axis=-1)

    def _growth_rate(self, maturities_h: FloatArray, parameters: FloatArray, /) -> FloatArray:
        """Differentiate strength by maturity [MPa/h], shape ``(n,)``; 0 up to the offset."""
        ultimate, half, offset = parameters
        since = _since(maturities_h, offset)
        return np.where(since > 0, ultimate * half / (since + half) ** 2, 0.0)

    def start(self, maturity_h: ArrayLike, mean_mpa: ArrayLike) -> FloatArray:
        """Guess the half time from where the means pass half of the largest, without an offset."""
        maturities = rising(maturity_h)
        means = np.asarray(mean_mpa, dtype=np.float64)
        lowest, highest = self.bounds(maturities)
        half = float(np.clip(half_way(maturities, means, 0.5), lowest[0], highest[0]))
        unit = maturities / (maturities + half)
        return np.array([best_scale(unit, means), half, 0.0])

    def bounds(self, maturity_h: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return lowest and highest (h, t0) [h] for means at rising maturities."""
        maturities = rising(maturity_h)
        first, last = maturities[0], maturities[-1]
        return np.array([1e-3 * first, -first]), np.array([1e3 * last, 0.98 * first])


def _since(maturities_h: FloatArray, offset_h: float) -> FloatArray:
    return np.maximum(maturities_h - offset_h, 0.0)
