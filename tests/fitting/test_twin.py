"""The slow twin: against exact answers, against brute force, and at its bounds."""

from __future__ import annotations

import numpy as np
import pytest

from planner.curves import CURVES
from tests.fitting.twin import fit_twin, fit_weighted

KNOTS_H = np.array([6.0, 12.0, 24.0, 72.0, 168.0, 672.0])
MEANS_MPA = np.array([4.0, 11.0, 19.0, 31.0, 37.0, 42.0])
EXACT = {
    "hyperbolic": [45.0, 30.0, 2.5],
    "exponential": [44.0, 21.0, 0.8],
    "logarithmic": [-6.0, 8.0],
}
weightings = pytest.mark.parametrize("weighting", ["absolute", "relative"])


@weightings
@pytest.mark.parametrize("curve", EXACT)
def test_finds_the_curve_that_made_the_means(curve, weighting):
    means_mpa = CURVES[curve].strength(KNOTS_H, EXACT[curve])
    fit = fit_twin(curve, KNOTS_H, means_mpa, weighting=weighting)
    np.testing.assert_allclose(fit.parameters, EXACT[curve], rtol=1e-8)
    assert fit.residual_ss < 1e-18
    assert not fit.is_at_bound


def test_finds_a_negative_offset():
    means_mpa = CURVES["hyperbolic"].strength(KNOTS_H, [45.0, 30.0, -4.0])
    fit = fit_twin("hyperbolic", KNOTS_H, means_mpa, weighting="absolute")
    np.testing.assert_allclose(fit.parameters, [45.0, 30.0, -4.0], rtol=1e-8)


@weightings
@pytest.mark.parametrize("curve", ["piecewise linear", "piecewise linear in log age"])
def test_piecewise_curves_keep_the_means(curve, weighting):
    fit = fit_twin(curve, KNOTS_H, MEANS_MPA, weighting=weighting)
    np.testing.assert_array_equal(fit.parameters, MEANS_MPA)
    np.testing.assert_allclose(fit.predict(KNOTS_H), MEANS_MPA, rtol=1e-14)
    assert fit.residual_ss == 0.0


@weightings
def test_logarithmic_fit_is_weighted_linear_regression(weighting):
    # Outside value: numpy.polyfit, whose weights multiply residuals before squaring.
    weights = np.ones(6) if weighting == "absolute" else 1 / MEANS_MPA
    slope, intercept = np.polyfit(np.log(KNOTS_H), MEANS_MPA, 1, w=weights)
    fit = fit_twin("logarithmic", KNOTS_H, MEANS_MPA, weighting=weighting)
    np.testing.assert_allclose(fit.parameters, [intercept, slope], rtol=1e-10)


@weightings
@pytest.mark.parametrize("curve", ["hyperbolic", "exponential"])
def test_nothing_on_a_fine_grid_of_shapes_fits_better(curve, weighting):
    # The scale is solved for exactly at every shape, so the grid cannot miss by the scale.
    rng = np.random.default_rng(29)
    weights = np.ones(6) if weighting == "absolute" else MEANS_MPA**-2.0
    low, high = CURVES[curve].bounds(KNOTS_H)
    shares = np.linspace(0.0, 1.0, 61)
    first = low[0] * (high[0] / low[0]) ** shares
    second = low[1] + (high[1] - low[1]) * shares
    for _ in range(5):
        means_mpa = MEANS_MPA * (1 + 0.08 * rng.standard_normal(6))
        if weighting == "relative":
            weights = means_mpa**-2.0
        fit = fit_twin(curve, KNOTS_H, means_mpa, weighting=weighting)
        grid = [
            _residual_ss(CURVES[curve], shape, means_mpa, weights)
            for shape in np.stack(np.meshgrid(first, second), axis=-1).reshape(-1, 2)
        ]
        assert fit.residual_ss <= min(grid) * (1 + 1e-12)
        gradient = CURVES[curve].derivative(KNOTS_H, fit.parameters).T @ (weights * (fit.predict(KNOTS_H) - means_mpa))
        if not fit.is_at_bound:
            scale = np.abs(CURVES[curve].derivative(KNOTS_H, fit.parameters)).T @ (weights * means_mpa)
            assert np.all(np.abs(gradient) < 1e-6 * scale)


def _residual_ss(curve, shape, means_mpa, weights):
    unit = curve.strength(KNOTS_H, [1.0, *shape])
    square = np.sum(weights * unit**2)
    scale = np.sum(weights * unit * means_mpa) / square if square > 0 else 0.0
    return float(np.sum(weights * (scale * unit - means_mpa) ** 2))


@pytest.mark.parametrize(
    ("curve", "means_mpa", "bound", "value"),
    [
        ("hyperbolic", [1.0, 2.0, 4.0, 15.0, 50.0, 400.0], 1, 672e3),  # convex: no ultimate strength in sight
        ("hyperbolic", [40.0] * 6, 1, 6e-3),  # flat
        ("hyperbolic", [40.0] * 6, 2, -6.0),
        ("hyperbolic", [0.1, 30.0, 31.0, 31.0, 31.0, 31.0], 2, 5.88),  # starts at its first age
        ("exponential", [0.1, 0.1, 30.0, 30.0, 30.0, 30.0], 2, 6.0),  # a step
    ],
)
def test_says_when_a_fit_ended_at_a_bound(curve, means_mpa, bound, value):
    fit = fit_twin(curve, KNOTS_H, means_mpa, weighting="absolute")
    assert fit.is_at_bound
    np.testing.assert_allclose(fit.parameters[bound], value, rtol=1e-9)


@weightings
@pytest.mark.parametrize("curve", CURVES)
def test_scales_carry_over(curve, weighting):
    fit = fit_twin(curve, KNOTS_H, MEANS_MPA, weighting=weighting)
    other = fit_twin(curve, 24 * KNOTS_H, 145 * MEANS_MPA, weighting=weighting)
    np.testing.assert_allclose(other.predict(24 * 40.0), 145 * fit.predict(40.0), rtol=1e-7)
    factor = 145.0**2 if weighting == "absolute" else 1.0
    np.testing.assert_allclose(other.residual_ss, factor * fit.residual_ss, rtol=1e-7)


def test_a_weight_of_two_is_a_mean_counted_twice():
    # Logarithmic: the same answer as a regression on the doubled row.
    weights = np.array([1.0, 2.0, 1.0, 1.0, 1.0, 1.0])
    fit = fit_weighted("logarithmic", KNOTS_H, MEANS_MPA, weights)
    doubled_h, doubled_mpa = np.append(KNOTS_H, KNOTS_H[1]), np.append(MEANS_MPA, MEANS_MPA[1])
    slope, intercept = np.polyfit(np.log(doubled_h), doubled_mpa, 1)
    np.testing.assert_allclose(fit.parameters, [intercept, slope], rtol=1e-10)


@pytest.mark.parametrize(
    ("curve", "maturity_h", "means_mpa", "weighting", "message"),
    [
        ("hyperbolic", [1.0, 2.0], [1.0, 2.0], "absolute", "hyperbolic curve needs at least 3 ages, given 2"),
        (
            "exponential",
            [1.0, 2.0],
            [1.0, 2.0],
            "absolute",
            "exponential curve needs at least 3 ages, given 2",
        ),
        ("logarithmic", [1.0], [1.0], "absolute", "logarithmic curve needs at least 2 ages, given 1"),
        ("hyperbolic", [1.0, 3.0, 2.0], [1.0, 2.0, 3.0], "absolute", "must rise"),
        ("hyperbolic", [-1.0, 3.0, 5.0], [1.0, 2.0, 3.0], "absolute", "not be below 0 h"),
        ("hyperbolic", [1.0, 2.0, 3.0], [1.0, 2.0], "absolute", "one mean and one weight for each"),
        ("hyperbolic", [1.0, 2.0, 3.0], [1.0, np.nan, 2.0], "absolute", "Means must be finite"),
        ("hyperbolic", [1.0, 2.0, 3.0], [0.0, 1.0, 2.0], "relative", "means other than 0 MPa"),
    ],
)
def test_refuses_what_cannot_be_fitted(curve, maturity_h, means_mpa, weighting, message):
    with pytest.raises(ValueError, match=message):
        fit_twin(curve, maturity_h, means_mpa, weighting=weighting)
