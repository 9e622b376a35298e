"""The clock: maturity at any age from a temperature record, by every method."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.maturity import (
    arrhenius_factor,
    constant_maturity,
    equivalent_age,
    maturities_at,
    maturity_at,
    temperature_time_factor,
)
from planner.terms.maturity import MaturitySetting

EQUIVALENT = MaturitySetting("equivalent age", 5000.0)
TEMPERATURE_TIME = MaturitySetting("temperature-time", -10.0)
AGE = MaturitySetting("age")
every_method = pytest.mark.parametrize("setting", [EQUIVALENT, TEMPERATURE_TIME, AGE], ids=str)

ELAPSED_H = np.array([0.0, 2.0, 5.0, 12.0, 30.0])
TEMPERATURE_C = np.array([18.0, 25.0, 41.0, 30.0, 22.0])


@every_method
def test_at_the_reference_temperature_an_hour_is_an_hour(setting):
    ages_h = np.array([0.0, 0.5, 7.0, 28 * 24.0])
    np.testing.assert_allclose(constant_maturity(ages_h, 20.0, setting), ages_h, rtol=1e-14)
    read_h = maturity_at(ages_h, np.array([1.0, 9.0]), np.array([20.0, 20.0]), setting, continued_c=20.0)
    np.testing.assert_allclose(read_h, ages_h, rtol=1e-14)


def test_readings_carry_the_accumulated_factors():
    factor = temperature_time_factor(ELAPSED_H, TEMPERATURE_C, datum_c=-10.0)
    read_h = maturity_at(ELAPSED_H, ELAPSED_H, TEMPERATURE_C, TEMPERATURE_TIME, continued_c=None)
    np.testing.assert_allclose(read_h, factor / 30.0, rtol=1e-14)
    age_h = equivalent_age(ELAPSED_H, TEMPERATURE_C, q_k=5000.0, reference_c=20.0)
    read_h = maturity_at(ELAPSED_H, ELAPSED_H, TEMPERATURE_C, EQUIVALENT, continued_c=None)
    np.testing.assert_allclose(read_h, age_h, rtol=1e-14)


def test_between_readings_the_mean_up_to_the_age_counts():
    # 18 to 25 C within 2 h: 21.5 C at 1 h, mean 19.75 C, 29.75 C h above -10 C, over 30.
    read_h = maturity_at(np.array([1.0]), ELAPSED_H, TEMPERATURE_C, TEMPERATURE_TIME, continued_c=None)
    np.testing.assert_allclose(read_h, 29.75 / 30.0, rtol=1e-14)
    read_h = maturity_at(np.array([1.0]), ELAPSED_H, TEMPERATURE_C, EQUIVALENT, continued_c=None)
    np.testing.assert_allclose(read_h, arrhenius_factor(19.75, q_k=5000.0, reference_c=20.0), rtol=1e-14)


def test_before_the_first_reading_the_first_temperature_is_held():
    # 3 h at 14 C, then 14 to 20 C within 2 h: (3 * 24 + 2 * 27) C h above -10 C, over 30.
    late = (np.array([3.0, 5.0]), np.array([14.0, 20.0]))
    read_h = maturity_at(np.array([1.5, 3.0, 5.0]), *late, TEMPERATURE_TIME, continued_c=None)
    np.testing.assert_allclose(read_h, [36.0 / 30.0, 72.0 / 30.0, 126.0 / 30.0], rtol=1e-14)


def test_after_the_last_reading_the_given_temperature_goes_on():
    end_h = maturity_at(np.array([30.0]), ELAPSED_H, TEMPERATURE_C, TEMPERATURE_TIME, continued_c=5.0)
    read_h = maturity_at(np.array([30.0, 40.0]), ELAPSED_H, TEMPERATURE_C, TEMPERATURE_TIME, continued_c=5.0)
    np.testing.assert_allclose(read_h - end_h, [0.0, 10 * 15.0 / 30.0], rtol=1e-13)


@pytest.mark.parametrize("setting", [EQUIVALENT, TEMPERATURE_TIME], ids=str)
def test_an_age_beyond_the_record_needs_a_temperature(setting):
    ages_h = np.array([72.0, 24.0, 48.0])
    with pytest.raises(ValueError, match=r"ends at 30 h, but maturity is wanted at 48 h, 72 h"):
        maturity_at(ages_h, ELAPSED_H, TEMPERATURE_C, setting, continued_c=None)


def test_with_age_as_the_clock_no_temperature_matters():
    ages_h = np.array([72.0, 24.0])
    np.testing.assert_array_equal(maturity_at(ages_h, ELAPSED_H, TEMPERATURE_C, AGE, continued_c=None), ages_h)
    np.testing.assert_array_equal(constant_maturity(ages_h, 3.0, AGE), ages_h)


def test_one_reading_is_a_record():
    read_h = maturity_at(np.array([0.0, 6.0]), np.array([0.0]), np.array([5.0]), TEMPERATURE_TIME, continued_c=5.0)
    np.testing.assert_allclose(read_h, [0.0, 3.0], rtol=1e-14)


def test_any_shape_and_order_of_ages():
    ages_h = np.array([[29.0, 3.0], [11.0, 0.0]])
    table = maturity_at(ages_h, ELAPSED_H, TEMPERATURE_C, EQUIVALENT, continued_c=None)
    assert table.shape == (2, 2)
    for place in np.ndindex(2, 2):
        single = maturity_at(ages_h[place], ELAPSED_H, TEMPERATURE_C, EQUIVALENT, continued_c=None)
        assert table[place] == single


def test_a_steep_fall_of_temperature_never_takes_maturity_away():
    # From 60 C to -40 C between two readings the mean up to an age adds less the longer it runs.
    ages_h = np.linspace(0.0, 10.0, 201)
    for setting in (EQUIVALENT, TEMPERATURE_TIME):
        read_h = maturity_at(ages_h, np.array([0.0, 10.0]), np.array([60.0, -40.0]), setting, continued_c=None)
        assert np.all(np.diff(read_h) >= 0)
    whole = equivalent_age(np.array([0.0, 10.0]), np.array([60.0, -40.0]), q_k=5000.0, reference_c=20.0)
    read_h = maturity_at(np.array([10.0]), np.array([0.0, 10.0]), np.array([60.0, -40.0]), EQUIVALENT, continued_c=None)
    np.testing.assert_allclose(read_h, whole[-1:], rtol=1e-14)


readings = st.lists(st.tuples(st.floats(0.01, 50.0), st.floats(-30.0, 90.0)), min_size=1, max_size=8).map(
    lambda pairs: (np.cumsum([gap for gap, _ in pairs]), np.array([warmth for _, warmth in pairs]))
)
settings_of_every_method = st.one_of(
    st.floats(500.0, 9000.0).map(lambda q_k: MaturitySetting("equivalent age", q_k)),
    st.floats(-15.0, 15.0).map(lambda datum_c: MaturitySetting("temperature-time", datum_c)),
    st.just(AGE),
)


@given(readings, settings_of_every_method, st.floats(-30.0, 90.0))
def test_maturity_starts_at_zero_and_never_falls(record, setting, continued_c):
    elapsed_h, temperature_c = record
    ages_h = np.union1d(np.linspace(0.0, 1.3 * elapsed_h[-1], 60), elapsed_h)
    read_h = maturity_at(ages_h, elapsed_h, temperature_c, setting, continued_c=continued_c)
    assert read_h[0] == 0.0
    # Rounding of the accumulated sum, not more.
    assert np.all(np.diff(read_h) >= -1e-12 * read_h[-1])


@given(st.floats(-20.0, 80.0), settings_of_every_method)
def test_a_constant_record_is_constant_curing(temperature_c, setting):
    ages_h = np.array([0.5, 6.0, 24.0, 100.0])
    record = (np.array([2.0, 7.0, 30.0]), np.full(3, temperature_c))
    np.testing.assert_allclose(
        maturity_at(ages_h, *record, setting, continued_c=temperature_c),
        constant_maturity(ages_h, temperature_c, setting),
        rtol=1e-12,
    )


@given(st.floats(-15.0, 15.0))
def test_more_readings_of_the_same_line_agree_where_all_lies_above_the_datum(datum_c):
    setting = MaturitySetting("temperature-time", datum_c)
    coarse = (np.array([0.0, 20.0]), np.array([20.0, 60.0]))
    fine = (np.linspace(0.0, 20.0, 41), np.linspace(20.0, 60.0, 41))
    ages_h = np.linspace(0.0, 20.0, 17)
    np.testing.assert_allclose(
        maturity_at(ages_h, *coarse, setting, continued_c=None),
        maturity_at(ages_h, *fine, setting, continued_c=None),
        rtol=1e-12,
    )


@pytest.mark.parametrize(
    ("ages_h", "elapsed_h", "temperature_c", "message"),
    [
        ([1.0], [0.0, 2.0], [20.0], "one temperature for each reading time"),
        ([1.0], [], [], "at least one reading"),
        ([1.0], [0.0, 2.0, 2.0, 1.0], [20.0] * 4, "must rise, but 2 h follows 2 h, 1 h follows 2 h"),
        ([1.0], [0.0, np.nan], [20.0, 20.0], "Reading times must be finite, given nan"),
        ([1.0], [-1.0, 2.0], [20.0, 20.0], "count from age zero, given -1 h"),
        ([1.0], [0.0, 2.0], [20.0, np.inf], "Temperatures must be finite and above -273.15 C, given inf"),
        ([1.0], [0.0, 2.0], [20.0, -300.0], "given -300"),
        ([1.0, -2.0], [0.0, 2.0], [20.0, 20.0], "not below 0 h, given -2"),
        ([np.nan], [0.0, 2.0], [20.0, 20.0], "Ages must be finite"),
    ],
)
@every_method
def test_refuses_records_it_cannot_read(ages_h, elapsed_h, temperature_c, message, setting):
    with pytest.raises(ValueError, match=message):
        maturity_at(np.array(ages_h), np.array(elapsed_h), np.array(temperature_c), setting, continued_c=20.0)


@pytest.mark.parametrize("setting", [EQUIVALENT, TEMPERATURE_TIME], ids=str)
def test_constant_curing_needs_a_temperature(setting):
    with pytest.raises(ValueError, match="must be finite"):
        constant_maturity(np.array([1.0]), np.nan, setting)
    with pytest.raises(ValueError, match="not below 0 h"):
        constant_maturity(np.array([-1.0]), 20.0, setting)


@pytest.mark.parametrize("continued_c", [None, 5.0])
def test_several_settings_at_once_are_each_alone(continued_c: float | None) -> None:
    """To the last bit: records are looked up once for all constants."""
    ages_h = np.array([0.0, 1.5, 3.1, 7.0]) if continued_c is None else np.array([0.0, 3.1, 30.7])
    settings = (EQUIVALENT, TEMPERATURE_TIME, AGE, MaturitySetting("equivalent age", 3000.0))
    found = maturities_at(ages_h, ELAPSED_H, TEMPERATURE_C, settings, continued_c=continued_c)
    for setting, one in zip(settings, found, strict=True):
        alone = maturity_at(ages_h, ELAPSED_H, TEMPERATURE_C, setting, continued_c=continued_c)
        np.testing.assert_array_equal(one, alone)


def test_age_is_age_with_no_sum_of_intervals_in_its_last_digits() -> None:
    elapsed_h, ages_h = np.array([0.0, 1.7, 4.5, 9.8]), np.array([3.9, 8.45])
    assert 1.7 + (3.9 - 1.7) > 3.9
    found = maturities_at(ages_h, elapsed_h, elapsed_h + 20.0, (EQUIVALENT, AGE), continued_c=None)
    np.testing.assert_array_equal(found[1], ages_h)


@pytest.mark.parametrize("constant", [-np.inf, np.inf, np.nan])
def test_constants_of_a_setting_are_finite(constant: float) -> None:
    for method in ("equivalent age", "temperature-time"):
        with pytest.raises(ValueError, match="must be finite"):
            MaturitySetting(method, constant)


def test_an_age_beyond_the_record_is_refused_under_any_of_several_settings() -> None:
    with pytest.raises(ValueError, match="record ends at"):
        maturities_at(np.array([500.0]), ELAPSED_H, TEMPERATURE_C, (AGE, EQUIVALENT), continued_c=None)
