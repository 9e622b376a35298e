"""The population prior against dense algebra, a mixed model of a statistics library, and laws."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator
from scipy.optimize import minimize

from planner.mixed_model import PriorBatches, SpreadPriors, estimate_growth_prior, mean_curve
from planner.mixed_model.restricted_likelihood import minus_twice_log_likelihood, penalised_objective_at
from planner.terms.arrays import FloatArray
from tests.mixed_model.invented_batches import AGES_H, CV, growth_mpa, invented_batches


def objective(
    log_sd: FloatArray,
    residual: FloatArray,
    noise: FloatArray,
    held: np.ndarray,
    slope: FloatArray,
    priors: SpreadPriors,
) -> float:
    """Minus the logarithm of restricted likelihood times prior densities, as it is compiled."""
    return float(penalised_objective_at(log_sd, residual, noise, held, slope, priors.log_medians, priors.log_sd))


def dense_objective(
    log_sd: FloatArray,
    residual: FloatArray,
    noise: FloatArray,
    held: np.ndarray,
    slope: FloatArray,
    priors: SpreadPriors,
) -> float:
    """The same objective from one dense covariance of all cells and the design matrix of the age means."""
    variances = np.exp(2.0 * np.asarray(log_sd))
    batch, age = np.nonzero(held)
    g = slope[batch, age]
    same = batch[:, None] == batch[None, :]
    covariance = same * (variances[0] + variances[1] * np.outer(g, g))
    covariance += np.diag(variances[2] + noise[batch, age])
    design = (age[:, None] == np.arange(residual.shape[1])[None, :]).astype(float)
    precision = np.linalg.inv(covariance)
    information = design.T @ precision @ design
    r = residual[batch, age]
    mean = np.linalg.solve(information, design.T @ precision @ r)
    rest = r - design @ mean
    twice = np.linalg.slogdet(covariance)[1] + np.linalg.slogdet(information)[1] + rest @ precision @ rest
    return float(0.5 * (twice + np.sum(((log_sd - priors.log_medians) / priors.log_sd) ** 2)))


@pytest.mark.parametrize("share_of_holes", [0.0, 0.3])
@pytest.mark.parametrize("n_batches", [2, 3, 9])
def test_objective_equals_dense_algebra(n_batches: int, share_of_holes: float) -> None:
    batches = invented_batches(n_batches, 5, share_of_holes=share_of_holes)
    rng = np.random.default_rng(n_batches)
    residual = np.where(batches.is_held, rng.standard_normal(batches.mean_mpa.shape) / 10, 0.0)
    slope = rng.uniform(0.0, 2.0, residual.shape)
    for _ in range(5):
        log_sd = SpreadPriors().log_medians + rng.standard_normal(3)
        given_arguments = (log_sd, residual, batches.noise, batches.is_held, slope, SpreadPriors(0.05, 0.2, 0.03, 0.5))
        assert objective(*given_arguments) == pytest.approx(dense_objective(*given_arguments), rel=1e-9)


@pytest.mark.parametrize(("n_batches", "share_of_holes"), [(3, 0.0), (6, 0.25), (9, 0.0)])
def test_spread_is_the_optimum_of_the_dense_objective(n_batches: int, share_of_holes: float) -> None:
    batches = invented_batches(n_batches, 11, share_of_holes=share_of_holes)
    prior = estimate_growth_prior(batches)
    expected, slope = prior.curve.at(batches.log_maturity)
    residual = np.where(batches.is_held, batches.log_mean - expected, 0.0)
    found = minimize(
        dense_objective,
        SpreadPriors().log_medians,
        args=(residual, batches.noise, batches.is_held, slope, SpreadPriors()),
        method="Nelder-Mead",
        options={"xatol": 1e-7, "fatol": 1e-10},
    )
    assert np.exp(found.x) == pytest.approx([prior.scale_sd, prior.rate_sd, prior.departure_sd], rel=2e-3)


def test_random_level_agrees_with_the_mixed_model_of_a_library() -> None:
    """Means that fall with age give a flat curve: no rate, and what is left is a random intercept."""
    import pandas as pd
    import statsmodels.formula.api as smf

    rng = np.random.default_rng(3)
    n_batches, n_ages = 8, 6
    log_mpa = 3.0 - 0.1 * np.arange(n_ages) + 0.09 * rng.standard_normal((n_batches, 1))
    log_mpa = log_mpa + 0.03 * rng.standard_normal((n_batches, n_ages))
    batches = PriorBatches(
        mean_mpa=np.exp(log_mpa),
        n_specimens=np.ones((n_batches, n_ages)),
        maturity_h=np.tile(np.arange(1.0, n_ages + 1), (n_batches, 1)),
        cv=np.full(n_ages, 1e-7),
    )
    prior = estimate_growth_prior(batches, SpreadPriors(log_sd=1e4))
    batch, age = np.indices(log_mpa.shape)
    table = pd.DataFrame({"log_mpa": log_mpa.ravel(), "batch": batch.ravel(), "age": age.ravel()})
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fitted = smf.mixedlm("log_mpa ~ C(age)", table, groups="batch").fit(reml=True)
    assert prior.scale_sd == pytest.approx(float(np.sqrt(fitted.cov_re.iloc[0, 0])), rel=1e-3)
    assert prior.departure_sd == pytest.approx(float(np.sqrt(fitted.scale)), rel=1e-3)


def test_restricted_likelihood_agrees_with_the_mixed_model_of_a_library() -> None:
    """Level and rate at stated standard deviations; the library's likelihood lacks only a constant."""
    from statsmodels.regression.mixed_linear_model import MixedLM

    rng = np.random.default_rng(8)
    n_batches, n_ages = 7, 5
    slope = np.tile(rng.uniform(0.2, 2.0, n_ages), (n_batches, 1))
    residual = rng.standard_normal((n_batches, n_ages)) / 10
    batch, age = (index.ravel() for index in np.indices(residual.shape))
    design = (age[:, None] == np.arange(n_ages)).astype(float)
    random = np.stack([np.ones(age.size), slope.ravel()], axis=1)
    model = MixedLM(residual.ravel(), design, batch, exog_re=random)
    model.cov_pen = None  # set by the library's own fit, which is not asked for here
    held, noise, flat = np.ones(residual.shape, dtype=bool), np.zeros(residual.shape), SpreadPriors(log_sd=1e6)

    def library(sds: FloatArray) -> float:
        from statsmodels.regression.mixed_linear_model import MixedLMParams

        departure = sds[2] ** 2
        parameters = MixedLMParams.from_components(
            fe_params=np.zeros(n_ages), cov_re=np.diag(np.square(sds[:2])) / departure
        )
        return float(_unprofiled(model, parameters, departure))

    def ours(sds: FloatArray) -> float:
        return -objective(np.log(sds), residual, noise, held, slope, flat)

    first, second = np.array([0.08, 0.1, 0.05]), np.array([0.15, 0.03, 0.09])
    assert ours(first) - ours(second) == pytest.approx(library(first) - library(second), abs=1e-6)


def _unprofiled(model: object, parameters: object, departure: float) -> float:
    """The library profiles the residual variance out; this is its restricted likelihood at a stated one."""
    n, p = model.exog.shape  # type: ignore[attr-defined]
    profiled = model.loglike(parameters, profile_fe=True)  # type: ignore[attr-defined]
    _, square = _quadratic(model, parameters)
    best = square / (n - p)
    at_best = -0.5 * (n - p) * (np.log(best) + 1.0)
    at_stated = -0.5 * (n - p) * np.log(departure) - 0.5 * square / departure
    return float(profiled - at_best + at_stated)


def _quadratic(model: object, parameters: object) -> tuple[FloatArray, float]:
    """Generalised least squares of the library's own matrices, dense."""
    relative = parameters.cov_re  # type: ignore[attr-defined]
    y, x, groups = model.endog, model.exog, model.groups  # type: ignore[attr-defined]
    z = model.exog_re  # type: ignore[attr-defined]
    covariance = np.eye(len(y)) + (groups[:, None] == groups[None, :]) * (z @ relative @ z.T)
    precision = np.linalg.inv(covariance)
    mean = np.linalg.solve(x.T @ precision @ x, x.T @ precision @ y)
    rest = y - x @ mean
    return mean, float(rest @ precision @ rest)


def test_recovers_the_law_of_many_batches() -> None:
    """400 batches: standard errors near 4 % of each standard deviation, the margins are four of them."""
    prior = estimate_growth_prior(invented_batches(400, 2))
    assert prior.scale_sd == pytest.approx(0.08, rel=0.17)
    assert prior.rate_sd == pytest.approx(0.10, rel=0.17)
    assert prior.departure_sd == pytest.approx(0.015, rel=0.25)
    value, _ = prior.curve.at(np.log(AGES_H))
    assert value == pytest.approx(np.log(growth_mpa(AGES_H, np.ones(1))), abs=0.025)


def test_holes_do_not_pull_the_curve_towards_strong_batches() -> None:
    """A batch 30 % stronger that was broken at one age only: its neighbours' ages tell how strong it is."""
    maturity = np.tile(AGES_H, (6, 1))
    levels = np.array([1.3, 1.0, 0.97, 1.03, 0.99, 1.01])[:, None]
    mean = levels * growth_mpa(maturity, np.ones((6, 1)))
    count = np.full(maturity.shape, 3.0)
    count[0, 3:] = 0.0
    batches = PriorBatches(mean_mpa=mean, n_specimens=count, maturity_h=maturity, cv=CV)
    value, _ = estimate_growth_prior(batches).curve.at(np.log(AGES_H))
    excess = value - np.log(growth_mpa(AGES_H, np.ones(1)))
    assert excess == pytest.approx(np.full(len(AGES_H), np.log(levels).mean()), abs=0.01)


def test_strength_in_other_units_shifts_the_curve_alone() -> None:
    batches = invented_batches(5, 4)
    scaled = PriorBatches(
        mean_mpa=145.0 * batches.mean_mpa,
        n_specimens=batches.n_specimens,
        maturity_h=batches.maturity_h,
        cv=batches.cv,
    )
    one, other = estimate_growth_prior(batches), estimate_growth_prior(scaled)
    assert other.curve.log_mpa - one.curve.log_mpa == pytest.approx(np.full(7, np.log(145.0)), abs=1e-6)
    assert [other.scale_sd, other.rate_sd] == pytest.approx([one.scale_sd, one.rate_sd], rel=1e-4)


def test_the_order_of_batches_and_ages_is_nothing() -> None:
    batches = invented_batches(5, 9, share_of_holes=0.2)
    turned = PriorBatches(
        mean_mpa=batches.mean_mpa[::-1, ::-1],
        n_specimens=batches.n_specimens[::-1, ::-1],
        maturity_h=batches.maturity_h[::-1, ::-1],
        cv=batches.cv[::-1],
    )
    one, other = estimate_growth_prior(batches), estimate_growth_prior(turned)
    assert other.curve.log_mpa == pytest.approx(one.curve.log_mpa, abs=1e-5)
    assert other.knot_cv == pytest.approx(one.knot_cv)
    assert other.knot_noise == pytest.approx(one.knot_noise, rel=1e-3)
    assert other.rate_sd == pytest.approx(one.rate_sd, rel=1e-3)


def test_noise_of_the_mean_curve_by_hand() -> None:
    """Three batches with 2, 3 and 4 specimens of 6 %, departures tau: (s2/2 + s2/3 + s2/4) / 9 + tau2 / 3."""
    batches = invented_batches(3, 1)
    count = np.tile([[2.0], [3.0], [4.0]], (1, len(AGES_H)))
    prior = estimate_growth_prior(
        PriorBatches(mean_mpa=batches.mean_mpa, n_specimens=count, maturity_h=batches.maturity_h, cv=CV)
    )
    expected = CV**2 * (1 / 2 + 1 / 3 + 1 / 4) / 9 + prior.departure_sd**2 / 3
    assert prior.knot_noise == pytest.approx(expected, rel=1e-12)
    at_knots = np.exp(prior.curve.log_maturity)
    assert prior.departure_variance(at_knots) == pytest.approx(prior.departure_sd**2 + expected, rel=1e-9)


def test_weak_priors_are_worth_about_one_batch() -> None:
    """The logarithm of a standard deviation from n degrees of freedom has variance near 1 / (2 n)."""
    assert SpreadPriors().worth_batches == pytest.approx(1.0 / (2 * 0.7**2))
    assert estimate_growth_prior(invented_batches(4, 1)).n_freedom == pytest.approx(3 + 1 / 0.98)


def test_tight_priors_hold_the_spread_where_they_say() -> None:
    prior = estimate_growth_prior(invented_batches(4, 6), SpreadPriors(0.2, 0.3, 0.05, log_sd=1e-3))
    assert [prior.scale_sd, prior.rate_sd, prior.departure_sd] == pytest.approx([0.2, 0.3, 0.05], rel=1e-2)


def test_leaving_out_keeps_the_others_and_drops_empty_ages() -> None:
    batches = invented_batches(4, 7)
    count = batches.n_specimens.copy()
    count[[0, 1, 3], 2] = 0.0
    holed = PriorBatches(mean_mpa=batches.mean_mpa, n_specimens=count, maturity_h=batches.maturity_h, cv=CV)
    rest = holed.without([2])
    assert rest.mean_mpa == pytest.approx(np.delete(batches.mean_mpa[[0, 1, 3]], 2, axis=1))
    assert rest.cv == pytest.approx(np.delete(CV, 2))


def test_inside_the_records_or_not() -> None:
    prior = estimate_growth_prior(invented_batches(4, 7))
    least, most = np.exp(prior.curve.log_maturity[[0, -1]])
    assert prior.holds([0.9 * least, least, 20.0, most, 1.1 * most]).tolist() == [False, True, True, True, False]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"mean_mpa": np.full((3, 7), -1.0)}, "mean_mpa"),
        ({"maturity_h": np.full((3, 7), np.nan)}, "maturity_h"),
        ({"cv": np.zeros(7)}, "cv"),
        ({"cv": np.full(6, 0.05)}, "share the shape"),
        ({"n_specimens": np.zeros((3, 7))}, "needs a break"),
    ],
)
def test_refuses_arrays_that_cannot_be(change: dict[str, FloatArray], says: str) -> None:
    batches = invented_batches(3, 1)
    arrays = {name: getattr(batches, name) for name in ("mean_mpa", "n_specimens", "maturity_h", "cv")}
    with pytest.raises(ValueError, match=says):
        PriorBatches(**(arrays | change))


def test_one_batch_has_no_spread() -> None:
    with pytest.raises(ValueError, match="2 batches or more, given 1"):
        estimate_growth_prior(invented_batches(3, 1).without([0, 1]))


def test_priors_must_be_above_nothing() -> None:
    with pytest.raises(ValueError, match="above 0"):
        SpreadPriors(scale=0.0)


@given(
    st.lists(st.floats(0.05, 3.0), min_size=2, max_size=9),
    st.lists(st.floats(-0.2, 1.0), min_size=9, max_size=9),
)
@settings(max_examples=60, deadline=None)
def test_mean_curve_never_falls_and_its_slope_is_its_derivative(steps: list[float], rises: list[float]) -> None:
    knots = np.cumsum(steps)
    values = np.cumsum(rises[: len(steps)])
    curve = mean_curve(knots, values, np.ones(len(steps)))
    fine = np.linspace(knots[0] - 1.0, knots[-1] + 1.0, 400)
    value, slope = curve.at(fine)
    assert np.all(np.diff(value) >= -1e-12)
    assert np.all(slope >= -1e-12)
    ahead, behind = curve.at(fine + 1e-6)[0], curve.at(fine - 1e-6)[0]
    assert (ahead - behind) / 2e-6 == pytest.approx(slope, abs=2e-4 * max(1.0, float(slope.max())) + 1e-5)


def test_mean_curve_through_rising_means_is_the_library_cubic() -> None:
    knots, values = np.log(AGES_H), np.log(growth_mpa(AGES_H, np.ones(1)))
    curve = mean_curve(knots[::-1], values[::-1], np.ones(7))
    library = PchipInterpolator(knots, values)
    fine = np.linspace(knots[0], knots[-1], 101)
    value, slope = curve.at(fine)
    assert value == pytest.approx(library(fine), abs=1e-12)
    assert slope == pytest.approx(library.derivative()(fine), abs=1e-10)
    beyond, _ = curve.at(knots[-1] + 2.0)
    assert beyond == pytest.approx(values[-1] + 2.0 * float(library.derivative()(knots[-1])))


@pytest.mark.parametrize("n_knots", [2, 3, 4, 9])
def test_slopes_at_the_knots_are_the_library_s_with_level_pieces_too(n_knots: int) -> None:
    rng = np.random.default_rng(n_knots)
    for _ in range(50):
        knots = np.cumsum(rng.uniform(0.05, 2.0, n_knots))
        rises = np.where(rng.random(n_knots) < 0.25, 0.0, rng.exponential(1.0, n_knots))
        curve = mean_curve(knots, np.cumsum(rises), np.ones(n_knots))
        library = PchipInterpolator(knots, np.cumsum(rises)).derivative()(knots)
        assert curve.slope == pytest.approx(np.maximum(library, 0.0), rel=1e-9, abs=1e-12)


def test_likelihood_s_means_equal_dense_generalised_least_squares() -> None:
    batches = invented_batches(6, 5, share_of_holes=0.3)
    rng = np.random.default_rng(4)
    residual = np.where(batches.is_held, rng.standard_normal(batches.mean_mpa.shape) / 10, 0.0)
    slope, log_sd = rng.uniform(0.0, 2.0, residual.shape), np.log([0.1, 0.2, 0.03])
    _, mean = minus_twice_log_likelihood(log_sd, residual, batches.noise, batches.is_held, slope)
    batch, age = np.nonzero(batches.is_held)
    g = slope[batch, age]
    covariance = (batch[:, None] == batch) * (0.1**2 + 0.2**2 * np.outer(g, g))
    precision = np.linalg.inv(covariance + np.diag(0.03**2 + batches.noise[batch, age]))
    design = (age[:, None] == np.arange(residual.shape[1])).astype(float)
    expected = np.linalg.solve(design.T @ precision @ design, design.T @ precision @ residual[batch, age])
    assert mean == pytest.approx(expected, rel=1e-9, abs=1e-12)


def test_falling_means_are_pooled_by_their_weights() -> None:
    curve = mean_curve(np.array([0.0, 1.0, 2.0]), np.array([1.0, 3.0, 2.0]), np.array([1.0, 1.0, 3.0]))
    assert curve.log_mpa == pytest.approx([1.0, 2.25, 2.25])


def test_two_means_at_one_maturity_make_no_curve() -> None:
    with pytest.raises(ValueError, match="all different"):
        mean_curve(np.array([1.0, 1.0]), np.array([1.0, 2.0]), np.ones(2))
