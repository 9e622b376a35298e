"""The compiled kernels: against the slow twin, finite differences, exact formulas and numpy."""

from __future__ import annotations

import numpy as np
import pytest

from planner.curves import CURVES
from tests.fitting.kept_twin_fits import N_PROGRAMMES, fitted, kept_fits
from tests.fitting.one_fit import kernel_fit, programmes
from tests.fitting.twin import fit_twin

ITERATIVE = ("hyperbolic", "exponential")
KNOTS_H = np.array([6.0, 12.0, 24.0, 72.0, 168.0, 672.0])
MEANS_MPA = np.array([4.0, 11.0, 19.0, 31.0, 37.0, 42.0])
iterative = pytest.mark.parametrize("curve", ITERATIVE)
weightings = pytest.mark.parametrize("is_relative", [False, True])


def residual_ss_of(curve, maturity_h, mean_mpa, is_relative):
    """The kernel's own residual: its curve is read at the fitted ages themselves."""
    fit = kernel_fit(curve, maturity_h, mean_mpa, maturity_h, is_relative=is_relative)
    weight = mean_mpa**-2.0 if is_relative else np.ones_like(mean_mpa)
    return float(np.sum(weight * (fit.prediction - mean_mpa) ** 2))


def compared(curve, is_relative, fits):
    """Share of predictions within 1e-6 of the twin's, and by how much residuals are worse at most.

    Where the kernel leaves less than the twin, the twin missed the best fit and the two need not agree.
    """
    n_near, worst = 0, 0.0
    for twin in fits:
        kernel = kernel_fit(curve, twin.maturity_h, twin.mean_mpa, np.array([twin.read_h]), is_relative=is_relative)
        total = len(twin.mean_mpa) if is_relative else float(twin.mean_mpa @ twin.mean_mpa)
        worse = residual_ss_of(curve, twin.maturity_h, twin.mean_mpa, is_relative) - twin.residual_ss
        n_near += bool(abs(kernel.prediction[0] - twin.read_mpa) <= 1e-6 * twin.read_mpa) or worse < -1e-9 * total
        worst = max(worst, worse / total)
    return n_near / len(fits), worst


@iterative
@weightings
def test_predictions_are_those_of_the_slow_twin(curve, is_relative):
    # Fixed seed: no false alarm. Twenty programmes each; the test below has eight times as many.
    fits = [fitted(curve, *programme, is_relative=is_relative) for programme in programmes(20, seed=401)]
    share, worst = compared(curve, is_relative, fits)
    assert share >= 0.95
    assert worst <= 1e-9


@iterative
@weightings
def test_predictions_are_those_of_the_slow_twin_over_many_programmes(curve, is_relative):
    fits = kept_fits(curve, is_relative=is_relative)
    assert len(fits) == N_PROGRAMMES
    share, worst = compared(curve, is_relative, fits)
    assert share >= 0.99
    assert worst <= 1e-9


@iterative
@weightings
def test_kept_fits_are_the_twins_of_today(curve, is_relative):
    for kept in kept_fits(curve, is_relative=is_relative)[::40]:
        again = fitted(curve, kept.maturity_h, kept.mean_mpa, is_relative=is_relative)
        assert again.read_h == pytest.approx(kept.read_h, rel=1e-12)
        assert again.read_mpa == pytest.approx(kept.read_mpa, rel=1e-6)
        assert again.residual_ss == pytest.approx(kept.residual_ss, rel=1e-6, abs=1e-12)


@iterative
@weightings
@pytest.mark.parametrize(
    "mean_mpa",
    [
        [1.0, 2.0, 4.0, 15.0, 50.0, 400.0],  # convex: no ultimate strength in sight
        [40.0, 40.1, 39.9, 40.0, 40.1, 40.0],  # flat
        [0.1, 30.0, 31.0, 31.0, 31.0, 31.0],  # begins at its first age
        [42.0, 37.0, 31.0, 19.0, 11.0, 4.0],  # falls
        [5.0, 5.5, 30.0, 31.0, 30.5, 31.0],  # a step
    ],
)
def test_no_fit_at_a_bound_is_worse_than_the_twins(curve, is_relative, mean_mpa):
    means = np.array(mean_mpa)
    twin = fit_twin(curve, KNOTS_H, means, weighting="relative" if is_relative else "absolute")
    total = len(means) if is_relative else float(means @ means)
    assert residual_ss_of(curve, KNOTS_H, means, is_relative) <= twin.residual_ss + 1e-9 * total


@iterative
@weightings
def test_sensitivities_of_saturated_fits_are_finite_differences(curve, is_relative):
    maturity_h = KNOTS_H[[0, 2, 4]]
    exact = {"hyperbolic": [45.0, 30.0, 2.5], "exponential": [44.0, 21.0, 0.8]}[curve]
    mean_mpa = CURVES[curve].strength(maturity_h, exact)
    read_h = np.array([12.0, 72.0, 672.0])
    found = kernel_fit(curve, maturity_h, mean_mpa, read_h, is_relative=is_relative).sensitivity(mean_mpa)
    np.testing.assert_allclose(found, np.abs(differences(curve, maturity_h, mean_mpa, read_h, is_relative)), rtol=2e-5)


@iterative
@weightings
def test_sensitivities_with_small_residuals_are_near_finite_differences(curve, is_relative):
    # First order in the residuals, 1 % here: so near and no nearer.
    exact = {"hyperbolic": [45.0, 30.0, 2.5], "exponential": [44.0, 21.0, 0.8]}[curve]
    waves = 1.0 + 0.01 * np.array([1.0, -1.0, 0.5, -0.5, 1.0, -1.0])
    mean_mpa = CURVES[curve].strength(KNOTS_H, exact) * waves
    read_h = np.array([18.0])
    found = kernel_fit(curve, KNOTS_H, mean_mpa, read_h, is_relative=is_relative).sensitivity(mean_mpa)
    wanted = np.abs(differences(curve, KNOTS_H, mean_mpa, read_h, is_relative))
    np.testing.assert_allclose(found, wanted, atol=0.05 * wanted.max())


@pytest.mark.parametrize("curve", ["logarithmic", "piecewise linear", "piecewise linear in log age"])
def test_sensitivities_of_linear_smoothers_are_exact(curve):
    read_h = np.array([7.0, 30.0, 600.0])
    found = kernel_fit(curve, KNOTS_H, MEANS_MPA, read_h).sensitivity(MEANS_MPA)
    np.testing.assert_allclose(
        found, np.abs(differences(curve, KNOTS_H, MEANS_MPA, read_h, False)), rtol=1e-5, atol=1e-8
    )


def differences(curve, maturity_h, mean_mpa, read_h, is_relative):
    """Central differences of the prediction by each mean, (n_read, n_ages)."""
    columns = []
    for i in range(len(mean_mpa)):
        step = 1e-5 * mean_mpa[i]
        up, down = mean_mpa.copy(), mean_mpa.copy()
        up[i] += step
        down[i] -= step
        high = kernel_fit(curve, maturity_h, up, read_h, is_relative=is_relative).prediction
        low = kernel_fit(curve, maturity_h, down, read_h, is_relative=is_relative).prediction
        columns.append((high - low) / (2 * step))
    return np.array(columns).T


@weightings
@pytest.mark.parametrize("target_h", [16.0, 48.0, 500.0])
def test_three_ages_and_a_hyperbola_obey_the_cross_ratio(is_relative, target_h):
    # A hyperbola is a projective map: the cross-ratio of four ages is that of their strengths (derived).
    t1, t2, t3 = KNOTS_H[[0, 2, 4]]
    s1, s2, s3 = MEANS_MPA[[0, 2, 4]]
    k = (t1 - t3) * (t2 - target_h) * (s2 - s3) / ((t2 - t3) * (t1 - target_h) * (s1 - s3))
    wanted = (s2 - k * s1) / (1 - k)
    fit = kernel_fit(
        "hyperbolic", KNOTS_H[[0, 2, 4]], MEANS_MPA[[0, 2, 4]], np.array([target_h]), is_relative=is_relative
    )
    assert not fit.is_at_bound
    np.testing.assert_allclose(fit.prediction, [wanted], rtol=1e-9)


@weightings
def test_sensitivities_of_a_saturated_hyperbola_sum_to_one(is_relative):
    # Adding a constant to all strengths of a projective map adds it to every other, so sum a_i = 1: it holds
    # for three ages with the offset inside its bounds, and not for more ages or at a bound.
    maturity_h, mean_mpa = KNOTS_H[[0, 2, 4]], MEANS_MPA[[0, 2, 4]]
    slopes = differences("hyperbolic", maturity_h, mean_mpa, np.array([48.0]), is_relative)
    np.testing.assert_allclose(slopes.sum(), 1.0, rtol=1e-6)
    signs = np.sign(slopes[0])
    found = kernel_fit("hyperbolic", maturity_h, mean_mpa, np.array([48.0]), is_relative=is_relative)
    np.testing.assert_allclose((signs * found.sensitivity(mean_mpa)[0]).sum(), 1.0, rtol=1e-6)


@pytest.mark.parametrize(
    ("curve", "is_relative"),
    # Weights that move with the means are left out of the sensitivities of the weighted logarithm.
    [(c, r) for c in CURVES for r in (False, True) if (c, r) != ("logarithmic", True)],
)
def test_sensitivities_are_homogeneous(curve, is_relative):
    # Predictions scale with all means at once, so sum a_i mean_i is the prediction (Euler): where the fit is
    # exact, and for linear curves always.
    n = 3 if curve in ITERATIVE else 6
    maturity_h, mean_mpa = KNOTS_H[:n], np.array([10.0, 19.0, 25.0, 30.0, 33.0, 35.0])[:n]
    slopes = differences(curve, maturity_h, mean_mpa, np.array([18.0]), is_relative)
    fit = kernel_fit(curve, maturity_h, mean_mpa, np.array([18.0]), is_relative=is_relative)
    signed = np.sign(slopes[0]) * fit.sensitivity(mean_mpa)[0]
    np.testing.assert_allclose(signed @ mean_mpa, fit.prediction[0], rtol=1e-5)


@weightings
@pytest.mark.parametrize("curve", CURVES)
def test_units_of_strength_and_maturity_do_not_matter(curve, is_relative):
    read_h = np.array([10.0, 100.0])
    for maturity_h, mean_mpa in programmes(10, seed=403):
        fit = kernel_fit(curve, maturity_h, mean_mpa, read_h, is_relative=is_relative)
        doubled = kernel_fit(curve, maturity_h, 2.0 * mean_mpa, read_h, is_relative=is_relative)
        days = kernel_fit(curve, maturity_h / 24, mean_mpa, read_h / 24, is_relative=is_relative)
        np.testing.assert_allclose(doubled.prediction, 2.0 * fit.prediction, rtol=1e-12, atol=1e-14)
        np.testing.assert_array_equal(doubled.is_at_bound, fit.is_at_bound)
        np.testing.assert_allclose(days.prediction, fit.prediction, rtol=1e-5)


@pytest.mark.parametrize("read_h", [3.0, 6.0, 9.0, 24.0, 100.0, 672.0, 900.0])
def test_piecewise_weights_are_numpys(read_h):
    unit = np.eye(6)
    for curve, scale in (("piecewise linear", np.asarray), ("piecewise linear in log age", np.log)):
        fit = kernel_fit(curve, KNOTS_H, MEANS_MPA, np.array([read_h]))
        if KNOTS_H[0] <= read_h <= KNOTS_H[-1]:
            wanted = np.array([np.interp(scale(read_h), scale(KNOTS_H), row) for row in unit])
        else:  # the end segment goes on
            two = slice(0, 2) if read_h < KNOTS_H[0] else slice(4, 6)
            line = [np.polyfit(scale(KNOTS_H[two]), row[two], 1) for row in unit]
            wanted = np.array([np.polyval(coefficients, scale(read_h)) for coefficients in line])
        np.testing.assert_allclose(fit.prediction, [wanted @ MEANS_MPA], rtol=1e-10)
        np.testing.assert_allclose(fit.sensitivity(MEANS_MPA)[0], np.abs(wanted), atol=1e-12)


@weightings
@pytest.mark.parametrize("read_h", [3.0, 24.0, 900.0])
def test_logarithmic_weights_are_numpys(read_h, is_relative):
    weight = 1 / MEANS_MPA if is_relative else np.ones(6)
    wanted = np.array([np.polyval(np.polyfit(np.log(KNOTS_H), row, 1, w=weight), np.log(read_h)) for row in np.eye(6)])
    fit = kernel_fit("logarithmic", KNOTS_H, MEANS_MPA, np.array([read_h]), is_relative=is_relative)
    np.testing.assert_allclose(fit.prediction, [wanted @ MEANS_MPA], rtol=1e-10)
    np.testing.assert_allclose(fit.sensitivity(MEANS_MPA)[0], np.abs(wanted), rtol=1e-9, atol=1e-12)


def test_holes_and_too_few_ages_give_nan_and_no_noise():
    mean_mpa = MEANS_MPA.copy()
    mean_mpa[2] = np.nan
    assert np.isnan(kernel_fit("hyperbolic", KNOTS_H, mean_mpa, np.array([24.0])).prediction).all()
    short = kernel_fit("exponential", KNOTS_H[:2], MEANS_MPA[:2], np.array([24.0]))
    assert np.isnan(short.prediction).all()
    assert (short.contribution == 0).all()
