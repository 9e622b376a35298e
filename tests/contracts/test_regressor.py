"""The regressor against scikit-learn's own contract, and against the curve it wraps."""

from __future__ import annotations

import numpy as np
import pytest
from sklearn.base import clone
from sklearn.model_selection import GridSearchCV
from sklearn.pipeline import make_pipeline
from sklearn.preprocessing import FunctionTransformer
from sklearn.utils.estimator_checks import parametrize_with_checks

from planner.curves import CURVES
from planner.fitting.twin import fit_twin
from planner.regressor import StrengthMaturityRegressor

MATURITY_H = np.array([12.0, 24.0, 72.0, 168.0, 336.0, 672.0])
TABLE = MATURITY_H[:, None]
MEAN_MPA = np.array([7.0, 14.5, 26.0, 33.0, 36.5, 39.0])


# The checks shift their numbers until the smallest maturity is 0 h, where curves in the logarithm of age
# have no value; those two refuse it, see `test_log_curves_refuse_breaks_at_maturity_zero`. The piecewise
# curves refuse to be knotted at 0 h.
@parametrize_with_checks([StrengthMaturityRegressor(), StrengthMaturityRegressor(curve="exponential")])
def test_keeps_the_contract_of_scikit_learn(estimator, check):
    check(estimator)


@pytest.mark.parametrize("weighting", ["absolute", "relative"])
@pytest.mark.parametrize("curve", CURVES)
def test_single_breaks_are_fitted_as_their_means(curve, weighting):
    twin = fit_twin(curve, MATURITY_H, MEAN_MPA, weighting=weighting)
    fitted = StrengthMaturityRegressor(curve, weighting).fit(TABLE, MEAN_MPA)
    wanted_h = np.array([10.0, 40.0, 500.0, 2000.0])
    np.testing.assert_allclose(fitted.predict(wanted_h[:, None]), twin.predict(wanted_h), rtol=1e-9)


@pytest.mark.parametrize("curve", CURVES)
def test_equal_companions_change_nothing_but_order_may_be_any(curve):
    rng = np.random.default_rng(11)
    order = rng.permutation(18)
    spread = np.tile([-1.0, 0.0, 1.0], 6)
    maturity_h, strength_mpa = np.repeat(MATURITY_H, 3)[order], (np.repeat(MEAN_MPA, 3) + spread)[order]
    many = StrengthMaturityRegressor(curve).fit(maturity_h[:, None], strength_mpa)
    few = StrengthMaturityRegressor(curve).fit(TABLE, MEAN_MPA)
    np.testing.assert_allclose(many.predict(TABLE), few.predict(TABLE), rtol=1e-9)


def test_maturity_may_stand_in_any_column():
    wide = np.column_stack([np.arange(6.0), MATURITY_H])
    fitted = StrengthMaturityRegressor(maturity_column=1).fit(wide, MEAN_MPA)
    alone = StrengthMaturityRegressor().fit(TABLE, MEAN_MPA)
    np.testing.assert_array_equal(fitted.parameters_, alone.parameters_)
    np.testing.assert_array_equal(fitted.predict(wide), alone.predict(TABLE))


def test_every_break_counts_once():
    # Logarithmic curve, so the answer is ordinary least squares on the single breaks.
    maturity_h = np.array([24.0, 24.0, 24.0, 168.0, 672.0])
    strength_mpa = np.array([10.0, 12.0, 14.0, 30.0, 36.0])
    slope, intercept = np.polyfit(np.log(maturity_h), strength_mpa, 1)
    fitted = StrengthMaturityRegressor("logarithmic").fit(maturity_h[:, None], strength_mpa)
    np.testing.assert_allclose(fitted.parameters_, [intercept, slope], rtol=1e-10)


def test_works_in_a_pipeline_and_a_grid_search():
    days = TABLE / 24
    line = make_pipeline(FunctionTransformer(lambda age_d: age_d * 24.0), StrengthMaturityRegressor())
    assert line.fit(days, MEAN_MPA).score(days, MEAN_MPA) > 0.99
    search = GridSearchCV(StrengthMaturityRegressor(), {"curve": ["hyperbolic", "logarithmic"]}, cv=3)
    assert search.fit(TABLE, MEAN_MPA).best_params_["curve"] == "hyperbolic"
    assert clone(search.best_estimator_).get_params() == search.best_estimator_.get_params()


@pytest.mark.parametrize("curve", ["logarithmic", "piecewise linear in log age"])
def test_log_curves_refuse_breaks_at_maturity_zero(curve):
    with pytest.raises(ValueError, match=r"above 0 h|at and below 0 h"):
        StrengthMaturityRegressor(curve).fit(np.array([[0.0], [24.0], [72.0]]), np.array([0.0, 10.0, 20.0]))


@pytest.mark.parametrize(
    ("settings", "maturity_h", "strength_mpa", "message"),
    [
        ({"curve": "cubic"}, TABLE, MEAN_MPA, "curve must be one of 'hyperbolic'"),
        ({"weighting": "none"}, TABLE, MEAN_MPA, "weighting must be 'absolute' or 'relative'"),
        ({"maturity_column": 1}, TABLE, MEAN_MPA, "one of the 1 columns from 0, given 1"),
        ({}, -TABLE, MEAN_MPA, "not be below 0 h, and no other column either, given -672"),
        ({}, TABLE[:2], MEAN_MPA[:2], "2 sample"),
        ({}, np.full((6, 1), 24.0), MEAN_MPA, "at least 3 ages, given 1"),
        ({"weighting": "relative"}, TABLE, 0 * MEAN_MPA, "other than 0 MPa"),
    ],
)
def test_refuses_what_it_cannot_fit(settings, maturity_h, strength_mpa, message):
    with pytest.raises(ValueError, match=message):
        StrengthMaturityRegressor(**settings).fit(maturity_h, strength_mpa)
