"""Whether drawn populations are the ones that the breaks came from.

Seeds are fixed, so the tests either pass or fail for ever; the chance that another seed alarms falsely is
written beside each.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.population import draw_cells, population_of
from planner.population.drawing import draw_strengths
from planner.population.prior_breaks import PriorBreaks, prior_breaks
from planner.resampling import joints_of
from planner.resampling.errors.sweeps import sweep_sets
from tests.population.invented_breaks import AGES_H, hyperbola_mpa, plan, programme
from tests.statistics.drawn_bands import means_inside
from tests.statistics.thinned_runway import (
    KEPT_AGES_H,
    SCENARIO,
    draw_records,
    picked_from_full,
    picked_from_thinned,
    records_of,
    settings_for,
    thinned,
    true_rms,
)

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("without_what_comes_after_casting")]


def test_a_known_population_is_recovered() -> None:
    """Two programmes of eight batches; hyperbola of 60 MPa, half time 30 h, both spread by 8 %."""
    settings = plan()
    at = np.array(AGES_H)
    medians, spreads = [], []
    for seed in range(2):
        population = population_of(programme(40 + seed, n_batches=8), settings, seed=seed)
        logs = np.log(draw_strengths(population, at, n_batches=400, seed=seed))
        medians.append(np.median(logs, axis=0))
        spreads.append(logs.std(axis=0))
    true = np.log(hyperbola_mpa(at, ultimate=np.array([60.0]), half_h=np.array([30.0]), set_h=4.0))[0]
    # 16 batches that spread by .08 to .11: standard error .02 to .03; 9 % is over three: alarm in 1 of 300
    np.testing.assert_allclose(np.mean(medians, axis=0), true, atol=0.09)
    # drawn spread is that between batches and what is not known of the mean (.03) and of curves: .08 to .11 on
    # average over 14 programmes, standard deviation .013; limits three of a mean of two off: alarm in 1 of 300
    assert np.all(np.mean(spreads, axis=0) > 0.055)
    assert np.all(np.mean(spreads, axis=0) < 0.15)


def test_bands_cover_means_of_batches_left_out() -> None:
    """Five runway programmes: population from three batches at 1, 3, 7, 28 d, three more held against it."""
    settings = replace(settings_for(), mix_name="")
    found: list[tuple[float, bool]] = []
    for seed in range(5):
        breaks = prior_breaks(records_of(draw_records(SCENARIO, 500 + seed, 6)), settings)
        found += means_inside(
            _at_kept_ages(breaks.only_batches(range(3))), breaks.only_batches(range(3, 6)), settings, seed=seed
        )
    tested = [inside for age, inside in found if age in KEPT_AGES_H]
    # Means of one programme go together: about 12 % from one to the next, so .05 here; the limits are those the
    # bands are asked for, and the share expected near .90: alarm in about 1 of 15.
    assert 0.80 <= np.mean(tested) <= 0.99
    assert 0.80 <= np.mean([inside for _age, inside in found]) <= 0.97


def test_one_family_flatters_the_curve_of_the_same_form() -> None:
    settings = replace(settings_for(), site_temperature_c=None)
    population = population_of(thinned(records_of(draw_records(SCENARIO, 60))), settings, seed=1)
    claimed = {}
    for name in (None, "exponential"):
        drawn = draw_cells(population, settings, n_batches=240, seed=1, only_family=name)
        assert ("one-family-truth" in {item.code for item in drawn.cautions}) == (name is not None)
        cells = drawn.cells
        joint = next(item for item in joints_of(("exponential",), cells.settings) if item.is_relative)
        members = np.flatnonzero(np.isin(cells.ages_h, (8.0, 12.0, 24.0, 72.0, 168.0)))[None, :]
        error = sweep_sets(cells, members, np.array([5]), joint).error
        claimed[name] = float(np.sqrt(np.mean(error**2)))
    # Of the programmes 60 to 71 lower in eleven, by 1 to 16 %, and 27 % higher in one: a false alarm in about 1 of 12
    # programmes; this one is fixed.
    assert claimed["exponential"] < claimed[None]


@pytest.mark.usefixtures("learnt_once")
@pytest.mark.parametrize("has_target_among_ages", [True, False])
def test_thinned_records_choose_nearly_as_well(has_target_among_ages: bool) -> None:
    settings = settings_for(has_target_among_ages=has_target_among_ages)
    records = records_of(draw_records(SCENARIO, 3))
    full = picked_from_full(records, settings)
    sparse = picked_from_thinned(thinned(records), settings, seed=3)
    error, error_of_full = true_rms(sparse, seed=10_003), true_rms(full, seed=10_003)
    # over many seeds the ratio is near 1 and the bound covers nine times in ten: alarm in about 1 of 8
    assert error / error_of_full < 1.5
    assert sparse.bound is not None
    assert error <= sparse.bound


def _at_kept_ages(breaks: PriorBreaks) -> PriorBreaks:
    at = np.isin(breaks.ages_h, KEPT_AGES_H)
    return replace(
        breaks,
        ages_h=breaks.ages_h[at],
        maturity_h=breaks.maturity_h[:, at],
        log_mean=breaks.log_mean[:, at],
        noise=breaks.noise[:, at],
        n_specimens=breaks.n_specimens[:, at],
    )
