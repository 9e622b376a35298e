"""What one more batch would tell."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from planner.population import draw_cells, evidence_gain, published_population
from planner.population.information_gain import N_SPECIMENS, gains_from, usual_additions
from tests.population.invented_breaks import plan

AGES_H = (18.0, 24.0, 72.0, 168.0, 672.0)
SETTINGS = plan(
    targets_h=(18.0,), ages_h=AGES_H, final_set_h=6.0, published="EN 1992-1-1 class N", strength_28d_mpa=50.0
)
POPULATION = published_population(SETTINGS)


def test_breaking_at_the_target_tells_most_of_single_ages() -> None:
    gains = evidence_gain(POPULATION, SETTINGS, additions_h=((18.0,), (72.0,), (672.0,)))
    assert [gain.ages_h for gain in gains] == [(18.0,), (72.0,), (672.0,)]
    assert gains[0].spread_after < 0.8 * gains[0].spread_now
    assert all(gain.spread_after <= 1.02 * gain.spread_now for gain in gains)
    assert gains[0].bound_now is None
    assert gains[0].label == "one batch at 18 h"


def test_more_ages_tell_no_less() -> None:
    both, alone = evidence_gain(POPULATION, SETTINGS, additions_h=((18.0,), (18.0, 72.0, 672.0)))
    assert both.ages_h == (18.0, 72.0, 672.0)
    assert both.spread_after <= alone.spread_after


def test_usual_additions() -> None:
    assert usual_additions(POPULATION, SETTINGS) == ((18.0,), (18.0, 672.0), (672.0,))


@pytest.mark.parametrize("seed", [1, 2])
def test_populations_that_never_set_leave_no_gap(seed: int) -> None:
    early = plan(
        targets_h=(8.0,), ages_h=(8.0, *AGES_H), final_set_h=0.0, published="EN 1992-1-1 class N", strength_28d_mpa=50.0
    )
    gains = evidence_gain(published_population(early), early, seed=seed)
    assert all(np.isfinite(gain.spread_after) for gain in gains)


def test_what_is_left_by_hand() -> None:
    """Populations weighed by the density of what the first batch of another would break, never by its own."""
    n, per_population, seed, way = 7, 4, 3, (18.0, 72.0)
    drawn = draw_cells(
        POPULATION, SETTINGS, n_batches=n * per_population, per_population=per_population, seed=2, ages_h=way
    )
    cells = drawn.cells
    at = [int(np.flatnonzero(cells.ages_h == age)[0]) for age in way]
    logs = np.log(cells.views.mean_mpa[:, at]).reshape(n, per_population, len(way))
    means = logs.mean(axis=1)
    noise = np.diag(cells.cv[at] ** 2 / N_SPECIMENS)
    within = sum(np.outer(row, row) for k in range(n) for row in logs[k] - means[k])
    spread = within / (n * (per_population - 1)) + noise
    truth = np.array([np.log(cells.checks.truth_mpa[cells.check_unit == unit]).mean() for unit in range(len(logs) * 4)])
    targets = truth.reshape(n, per_population).mean(axis=1)
    random = np.random.default_rng((seed, 12)).standard_normal((n, len(way)))  # the same scatter of the new breaks
    left = []
    for source in range(n):
        broken = logs[source, 0] + random[source] * np.sqrt(np.diag(noise))
        weight = np.array([stats.multivariate_normal.pdf(broken, mean, spread) for mean in means])
        weight[source] = 0.0
        weight /= weight.sum()
        left.append(weight @ (targets - weight @ targets) ** 2)
    (gain,) = gains_from(drawn, (way,), seed=seed)
    np.testing.assert_allclose(gain.spread_now, targets.std())
    np.testing.assert_allclose(gain.spread_after, np.sqrt(np.mean(left)), rtol=1e-6)
