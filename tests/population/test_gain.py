"""What one more batch would tell."""

from __future__ import annotations

import numpy as np
import pytest

from planner.population import evidence_gain, published_population
from planner.population.information_gain import usual_additions
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
