"""One curve fitted to one set of cell means by the compiled kernels, with its parameters.

The search needs no parameters, only errors; what is told of single batches does. The fit is the search's
own, second look always taken.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp

import numpy as np
from numpy.typing import ArrayLike

from planner.curves import CURVES
from planner.curves.curve import rising
from planner.curves.fitted_strength import fitted_strength
from planner.fitting.batch_sweep import CURVE_CODES
from planner.fitting.grid import N_GRID, no_heights
from planner.fitting.sensitivities import natural, ultimate_of
from planner.fitting.starts import fit_shape
from planner.fitting.variable_projection import AGE, HYPERBOLIC, LOG_AGE, MEAN, N_LINES, WEIGHT
from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import PRIOR_CURVE_NAMES, CurveName, Weighting

AT_BOUND = 1e-6  # share of the width of the bounds; nearer is at the bound


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CurveFit:
    """A curve fitted to cell means."""

    curve: CurveName
    parameters: FloatArray  # as the curve orders them, (n_parameters,)
    knots_h: FloatArray  # maturities of the fitted means [h], (n_ages,)

    def predict(self, maturity_h: ArrayLike) -> FloatArray:
        """Read the fitted curve [MPa] at maturities [h], shape ``(n,)``."""
        return fitted_strength(self.curve, maturity_h, self.parameters, knots_h=self.knots_h)

    @property
    def is_at_bound(self) -> bool:
        """Whether a shape parameter ended at one of its bounds."""
        if self.curve in PRIOR_CURVE_NAMES:  # a prior holds them
            return False
        formula = CURVES[self.curve]
        if formula.n_shape == 0:
            return False
        lowest, highest = formula.bounds(self.knots_h)
        shape, reach = self.parameters[1:], AT_BOUND * (highest - lowest)
        return bool(np.any((shape - lowest < reach) | (highest - shape < reach)))

    def derivative(self, maturity_h: ArrayLike) -> FloatArray:
        """Differentiate strength by the parameters at maturities [h], shape ``(n, n_parameters)``."""
        return CURVES[self.curve].derivative(maturity_h, self.parameters, knots_h=self.knots_h)


def fit_curve(curve: CurveName, maturity_h: ArrayLike, mean_mpa: ArrayLike, *, weighting: Weighting) -> CurveFit:
    """Fit a curve to cell means by least squares, each mean counted once.

    Parameters
    ----------
    maturity_h
        Maturity of each mean [h], above 0 and rising, ``(n_ages,)``.
    mean_mpa
        Mean strength [MPa], above 0, ``(n_ages,)``.
    weighting
        "absolute" minimises squared errors in MPa, "relative" in shares of the means.

    Raises
    ------
    ValueError
        Where there are too few ages for the curve, or maturities or means that it cannot take.
    """
    formula = CURVES[curve]
    knots = rising(maturity_h)
    means = np.asarray(mean_mpa, dtype=np.float64)
    if means.shape != knots.shape or len(knots) < formula.fewest_ages or not np.all(means > 0):
        raise ValueError(
            f"The {curve} curve needs a mean above 0 MPa at {formula.fewest_ages} or more maturities, "
            f"given means {means.tolist()} at {knots.tolist()}."
        )
    weights = means**-2.0 if weighting == "relative" else np.ones_like(means)
    return fit_weighted(curve, knots, means, weights)


def fit_weighted(curve: CurveName, maturity_h: ArrayLike, mean_mpa: ArrayLike, weights: ArrayLike) -> CurveFit:
    """Fit a curve to cell means by least squares with a weight for each mean.

    Parameters
    ----------
    maturity_h
        Maturity of each mean [h], above 0 and rising, ``(n_ages,)``.
    mean_mpa
        Mean strength [MPa], of any sign, ``(n_ages,)``.
    weights
        Above 0, ``(n_ages,)``.

    Raises
    ------
    ValueError
        Where there are fewer than two ages, or lengths differ. With fewer ages than the curve has parameters the
        fit is one of many through all means.
    """
    formula = CURVES[curve]
    knots, means = rising(maturity_h), np.asarray(mean_mpa, dtype=np.float64)
    mean_weights = np.asarray(weights, dtype=np.float64)
    if not means.shape == mean_weights.shape == knots.shape or len(knots) < 2:
        raise ValueError(
            f"A curve needs a mean and a weight at 2 or more distinct maturities above 0 h, given {means.size} means "
            f"and {mean_weights.size} weights at {len(knots)} maturities."
        )
    if formula.is_interpolating:
        parameters = formula.start(knots, means)
    elif formula.is_linear:
        root = np.sqrt(mean_weights)
        design = formula.derivative(knots, np.zeros(formula.n_parameters or 0))
        parameters = np.asarray(np.linalg.lstsq(design * root[:, None], means * root)[0], dtype=np.float64)
    else:
        first, second, ultimate = _fit_shape_surely(CURVE_CODES[curve], knots / knots[0], means, mean_weights)
        parameters = _unscaled(curve, float(knots[0]), first, second, ultimate)
    return CurveFit(curve=curve, parameters=parameters, knots_h=knots)


def _unscaled(curve: CurveName, scale_h: float, first: float, second: float, ultimate: float) -> FloatArray:
    """Parameters as the curve orders them, from the shape parameters in units of the first maturity."""
    if CURVE_CODES[curve] == HYPERBOLIC:
        return np.array([ultimate, exp(first) * scale_h, (1.0 - exp(second)) * scale_h])
    return np.array([ultimate, exp(first) * scale_h, second])


def _fit_shape_surely(
    curve: int, age: FloatArray, mean_mpa: FloatArray, weight: FloatArray
) -> tuple[float, float, float]:
    """Scaled shape parameters and ultimate strength of the best fit, every hill of the grid looked at."""
    n = len(age)
    fitted = np.empty((N_LINES, n))
    fitted[AGE], fitted[LOG_AGE], fitted[MEAN], fitted[WEIGHT] = age, np.log(age), mean_mpa, weight
    rows = np.arange(n, dtype=np.int16)  # of the types that the search has its sets in, for which all is compiled
    heights, kept, sums = no_heights(1, n), np.full_like(rows, -1), np.empty((2 * n + 2, N_GRID), dtype=np.float32)
    first, second, _status, _n_climbed = fit_shape(curve, n, fitted, rows[0], rows, heights, kept, sums, True)
    return first, second, ultimate_of(curve, n, fitted, *natural(curve, first, second))
