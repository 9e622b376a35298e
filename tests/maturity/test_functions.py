"""The two maturity functions where their answers are known by hand."""

from __future__ import annotations

import numpy as np
import pytest

from planner.maturity import arrhenius_factor, equivalent_age, temperature_time_factor


def test_temperature_time_adds_interval_means():
    # (20+30)/2 + 10 = 35 over 2 h, then (30+10)/2 + 10 = 30 over 3 h.
    factor = temperature_time_factor(np.array([1.0, 3.0, 6.0]), np.array([20.0, 30.0, 10.0]), datum_c=-10.0)
    np.testing.assert_allclose(factor, [0.0, 70.0, 160.0])


def test_an_interval_below_the_datum_adds_nothing_and_takes_nothing():
    factor = temperature_time_factor(np.array([0.0, 2.0, 4.0, 6.0]), np.array([10.0, -10.0, -10.0, 20.0]), datum_c=0.0)
    np.testing.assert_allclose(factor, [0.0, 0.0, 0.0, 10.0])


def test_equivalent_age_adds_intervals_at_their_mean_temperature():
    age_h = equivalent_age(np.array([0.0, 2.0, 5.0]), np.array([10.0, 30.0, 30.0]), q_k=5000.0, reference_c=20.0)
    np.testing.assert_allclose(age_h, [0.0, 2.0, 2.0 + 3 * arrhenius_factor(30.0, q_k=5000.0, reference_c=20.0)])


def test_no_activation_energy_is_plain_time():
    age_h = equivalent_age(np.array([1.0, 2.0, 7.0]), np.array([5.0, 60.0, 30.0]), q_k=0.0, reference_c=20.0)
    np.testing.assert_allclose(age_h, [0.0, 1.0, 6.0])


@pytest.mark.parametrize("q_k", [-1.0, np.nan, np.inf])
def test_activation_energy_must_make_sense(q_k):
    with pytest.raises(ValueError, match="Q must be finite and not below 0 K"):
        equivalent_age(np.array([0.0, 1.0]), np.array([20.0, 20.0]), q_k=q_k, reference_c=20.0)


def test_constants_must_be_temperatures():
    with pytest.raises(ValueError, match="datum temperature must be finite"):
        temperature_time_factor(np.array([0.0, 1.0]), np.array([20.0, 20.0]), datum_c=np.nan)
    with pytest.raises(ValueError, match=r"above -273\.15 C"):
        equivalent_age(np.array([0.0, 1.0]), np.array([20.0, 20.0]), q_k=5000.0, reference_c=-273.15)
