"""What compiled kernels and curve files both say must be the same."""

from __future__ import annotations

import numpy as np
import pytest

from planner.curves import CURVES
from planner.fitting.batch_sweep import CURVE_CODES, FEWEST_AGES, ITERATIVE, resample
from planner.fitting.sensitivities import natural, shape_at
from planner.fitting.variable_projection import EXPONENTIAL, shape_bounds

AGES_H = np.array([5.0, 12.0, 100.0, 672.0])
# From the scaled parameters of the kernels to those of the curve files.
UNSCALED = {
    "hyperbolic": lambda first, second: (5.0 * np.exp(first), 5.0 * (1.0 - np.exp(second))),
    "exponential": lambda first, second: (5.0 * np.exp(first), second),
}
iterative = pytest.mark.parametrize("curve", sorted(ITERATIVE))


def test_every_curve_has_a_kernel_and_asks_for_as_many_ages():
    assert sorted(CURVE_CODES) == sorted(CURVES)
    assert len(set(CURVE_CODES.values())) == len(CURVES)
    for name, curve in CURVES.items():
        assert FEWEST_AGES[name] == curve.fewest_ages
        assert (name in ITERATIVE) == (curve.n_shape > 0)
        assert (CURVE_CODES[name] <= EXPONENTIAL) == (name in ITERATIVE)


@iterative
def test_the_box_is_that_of_the_curve(curve):
    first_low, first_high, second_low, second_high = shape_bounds(CURVE_CODES[curve], np.log(AGES_H[-1] / AGES_H[0]))
    corners = [UNSCALED[curve](first_low, second_low), UNSCALED[curve](first_high, second_high)]
    low, high = CURVES[curve].bounds(AGES_H)
    np.testing.assert_allclose(np.min(corners, axis=0), low, rtol=1e-12)
    np.testing.assert_allclose(np.max(corners, axis=0), high, rtol=1e-12)


@iterative
@pytest.mark.parametrize(("first", "second"), [(0.5, 0.3), (2.0, 0.69), (-1.0, 0.15)])
@pytest.mark.parametrize("age_h", [4.9, 12.0, 500.0])
def test_the_shape_and_its_slopes_are_those_of_the_curve(curve, first, second, age_h):
    code, formula = CURVE_CODES[curve], CURVES[curve]
    height, slope1, slope2 = shape_at(code, age_h / AGES_H[0], np.log(age_h / AGES_H[0]), *natural(code, first, second))
    np.testing.assert_allclose(height, formula.strength(age_h, (1.0, *UNSCALED[curve](first, second))), rtol=1e-12)

    def at(one, two):
        return float(formula.strength(age_h, (1.0, *UNSCALED[curve](one, two))))

    step = 1e-6
    np.testing.assert_allclose(
        [slope1, slope2],
        [
            (at(first + step, second) - at(first - step, second)) / (2 * step),
            (at(first, second + step) - at(first, second - step)) / (2 * step),
        ],
        rtol=1e-6,
        atol=1e-9,
    )


def test_concrete_of_no_maturity_is_read_without_strength():
    """Under some constants frozen concrete has none at a check: the exponential stands at 0 there, as its file says."""
    mean = CURVES["exponential"].strength(AGES_H, (60.0, 18.0, 0.8))
    checks, error = np.array([0.0, 12.0]), np.empty((1, 2))
    resample(EXPONENTIAL, np.arange(4), AGES_H, mean, False, np.zeros((1, 4)), checks, np.array([20.0, mean[1]]), error)
    np.testing.assert_allclose(error, [[-1.0, 0.0]], atol=1e-9)
