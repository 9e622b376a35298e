"""Q and the datum temperature from mortar cubes cured at several temperatures.

A hyperbola through the strengths at each temperature gives a rate constant k; the logarithms of k against the
reciprocal of the absolute temperature lie on a line of slope -Q, and k itself against the temperature on a line that
meets zero at the datum. Cubes of all temperatures share one scatter in MPa. Where the rates leave a line by more than
that scatter allows (an F test at 5 %), the interval rests on how far they leave it instead.

References
----------
ASTM C1074, annex A1, for hyperbola and lines (from memory); the standard errors are first-order propagation.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import fdtrc, stdtrit

from planner.curves import CURVES
from planner.fitting.single import AT_BOUND, CurveFit, fit_weighted
from planner.terms.arrays import BoolArray, FloatArray
from planner.terms.plan.mortar import MortarBreaks, MortarConstant, MortarConstants, MortarRate

KELVIN = 273.15
HOURS_PER_DAY = 24.0
CONFIDENCE = 0.95
LEAVES_THE_LINE = 0.05  # chance of the F test
LEAST_VARIANCE_MPA2 = 1e-12  # no cube is told more finely, invented ones included
N_PARAMETERS = 3  # of the hyperbola: an age more is needed to tell the scatter
HALF, OFFSET = 1, 2  # where the hyperbola has its half time and its offset


class RateError(ValueError):
    """No rate can be told at one temperature, or the rates do not rise with it."""

    def __init__(self, temperature_c: float | None) -> None:
        """Of the temperature without a rate; None where the rates do not rise."""
        super().__init__("no rate" if temperature_c is None else f"no rate at {temperature_c:g} C")
        self.temperature_c = temperature_c


def mortar_constants(breaks: MortarBreaks, *, file: str = "") -> MortarConstants:
    """Work out both constants with their standard errors and 95 % intervals.

    Parameters
    ----------
    breaks
        Three temperatures or more, four ages or more at each.

    Raises
    ------
    RateError
        Where strengths at a temperature are so flat or so straight over the ages that no rate can be told, or where
        mortar hardens no faster when it is warmer.
    """
    temperatures = np.unique(breaks.temperature_c)
    fits = [_fit(breaks, float(temperature)) for temperature in temperatures]
    freedom = sum(fit.n_cubes - N_PARAMETERS for fit in fits)
    variance = max(sum(fit.squares for fit in fits) / freedom, LEAST_VARIANCE_MPA2)
    rate_se = np.array([np.sqrt(variance * fit.half_spread) / fit.half_h for fit in fits])
    rate = np.array([HOURS_PER_DAY / fit.half_h for fit in fits])
    if np.cov(temperatures, rate)[0, 1] <= 0 or np.cov(temperatures, np.log(rate))[0, 1] <= 0:
        raise RateError(None)
    found = tuple(
        MortarRate(
            temperature_c=float(temperature),
            n_cubes=fit.n_cubes,
            n_ages=len(fit.curve.knots_h),
            ultimate_mpa=float(fit.curve.parameters[0]),
            rate_per_d=float(k),
            rate_se=float(se),
            offset_h=float(fit.curve.parameters[OFFSET]),
        )
        for temperature, fit, k, se in zip(temperatures, fits, rate, rate_se, strict=True)
    )
    return MortarConstants(
        file=file,
        rates=found,
        q_k=_activation(temperatures, rate, rate_se, freedom),
        datum_c=_datum(temperatures, rate, rate_se, freedom),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Fit:
    """The hyperbola at one temperature."""

    curve: CurveFit
    n_cubes: int
    squares: float  # of all cubes about the curve [MPa2]
    half_spread: float  # variance of the half time for a cube's variance of 1 MPa2 [h2]

    @property
    def half_h(self) -> float:
        return float(self.curve.parameters[HALF])


def _fit(breaks: MortarBreaks, temperature_c: float) -> _Fit:
    is_here = breaks.temperature_c == temperature_c
    ages, where, counts = np.unique(breaks.age_h[is_here], return_inverse=True, return_counts=True)
    means = np.bincount(where, weights=breaks.strength_mpa[is_here]) / counts
    curve = fit_weighted("hyperbolic", ages, means, counts.astype(np.float64))
    lowest, highest = CURVES["hyperbolic"].bounds(ages)
    shape, reach = curve.parameters[HALF:], AT_BOUND * (highest - lowest)
    is_free: BoolArray = np.r_[True, (shape - lowest > reach) & (highest - shape > reach)]
    if not is_free[HALF]:
        raise RateError(temperature_c)
    slopes = curve.derivative(ages)[:, is_free]
    information = slopes.T @ (slopes * counts[:, None])
    half_spread = float(np.linalg.inv(information)[HALF, HALF])
    squares = float(np.sum((breaks.strength_mpa[is_here] - curve.predict(ages)[where]) ** 2))
    return _Fit(curve, int(is_here.sum()), squares, half_spread)


def _activation(temperature_c: FloatArray, rate: FloatArray, rate_se: FloatArray, freedom: int) -> MortarConstant:
    """Q from the logarithms of the rates: minus the slope over 1 / T."""
    inverse = 1.0 / (temperature_c + KELVIN)
    off = inverse - inverse.mean()
    by_rate = -off / np.sum(off**2)
    return _told(float(by_rate @ np.log(rate)), by_rate, _Line(inverse, np.log(rate), rate_se), freedom)


def _datum(temperature_c: FloatArray, rate: FloatArray, rate_se: FloatArray, freedom: int) -> MortarConstant:
    """The temperature at which the straight line through the rates meets zero."""
    off = temperature_c - temperature_c.mean()
    slope = float(off @ rate / np.sum(off**2))
    value = float(temperature_c.mean() - rate.mean() / slope)
    by_rate = rate.mean() / slope**2 * off / np.sum(off**2) - 1.0 / (len(rate) * slope)
    return _told(value, by_rate, _Line(temperature_c, rate, rate_se * rate), freedom)


@dataclass(frozen=True, slots=True, eq=False)
class _Line:
    """Values that should lie on a straight line, ``(n_temperatures,)`` each."""

    at: FloatArray
    value: FloatArray
    standard_error: FloatArray

    def departure(self) -> FloatArray:
        """What is left of the values beside any straight line, in orthogonal directions, ``(n - 2,)``."""
        return self._beside() @ self.value

    def departure_variance(self) -> FloatArray:
        """Its covariance by the scatter of the values."""
        beside = self._beside()
        return (beside * self.standard_error**2) @ beside.T

    def _beside(self) -> FloatArray:
        design = np.stack([np.ones_like(self.at), self.at - self.at.mean()], axis=1)
        full = np.linalg.qr(design / np.linalg.norm(design, axis=0), mode="complete")[0]
        return np.asarray(full[:, 2:].T, dtype=np.float64)


def _told(value: float, by_rate: FloatArray, line: _Line, freedom: int) -> MortarConstant:
    """A constant that is linear in the rates to first order, with its interval."""
    n_beside = len(line.at) - 2
    departure = line.departure()
    f_ratio = float(departure @ np.linalg.solve(line.departure_variance(), departure)) / n_beside
    is_on_a_line = bool(fdtrc(n_beside, freedom, f_ratio) >= LEAVES_THE_LINE)
    error = float(np.sqrt(np.sum((by_rate * line.standard_error) ** 2)))
    if not is_on_a_line:
        beside = float(departure @ departure) / n_beside
        error = max(error, float(np.sqrt(beside * np.sum(by_rate**2))))
    reach = error * float(stdtrit(freedom if is_on_a_line else n_beside, (1.0 + CONFIDENCE) / 2.0))
    return MortarConstant(
        value=value,
        standard_error=error,
        least=value - reach,
        most=value + reach,
        is_on_a_line=is_on_a_line,
        taken=None,
    )
