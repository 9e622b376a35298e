"""The invented truth is what it is said to be: spreads, scatter, temperatures, a law no fitted curve has."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares
from scipy.stats import norm

from scenarios.catalogue import RUNWAY_PANELS, SCENARIOS, SEED
from scenarios.climates import Exposure
from scenarios.draws import draw_batches, draw_records, within_test_cv
from scenarios.laws import FloatArray, mean_batch


def _hyperbolic(parameters: FloatArray, age_h: FloatArray) -> FloatArray:
    grown = np.exp(parameters[1]) * (age_h - parameters[2])
    return np.asarray(parameters[0] * grown / (1.0 + grown))


def _exponential(parameters: FloatArray, age_h: FloatArray) -> FloatArray:
    return np.asarray(parameters[0] * np.exp(-((np.exp(parameters[1]) / age_h) ** parameters[2])))


def _logarithmic(parameters: FloatArray, age_h: FloatArray) -> FloatArray:
    return np.asarray(parameters[0] + parameters[1] * np.log(age_h))


FAMILIES = {
    "hyperbolic": (_hyperbolic, ([60.0, -2.0, 0.0], [60.0, -3.0, 1.0], [60.0, -3.0, -5.0])),
    "exponential": (_exponential, ([70.0, 3.0, 0.5], [100.0, 2.0, 0.3], [60.0, 2.0, 0.8])),
    "logarithmic": (_logarithmic, ([5.0, 8.0],)),
}


@pytest.mark.parametrize("name", SCENARIOS)
@pytest.mark.parametrize("family", FAMILIES)
def test_no_smooth_family_comes_within_one_percent_of_the_law(name: str, family: str) -> None:
    scenario = SCENARIOS[name]
    age_h = np.geomspace(scenario.standard_ages_h[0], 672.0, 60)
    law_mpa = mean_batch(scenario.law).strength_mpa(age_h)[0]
    curve, starts = FAMILIES[family]

    def departure(parameters: FloatArray) -> FloatArray:
        return np.asarray(curve(parameters, age_h) / law_mpa - 1.0)

    fits = [least_squares(departure, start) for start in starts]
    best = min(fits, key=lambda fit: fit.cost)
    # Least squares does not minimise the largest departure, but the largest is never below the root mean
    # square, and no member of the family has a smaller root mean square than this one.
    assert np.sqrt(np.mean(best.fun**2)) > 0.01
    assert np.abs(best.fun).max() > 0.05


@pytest.mark.parametrize("name", SCENARIOS)
def test_straight_lines_between_the_ages_depart_from_the_law_too(name: str) -> None:
    scenario = SCENARIOS[name]
    knots_h = np.array(scenario.standard_ages_h, dtype=np.float64)
    age_h = np.geomspace(knots_h[0], knots_h[-1], 400)
    mean = mean_batch(scenario.law)
    read_mpa = np.interp(age_h, knots_h, mean.strength_mpa(knots_h)[0])
    assert np.abs(read_mpa / mean.strength_mpa(age_h)[0] - 1.0).max() > 0.01


def test_mean_law_of_runway_panels_has_the_stated_size() -> None:
    strength = mean_batch(RUNWAY_PANELS.law).strength_mpa([0.5, 6.0, 24.0, 672.0])[0]
    assert strength[0] < 0.5
    assert 20.0 < strength[1] < 25.0
    assert 32.0 < strength[2] < 37.0
    assert 58.0 < strength[3] < 62.0


@pytest.mark.parametrize("name", SCENARIOS)
def test_strength_never_falls(name: str) -> None:
    truth = draw_batches(name, 200, 3)
    strength = truth.strength_at_equivalent_age(np.linspace(0.0, 1000.0, 3000))
    assert np.all(np.diff(strength, axis=1) >= 0.0)


@pytest.mark.parametrize("name", SCENARIOS)
def test_spread_between_batches_is_the_stated_one(name: str) -> None:
    # Seed 11. 4,000 batches: the sd of a log sd is 1.1 %; 5 % is 4.5 of them, false alarm below 1 in 10,000.
    scenario = SCENARIOS[name]
    laws = draw_batches(name, 4000, 11).laws
    assert np.std(np.log(laws.ultimate_mpa)) == pytest.approx(scenario.law.ultimate_cv, rel=0.05)
    assert np.std(np.log(laws.set_h)) == pytest.approx(scenario.law.set_cv, rel=0.05)
    assert np.median(laws.ultimate_mpa) == pytest.approx(scenario.law.ultimate_mpa, rel=0.01)
    # Pace is a mixture of two normals in the log; the share below the middle has a standard error of 0.006.
    middle = 0.5 * np.log(scenario.law.slow_batch_rate)
    ordinary = norm.cdf(middle / scenario.law.rate_cv)
    share = scenario.law.slow_batch_share
    expected = (1.0 - share) * ordinary + share * (1.0 - ordinary)
    assert np.mean(np.log(laws.rate) < middle) == pytest.approx(expected, abs=0.025)


@pytest.mark.parametrize("name", SCENARIOS)
def test_scatter_of_replicates_is_the_stated_one(name: str) -> None:
    # Seed 12. 2,000 batches x 3 replicates: sd of a cv is 1.1 % of it (4,000 degrees of freedom); 5 % is 4.4.
    scenario = SCENARIOS[name]
    truth = draw_batches(name, 2000, 12)
    ages_h = scenario.standard_ages_h
    broken = truth.specimens_mpa("standard", ages_h, 3)
    true_mpa = truth.true_strength("standard", ages_h)
    seen = np.sqrt((broken.var(axis=2, ddof=1) / true_mpa**2).mean(axis=0))
    np.testing.assert_allclose(seen, within_test_cv(scenario, ages_h), rtol=0.05)
    # Mean of 6,000 breaks of cv 6 % or less: standard error 0.08 %.
    np.testing.assert_allclose((broken / true_mpa[:, :, None]).mean(axis=(0, 2)), 1.0, atol=0.004)


@pytest.mark.parametrize("name", SCENARIOS)
def test_scatter_in_the_rows_of_a_programme_is_the_stated_one(name: str) -> None:
    # The seed of the files. At least 45 cells of 3, so 90 degrees of freedom: sd of the ratio 7.5 %, and 30 %
    # is 4 of them; a free seed would give a false alarm below 1 in 10,000.
    scenario = SCENARIOS[name]
    cells: dict[tuple[object, ...], list[float]] = {}
    for row in draw_records(scenario, SEED).breaks:
        cells.setdefault((row.batch, row.curing, row.placement, row.age_h), []).append(row.strength_mpa)
    scatter = {age_h: float(within_test_cv(scenario, age_h)[0]) for age_h in scenario.standard_ages_h}
    scatter |= {age_h: float(within_test_cv(scenario, age_h)[0]) for age_h in scenario.site_ages_h}
    ratios = [np.std(cell, ddof=1) / np.mean(cell) / scatter[float(str(key[3]))] for key, cell in cells.items()]
    assert len(ratios) >= 45
    assert np.sqrt(np.mean(np.square(ratios))) == pytest.approx(1.0, abs=0.3)


def test_scatter_falls_from_six_to_three_percent() -> None:
    scatter = within_test_cv(RUNWAY_PANELS, [4.0, 6.0, 24.0, 672.0, 2000.0])
    assert scatter[0] == scatter[1] == pytest.approx(0.06)
    assert 0.03 < scatter[2] < 0.06
    assert scatter[3] == scatter[4] == pytest.approx(0.03)


def test_equivalent_age_agrees_with_constant_temperature_by_hand() -> None:
    # exp(-Q (1/T - 1/Tr)) with 273.15, Q 5000 K: 30 C 1.7553 (computed, four decimals).
    climate = RUNWAY_PANELS.climates[0]
    exposure = Exposure(
        climate=climate,
        surroundings_c=np.array([20.0, 30.0]),
        placing_c=np.array([20.0, 30.0]),
        self_heating_c=np.zeros(2),
    )
    aged_h = exposure.equivalent_age_h(np.array([12.0, 672.0]), 5000.0)
    np.testing.assert_allclose(aged_h[0], [12.0, 672.0], rtol=1e-12)
    np.testing.assert_allclose(aged_h[1], [12.0 * 1.7553, 672.0 * 1.7553], rtol=1e-4)


def test_equivalent_age_agrees_with_the_logged_readings() -> None:
    # An independent sum over the readings of the file, half an hour apart, noise 0.1 C: within 0.5 %.
    truth = draw_records(RUNWAY_PANELS, SEED, has_oddities=True).truth
    for condition in truth.conditions:
        times_h, logged_c = truth.readings_c(condition)
        factor = np.exp(-4700.0 * (1.0 / (logged_c + 273.15) - 1.0 / 293.15))
        until = times_h <= 24.0
        summed_h = np.trapezoid(factor[:, until], times_h[until], axis=1)
        np.testing.assert_allclose(summed_h, truth.equivalent_age_h(condition, 24.0)[:, 0], rtol=0.005)


def _departure(q_k: float) -> FloatArray:
    """Standard curve of a batch read at the equivalent age of its site, over the strength there, less 1."""
    truth = draw_records(RUNWAY_PANELS, SEED, has_oddities=True).truth
    grid_h = np.geomspace(0.5, 1000.0, 6000)
    standard_h = truth.equivalent_age_h("standard", grid_h, q_k=q_k)
    standard_mpa = truth.true_strength("standard", grid_h)
    departures = []
    for condition in truth.conditions[1:]:
        site_h = truth.equivalent_age_h(condition, RUNWAY_PANELS.site_ages_h, q_k=q_k)
        site_mpa = truth.true_strength(condition, RUNWAY_PANELS.site_ages_h)
        for batch in range(truth.n_batches):
            read_mpa = np.interp(site_h[batch], standard_h[batch], standard_mpa[batch])
            departures.append(read_mpa / site_mpa[batch] - 1.0)
    return np.concatenate(departures)


def test_site_companions_lie_on_the_standard_curve_at_the_true_q_alone() -> None:
    assert np.abs(_departure(4700.0)).max() < 1e-4
    assert np.sqrt(np.mean(_departure(3700.0) ** 2)) > 0.01
    assert np.sqrt(np.mean(_departure(5700.0) ** 2)) > 0.01
    tried_k = np.arange(3500.0, 6001.0, 100.0)
    roots = [float(np.mean(_departure(q_k) ** 2)) for q_k in tried_k]
    assert tried_k[int(np.argmin(roots))] == 4700.0


def test_true_q_is_not_on_the_grid_of_the_plan() -> None:
    assert RUNWAY_PANELS.law.q_k == 4700.0
    assert RUNWAY_PANELS.law.q_k not in (4000.0, 5000.0, 6000.0)


def test_batches_in_the_files_show_the_stated_oddities() -> None:
    truth = draw_records(RUNWAY_PANELS, SEED, has_oddities=True).truth
    assert int(np.argmin(truth.laws.rate)) == RUNWAY_PANELS.slow_batch
    final_mpa = truth.true_strength("standard", 672.0)[:, 0]
    # Nine batches of 7 %: their sd lies between 3.5 and 11 % with chance .97 (chi-square, 8 df), seed fixed.
    assert 0.035 < np.std(final_mpa, ddof=1) / np.mean(final_mpa) < 0.11


def test_same_seed_same_truth_and_more_batches_keep_the_first() -> None:
    few, many = draw_batches("runway-panels", 5, 7), draw_batches("runway-panels", 50, 7)
    ages_h = [6.0, 24.0]
    for condition in few.conditions:
        np.testing.assert_array_equal(few.true_strength(condition, ages_h), many.true_strength(condition, ages_h)[:5])
    np.testing.assert_array_equal(few.specimens_mpa("standard", ages_h, 2), few.specimens_mpa("standard", ages_h, 2))
    others = few.specimens_mpa("standard", ages_h, 2, repeat=1)
    assert not np.array_equal(few.specimens_mpa("standard", ages_h, 2), others)


def test_fresh_batches_are_not_those_of_the_programme_with_the_same_seed() -> None:
    fresh = draw_batches("runway-panels", 9, SEED).laws.ultimate_mpa
    programme = draw_records("runway-panels", SEED).truth.laws.ultimate_mpa
    assert not np.any(np.isclose(fresh, programme))


def test_unknown_condition_is_refused_with_the_known_ones() -> None:
    with pytest.raises(ValueError, match=r"No condition 'oven'. Known: standard, cool night, warm night"):
        draw_batches("runway-panels", 2, 1).true_strength("oven", 6.0)
