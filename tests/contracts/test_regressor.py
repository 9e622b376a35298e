"""The regressor against scikit-learn's own contract, and against the curve it wraps."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from sklearn.base import clone
from sklearn.model_selection import GridSearchCV
from sklearn.pipeline import make_pipeline
from sklearn.preprocessing import FunctionTransformer
from sklearn.utils.estimator_checks import parametrize_with_checks

from planner.curves import CURVES
from planner.regressor import StrengthMaturityRegressor
from planner.terms.plan.settings import PRIOR_CURVE_NAMES
from tests.fitting.twin import fit_twin

MATURITY_H = np.array([12.0, 24.0, 72.0, 168.0, 336.0, 672.0])
TABLE = MATURITY_H[:, None]
NAMED = pd.DataFrame({"maturity_h": MATURITY_H})
MEAN_MPA = np.array([7.0, 14.5, 26.0, 33.0, 36.5, 39.0])


@pytest.mark.filterwarnings("ignore:.*it goes through all of them:UserWarning")
@parametrize_with_checks(
    [
        StrengthMaturityRegressor(curve, weighting, counts_once=counted)
        for curve in CURVES
        for weighting, counted in (("absolute", "age"), ("absolute", "break"), ("relative", "age"))
    ]
)
def test_keeps_the_contract_of_scikit_learn(estimator, check):
    check(estimator)


@pytest.mark.parametrize("weighting", ["absolute", "relative"])
@pytest.mark.parametrize("curve", CURVES)
def test_single_breaks_are_fitted_as_their_means(curve, weighting):
    twin = fit_twin(curve, MATURITY_H, MEAN_MPA, weighting=weighting)
    fitted = StrengthMaturityRegressor(curve, weighting).fit(TABLE, MEAN_MPA)
    wanted_h = np.array([10.0, 40.0, 500.0, 2000.0])
    np.testing.assert_allclose(fitted.predict(wanted_h[:, None]), twin.predict(wanted_h), rtol=1e-6)


@pytest.mark.parametrize("curve", CURVES)
def test_equal_companions_change_nothing_but_order_may_be_any(curve):
    rng = np.random.default_rng(11)
    order = rng.permutation(18)
    spread = np.tile([-1.0, 0.0, 1.0], 6)
    maturity_h, strength_mpa = np.repeat(MATURITY_H, 3)[order], (np.repeat(MEAN_MPA, 3) + spread)[order]
    many = StrengthMaturityRegressor(curve).fit(maturity_h[:, None], strength_mpa)
    few = StrengthMaturityRegressor(curve).fit(TABLE, MEAN_MPA)
    np.testing.assert_allclose(many.predict(TABLE), few.predict(TABLE), rtol=1e-9)


def test_relative_errors_weigh_no_strength_like_the_weakest():
    means_mpa = np.array([0.0, 14.5, 26.0, 33.0, 36.5, 39.0])
    fitted = StrengthMaturityRegressor("logarithmic", "relative").fit(TABLE, means_mpa)
    scale_mpa = np.array([14.5, 14.5, 26.0, 33.0, 36.5, 39.0])
    columns = np.column_stack([np.ones(6), np.log(MATURITY_H)])
    by_hand, *_ = np.linalg.lstsq(columns / scale_mpa[:, None], means_mpa / scale_mpa, rcond=None)
    np.testing.assert_allclose(fitted.predict(TABLE), columns @ by_hand, rtol=1e-9)
    nothing = StrengthMaturityRegressor("logarithmic", "relative").fit(TABLE, 0 * MEAN_MPA)
    np.testing.assert_allclose(nothing.predict(TABLE), 0.0, atol=1e-12)


def test_maturity_may_stand_in_any_column():
    wide = np.column_stack([np.arange(6.0), MATURITY_H])
    fitted = StrengthMaturityRegressor(maturity_column=1).fit(wide, MEAN_MPA)
    alone = StrengthMaturityRegressor().fit(TABLE, MEAN_MPA)
    np.testing.assert_array_equal(fitted.parameters_, alone.parameters_)
    np.testing.assert_array_equal(fitted.predict(wide), alone.predict(TABLE))
    table = pd.DataFrame({"slump_mm": np.arange(6.0), "maturity_h": MATURITY_H})
    named = StrengthMaturityRegressor(maturity_column="maturity_h").fit(table, MEAN_MPA)
    np.testing.assert_array_equal(named.parameters_, alone.parameters_)
    np.testing.assert_array_equal(named.predict(table), alone.predict(TABLE))


# A logarithmic curve, so that numpy's straight line over the logarithm of maturity is the answer.
UNEVEN_H = np.array([24.0, 24.0, 24.0, 168.0, 672.0])
UNEVEN_MPA = np.array([10.0, 12.0, 14.0, 30.0, 36.0])


def test_every_age_counts_once_as_in_the_planner():
    slope, intercept = np.polyfit(np.log([24.0, 168.0, 672.0]), [12.0, 30.0, 36.0], 1)
    fitted = StrengthMaturityRegressor("logarithmic").fit(UNEVEN_H[:, None], UNEVEN_MPA)
    np.testing.assert_allclose(fitted.parameters_, [intercept, slope], rtol=1e-10)


def test_every_break_may_count_once():
    slope, intercept = np.polyfit(np.log(UNEVEN_H), UNEVEN_MPA, 1)
    fitted = StrengthMaturityRegressor("logarithmic", counts_once="break").fit(UNEVEN_H[:, None], UNEVEN_MPA)
    np.testing.assert_allclose(fitted.parameters_, [intercept, slope], rtol=1e-10)


def test_weights_of_breaks_count_beside_replicates_and_beside_other_breaks():
    share = np.array([1.0, 0.0, 3.0, 2.0, 0.5])
    by_age = StrengthMaturityRegressor("logarithmic").fit(UNEVEN_H[:, None], UNEVEN_MPA, sample_weight=share)
    slope, intercept = np.polyfit(np.log([24.0, 168.0, 672.0]), [13.0, 30.0, 36.0], 1)
    np.testing.assert_allclose(by_age.parameters_, [intercept, slope], rtol=1e-10)
    by_break = StrengthMaturityRegressor("logarithmic", counts_once="break")
    by_break.fit(UNEVEN_H[:, None], UNEVEN_MPA, sample_weight=share)
    slope, intercept = np.polyfit(np.log(UNEVEN_H), UNEVEN_MPA, 1, w=np.sqrt(share))
    np.testing.assert_allclose(by_break.parameters_, [intercept, slope], rtol=1e-10)


@pytest.mark.parametrize("curve", CURVES)
def test_a_record_that_starts_at_maturity_zero_reads_as_without_it(curve):
    started = np.concatenate([[[0.0]], TABLE])
    with_start = StrengthMaturityRegressor(curve).fit(started, np.concatenate([[0.0], MEAN_MPA]))
    without = StrengthMaturityRegressor(curve).fit(TABLE, MEAN_MPA)
    np.testing.assert_array_equal(with_start.predict(TABLE), without.predict(TABLE))
    assert np.isfinite(with_start.predict(started)).all()
    if "log" in curve:
        assert with_start.predict([[0.0]]) == 0.0


@pytest.mark.parametrize("curve", ["hyperbolic", "exponential"])
def test_two_ages_and_maturity_zero_are_fitted_with_a_warning(curve):
    with pytest.warns(UserWarning, match="as others would"):
        fitted = StrengthMaturityRegressor(curve).fit([[0.0], [24.0], [72.0]], [0.0, 10.0, 20.0])
    np.testing.assert_allclose(fitted.predict([[24.0], [72.0]]), [10.0, 20.0], rtol=1e-3)


def test_works_in_a_pipeline_and_a_grid_search():
    days = TABLE / 24
    line = make_pipeline(FunctionTransformer(lambda age_d: age_d * 24.0), StrengthMaturityRegressor())
    assert line.fit(days, MEAN_MPA).score(days, MEAN_MPA) > 0.99
    search = GridSearchCV(StrengthMaturityRegressor(), {"curve": ["hyperbolic", "logarithmic"]}, cv=3)
    assert search.fit(TABLE, MEAN_MPA).best_params_["curve"] == "hyperbolic"
    assert clone(search.best_estimator_).get_params() == search.best_estimator_.get_params()


@pytest.mark.parametrize(
    ("settings", "maturity_h", "strength_mpa", "message"),
    [
        ({"curve": "cubic"}, TABLE, MEAN_MPA, "curve must be one of 'hyperbolic'"),
        ({"weighting": "none"}, TABLE, MEAN_MPA, "weighting must be 'absolute' or 'relative'"),
        ({"counts_once": "batch"}, TABLE, MEAN_MPA, "counts_once must be 'age' or 'break', given 'batch'"),
        (
            {"maturity_column": 1},
            TABLE,
            MEAN_MPA,
            "one of the 1 columns, by its place from 0 or by its .*given 1",
        ),
        ({"maturity_column": -1}, TABLE, MEAN_MPA, "given -1"),
        ({"maturity_column": 0.5}, TABLE, MEAN_MPA, "given 0.5"),
        ({"maturity_column": True}, TABLE, MEAN_MPA, "given True"),
        ({"maturity_column": "age"}, TABLE, MEAN_MPA, "heading 'age', but the table has no headings"),
        ({"maturity_column": "age"}, NAMED, MEAN_MPA, "heading 'age', but the headings are 'maturity_h'"),
        ({}, -TABLE, MEAN_MPA, "not be below 0 h, and no other column either, given -672"),
        ({}, TABLE[:2], MEAN_MPA[:2], "2 sample"),
        ({}, np.full((6, 1), 24.0), MEAN_MPA, "3 or more distinct maturities above 0 h, given 1"),
    ],
)
def test_refuses_what_it_cannot_fit(settings, maturity_h, strength_mpa, message):
    with pytest.raises(ValueError, match=message):
        StrengthMaturityRegressor(**settings).fit(maturity_h, strength_mpa)


@pytest.mark.parametrize("curve", PRIOR_CURVE_NAMES)
def test_a_curve_that_learns_from_other_batches_is_refused(curve):
    with pytest.raises(ValueError, match=f"given '{curve}'; it learns from other batches, see Advice.curve"):
        StrengthMaturityRegressor(curve).fit(TABLE, MEAN_MPA)
