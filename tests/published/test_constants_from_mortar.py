"""Q and the datum from mortar broken at three temperatures: the steps of the annex of ASTM C1074 (from memory)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import curve_fit

from planner.fitting.mortar_rates import RateError, mortar_constants
from planner.maturity import arrhenius_factor
from planner.terms.plan.mortar import MortarBreaks

TEMPERATURES_C = (8.0, 23.0, 38.0)
RATES_PER_DAY = (0.2438, 0.6000, 1.3540)
AGES_D = {8.0: (2.0, 4.0, 8.0, 16.0, 32.0, 64.0), 23.0: (1, 2, 4, 8, 16, 32), 38.0: (0.5, 1, 2, 4, 8, 16)}
ULTIMATE_MPA, OFFSET_D = 50.0, 0.2


def mortar_mpa(age_d, rate_per_day):
    """The annex's law, ``Su k (t - t0) / (1 + k (t - t0))``."""
    since = rate_per_day * (np.asarray(age_d, dtype=float) - OFFSET_D)
    return ULTIMATE_MPA * since / (1.0 + since)


def cubes(*, cv=0.0, n_each=1, seed=0):
    """Cubes after that law, with scatter in share of the strength where asked."""
    random = np.random.default_rng(seed)
    rows = [
        (24.0 * age, temperature, mortar_mpa(age, rate) * (1.0 + cv * random.normal()))
        for temperature, rate in zip(TEMPERATURES_C, RATES_PER_DAY, strict=True)
        for age in AGES_D[temperature]
        for _ in range(n_each)
    ]
    age_h, temperature_c, strength_mpa = np.array(rows).T
    return MortarBreaks(age_h=age_h, temperature_c=temperature_c, strength_mpa=strength_mpa)


def test_breaks_give_rates_and_rates_give_the_constants():
    found = mortar_constants(cubes())
    np.testing.assert_allclose([rate.rate_per_d for rate in found.rates], RATES_PER_DAY, rtol=1e-6)
    np.testing.assert_allclose([rate.ultimate_mpa for rate in found.rates], ULTIMATE_MPA, rtol=1e-6)
    np.testing.assert_allclose([rate.offset_h for rate in found.rates], 24.0 * OFFSET_D, rtol=1e-6)
    # Derived from the rates above: Q 4999 K, and a straight line through the rates meets zero at 3.2 C.
    assert round(found.q_k.value) == 4999
    assert round(found.datum_c.value, 1) == 3.2
    # The maturity functions turn these constants back into the ratios of the rates.
    ratios = np.array(RATES_PER_DAY) / RATES_PER_DAY[1]
    back = arrhenius_factor(np.array(TEMPERATURES_C), q_k=found.q_k.value, reference_c=23.0)
    np.testing.assert_allclose(back, ratios, rtol=0.02)


def test_standard_errors_by_another_library():
    breaks = cubes(cv=0.03, n_each=3, seed=4)
    rates, spreads, squares, n_cubes = [], [], 0.0, 0
    for temperature in TEMPERATURES_C:
        here = breaks.temperature_c == temperature
        age_d, mpa = breaks.age_h[here] / 24.0, breaks.strength_mpa[here]

        def law(age, ultimate, log_rate, offset):
            since = np.exp(log_rate) * (age - offset)
            return ultimate * since / (1.0 + since)

        found, covariance = curve_fit(law, age_d, mpa, p0=(50.0, -0.5, 0.2))
        rest = np.sum((mpa - law(age_d, *found)) ** 2)
        rates.append(found[1])
        spreads.append(covariance[1, 1] / (rest / (len(mpa) - 3)))  # for a cube's variance of 1
        squares, n_cubes = squares + rest, n_cubes + len(mpa)
    freedom = n_cubes - 9
    variance = squares / freedom * np.array(spreads)  # of ln k
    inverse = 1.0 / (np.array(TEMPERATURES_C) + 273.15)
    design = np.stack([np.ones(3), inverse], axis=1)
    solve = np.linalg.pinv(design)
    stated = mortar_constants(breaks)
    assert stated.q_k.is_on_a_line
    np.testing.assert_allclose([rate.rate_se for rate in stated.rates], np.sqrt(variance), rtol=1e-3)
    error = np.sqrt(solve[1] ** 2 @ variance)
    assert stated.q_k.value == pytest.approx(-(solve @ rates)[1], rel=1e-5)
    assert stated.q_k.standard_error == pytest.approx(error, rel=1e-3)
    reach = error * stats.t.ppf(0.975, freedom)
    assert [stated.q_k.least, stated.q_k.most] == pytest.approx(
        [stated.q_k.value - reach, stated.q_k.value + reach], rel=1e-3
    )


def test_the_datum_where_rates_lie_on_a_line():
    """Rates that are straight in T: the datum's error against central differences of the crossing with zero.

    That the interval holds the datum is a statement at 95 %: with another seed it misses in 1 of 20 runs.
    """
    temperatures, datum_c = np.array([10.0, 20.0, 30.0, 40.0]), -5.0
    random = np.random.default_rng(2)
    rows = [
        (24.0 * age, t, mortar_mpa(age, 0.025 * (t - datum_c)) + 0.8 * random.normal())
        for t in temperatures
        for age in (0.7, 1, 2, 4, 8, 16, 32)
        for _ in range(3)
    ]
    age_h, temperature_c, strength_mpa = np.array(rows).T
    found = mortar_constants(MortarBreaks(age_h=age_h, temperature_c=temperature_c, strength_mpa=strength_mpa))
    assert found.datum_c.is_on_a_line
    assert found.datum_c.least < datum_c < found.datum_c.most

    def crossing(rate):
        slope, level = np.polyfit(temperatures, rate, 1)
        return -level / slope

    rate = np.array([one.rate_per_d for one in found.rates])
    assert found.datum_c.value == pytest.approx(crossing(rate))
    step = 1e-6
    slopes = [(crossing(rate + step * unit) - crossing(rate - step * unit)) / (2 * step) for unit in np.eye(4)]
    error = np.sqrt(
        np.sum([(s * one.rate_se * one.rate_per_d) ** 2 for s, one in zip(slopes, found.rates, strict=True)])
    )
    assert found.datum_c.standard_error == pytest.approx(error, rel=1e-5)


def test_rates_off_the_line_widen_the_interval():
    """Exact strengths: what is left beside the line is all there is, with one degree of freedom."""
    found = mortar_constants(cubes())
    assert not found.q_k.is_on_a_line
    inverse = 1.0 / (np.array(TEMPERATURES_C) + 273.15)
    line = stats.linregress(inverse, np.log(RATES_PER_DAY))
    assert found.q_k.standard_error == pytest.approx(line.stderr, rel=1e-4)
    assert found.q_k.most - found.q_k.value == pytest.approx(line.stderr * stats.t.ppf(0.975, 1), rel=1e-4)


def test_intervals_hold_as_often_as_they_say():
    """300 sets of cubes: 95 % intervals hold in .91 to .98 of them, but for one seed in about 500."""
    held = [
        found.q_k.least <= 4999.4 <= found.q_k.most
        for seed in range(300)
        if (found := mortar_constants(cubes(cv=0.03, n_each=3, seed=seed)))
    ]
    assert 0.91 <= np.mean(held) <= 0.985


def test_strengths_without_a_rate_are_refused():
    ages = np.tile([1.0, 2.0, 4.0, 8.0], 3)
    warm = np.repeat([8.0, 23.0, 38.0], 4)
    with pytest.raises(RateError, match="no rate at 8 C"):
        mortar_constants(MortarBreaks(age_h=24.0 * ages, temperature_c=warm, strength_mpa=3.0 * ages))
    there = cubes()
    turned = MortarBreaks(age_h=there.age_h, temperature_c=46.0 - there.temperature_c, strength_mpa=there.strength_mpa)
    with pytest.raises(RateError) as error:
        mortar_constants(turned)
    assert error.value.temperature_c is None
