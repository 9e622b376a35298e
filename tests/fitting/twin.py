"""Slow twin of the fitting kernels: the same fits by a general solver, as their oracle and second look.

It shares no code with the kernels: it works on all parameters at once, starts from several places and
solves every face of the bounds, so that a fit which ends at a bound is as good as one which does not.
Use it where one fit matters; a search needs the kernels.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import least_squares

from planner.curves import CURVES, Curve
from planner.curves.curve import best_scale
from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import CurveName

_N_GRID = 13  # places of each shape parameter that are looked at for starts
_TOLERANCE = 1e-15  # for the solver: cost, step and gradient
_N_EVALUATIONS = 300  # in one solution; the others started elsewhere make up for one that stalls
_AT_BOUND = 1e-7  # share of the bound's size; nearer is at the bound


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TwinFit:
    """A curve fitted to cell means."""

    curve: CurveName
    parameters: FloatArray  # as the curve orders them, shape (n_parameters,)
    residual_ss: float  # weighted sum of squared residuals
    is_at_bound: bool  # a shape parameter ended at one of its bounds
    knots_h: FloatArray  # maturities of the fitted means [h], shape (n_ages,)

    def predict(self, maturity_h: ArrayLike) -> FloatArray:
        """Read the fitted curve [MPa] at maturities [h], shape ``(n,)``."""
        return CURVES[self.curve].strength(maturity_h, self.parameters, knots_h=self.knots_h)


def fit_twin(
    curve_name: CurveName,
    maturity_h: ArrayLike,
    mean_mpa: ArrayLike,
    *,
    weighting: Literal["absolute", "relative"],
) -> TwinFit:
    """Fit a curve to cell means by least squares, each mean counted once.

    Parameters
    ----------
    curve_name
        A name in ``CURVES``.
    maturity_h
        Maturity of each mean [h], above 0 and rising, shape ``(n_ages,)``.
    mean_mpa
        Mean strength of the replicates [MPa], shape ``(n_ages,)``.
    weighting
        "absolute" minimises squared errors in MPa, "relative" in shares of the means.

    Returns
    -------
    TwinFit
        The best fit found within the curve's bounds.

    Raises
    ------
    ValueError
        Where there are too few ages for the curve, lengths differ, or a mean of 0 cannot be a divisor.
    """
    means = np.asarray(mean_mpa, dtype=np.float64)
    if weighting == "relative" and np.any(means == 0):
        raise ValueError(
            "Relative errors need means other than 0 MPa. Leave those ages out or weigh errors as absolute."
        )
    weights = means**-2.0 if weighting == "relative" else np.ones_like(means)
    return fit_weighted(curve_name, maturity_h, means, weights)


def fit_weighted(curve_name: CurveName, maturity_h: ArrayLike, mean_mpa: ArrayLike, weights: ArrayLike) -> TwinFit:
    """Fit a curve to cell means by least squares with a weight for each mean.

    As `fit_twin`, but the weights are given, shape ``(n_ages,)``, and the first maturity may be 0: its
    mean counts, while the bounds, which need a scale, come from the maturities above 0.

    Raises
    ------
    ValueError
        Where there are too few ages for the curve, lengths differ, or maturities do not rise.
    """
    curve = CURVES[curve_name]
    maturities, means, root_weights = _checked(curve, maturity_h, mean_mpa, weights)
    if curve.is_interpolating:
        return TwinFit(
            curve=curve_name,
            parameters=curve.start(maturities, means),
            residual_ss=0.0,
            is_at_bound=False,
            knots_h=maturities,
        )
    if curve.is_linear:
        design = curve.derivative(maturities, np.zeros(curve.n_parameters or 0))
        solution = np.linalg.lstsq(design * root_weights[:, None], means * root_weights)[0]
        parameters = np.asarray(solution, dtype=np.float64)
        is_at_bound = False
    else:
        parameters, is_at_bound = _search(curve, maturities, means, root_weights)
    residuals = (curve.strength(maturities, parameters) - means) * root_weights
    return TwinFit(
        curve=curve_name,
        parameters=parameters,
        residual_ss=float(residuals @ residuals),
        is_at_bound=is_at_bound,
        knots_h=maturities,
    )


def _checked(
    curve: Curve, maturity_h: ArrayLike, mean_mpa: ArrayLike, weights: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    maturities = np.asarray(maturity_h, dtype=np.float64)
    means = np.asarray(mean_mpa, dtype=np.float64)
    shares = np.asarray(weights, dtype=np.float64)
    if maturities.ndim != 1 or not maturities.shape == means.shape == shares.shape:
        raise ValueError(
            f"A fit needs one mean and one weight for each maturity, given shapes {maturities.shape}, "
            f"{means.shape} and {shares.shape}."
        )
    if maturities.size < curve.fewest_ages:
        raise ValueError(f"A {curve.name} curve needs at least {curve.fewest_ages} ages, given {maturities.size}.")
    if not np.all(np.isfinite(maturities)) or maturities[0] < 0 or np.any(np.diff(maturities) <= 0):
        raise ValueError(
            f"Fitted maturities must not be below 0 h and must rise, given "
            f"{np.array2string(maturities, threshold=20)}. Sort them and average replicates."
        )
    if not np.all(np.isfinite(means)) or not np.all(np.isfinite(shares) & (shares > 0)):
        raise ValueError("Means must be finite, and weights finite and above 0.")
    return maturities, means, np.sqrt(shares)


def _search(
    curve: Curve, maturities: FloatArray, means: FloatArray, root_weights: FloatArray
) -> tuple[FloatArray, bool]:
    """Solve the inside and every face of the bounds; the best of all is the fit."""
    is_positive = maturities > 0
    span = curve.bounds(maturities[is_positive])
    best, best_ss = curve.start(maturities[is_positive], means[is_positive]), np.inf
    for face in itertools.product((None, 0, 1), repeat=curve.n_shape):
        for shape in _starts(curve, maturities, means, root_weights, span, face):
            parameters = _solve(curve, maturities, means, root_weights, shape, span=span, face=face)
            residuals = (curve.strength(maturities, parameters) - means) * root_weights
            if (residual_ss := float(residuals @ residuals)) < best_ss:
                best, best_ss = parameters, residual_ss
    low, high = span
    is_low = best[1:] - low <= _AT_BOUND * np.abs(low)
    is_high = high - best[1:] <= _AT_BOUND * np.abs(high)
    return best, bool(np.any(is_low | is_high))


def _starts(
    curve: Curve,
    maturities: FloatArray,
    means: FloatArray,
    root_weights: FloatArray,
    span: tuple[FloatArray, FloatArray],
    face: tuple[int | None, ...],
) -> Iterator[FloatArray]:
    """Yield the shapes on a grid over this face that no neighbour on the grid beats."""
    axes = [_axis(span[0][i], span[1][i], side) for i, side in enumerate(face)]
    grid = np.array(list(itertools.product(*axes)))
    heights = np.array(
        [_residual_ss_of_shape(curve, maturities, means, root_weights, shape) for shape in grid]
    ).reshape([axis.size for axis in axes])
    padded = np.pad(heights, 1, constant_values=np.inf)
    is_lowest = np.ones(heights.shape, dtype=bool)
    for step in itertools.product((-1, 0, 1), repeat=heights.ndim):
        window = tuple(slice(1 + s, 1 + s + n) for s, n in zip(step, heights.shape, strict=True))
        is_lowest &= heights <= padded[window]
    yield from grid[is_lowest.ravel()]


def _axis(low: float, high: float, side: int | None) -> FloatArray:
    if side is not None:
        return np.array([high if side else low])
    inside = np.linspace(0.0, 1.0, _N_GRID + 2)[1:-1]
    return low * (high / low) ** inside if low > 0 else low + (high - low) * inside


def _residual_ss_of_shape(
    curve: Curve, maturities: FloatArray, means: FloatArray, root_weights: FloatArray, shape: FloatArray
) -> float:
    unit = curve.strength(maturities, np.concatenate(([1.0], shape))) * root_weights
    residuals = best_scale(unit, means * root_weights) * unit - means * root_weights
    return float(residuals @ residuals)


def _solve(
    curve: Curve,
    maturities: FloatArray,
    means: FloatArray,
    root_weights: FloatArray,
    shape: FloatArray,
    *,
    span: tuple[FloatArray, FloatArray],
    face: tuple[int | None, ...],
) -> FloatArray:
    """Minimise over the scale and those shape parameters that this face leaves free."""
    unit = curve.strength(maturities, np.concatenate(([1.0], shape))) * root_weights
    full = np.concatenate(([best_scale(unit, means * root_weights)], shape))
    free = np.concatenate(([True], [side is None for side in face]))
    size = max(float(np.max(np.abs(means))), np.finfo(np.float64).tiny)

    def expanded(values: FloatArray) -> FloatArray:
        whole = full.copy()
        whole[free] = values
        return whole

    def residuals(values: FloatArray) -> FloatArray:
        return (curve.strength(maturities, expanded(values)) - means) * root_weights / size

    def jacobian(values: FloatArray) -> FloatArray:
        return curve.derivative(maturities, expanded(values))[:, free] * root_weights[:, None] / size

    low = np.concatenate(([-np.inf], span[0]))[free]
    high = np.concatenate(([np.inf], span[1]))[free]
    with np.errstate(all="ignore"):  # a flat face has a Jacobian near 0; the solver divides by it and goes on
        found = least_squares(
            residuals,
            full[free],
            jac=jacobian,
            bounds=(low, high),
            x_scale="jac",
            ftol=_TOLERANCE,
            xtol=_TOLERANCE,
            gtol=_TOLERANCE,
            max_nfev=_N_EVALUATIONS,
        )
    return expanded(np.asarray(found.x, dtype=np.float64))
