"""Maturity against values printed elsewhere, or derived from printed ones."""

from __future__ import annotations

import numpy as np
import pytest

from planner.maturity import arrhenius_factor, equivalent_age, maturity_at, temperature_time_factor
from planner.terms.maturity import MaturitySetting

GAS_CONSTANT = 8.314  # J/(mol K)


def steps(durations_h, temperatures_c):
    """Return a record of constant temperatures with jumps of a millionth of a second between them."""
    ends_h = np.cumsum(durations_h)
    begins_h = np.concatenate(([0.0], ends_h[:-1] + 3e-10))
    return np.column_stack([begins_h, ends_h]).ravel(), np.repeat(np.asarray(temperatures_c, dtype=float), 2)


def european_factor(temperature_c):
    """EN 1992-1-1:2004 Eq. (B.10), with its 273: our function at Q 4000 K, shifted by 0.15 K and rescaled."""
    reference_c = 4000.0 / 13.65 - 273.0  # where exp(13.65 - 4000/(273 + T)) is 1
    return arrhenius_factor(np.asarray(temperature_c) - 0.15, q_k=4000.0, reference_c=reference_c - 0.15)


@pytest.mark.parametrize(
    ("temperatures_c", "durations_d", "age_d", "tolerance"),
    [
        ([19, 20, 20, 21, 22, 23], [1, 2, 1, 1, 1, 2], 8.37986781, 1e-8),
        ([20, 25], [7, 7], 15.7723, 4e-6),
    ],
)
def test_effective_age_of_the_european_code(temperatures_c, durations_d, age_d, tolerance):
    # EN 1992-1-1:2004 Eq. (B.10) and fib Model Code 2010 Eq. (5.1-85), worked examples.
    elapsed_h, temperature_c = steps(24.0 * np.array(durations_d), temperatures_c)
    reference_c = 4000.0 / 13.65 - 273.0
    age_h = equivalent_age(elapsed_h, temperature_c - 0.15, q_k=4000.0, reference_c=reference_c - 0.15)
    np.testing.assert_allclose(age_h[-1] / 24, age_d, rtol=tolerance)


def test_factor_of_the_european_code_is_not_one_at_20_degrees():
    # Derived from EN 1992-1-1:2004 Eq. (B.10).
    np.testing.assert_allclose(
        european_factor([20.0, 0.0, 10.0, 30.0, 40.0]),
        [0.9981246, 0.367139, 0.616143, 1.566243, 2.387979],
        rtol=2e-6,
    )


def test_factors_at_38_kilojoule():
    # Bentz and Garboczi, NIST: 0.585 at 15 C and 1.65 at 35 C against 25 C, E = 38.2 kJ/mol.
    factors = arrhenius_factor(np.array([15.0, 35.0]), q_k=38_200 / GAS_CONSTANT, reference_c=25.0)
    np.testing.assert_allclose(factors, [0.585, 1.65], atol=0.0015)


def test_rate_at_40_degrees_at_45_kilojoule():
    # Bentz, NIST 2005: about 3.3 times the rate at 20 C, E = 45.5 kJ/mol.
    factor = arrhenius_factor(40.0, q_k=45_500 / GAS_CONSTANT, reference_c=20.0)
    np.testing.assert_allclose(factor, 3.3, atol=0.05)


def test_a_day_cool_and_a_day_warm():
    # Derived from the 38.2 kJ/mol above: 24 h at 15 C, then 24 h at 35 C are 53.63 h at 25 C.
    elapsed_h, temperature_c = steps([24.0, 24.0], [15.0, 35.0])
    age_h = equivalent_age(elapsed_h, temperature_c, q_k=38_200 / GAS_CONSTANT, reference_c=25.0)
    np.testing.assert_allclose(age_h[-1], 53.63, atol=0.005)


def test_factors_at_5000_kelvin():
    # Q of ASTM C1074's customary 5000 K from memory, the factors derived from it with 273.15.
    factors = arrhenius_factor(np.array([0.0, 10.0, 20.0, 23.0, 30.0, 40.0]), q_k=5000.0, reference_c=20.0)
    np.testing.assert_allclose(factors, [0.2868, 0.5475, 1.0, 1.1886, 1.7553, 2.9723], atol=5e-5)


@pytest.mark.parametrize(
    ("temperature_c", "q_k", "factor"), [(60.0, 4000.0, 5.1), (60.0, 5000.0, 7.8), (60.0, 6000.0, 11.7)]
)
def test_under_heat_the_choice_of_q_is_the_answer(temperature_c, q_k, factor):
    # Derived.
    np.testing.assert_allclose(arrhenius_factor(temperature_c, q_k=q_k, reference_c=20.0), factor, atol=0.06)


def test_temperature_time_of_four_weeks():
    # A teaching site's worked example: 28 d at 15 C, datum -11 C, 728 C d.
    factor = temperature_time_factor(np.array([0.0, 672.0]), np.array([15.0, 15.0]), datum_c=-11.0)
    np.testing.assert_allclose(factor[-1] / 24, 728.0, rtol=1e-14)


def test_a_week_of_warm_days_and_cool_nights():
    # Shetty, Concrete Technology, worked example (from memory, arithmetic recomputed): 7 d of 12 h at 20 C
    # and 12 h at 10 C above -11 C are 4368 C h; 32 + 54 log10(4.368) = 66.6 % of 40 MPa = 26.6 MPa.
    elapsed_h, temperature_c = steps(np.full(14, 12.0), np.tile([20.0, 10.0], 7))
    factor = temperature_time_factor(elapsed_h, temperature_c, datum_c=-11.0)[-1]
    np.testing.assert_allclose(factor, 4368.0, rtol=1e-9)
    np.testing.assert_allclose((32 + 54 * np.log10(factor / 1000)) / 100 * 40, 26.6, atol=0.05)


def test_a_fortnight_in_the_cold():
    # The same source (from memory): 15 d at 5 C are 5760 C h.
    factor = temperature_time_factor(np.array([0.0, 360.0]), np.array([5.0, 5.0]), datum_c=-11.0)
    np.testing.assert_allclose(factor[-1], 5760.0, rtol=1e-14)


@pytest.mark.parametrize(("energy", "datum_c"), [(33_500, -1.3), (41_500, 2.8), (45_000, 4.1)])
def test_datum_that_is_tangent_to_the_rate_at_the_reference(energy, datum_c):
    # Derived: where the temperature-time rate has the slope of the Arrhenius rate at 20 C.
    q_k, step_c = energy / GAS_CONSTANT, 1e-4
    around = arrhenius_factor(np.array([20.0 - step_c, 20.0 + step_c]), q_k=q_k, reference_c=20.0)
    slope = (around[1] - around[0]) / (2 * step_c)
    np.testing.assert_allclose(20.0 - 1 / slope, datum_c, atol=0.06)


def test_a_datum_of_minus_ten_credits_cold_concrete():
    # Derived: at 5 C 0.50 of the rate at 20 C, against 0.40 at 5000 K.
    ages_h, record = np.array([10.0]), (np.array([0.0, 10.0]), np.array([5.0, 5.0]))
    by_datum = maturity_at(ages_h, *record, MaturitySetting("temperature-time", -10.0), continued_c=None)
    by_energy = maturity_at(ages_h, *record, MaturitySetting("equivalent age", 5000.0), continued_c=None)
    np.testing.assert_allclose([by_datum[0] / 10, by_energy[0] / 10], [0.50, 0.40], atol=0.005)


def test_twelve_hours_on_a_cold_and_on_a_hot_site():
    # Derived: 12 h at 12 C or 35 C are 7.4 or 27.5 h at 20 C with Q 5000 K.
    setting = MaturitySetting("equivalent age", 5000.0)
    record = np.array([0.0, 12.0])
    cold = maturity_at(np.array([12.0]), record, np.array([12.0, 12.0]), setting, continued_c=None)
    hot = maturity_at(np.array([12.0]), record, np.array([35.0, 35.0]), setting, continued_c=None)
    np.testing.assert_allclose([cold[0], hot[0]], [7.4, 27.5], atol=0.06)
