"""Curves against published laws of growth and reference libraries."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import invweibull

from planner.curves import CURVES
from tests.fitting.twin import fit_twin

DAY_H = 24.0


def european_growth(age_d, s):
    """EN 1992-1-1:2004 Eq. (3.2): share of the strength at 28 d."""
    return np.exp(s * (1 - np.sqrt(28 / np.asarray(age_d))))


@pytest.mark.parametrize(
    ("age_d", "share"),
    [(9, 0.8261668305), (10, 0.84507490), (27, 0.9954229681), (56, 1.0759707794), (365, 1.1981246270)],
)
def test_european_growth_is_the_exponential_curve_with_shape_one_half(age_d, share):
    # EN 1992-1-1:2004 Eq. (3.2), s = 0.25, is exp(s) exp(-(28 s^2 / t)^0.5): Su = exp(s), tau = 28 s^2.
    parameters = [np.exp(0.25), 28 * DAY_H * 0.25**2, 0.5]
    np.testing.assert_allclose(CURVES["exponential"].strength(age_d * DAY_H, parameters), share, rtol=1e-8)


@pytest.mark.parametrize(
    ("s", "shares"),
    [
        (0.20, [0.2734, 0.4239, 0.5779, 0.6630, 0.8187, 0.9205]),
        (0.25, [0.1977, 0.3420, 0.5039, 0.5982, 0.7788, 0.9016]),
        (0.38, [0.0851, 0.1958, 0.3528, 0.4580, 0.6839, 0.8544]),
    ],
)
def test_the_exponential_fit_finds_european_growth(s, shares):
    # Shares derived from Eq. (3.2) at 0.5, 1, 2, 3, 7, 14 d; read back by a curve fitted at other ages.
    ages_d = np.array([0.4, 1.5, 4.0, 10.0, 28.0])
    fit = fit_twin("exponential", ages_d * DAY_H, european_growth(ages_d, s), weighting="relative")
    np.testing.assert_allclose(fit.parameters, [np.exp(s), 28 * DAY_H * s**2, 0.5], rtol=1e-7)
    np.testing.assert_allclose(fit.predict(np.array([0.5, 1, 2, 3, 7, 14]) * DAY_H), shares, atol=6e-5)


@pytest.mark.parametrize(
    ("a_d", "b"),
    [(4.0, 0.85), (2.3, 0.92), (1.0, 0.95), (0.70, 0.98)],
    ids=["I", "III", "steam I", "steam III"],
)
def test_american_growth_is_the_hyperbola_without_offset(a_d, b):
    # ACI 209R-92: f(t)/f28 = t/(a + b t), so Su = 1/b, half time a/b.
    ages_d = np.array([1.0, 3.0, 7.0, 28.0, 91.0])
    shares = ages_d / (a_d + b * ages_d)
    parameters = [1 / b, a_d / b * DAY_H, 0.0]
    np.testing.assert_allclose(CURVES["hyperbolic"].strength(ages_d * DAY_H, parameters), shares, rtol=1e-13)
    fit = fit_twin("hyperbolic", ages_d * DAY_H, shares, weighting="absolute")
    np.testing.assert_allclose(fit.parameters[:2], parameters[:2], rtol=1e-8)
    assert abs(fit.parameters[2]) < 1e-6


def test_american_growth_table():
    # ACI 209R-92, moist-cured, Type I; third decimals derived, two decimals of the printed table from memory.
    ages_h = np.array([3, 7, 14, 28, 56, 91]) * DAY_H
    shares = CURVES["hyperbolic"].strength(ages_h, [1 / 0.85, 4.0 / 0.85 * DAY_H, 0.0])
    np.testing.assert_allclose(shares, [0.458, 0.704, 0.881, 1.007, 1.085, 1.119], atol=6e-4)


def test_exponential_is_the_frechet_distribution():
    # Outside value: scipy.stats.invweibull.
    ages_h = np.array([0.5, 3.0, 12.0, 24.0, 168.0, 672.0, 5000.0])
    for tau_h, shape in [(20.0, 0.8), (6.0, 0.4), (30.0, 2.5)]:
        reference = 45.0 * invweibull.cdf(ages_h, shape, scale=tau_h)
        np.testing.assert_allclose(
            CURVES["exponential"].strength(ages_h, [45.0, tau_h, shape]), reference, rtol=1e-12, atol=1e-300
        )
        slope = 45.0 * invweibull.pdf(ages_h, shape, scale=tau_h)
        np.testing.assert_allclose(
            CURVES["exponential"].growth_rate(ages_h, [45.0, tau_h, shape]), slope, rtol=1e-11, atol=1e-300
        )


def test_three_ages_and_the_hyperbola_keep_the_cross_ratio():
    # Derived: a hyperbola is a fractional linear map, which keeps the cross-ratio of four points.
    t1, t2, t3, wanted = 12.0, 48.0, 300.0, 120.0
    s1, s2, s3 = 8.0, 24.0, 38.0
    ratio = (t1 - t3) * (t2 - wanted) * (s2 - s3) / ((t2 - t3) * (t1 - wanted) * (s1 - s3))
    by_hand = (s2 - ratio * s1) / (1 - ratio)
    fit = fit_twin("hyperbolic", [t1, t2, t3], [s1, s2, s3], weighting="absolute")
    assert not fit.is_at_bound
    np.testing.assert_allclose(fit.predict(wanted), by_hand, rtol=1e-9)


def test_a_hyperbola_follows_the_ultra_high_performance_law_within_three_percent():
    # FHWA-HRT-06-103, untreated mix of one programme (from memory): f28 (1 - exp(-((t - 0.9)/3)^0.6)),
    # t in days, zero before 0.9 d; at 28 d it stands at 0.976 of f28. From 1.5 d to 28 d a hyperbola follows
    # it, with an offset on the same side as the law's dead time and without help from the bounds.
    ages_d = np.array([1.5, 2.0, 3.0, 5.0, 7.0, 14.0, 28.0])
    law = 150.0 * (1 - np.exp(-(((ages_d - 0.9) / 3) ** 0.6)))
    np.testing.assert_allclose(law[-1] / 150.0, 0.9765, atol=6e-4)
    fit = fit_twin("hyperbolic", ages_d * DAY_H, law, weighting="absolute")
    assert not fit.is_at_bound
    assert 0 < fit.parameters[2] < 1.5 * DAY_H
    assert np.max(np.abs(fit.predict(ages_d * DAY_H) - law)) < 0.03 * 150.0
