"""Least-squares fits against certified and published answers."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares

from planner.curves import CURVES
from planner.regressor import StrengthMaturityRegressor
from tests.fitting.twin import fit_twin

# NIST StRD nonlinear regression, file Misra1d.dat, public domain.
MISRA_LOAD = np.array([77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0])
MISRA_VALUE = np.array(
    [10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78]
)
# Hald 1952, Statistical Theory with Engineering Applications, p. 451: tensile strength of cement [kg/cm2] by
# curing time [d]. (Another copy of the table has 28.8 for the second value at 3 d.)
HALD_DAY = np.repeat([1.0, 2.0, 3.0, 7.0, 28.0], [3, 3, 5, 5, 5])
HALD_STRENGTH = np.concatenate(
    [
        [13.0, 13.3, 11.8],
        [21.9, 24.5, 24.7],
        [29.8, 28.0, 24.1, 24.2, 26.2],
        [32.4, 30.4, 34.5, 33.1, 35.7],
        [41.8, 42.6, 40.3, 35.7, 37.3],
    ]
)
TIGHT = {"ftol": 1e-15, "xtol": 1e-15, "gtol": 1e-15, "x_scale": "jac"}


@pytest.mark.parametrize("start", [(500.0, 1e-4), (450.0, 3e-4)])
def test_misra1d_is_the_hyperbola_without_offset(start):
    # NIST StRD Misra1d, b1 b2 x / (1 + b2 x): certified b1 = Su, b2 = 1/h and residual sum of squares.
    curve = CURVES["hyperbolic"]

    def residuals(parameters):
        return curve.strength(MISRA_LOAD, [*parameters, 0.0]) - MISRA_VALUE

    def jacobian(parameters):
        return curve.derivative(MISRA_LOAD, [*parameters, 0.0])[:, :2]

    found = least_squares(residuals, [start[0], 1 / start[1]], jac=jacobian, **TIGHT)
    ultimate, half = found.x
    # Eight digits: the sum of squares is flat to rounding within the square root of rounding.
    np.testing.assert_allclose(ultimate, 4.3736970754e02, rtol=2e-8)
    np.testing.assert_allclose(1 / half, 3.0227324449e-04, rtol=2e-8)
    np.testing.assert_allclose(2 * found.cost, 5.6419295283e-02, rtol=1e-9)
    # Certified standard deviations of the parameters, by the same derivative; that of k = 1/h is sd(h)/h^2.
    covariance = np.linalg.inv(jacobian(found.x).T @ jacobian(found.x)) * 2 * found.cost / 12
    deviations = np.sqrt(np.diag(covariance)) / [1.0, half**2]
    np.testing.assert_allclose(deviations, [3.6489174345e00, 2.9334354479e-06], rtol=1e-6)
    # Derived from the certified fit: prediction and its standard error beyond the data.
    wanted = [760.0, 1000.0, 1500.0]
    slopes = curve.derivative(wanted, [*found.x, 0.0])[:, :2]
    np.testing.assert_allclose(curve.strength(wanted, [*found.x, 0.0]), [81.70583, 101.51876, 136.44310], atol=6e-6)
    errors = np.sqrt(np.einsum("ij,jk,ik->i", slopes, covariance, slopes))
    np.testing.assert_allclose(errors, [0.0475152, 0.0974095, 0.2318977], rtol=1e-5)


def test_an_offset_can_only_improve_on_misra1d():
    # The certified residual sum of squares without an offset is an upper bound of the one with it.
    fit = fit_twin("hyperbolic", MISRA_LOAD, MISRA_VALUE, weighting="absolute")
    assert fit.residual_ss <= 5.6419295283e-02
    np.testing.assert_allclose(fit.predict(MISRA_LOAD), MISRA_VALUE, atol=0.2)


@pytest.mark.parametrize(
    ("curve", "parameters", "residual_ss"),
    [
        # Fits derived by an independent solver from Hald's data; the half time is 1/k.
        ("hyperbolic", [41.1147, 1 / 0.704856, 0.333227], 92.8617),
        ("exponential", [42.0770, 1.17602, 0.845076], 91.4977),
    ],
)
def test_cement_of_1952(curve, parameters, residual_ss):
    fitted = StrengthMaturityRegressor(curve, counts_once="break").fit(HALD_DAY[:, None], HALD_STRENGTH)
    np.testing.assert_allclose(fitted.parameters_, parameters, rtol=3e-6)
    errors = fitted.predict(HALD_DAY[:, None]) - HALD_STRENGTH
    np.testing.assert_allclose(errors @ errors, residual_ss, rtol=1e-6)
    assert not fitted.is_at_bound_


def test_cement_of_1952_without_an_offset():
    # Derived by an independent solver: Su 42.2830, k 0.540199, residual sum of squares 105.162.
    curve = CURVES["hyperbolic"]
    found = least_squares(
        lambda parameters: curve.strength(HALD_DAY, [*parameters, 0.0]) - HALD_STRENGTH,
        [40.0, 2.0],
        jac=lambda parameters: curve.derivative(HALD_DAY, [*parameters, 0.0])[:, :2],
        **TIGHT,
    )
    np.testing.assert_allclose([found.x[0], 1 / found.x[1]], [42.2830, 0.540199], rtol=2e-6)
    np.testing.assert_allclose(2 * found.cost, 105.162, rtol=5e-6)


def test_lack_of_fit_of_the_cement_of_1952():
    # Derived: pure error 81.652 on 16 degrees of freedom, what means at each age leave; F 1.098 for the
    # hyperbola with an offset (five ages, three parameters).
    fitted = StrengthMaturityRegressor("piecewise linear").fit(HALD_DAY[:, None], HALD_STRENGTH)
    pure = float(np.sum((fitted.predict(HALD_DAY[:, None]) - HALD_STRENGTH) ** 2))
    np.testing.assert_allclose(pure, 81.652, rtol=1e-5)
    hyperbola = StrengthMaturityRegressor(counts_once="break").fit(HALD_DAY[:, None], HALD_STRENGTH)
    whole = float(np.sum((hyperbola.predict(HALD_DAY[:, None]) - HALD_STRENGTH) ** 2))
    np.testing.assert_allclose(((whole - pure) / 2) / (pure / 16), 1.098, atol=6e-4)
