"""Each formula at places where its value is known by hand."""

from __future__ import annotations

import numpy as np
import pytest

from planner.curves import CURVES

HYPERBOLIC = CURVES["hyperbolic"]
EXPONENTIAL = CURVES["exponential"]
LOGARITHMIC = CURVES["logarithmic"]
LINEAR = CURVES["piecewise linear"]
LOG_AGE = CURVES["piecewise linear in log age"]


def test_hyperbola_stands_at_half_of_the_ultimate_a_half_time_after_its_offset():
    np.testing.assert_allclose(HYPERBOLIC.strength([35.0, 95.0], [40.0, 30.0, 5.0]), [20.0, 30.0], rtol=1e-15)


def test_hyperbola_is_zero_with_zero_slope_up_to_its_offset():
    early_h = [0.0, 4.0, 5.0]
    np.testing.assert_array_equal(HYPERBOLIC.strength(early_h, [40.0, 30.0, 5.0]), 0.0)
    np.testing.assert_array_equal(HYPERBOLIC.derivative(early_h, [40.0, 30.0, 5.0]), 0.0)
    np.testing.assert_array_equal(HYPERBOLIC.growth_rate(early_h, [40.0, 30.0, 5.0]), 0.0)


def test_hyperbola_is_the_usual_form_with_the_reciprocal_of_its_rate():
    ages_h = np.array([6.0, 24.0, 672.0])
    rate = 1 / 30.0
    usual = 40.0 * rate * (ages_h - 2.0) / (1 + rate * (ages_h - 2.0))
    np.testing.assert_allclose(HYPERBOLIC.strength(ages_h, [40.0, 30.0, 2.0]), usual, rtol=1e-14)


def test_hyperbola_bounds_are_a_thousandfold_and_the_first_age():
    low, high = HYPERBOLIC.bounds([6.0, 24.0, 672.0])
    np.testing.assert_allclose(low, [0.006, -6.0])
    np.testing.assert_allclose(high, [672_000.0, 5.88])


def test_exponential_stands_at_one_over_e_at_its_time_constant_whatever_the_shape():
    for shape in (0.1, 1.0, 6.0):
        np.testing.assert_allclose(EXPONENTIAL.strength(20.0, [40.0, 20.0, shape]), 40.0 / np.e, rtol=1e-15)


@pytest.mark.parametrize("shape", [0.1, 1.0, 6.0])
def test_exponential_is_finite_from_age_zero_to_for_ever(shape):
    ages_h = [0.0, 1e-300, 1e-9, 1e12]
    parameters = [40.0, 6.72e5, shape]
    strength = EXPONENTIAL.strength(ages_h, parameters)
    assert strength[0] == 0.0
    assert np.all(np.diff(strength) >= 0)
    assert np.all(strength <= 40.0)
    assert np.all(np.isfinite(EXPONENTIAL.derivative(ages_h, parameters)))
    assert np.all(np.isfinite(EXPONENTIAL.growth_rate(ages_h, parameters)))


def test_exponential_bounds():
    low, high = EXPONENTIAL.bounds([6.0, 24.0, 672.0])
    np.testing.assert_allclose(low, [0.006, 0.1])
    np.testing.assert_allclose(high, [672_000.0, 6.0])


def test_logarithm_gains_the_same_at_every_doubling():
    strength = LOGARITHMIC.strength([1.0, 2.0, 4.0, 8.0], [5.0, 3.0])
    assert strength[0] == 5.0
    np.testing.assert_allclose(np.diff(strength), 3.0 * np.log(2.0), rtol=1e-14)


@pytest.mark.parametrize("curve", [LOGARITHMIC, LOG_AGE])
def test_log_curves_name_the_maturities_they_have_no_value_at(curve):
    with pytest.raises(ValueError, match="no value at and below 0 h of maturity, given 0, -1"):
        curve.strength([0.0, 5.0, -1.0], [1.0, 2.0], knots_h=[1.0, 2.0])


def test_piecewise_goes_through_the_means_and_on_along_its_ends():
    knots_h, means_mpa = [10.0, 20.0, 40.0], [5.0, 15.0, 25.0]
    wanted_h = [5.0, 10.0, 12.5, 20.0, 30.0, 40.0, 60.0]
    strength = LINEAR.strength(wanted_h, means_mpa, knots_h=knots_h)
    np.testing.assert_allclose(strength, [0.0, 5.0, 7.5, 15.0, 20.0, 25.0, 35.0], atol=1e-14)


def test_piecewise_inside_its_span_is_numpy_interp():
    # Outside value: numpy.interp.
    rng = np.random.default_rng(3)
    knots_h, means_mpa = np.sort(rng.uniform(1, 700, 7)), rng.uniform(0, 50, 7)
    wanted_h = rng.uniform(knots_h[0], knots_h[-1], 200)
    np.testing.assert_allclose(
        LINEAR.strength(wanted_h, means_mpa, knots_h=knots_h),
        np.interp(wanted_h, knots_h, means_mpa),
        rtol=1e-12,
    )
    np.testing.assert_allclose(
        LOG_AGE.strength(wanted_h, means_mpa, knots_h=knots_h),
        np.interp(np.log(wanted_h), np.log(knots_h), means_mpa),
        rtol=1e-12,
    )


def test_piecewise_in_log_age_reads_the_geometric_middle_half_way():
    np.testing.assert_allclose(LOG_AGE.strength(60.0, [10.0, 20.0], knots_h=[30.0, 120.0]), 15.0, rtol=1e-14)
    np.testing.assert_allclose(LOG_AGE.strength(480.0, [10.0, 20.0], knots_h=[30.0, 120.0]), 30.0, rtol=1e-14)


@pytest.mark.parametrize("curve", [LINEAR, LOG_AGE])
def test_piecewise_weights_sum_to_one_and_at_most_two_count(curve):
    weights = curve.derivative([1.0, 15.0, 33.0, 99.0], np.ones(4), knots_h=[10.0, 20.0, 40.0, 80.0])
    np.testing.assert_allclose(weights.sum(axis=1), 1.0, rtol=1e-13)
    assert np.all(np.count_nonzero(weights, axis=1) <= 2)


@pytest.mark.parametrize("curve", [LINEAR, LOG_AGE])
@pytest.mark.parametrize(
    ("knots_h", "message"),
    [
        (None, "needs `knots_h`"),
        ([10.0, 20.0, 40.0], "given 2 means at 3 maturities"),
        ([20.0, 10.0], "must be above 0 h and rise"),
    ],
)
def test_piecewise_says_what_it_lacks(curve, knots_h, message):
    with pytest.raises(ValueError, match=message):
        curve.strength([15.0], [1.0, 2.0], knots_h=knots_h)


@pytest.mark.parametrize("curve", [LINEAR, LOG_AGE])
def test_piecewise_needs_two_means(curve):
    with pytest.raises(ValueError, match="at least 2 maturities, given 1 means at 1"):
        curve.start([15.0], [1.0])


def test_logarithm_needs_two_means():
    with pytest.raises(ValueError, match="needs 2 ages, given 1"):
        LOGARITHMIC.start([15.0], [1.0])
