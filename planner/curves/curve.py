"""What every strength-maturity curve can say about itself."""

from __future__ import annotations

from abc import ABC, abstractmethod
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike

from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import CurveName


class Curve(ABC):
    """A formula for strength over maturity. Stateless: two of one kind are the same curve.

    Parameters of curves that are not linear begin with the scale, in which the curve is linear, and go on
    with the shape. Piecewise curves have one parameter for each fitted age, and need the maturities of
    those ages, `knots_h`, to be read; the others ignore `knots_h`.
    """

    __slots__ = ()

    name: ClassVar[CurveName]
    fewest_ages: ClassVar[int]  # distinct ages needed to fit it
    n_parameters: ClassVar[int | None]  # None: one for each fitted age
    parameter_names: ClassVar[tuple[str, ...]]  # () where there is one for each fitted age
    is_linear: ClassVar[bool] = False  # in all its parameters: one exact fit, no shape, no bounds
    is_interpolating: ClassVar[bool] = False  # goes through every mean

    @property
    def n_shape(self) -> int:
        """Parameters besides the scale that need a search."""
        return 0 if self.is_linear or self.n_parameters is None else self.n_parameters - 1

    @abstractmethod
    def strength(self, maturity_h: ArrayLike, parameters: ArrayLike, *, knots_h: ArrayLike | None = None) -> FloatArray:
        """Read the curve [MPa] at maturities [h], shape ``(n,)``."""

    @abstractmethod
    def derivative(
        self, maturity_h: ArrayLike, parameters: ArrayLike, *, knots_h: ArrayLike | None = None
    ) -> FloatArray:
        """Differentiate strength by each parameter, shape ``(n, n_parameters)``."""

    @abstractmethod
    def growth_rate(
        self, maturity_h: ArrayLike, parameters: ArrayLike, *, knots_h: ArrayLike | None = None
    ) -> FloatArray:
        """Differentiate strength by maturity [MPa/h], shape ``(n,)``."""

    @abstractmethod
    def start(self, maturity_h: ArrayLike, mean_mpa: ArrayLike) -> FloatArray:
        """Guess parameters from cell means at rising maturities, inside the bounds, ``(n_parameters,)``."""

    def bounds(self, maturity_h: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return lowest and highest values of the shape for means at rising maturities, ``(n_shape,)`` each.

        The scale and the parameters of linear curves are not bounded.
        """
        rising(maturity_h)
        return np.empty(0), np.empty(0)


class Formula(Curve):
    """A curve that needs no more than its parameters to be read."""

    __slots__ = ()

    @abstractmethod
    def _strength(self, maturities_h: FloatArray, parameters: FloatArray, /) -> FloatArray:
        """Evaluate the formula."""

    @abstractmethod
    def _derivative(self, maturities_h: FloatArray, parameters: FloatArray, /) -> FloatArray:
        """Evaluate its derivatives by the parameters."""

    @abstractmethod
    def _growth_rate(self, maturities_h: FloatArray, parameters: FloatArray, /) -> FloatArray:
        """Evaluate its derivative by maturity."""

    def strength(self, maturity_h: ArrayLike, parameters: ArrayLike, *, knots_h: ArrayLike | None = None) -> FloatArray:
        """Read the curve [MPa] at maturities [h], shape ``(n,)``."""
        del knots_h  # the parameters say it all
        return self._strength(*_as_arrays(maturity_h, parameters))

    def derivative(
        self, maturity_h: ArrayLike, parameters: ArrayLike, *, knots_h: ArrayLike | None = None
    ) -> FloatArray:
        """Differentiate strength by each parameter, shape ``(n, n_parameters)``."""
        del knots_h
        return self._derivative(*_as_arrays(maturity_h, parameters))

    def growth_rate(
        self, maturity_h: ArrayLike, parameters: ArrayLike, *, knots_h: ArrayLike | None = None
    ) -> FloatArray:
        """Differentiate strength by maturity [MPa/h], shape ``(n,)``."""
        del knots_h
        return self._growth_rate(*_as_arrays(maturity_h, parameters))


def _as_arrays(maturity_h: ArrayLike, parameters: ArrayLike) -> tuple[FloatArray, FloatArray]:
    return np.asarray(maturity_h, dtype=np.float64), np.asarray(parameters, dtype=np.float64)


def rising(maturity_h: ArrayLike) -> FloatArray:
    """Return the maturities of fitted ages as an array.

    Raises
    ------
    ValueError
        Where they are not above 0 h, finite and rising.
    """
    maturities = np.asarray(maturity_h, dtype=np.float64)
    is_usable = maturities.ndim == 1 and maturities.size > 0 and bool(np.all(np.isfinite(maturities)))
    if not is_usable or maturities[0] <= 0 or np.any(np.diff(maturities) <= 0):
        given = np.array2string(maturities, threshold=20)
        raise ValueError(
            f"Fitted maturities must be above 0 h and rise, given {given}. "
            f"Average replicates into one mean for each maturity, youngest first."
        )
    return maturities


def above_zero(maturity_h: ArrayLike, *, curve: str) -> FloatArray:
    """Return maturities as an array.

    Raises
    ------
    ValueError
        Where one is not above 0 h, for curves that are not defined there.
    """
    maturities = np.asarray(maturity_h, dtype=np.float64)
    is_wrong = ~(maturities > 0)
    if np.any(is_wrong):
        given = ", ".join(f"{value:g}" for value in np.atleast_1d(maturities[is_wrong])[:10])
        raise ValueError(f"A {curve} curve has no value at and below 0 h of maturity, given {given}.")
    return maturities


def half_way(maturities_h: FloatArray, mean_mpa: FloatArray, share: float) -> float:
    """Find roughly where the means pass `share` of the largest one [h]; a first guess, never a result."""
    reached = np.maximum.accumulate(mean_mpa)
    if not reached[-1] > 0:  # no strength to speak of: anywhere inside the span will do
        return float(np.median(maturities_h))
    wanted = share * reached[-1]
    place = int(np.searchsorted(reached, wanted))
    if place == 0:  # the youngest is past it already: straight line from the origin
        return float(maturities_h[0] * max(wanted / reached[0], 0.1))
    return float(np.interp(wanted, reached[place - 1 : place + 1], maturities_h[place - 1 : place + 1]))


def best_scale(unit_mpa: FloatArray, mean_mpa: FloatArray) -> float:
    """Scale a curve of unit height to the means by least squares; the mean strength where it is flat zero."""
    square = float(unit_mpa @ unit_mpa)
    return float(unit_mpa @ mean_mpa) / square if square > 0 else float(np.mean(mean_mpa))
