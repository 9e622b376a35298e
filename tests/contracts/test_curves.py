"""What every curve in the table must keep."""

from __future__ import annotations

from typing import get_args

import numpy as np
import pytest

from planner.curves import CURVES
from planner.terms.plan.settings import CURVE_NAMES, PRIOR_CURVE_NAMES, CurveName

KNOTS_H = np.array([6.0, 12.0, 24.0, 72.0, 168.0, 672.0])
MEANS_MPA = np.array([4.0, 11.0, 19.0, 31.0, 37.0, 42.0])
WANTED_H = np.array([3.0, 9.0, 30.0, 100.0, 500.0, 2000.0])

every_curve = pytest.mark.parametrize("curve", CURVES.values(), ids=CURVES)


def parameters_of(curve):
    """Return parameters off the beaten track: no offset of 0, no shape of 1."""
    return {"hyperbolic": np.array([45.0, 30.0, 2.5]), "exponential": np.array([44.0, 21.0, 0.8])}.get(
        curve.name, curve.start(KNOTS_H, MEANS_MPA)
    )


def test_the_table_holds_every_named_curve_in_order():
    assert tuple(CURVES) == CURVE_NAMES
    assert (*CURVE_NAMES, *PRIOR_CURVE_NAMES) == get_args(CurveName)
    assert all(curve.name == name for name, curve in CURVES.items())


@every_curve
def test_two_curves_of_one_kind_are_equal_and_frozen(curve):
    assert type(curve)() == curve
    with pytest.raises((AttributeError, TypeError)):
        curve.fewest_ages = 1


@every_curve
def test_derivative_is_the_difference_quotient_by_each_parameter(curve):
    parameters = parameters_of(curve)
    exact = curve.derivative(WANTED_H, parameters, knots_h=KNOTS_H)
    assert exact.shape == (WANTED_H.size, parameters.size)
    for column, value in enumerate(parameters):
        step = np.zeros_like(parameters)
        step[column] = 1e-5 * max(abs(value), 1.0)
        above = curve.strength(WANTED_H, parameters + step, knots_h=KNOTS_H)
        below = curve.strength(WANTED_H, parameters - step, knots_h=KNOTS_H)
        quotient = (above - below) / (2 * step[column])
        # Central differences: rounding 1e-16/1e-5 and curvature 1e-10, relative, with room to spare.
        np.testing.assert_allclose(exact[:, column], quotient, rtol=1e-7, atol=1e-8)


@every_curve
def test_growth_rate_is_the_difference_quotient_by_maturity(curve):
    parameters = parameters_of(curve)
    step_h = 1e-5 * WANTED_H
    above = curve.strength(WANTED_H + step_h, parameters, knots_h=KNOTS_H)
    below = curve.strength(WANTED_H - step_h, parameters, knots_h=KNOTS_H)
    rate = curve.growth_rate(WANTED_H, parameters, knots_h=KNOTS_H)
    np.testing.assert_allclose(rate, (above - below) / (2 * step_h), rtol=1e-7)


@every_curve
@pytest.mark.parametrize(
    "means_mpa",
    [
        MEANS_MPA,
        [40.0, 40.0, 40.0, 40.0, 40.0, 40.0],  # as old as it will get
        [0.01, 0.01, 0.02, 20.0, 40.0, 41.0],  # retarded
        [1.0, 2.0, 4.0, 12.0, 28.0, 112.0],  # straight
        [42.0, 30.0, 25.0, 20.0, 10.0, 5.0],  # falling: two batches mixed up
        [0.0, 0.0, 0.0, 0.0, 0.0, 0.0],
    ],
)
def test_start_is_finite_and_inside_the_bounds(curve, means_mpa):
    start = curve.start(KNOTS_H, means_mpa)
    low, high = curve.bounds(KNOTS_H)
    assert low.shape == high.shape == (curve.n_shape,)
    assert start.size == (KNOTS_H.size if curve.n_parameters is None else curve.n_parameters)
    shape = start[start.size - curve.n_shape :]
    assert np.all((low < shape) & (shape < high))
    assert np.all(np.isfinite(curve.strength(KNOTS_H, start, knots_h=KNOTS_H)))


@every_curve
def test_start_has_the_height_of_the_means(curve):
    start = curve.start(KNOTS_H, MEANS_MPA)
    at_knots = curve.strength(KNOTS_H, start, knots_h=KNOTS_H)
    assert np.sqrt(np.mean((at_knots - MEANS_MPA) ** 2)) < 0.15 * MEANS_MPA.max()


@every_curve
@pytest.mark.parametrize("factor", [0.145, 145.0])
def test_strength_scale_changes_nothing_else(curve, factor):
    start = curve.start(KNOTS_H, MEANS_MPA)
    scaled = curve.start(KNOTS_H, factor * MEANS_MPA)
    np.testing.assert_allclose(
        curve.strength(WANTED_H, scaled, knots_h=KNOTS_H),
        factor * curve.strength(WANTED_H, start, knots_h=KNOTS_H),
        rtol=1e-12,
    )


@every_curve
@pytest.mark.parametrize("factor", [1 / 24, 30.0])
def test_maturity_scale_changes_nothing_else(curve, factor):
    start = curve.start(KNOTS_H, MEANS_MPA)
    scaled = curve.start(factor * KNOTS_H, MEANS_MPA)
    np.testing.assert_allclose(
        curve.strength(factor * WANTED_H, scaled, knots_h=factor * KNOTS_H),
        curve.strength(WANTED_H, start, knots_h=KNOTS_H),
        rtol=1e-10,
    )


@every_curve
def test_linear_curves_are_their_derivative_times_their_parameters(curve):
    parameters = parameters_of(curve)
    weights = curve.derivative(WANTED_H, parameters, knots_h=KNOTS_H)
    strength = curve.strength(WANTED_H, parameters, knots_h=KNOTS_H)
    if curve.is_linear:
        np.testing.assert_allclose(weights @ parameters, strength, rtol=1e-12)
    else:  # in the scale alone
        np.testing.assert_allclose(weights[:, 0] * parameters[0], strength, rtol=1e-12)
        assert np.max(np.abs(weights @ parameters - strength)) > 1.0


@every_curve
@pytest.mark.parametrize("wrong_h", [[24.0, 12.0, 72.0], [0.0, 12.0, 24.0], [12.0, 12.0, 24.0], [1.0, np.nan, 3.0], []])
def test_fitted_maturities_must_rise_from_above_zero(curve, wrong_h):
    with pytest.raises(ValueError, match="must be above 0 h and rise"):
        curve.start(wrong_h, np.arange(1.0, len(wrong_h) + 1))
    with pytest.raises(ValueError, match="must be above 0 h and rise"):
        curve.bounds(wrong_h)


@every_curve
def test_single_maturities_are_read_too(curve):
    parameters = parameters_of(curve)
    one = curve.strength(30.0, parameters, knots_h=KNOTS_H)
    assert np.shape(one) == ()
    assert one == curve.strength(WANTED_H, parameters, knots_h=KNOTS_H)[2]
