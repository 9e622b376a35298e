"""Piecewise curves: straight from mean to mean, in age or in log age. No growth law is assumed."""

from __future__ import annotations

from abc import abstractmethod
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike

from planner.curves.curve import Curve, above_zero, rising
from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import CurveName


class _Piecewise(Curve):
    """Straight segments over a scale of maturity; outside the span the end segment goes on."""

    __slots__ = ()

    fewest_ages: ClassVar[int] = 2
    n_parameters: ClassVar[int | None] = None
    parameter_names: ClassVar[tuple[str, ...]] = ()
    is_linear: ClassVar[bool] = True
    is_interpolating: ClassVar[bool] = True

    @abstractmethod
    def _scale(self, maturity_h: ArrayLike) -> FloatArray:
        """Return the abscissa over which the segments are straight."""

    @abstractmethod
    def _scale_rate(self, maturity_h: ArrayLike) -> FloatArray:
        """Differentiate that abscissa by maturity."""

    def strength(self, maturity_h: ArrayLike, parameters: ArrayLike, *, knots_h: ArrayLike | None = None) -> FloatArray:
        """Read the curve [MPa] at maturities [h], shape ``(n,)``.

        Raises
        ------
        ValueError
            Where `knots_h`, the maturities of the means, is missing or does not match them.
        """
        weights = self.derivative(maturity_h, parameters, knots_h=knots_h)
        return np.asarray(weights @ np.asarray(parameters, dtype=np.float64), dtype=np.float64)

    def derivative(
        self, maturity_h: ArrayLike, parameters: ArrayLike, *, knots_h: ArrayLike | None = None
    ) -> FloatArray:
        """Return the weight of each mean, shape ``(n, n_ages)``: at most two differ from 0, they sum to 1."""
        places = self._knots(parameters, knots_h)
        wanted = self._scale(maturity_h)
        segment = _segment(wanted, places)
        share = (wanted - places[segment]) / (places[segment + 1] - places[segment])
        weights = np.zeros((*wanted.shape, places.size))
        np.put_along_axis(weights, segment[..., None], (1 - share)[..., None], axis=-1)
        np.put_along_axis(weights, segment[..., None] + 1, share[..., None], axis=-1)
        return weights

    def growth_rate(
        self, maturity_h: ArrayLike, parameters: ArrayLike, *, knots_h: ArrayLike | None = None
    ) -> FloatArray:
        """Differentiate strength by maturity [MPa/h], shape ``(n,)``; at a mean, the slope after it."""
        places = self._knots(parameters, knots_h)
        segment = _segment(self._scale(maturity_h), places)
        slopes = np.diff(np.asarray(parameters, dtype=np.float64)) / np.diff(places)
        return np.asarray(slopes[segment] * self._scale_rate(maturity_h), dtype=np.float64)

    def start(self, maturity_h: ArrayLike, mean_mpa: ArrayLike) -> FloatArray:
        """Return the means: they are the parameters."""
        means = np.array(mean_mpa, dtype=np.float64)
        self._knots(means, maturity_h)
        return means

    def _knots(self, parameters: ArrayLike, knots_h: ArrayLike | None) -> FloatArray:
        if knots_h is None:
            raise ValueError(f"A {self.name} curve needs `knots_h`, the maturities of its means; none given.")
        knots = rising(knots_h)
        n_means = np.size(np.asarray(parameters))
        if knots.size != n_means or knots.size < self.fewest_ages:
            raise ValueError(
                f"A {self.name} curve needs one mean for each of at least {self.fewest_ages} maturities, "
                f"given {n_means} means at {knots.size} maturities."
            )
        return self._scale(knots)


@dataclass(frozen=True, slots=True)
class PiecewiseLinear(_Piecewise):
    """Straight in maturity from mean to mean; the parameters are the means at the fitted ages."""

    name: ClassVar[CurveName] = "piecewise linear"

    def _scale(self, maturity_h: ArrayLike) -> FloatArray:
        return np.asarray(maturity_h, dtype=np.float64)

    def _scale_rate(self, maturity_h: ArrayLike) -> FloatArray:
        return np.ones(np.shape(maturity_h))


@dataclass(frozen=True, slots=True)
class PiecewiseLogAge(_Piecewise):
    """Straight in the logarithm of maturity from mean to mean, as on the trade's semi-log paper."""

    name: ClassVar[CurveName] = "piecewise linear in log age"

    def _scale(self, maturity_h: ArrayLike) -> FloatArray:
        return np.asarray(np.log(above_zero(maturity_h, curve=self.name)), dtype=np.float64)

    def _scale_rate(self, maturity_h: ArrayLike) -> FloatArray:
        return np.asarray(1.0 / above_zero(maturity_h, curve=self.name), dtype=np.float64)


def _segment(wanted: FloatArray, places: FloatArray) -> np.ndarray[tuple[int, ...], np.dtype[np.intp]]:
    """Return the segment each abscissa falls into; before the first and after the last, the end ones."""
    return np.clip(np.searchsorted(places, wanted, side="right") - 1, 0, places.size - 2)
