"""Fitted parameters read as strength, whatever the curve: formulas of one batch, and curves with a prior.

A batch fitted by the shape prior has an exponential curve; one fitted by the population prior has the mean curve of
the earlier batches, shifted by alpha in log strength and beta in log maturity.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from planner.curves.mean_curve import mean_curve
from planner.curves.table import CURVES
from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import PRIOR_CURVE_NAMES, CurveName

N_OWN = 2  # parameters of the population prior that are the batch's own: alpha and beta


def fitted_strength(
    curve: CurveName, maturity_h: ArrayLike, parameters: ArrayLike, *, knots_h: ArrayLike | None = None
) -> FloatArray:
    """Read a fitted curve [MPa] at maturities [h], shape ``(n,)``.

    Parameters
    ----------
    parameters, knots_h
        As the curve orders them. Of the population prior: alpha, beta, then the mean strengths [MPa] of the earlier
        batches at the knots.
    """
    if curve == "shape prior":
        return CURVES["exponential"].strength(maturity_h, parameters)
    if curve != "population prior":
        return CURVES[curve].strength(maturity_h, parameters, knots_h=knots_h)
    values = np.asarray(parameters, dtype=np.float64)
    strengths, knots = values[N_OWN:], np.asarray(knots_h, dtype=np.float64)
    if strengths.shape != knots.shape:
        raise ValueError(f"A population prior has a strength at every knot, given {len(strengths)} at {knots.size}.")
    mean = mean_curve(np.log(knots), np.log(strengths), np.ones(len(knots)))
    log_mpa, slope = mean.at(np.log(np.asarray(maturity_h, dtype=np.float64)))
    return np.asarray(np.exp(log_mpa + values[0] + values[1] * slope))


def fewest_ages_of(curve: CurveName) -> int:
    """Distinct ages that a curve can be fitted to."""
    return 1 if curve in PRIOR_CURVE_NAMES else CURVES[curve].fewest_ages


def names_of_parameters(curve: CurveName, n_parameters: int) -> tuple[str, ...]:
    """Names of fitted parameters; those that are means have none of their own."""
    if curve == "population prior":
        return ("alpha", "beta", *(f"earlier_mean_{place}_mpa" for place in range(1, n_parameters - N_OWN + 1)))
    named = CURVES["exponential" if curve == "shape prior" else curve].parameter_names
    return named or tuple(f"mean_{place}_mpa" for place in range(1, n_parameters + 1))
