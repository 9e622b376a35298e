"""One batch fitted by a curve with a prior, with its parameters: what a search needs no more than as an error."""

from __future__ import annotations

from math import exp

import numpy as np

from planner.curves.curve import rising
from planner.evidence import Cells
from planner.fitting.single import CurveFit
from planner.mixed_model.matrices import inverse
from planner.mixed_model.shape_loops import fit_one
from planner.resampling.priors.learnt import PopulationNumbers, ShapeNumbers, population_without, shape_without
from planner.resampling.priors.loops import NOMINAL, mean_at
from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import CurveName

Numbers = PopulationNumbers | ShapeNumbers


def learnt_numbers(
    cells: Cells, curve: CurveName, setting: int, left_out: frozenset[int] = frozenset()
) -> Numbers | None:
    """What a curve with a prior has learnt from all units but some; None where too few are left."""
    if curve == "population prior":
        return population_without(cells, setting, left_out)
    return shape_without(cells, setting, left_out)


def fit_learnt(
    numbers: Numbers, maturity_h: FloatArray, mean_mpa: FloatArray, cv: FloatArray
) -> tuple[CurveFit, FloatArray]:
    """Fit one batch, each mean counted once.

    Parameters
    ----------
    maturity_h, mean_mpa, cv
        Of every mean: maturity [h], rising from above 0, strength [MPa], above 0, and scatter of single specimens.

    Returns
    -------
    tuple
        The fit, and standard deviations of its parameters given what was learnt, 0 for what is not the batch's own.
    """
    knots, means = rising(maturity_h), np.asarray(mean_mpa, dtype=np.float64)
    if isinstance(numbers, PopulationNumbers):
        return _by_population(numbers, knots, means, np.asarray(cv, dtype=np.float64))
    weight = np.full(len(knots), NOMINAL / numbers.scatter**2)
    log_tau, log_a, log_ultimate, _square, v00, v01, v11, m0, m1 = fit_one(
        len(knots), np.log(knots), np.log(means), weight, *numbers.center.tolist(), numbers.center, numbers.penalty,
        np.empty((2, len(knots))),
    )  # fmt: skip
    row = np.array([m0, m1])
    log_ultimate_variance = 1.0 / weight.sum() + row @ np.array([[v00, v01], [v01, v11]]) @ row
    parameters = np.array([exp(log_ultimate), exp(log_tau), exp(log_a)])
    return (
        CurveFit(curve="shape prior", parameters=parameters, knots_h=knots),
        parameters * np.sqrt([log_ultimate_variance, v00, v11]),
    )


def _by_population(
    numbers: PopulationNumbers, maturity_h: FloatArray, mean_mpa: FloatArray, cv: FloatArray
) -> tuple[CurveFit, FloatArray]:
    found = np.array([mean_at(numbers.knots, at) for at in np.log(maturity_h)])
    rows = np.stack([np.ones(len(found)), found[:, 1]], axis=1)
    weight = 1.0 / (cv**2 / NOMINAL + found[:, 2])
    covariance = inverse(np.diag(1.0 / numbers.own) + (rows.T * weight) @ rows)
    own = covariance @ (rows.T @ (weight * (np.log(mean_mpa) - found[:, 0])))
    strengths = np.exp(numbers.knots[1])
    fit = CurveFit(
        curve="population prior", parameters=np.concatenate([own, strengths]), knots_h=np.exp(numbers.knots[0])
    )
    return fit, np.concatenate([np.sqrt(np.diag(covariance)), np.zeros(len(strengths))])
