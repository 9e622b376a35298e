"""Drawn batches as cells: shape, seeds, evidence, cautions."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from planner.evidence import within_test_scatter
from planner.population import (
    Drawn,
    Population,
    draw_cells,
    nearest_tested_h,
    population_of,
    untested_ages,
)
from planner.population import population_model as model
from planner.population.drawing import draw_strengths
from planner.population.growth_families import families
from planner.population.population_model import LEAST_WEIGHT, family_weights
from planner.population.prior_breaks import NOT_BROKEN, prior_breaks, scatter_at
from planner.population.scatter_factors import scatter_factors
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import Prior
from planner.terms.problems import InputError
from planner.terms.records import Records
from tests.population.invented_breaks import plan, programme
from tests.statistics.drawn_bands import means_inside

SITE = plan(targets_h=(6.0, 24.0), site_c=(12.0, 30.0))


@pytest.fixture(scope="module")
def population() -> Population:
    return population_of(programme(1), SITE, seed=1)


@pytest.fixture(scope="module")
def drawn(population: Population) -> Drawn:
    return draw_cells(population, SITE, n_batches=90, per_population=6, seed=1)


def test_cells_have_one_view_for_each_batch_and_no_hole(drawn: Drawn) -> None:
    cells = drawn.cells
    assert cells.n_units == len(cells.views.batch) == 90
    assert cells.views.mean_mpa.shape == (90, 6)
    assert np.all(np.isfinite(cells.views.mean_mpa))
    assert np.all(cells.views.n_specimens == 1e9)
    assert cells.views.maturity_h.shape == (len(cells.settings), 90, 6)
    assert cells.checks.maturity_h.shape == (len(cells.settings), 90 * 2 * 5)
    assert cells.checked_against == "drawn"
    for unit in range(3):
        for target in range(2):
            own = (cells.check_unit == unit) & (cells.checks.target == target)
            assert cells.checks.weight[own].sum() == pytest.approx(1.0)


def test_truth_carries_no_noise(population: Population) -> None:
    # checked at standard curing and at a tested age, truth is the cell itself
    settings = plan(targets_h=(24.0,))
    cells = draw_cells(population, settings, n_batches=12, seed=3).cells
    at = int(np.flatnonzero(cells.ages_h == 24.0)[0])
    np.testing.assert_allclose(cells.checks.truth_mpa, cells.views.mean_mpa[:, at], rtol=1e-3)


def test_seeds(population: Population, drawn: Drawn) -> None:
    again = draw_cells(population, SITE, n_batches=90, per_population=6, seed=1)
    np.testing.assert_array_equal(again.cells.views.mean_mpa, drawn.cells.views.mean_mpa)
    other = draw_cells(population, SITE, n_batches=90, per_population=6, seed=2)
    assert not np.allclose(other.cells.views.mean_mpa, drawn.cells.views.mean_mpa)


def test_batches_of_one_population_share_a_number(drawn: Drawn) -> None:
    np.testing.assert_array_equal(drawn.population_of_unit, np.repeat(np.arange(15), 6))
    assert drawn.cells.views.mix[:7] == ("population 1",) * 6 + ("population 2",)
    assert len(np.unique(drawn.scatter_factor)) == 15


def test_answers_widen_outside_the_data(population: Population) -> None:
    strengths = draw_strengths(population, np.array([6.0, 12.0, 24.0, 168.0]), n_batches=400, seed=4)
    spread = np.log(strengths).std(axis=0)
    assert spread[0] > 1.3 * spread[1] > 1.3 * spread[2]
    assert spread[2] > 0.8 * spread[3]


def test_untested_ages_are_named_with_the_nearest_tested(population: Population, drawn: Drawn) -> None:
    assert untested_ages(population, (6.0, 24.0, 100.0)) == (6.0, 100.0)
    assert nearest_tested_h(population, 6.0) == 24.0
    assert nearest_tested_h(population, 100.0) == 72.0
    found = {caution.code: caution.text for caution in drawn.cautions}
    assert "at 6 h, 12 h. Strengths" in found["untested-ages"]
    assert "from the nearest (1 d)" in found["untested-ages"]


def test_a_strength_is_checked_when_concrete_of_each_temperature_has_it(population: Population) -> None:
    site_c = (10.0, 30.0)
    settings = plan(targets_h=(24.0, 36.0), strengths_mpa=(None, 30.0), site_c=site_c)
    drawn = draw_cells(population, settings, n_batches=300, seed=5)
    checks, middle_k = drawn.cells.checks, sum(population.q_range_k) / 2.0
    at_c, truth_mpa = drawn.check_temperature_c, checks.truth_mpa
    typical = {
        (target, c): float(np.median(truth_mpa[(checks.target == target) & (at_c == c)]))
        for target in (0, 1)
        for c in (10.0, 20.0, 30.0)
    }
    # An age is that age everywhere; a strength, about the same at 10 and 30 C: hot curing has taken little by then.
    assert typical[0, 10.0] < 0.75 * typical[0, 20.0]
    for c in site_c:
        assert typical[1, c] == pytest.approx(typical[1, 20.0], rel=0.03)
    # The middle of the sensitivities is among the settings: under it the maturity is one and the same.
    middle = drawn.cells.settings.index(MaturitySetting("equivalent age", middle_k, 20.0))
    np.testing.assert_allclose(checks.maturity_h[middle][checks.target == 1], 36.0, rtol=1e-9)
    said = {caution.code: caution.text for caution in drawn.cautions}
    assert "36 h" not in said["untested-ages"]


def test_weak_ages_are_not_offered(population: Population) -> None:
    settings = plan(least_mpa=30.0)
    weak = draw_cells(population, settings, n_batches=60)
    assert not weak.cells.is_candidate[0]
    assert weak.cells.is_candidate[-1]
    found = {caution.code: caution.text for caution in weak.cautions}
    assert "6 h" in found["drawn-too-weak"]


def test_one_family_says_that_it_flatters(population: Population, drawn: Drawn) -> None:
    assert "one-family-truth" not in {caution.code for caution in drawn.cautions}
    alone = draw_cells(population, SITE, n_batches=12, only_family="hyperbolic")
    assert "one-family-truth" in {caution.code for caution in alone.cautions}
    foreign = draw_cells(population, SITE, n_batches=12, only_family="two-stage")
    assert "one-family-truth" not in {caution.code for caution in foreign.cautions}
    with pytest.raises(InputError, match=r'No growth family "cubic"'):
        draw_cells(population, SITE, only_family="cubic")


def test_every_family_keeps_a_share(population: Population) -> None:
    assert sum(weight for _name, weight in population.weights()) == pytest.approx(1.0)
    assert min(weight for _name, weight in population.weights()) >= LEAST_WEIGHT
    np.testing.assert_allclose(family_weights(np.array([0.0, np.log(3.0)])), [0.03 + 0.94 / 4, 0.03 + 0.94 * 3 / 4])
    np.testing.assert_allclose(family_weights(np.array([np.nan, 0.0])), [0.5, 0.5])


def test_an_age_that_is_held_out_tells_nothing() -> None:
    known = prior_breaks(programme(1), SITE)
    without = known.without_age(1)
    others = np.delete(np.arange(len(known.ages_h)), 1)
    assert not without.held[:, 1].any()
    assert np.all(without.noise[:, 1] == NOT_BROKEN)
    np.testing.assert_array_equal(without.noise[:, others], known.noise[:, others])
    np.testing.assert_array_equal(without.n_specimens[:, others], known.n_specimens[:, others])
    np.testing.assert_array_equal(without.maturity_h, known.maturity_h)


def test_a_family_is_scored_by_the_density_of_means_it_was_not_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    known = prior_breaks(programme(1), SITE)
    shown: list[int] = []
    batch_size = np.array([0.02, 0.05])
    predicted = known.log_mean + np.array([0.03, -0.06])[:, None, None]

    class Told:
        """Two chains that predict every mean 3 % too high and 6 % too low."""

        def __init__(self, _family, breaks, **_: object) -> None:
            shown.append(int(np.flatnonzero(~breaks.held.any(axis=0))[0]))
            self.batch_size = batch_size

        def run(self, n_steps: int) -> None:
            assert n_steps > 0

        def smooth(self) -> np.ndarray:
            return predicted

    monkeypatch.setattr(model, "Chains", Told)
    found = model.held_out_score(families(final_set_h=4.0)[0], known, seed=1)
    assert shown == sorted(set(shown))
    wanted = 0.0
    for age in shown:
        deviation = np.sqrt(batch_size[:, None] ** 2 + known.noise[:, age])
        density = stats.norm.pdf(known.log_mean[:, age], predicted[:, :, age], deviation).mean(axis=0)
        wanted += np.log(density).mean()
    np.testing.assert_allclose(found, wanted)


def test_two_batches_at_two_ages_are_said_to_be_few() -> None:
    few = population_of(programme(2, n_batches=2, ages_h=(24.0, 672.0)), SITE)
    assert "2 batches at 2 ages" in next(item.text for item in few.cautions if item.code == "little-to-draw-from")
    np.testing.assert_allclose([weight for _name, weight in few.weights()], 0.2)


def test_some_of_very_many_batches_stand_for_all(monkeypatch: pytest.MonkeyPatch) -> None:
    records = programme(2, n_batches=5)
    for steps in ("N_STEPS", "N_STEPS_HELD_OUT"):
        monkeypatch.setattr(model, steps, 20)  # which batches are learnt from does not depend on how well
    monkeypatch.setattr(model, "MOST_BATCHES", 3)
    some = population_of(records, SITE)
    assert some.breaks is not None
    assert some.breaks.batches == ("B1", "B3", "B5")
    assert some.breaks.n_breaks == 3 * 4 * 3
    assert "Of 5 batches 3 stand for all" in some.notes[-1]
    monkeypatch.setattr(model, "MOST_BATCHES", 5)
    assert not any("stand for all" in note for note in population_of(records, SITE).notes)


def test_without_temperatures_age_is_the_clock() -> None:
    settings = replace(SITE, prior=Prior())
    blind = population_of(programme(3, n_batches=2, ages_h=(24.0, 672.0)), settings)
    cells = draw_cells(blind, settings, n_batches=12)
    assert blind.standard_c is None
    assert "site-not-scored" in {caution.code for caution in cells.cautions}
    np.testing.assert_array_equal(cells.cells.checks.maturity_h[0, :2], [6.0, 24.0])


def test_only_standard_cured_breaks_count() -> None:
    records = programme(4)
    moved = tuple(replace(item, curing="site") if item.age_h < 100 else item for item in records.breaks)
    breaks = prior_breaks(replace(records, breaks=moved), SITE)
    np.testing.assert_array_equal(breaks.ages_h, [168.0, 672.0])
    with pytest.raises(InputError, match=r"No standard-cured break can be used"):
        prior_breaks(Records(breaks=tuple(replace(item, curing="site") for item in records.breaks)), SITE)


def test_holes_stay_holes() -> None:
    records = programme(5)
    kept = tuple(item for item in records.breaks if (item.batch, item.age_h) != ("B2", 72.0))
    breaks = prior_breaks(replace(records, breaks=kept), SITE)
    assert breaks.held.sum() == 15
    assert not breaks.held[1, 1]
    assert breaks.maturity_h[1, 1] == pytest.approx(72.0)
    assert breaks.without_age(0).held.sum() == 11
    assert breaks.only_batches([1]).batches == ("B2",)


def test_scatter_rises_below_the_youngest_tested_age() -> None:
    scatter = within_test_scatter((), Prior(within_test_cv=0.04))
    at = scatter_at(scatter, np.array([6.0, 24.0, 672.0]), first_h=24.0)
    np.testing.assert_allclose(at, [0.04 * 4.0**0.146, 0.04, 0.04])


def test_unknown_scatter_is_drawn_and_stated_scatter_is_not() -> None:
    stated = within_test_scatter((), Prior(within_test_cv=0.04))
    np.testing.assert_array_equal(scatter_factors(stated, 5, seed=1), 1.0)
    pooled = prior_breaks(programme(6), SITE).scatter
    factors = scatter_factors(pooled, 4000, seed=1)
    assert 0.9 < np.median(factors) < 1.1
    # 32 degrees of freedom: chi-square .05 point 20.07; standard error of the quantile about .005
    assert np.quantile(factors, 0.95) == pytest.approx(np.sqrt(32.0 / 20.07), abs=0.03)


def test_a_batch_three_times_as_strong_lies_outside_what_the_other_lets_expect() -> None:
    strange = programme(7, n_batches=2, ages_h=(24.0, 672.0))
    moved = tuple(
        replace(item, strength_mpa=3.0 * item.strength_mpa) if item.batch == "B2" else item for item in strange.breaks
    )
    breaks = prior_breaks(replace(strange, breaks=moved), SITE)
    for shown, held_out in ((0, 1), (1, 0)):
        found = means_inside(breaks.only_batches([shown]), breaks.only_batches([held_out]), SITE, seed=1)
        assert [inside for _, inside in found] == [False, False]
