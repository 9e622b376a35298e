"""Ratio and power law against worked examples and other libraries."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
import statsmodels.api as sm

from planner.conversion.regression import fit_line
from tests.conversion.invented_pairs import drawn, pairs

with warnings.catch_warnings():
    warnings.simplefilter("ignore", DeprecationWarning)  # scipy hands ODRPACK on to a package of its own
    from scipy import odr

CUBES, CYLINDERS = [10.0, 20.0, 30.0, 40.0], [7.6, 16.2, 24.9, 33.6]
NONE, ONES = [0.0] * 4, [1.0] * 4


def test_ratio_of_the_worked_example() -> None:
    # Sum x y / sum x^2 = 2491 / 3000, by hand; equal scatter in MPa.
    line = fit_line(pairs(CUBES, CYLINDERS, sd_x=NONE, sd_y=ONES, batch="abcd"), "ratio", between=0.0)
    assert line.factor == pytest.approx(2491.0 / 3000.0, rel=1e-9)
    # standard error of a slope through the origin with unit scatter: 1 / sqrt(sum x^2)
    assert line.factor * np.sqrt(line.covariance[0, 0]) == pytest.approx(1.0 / np.sqrt(3000.0), rel=1e-9)
    assert float(line.convert(10.0)) / 7.6 - 1.0 == pytest.approx(0.0925, abs=0.0005)  # over-reads by 9.3 %


def test_power_law_of_the_worked_example() -> None:
    # Straight line through the logarithms, each alike: 0.644852 C^1.073383, at 15 MPa 11.7993 (derived by hand).
    line = fit_line(pairs(CUBES, CYLINDERS, sd_x=NONE, sd_y=CYLINDERS, batch="abcd"), "power law", between=0.0)
    assert line.factor == pytest.approx(0.644852, abs=5e-7)
    assert line.exponent == pytest.approx(1.073383, abs=5e-7)
    assert float(line.convert(15.0)) == pytest.approx(11.7993, abs=5e-5)
    assert float(line.back(line.convert(15.0))) == pytest.approx(15.0, rel=1e-12)


def test_errors_in_both_agree_with_orthogonal_distance_regression() -> None:
    # scipy.odr (ODRPACK), a library of its own; seed 3.
    found = drawn(3, n_batches=25, levels=[12.0, 30.0, 55.0], factor=0.85, between=0.0, cv=0.04)
    x, y, sx, sy = found.from_mpa, found.to_mpa, found.from_sd_mpa, found.to_sd_mpa
    wanted = odr.ODR(odr.RealData(x, y, sx=sx, sy=sy), odr.Model(lambda b, at: b[0] * at), beta0=[0.8]).run()
    line = fit_line(found, "ratio", between=0.0)
    assert line.factor == pytest.approx(wanted.beta[0], rel=1e-7)
    assert line.factor * np.sqrt(line.covariance[0, 0]) == pytest.approx(np.sqrt(wanted.cov_beta[0, 0]), rel=0.01)
    data = odr.RealData(np.log(x), np.log(y), sx=sx / x, sy=sy / y)
    wanted = odr.ODR(data, odr.Model(lambda b, at: b[0] + b[1] * at), beta0=[-0.2, 1.0]).run()
    line = fit_line(found, "power law", between=0.0)
    assert [np.log(line.factor), line.exponent] == pytest.approx(list(wanted.beta), rel=1e-5, abs=1e-7)
    assert np.sqrt(np.diag(line.covariance)) == pytest.approx(np.sqrt(np.diag(wanted.cov_beta)), rel=0.01)


def test_batches_as_clusters_agree_with_generalised_least_squares() -> None:
    # statsmodels GLS with the covariance written down whole; only cylinders scatter, so the line moves no variance.
    found = drawn(5, n_batches=6, levels=[12.0, 20.0, 40.0], factor=0.7, exponent=1.05, between=0.05, cv=0.03)
    found = pairs(found.from_mpa, found.to_mpa, sd_x=[0.0] * 18, sd_y=found.to_sd_mpa, batch="aaabbbcccdddeeefff")
    same = np.array([[a == b for b in found.batch] for a in found.batch])
    whole = np.diag((found.to_sd_mpa / found.to_mpa) ** 2) + 0.04**2 * same
    wanted = sm.GLS(np.log(found.to_mpa), sm.add_constant(np.log(found.from_mpa)), sigma=whole).fit()
    line = fit_line(found, "power law", between=0.04)
    assert [np.log(line.factor), line.exponent] == pytest.approx(list(wanted.params), rel=1e-6)
    assert line.covariance == pytest.approx(np.asarray(wanted.normalized_cov_params), rel=1e-6)


@pytest.mark.filterwarnings("ignore:.*boundary")
def test_spread_between_batches_agrees_with_a_mixed_model() -> None:
    # statsmodels MixedLM by restricted likelihood; its residual variance is put in as the scatter of the cylinders.
    found = drawn(8, n_batches=12, levels=[12.0, 20.0, 33.0, 50.0], factor=0.8, between=0.05, cv=0.02)
    model = sm.MixedLM(np.log(found.to_mpa), sm.add_constant(np.log(found.from_mpa)), groups=list(found.batch)).fit()
    sd = np.sqrt(model.scale) * found.to_mpa
    same = pairs(
        found.from_mpa, found.to_mpa, sd_x=[0.0] * 48, sd_y=sd, batch="".join("abcdefghijkl"[i] * 4 for i in range(12))
    )
    line = fit_line(same, "power law")
    assert line.between**2 == pytest.approx(float(np.asarray(model.cov_re)[0, 0]), rel=0.01)
    assert line.exponent == pytest.approx(model.params[1], rel=1e-4)


def test_spread_between_batches_is_found_again() -> None:
    # 60 batches, seed 9: the sd of an sd from 59 degrees is 9 %; 25 % is nearly 3 of them.
    found = drawn(9, n_batches=60, levels=[15.0, 30.0, 60.0], factor=0.85, between=0.04, cv=0.02)
    line = fit_line(found, "ratio")
    assert line.between == pytest.approx(0.04, rel=0.25)
    assert line.factor == pytest.approx(0.85, rel=4 * 0.04 / np.sqrt(60))
    none = fit_line(drawn(9, n_batches=60, levels=[15.0, 30.0, 60.0], factor=1.0, between=0.04, cv=0.02), "none")
    assert (none.factor, none.exponent) == (1.0, 1.0)
    assert none.between == pytest.approx(0.04, rel=0.25)


def test_variance_of_a_new_batch_by_hand() -> None:
    line = fit_line(pairs(CUBES, CYLINDERS, sd_x=NONE, sd_y=CYLINDERS, batch="abcd"), "power law", between=0.0)
    (aa, ab), (_, bb) = line.covariance
    log = np.log(15.0)
    assert float(line.variance(15.0)) == pytest.approx(aa + 2 * ab * log + bb * log**2, rel=1e-12)
