"""Fit, parameter errors and lack of fit against scipy and numpy alone."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy import optimize, stats

from planner.issued_curve.calibration.batch_fit import fit_batch, other_curves
from planner.issued_curve.calibration.batch_means import BatchMeans

MATURITY_H = np.array([4.8, 7.5, 10.0, 14.5, 26.6, 50.7, 170.8, 674.8])
MEAN_MPA = np.array([12.1, 19.4, 23.8, 29.9, 37.2, 44.6, 52.3, 57.9])
COUNTS = np.array([3.0, 2.0, 3.0, 4.0, 3.0, 2.0, 3.0, 3.0])
CV = np.array([0.05, 0.05, 0.04, 0.04, 0.03, 0.03, 0.03, 0.02])


def means(**given: np.ndarray) -> BatchMeans:
    fields = {"age_h": MATURITY_H, "maturity_h": MATURITY_H, "mean_mpa": MEAN_MPA, "n_specimens": COUNTS, "cv": CV}
    return BatchMeans(batch="T1", **(fields | given))


def hyperbolic(t: np.ndarray, su: float, half: float, t0: float) -> np.ndarray:
    return su * (t - t0) / (t - t0 + half)


def exponential(t: np.ndarray, su: float, tau: float, a: float) -> np.ndarray:
    return su * np.exp(-((tau / t) ** a))


def logarithmic(t: np.ndarray, a: float, b: float) -> np.ndarray:
    return a + b * np.log(t)


FORMULAS: dict[str, tuple[Callable[..., np.ndarray], tuple[float, ...]]] = {
    "hyperbolic": (hyperbolic, (55.0, 12.0, 1.0)),
    "exponential": (exponential, (60.0, 8.0, 0.7)),
    "logarithmic": (logarithmic, (0.0, 9.0)),
}


def scipy_fit(curve: str, weighting: str) -> tuple[np.ndarray, np.ndarray]:
    """Parameters by least squares of scipy, and their covariance by central differences and the sandwich."""
    formula, start = FORMULAS[curve]
    root = 1.0 / MEAN_MPA if weighting == "relative" else np.ones_like(MEAN_MPA)
    found = optimize.least_squares(
        lambda p: root * (formula(MATURITY_H, *p) - MEAN_MPA), start, xtol=1e-15, ftol=1e-15, gtol=1e-15, max_nfev=5000
    ).x
    steps = 1e-6 * np.maximum(np.abs(found), 1e-3)
    jacobian = np.stack(
        [
            (formula(MATURITY_H, *(found + step)) - formula(MATURITY_H, *(found - step))) / (2 * step.sum())
            for step in np.diag(steps)
        ],
        axis=1,
    )
    bread = np.linalg.inv(jacobian.T @ (root[:, None] ** 2 * jacobian))
    meat = jacobian.T @ np.diag(root**4 * CV**2 * MEAN_MPA**2 / COUNTS) @ jacobian
    return found, np.sqrt(np.diag(bread @ meat @ bread))


@pytest.mark.parametrize("weighting", ["absolute", "relative"])
@pytest.mark.parametrize("curve", list(FORMULAS))
def test_parameters_and_errors_equal_scipy_to_four_digits(curve: str, weighting: str) -> None:
    parameters, errors = scipy_fit(curve, weighting)
    fit = fit_batch(means(), curve, weighting)  # type: ignore[arg-type]
    assert fit.fit.parameters == pytest.approx(parameters, rel=1e-5)
    assert fit.parameter_se == pytest.approx(errors, rel=1e-4)
    formula, _ = FORMULAS[curve]
    assert fit.departure == pytest.approx(MEAN_MPA / formula(MATURITY_H, *parameters) - 1, abs=1e-5)


def test_interpolating_curve_has_the_errors_of_its_means() -> None:
    fit = fit_batch(means(), "piecewise linear", "absolute")
    assert fit.parameter_se == pytest.approx(CV * MEAN_MPA / np.sqrt(COUNTS))
    assert fit.lack_of_fit is None
    assert not fit.fits_badly


def test_lack_of_fit_is_chi_square_where_weights_are_the_variances() -> None:
    # one scatter and one count: relative weights are 1 / variance, so that the classical statistic holds
    even = means(n_specimens=np.full(8, 3.0), cv=np.full(8, 0.04))
    parameters, _ = scipy_fit("logarithmic", "relative")
    residual = (MEAN_MPA - logarithmic(MATURITY_H, *parameters)) / (0.04 * MEAN_MPA / np.sqrt(3.0))
    expected = stats.chi2.sf(residual @ residual, 6)
    assert fit_batch(even, "logarithmic", "relative").lack_of_fit == pytest.approx(expected, rel=1e-6)


def test_lack_of_fit_is_right_as_often_as_it_says() -> None:
    # 2,000 batches on a straight line in log age, seed 21: 5 % +- 4 x .49 %, a false alarm in 1 of 16,000 runs
    rng = np.random.default_rng(21)
    truth = logarithmic(MATURITY_H, 5.0, 8.0)
    badly = 0
    for _ in range(2000):
        broken = truth * (1 + CV / np.sqrt(COUNTS) * rng.standard_normal(8))
        badly += fit_batch(means(mean_mpa=broken), "logarithmic", "absolute").fits_badly
    assert badly / 2000 == pytest.approx(0.05, abs=4 * np.sqrt(0.05 * 0.95 / 2000))


def test_a_wrong_curve_is_told() -> None:
    fit = fit_batch(means(mean_mpa=logarithmic(MATURITY_H, 5.0, 8.0), cv=np.full(8, 0.01)), "hyperbolic", "relative")
    assert fit.fits_badly


def test_a_parameter_on_its_bound_is_told() -> None:
    falling = np.array([30.0, 29.0, 28.0, 27.0])
    fit = fit_batch(
        means(age_h=MATURITY_H[:4], maturity_h=MATURITY_H[:4], mean_mpa=falling, n_specimens=COUNTS[:4], cv=CV[:4]),
        "hyperbolic",
        "absolute",
    )
    assert fit.is_at_bound
    assert not fit_batch(means(), "hyperbolic", "absolute").is_at_bound


def test_other_curves_read_the_same_maturities() -> None:
    names = ("hyperbolic", "exponential", "logarithmic", "piecewise linear")
    found = other_curves(means(), names, "relative", maturities_h=(7.5, 26.6), learnt={})  # type: ignore[arg-type]
    assert [item.curve for item in found] == list(names)
    for item in found[:3]:
        parameters, _ = scipy_fit(item.curve, "relative")
        formula, _ = FORMULAS[item.curve]
        departure = MEAN_MPA / formula(MATURITY_H, *parameters) - 1
        assert item.read_mpa == pytest.approx(formula(np.array([7.5, 26.6]), *parameters), rel=1e-5)
        assert item.rms_departure == pytest.approx(np.sqrt(np.mean(departure**2)), rel=1e-4)
    assert found[3].read_mpa == pytest.approx((19.4, 37.2))


def test_curves_that_need_more_ages_are_left_out() -> None:
    few = means(
        age_h=MATURITY_H[:2], maturity_h=MATURITY_H[:2], mean_mpa=MEAN_MPA[:2], n_specimens=COUNTS[:2], cv=CV[:2]
    )
    found = other_curves(few, ("hyperbolic", "logarithmic"), "absolute", maturities_h=(5.0,), learnt={})  # type: ignore[arg-type]
    assert [item.curve for item in found] == ["logarithmic"]


def test_a_curve_with_a_prior_wants_what_it_has_learnt() -> None:
    with pytest.raises(ValueError, match="fitted with what it has learnt from the earlier batches"):
        fit_batch(means(), "population prior", "absolute")
