"""Pairs of batches stay few enough for memory, and what is left of them says the same."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.pipeline import recommend
from planner.resampling import PairErrors, Scoring, joints_of, pair_errors
from planner.resampling.errors.later_pours import cross_batch
from planner.resampling.errors.later_pours.trial_means import mean_squares, of_trial_batches
from planner.steps.allowed_choices import offered_choices
from planner.verdict.answers.recommendation import plot_points
from tests.laws.invented import TARGET_H, plan_of, programme

N_BATCHES = 24


def pairs_of(n_batches: int = N_BATCHES) -> tuple[PairErrors, Scoring]:
    plan = plan_of(programme(n_batches=n_batches))
    cells, _offered, choices = offered_choices(plan)
    scoring = Scoring.of(cells, plan.settings.target)
    pairs = pair_errors(cells, scoring, choices, 3, joints_of(plan.settings.curves, cells.settings)[0])
    assert pairs is not None
    return pairs, scoring


def test_of_too_many_an_even_choice_is_made(monkeypatch: pytest.MonkeyPatch) -> None:
    """With a third of the pairs every batch is read on, and its curve read, as often as any other, give or take one."""
    whole, scoring = pairs_of()
    monkeypatch.setattr(cross_batch, "MOST_PAIRS", N_BATCHES**2 // 3)
    some, _ = pairs_of()
    assert len(whole.error) == N_BATCHES * (N_BATCHES - 1)
    assert len(some.error) <= N_BATCHES**2 // 3
    for name in ("calibrated_on", "read_on"):
        counts = np.bincount(getattr(some, name).astype(np.int64), minlength=N_BATCHES)
        assert counts.max() - counts.min() <= 1
    assert some.weight.sum() == pytest.approx(1.0)
    known = dict(zip(zip(whole.calibrated_on, whole.read_on, strict=True), whole.error, strict=True))
    assert all(
        known[pair] == error
        for pair, error in zip(zip(some.calibrated_on, some.read_on, strict=True), some.error, strict=True)
    )
    # Seeded. Clusters are the batches, so a third of the pairs carries nearly all they know.
    assert np.sqrt(some.weight @ some.level) == pytest.approx(np.sqrt(whole.weight @ whole.level), rel=0.10)
    assert np.isfinite(mean_squares(some, scoring, (1, 2, 3))).all()
    assert set(of_trial_batches(some, scoring, 2).read_on.tolist()) == set(range(N_BATCHES))


def test_few_pairs_are_all_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    whole, _ = pairs_of(6)
    monkeypatch.setattr(cross_batch, "MOST_PAIRS", 36)  # the batch itself is counted among what is read
    same, _ = pairs_of(6)
    assert np.array_equal(whole.error, same.error)
    assert len(whole.error) == 30


def test_a_batch_that_is_parted_in_several_ways_weighs_as_much_as_any_other() -> None:
    # B1 has no companions: its four specimens at the target are halved in six ways, so that it has six views.
    records = programme(n_batches=4)
    kept = [item for item in records.breaks if not (item.batch == "B1" and item.curing == "site")]
    first = next(item for item in kept if (item.batch, item.age_h) == ("B1", TARGET_H))
    plan = plan_of(replace(records, breaks=(*kept, first)))
    cells, _offered, choices = offered_choices(plan)
    assert cells.views.batch.count("B1") == 6
    scoring = Scoring.of(cells, plan.settings.target)
    pairs = pair_errors(cells, scoring, choices, 3, joints_of(plan.settings.curves, cells.settings)[0])
    assert pairs is not None
    for by in (pairs.calibrated_on, pairs.read_on):
        np.testing.assert_allclose(np.bincount(by.astype(np.int64), weights=pairs.weight), 0.25)


def test_a_picture_has_so_many_points_at_most(monkeypatch: pytest.MonkeyPatch) -> None:
    plan = plan_of(programme(n_batches=6))
    every = recommend(plan, n_draws=2, workers=1).held_out_later
    monkeypatch.setattr(plot_points, "MOST_LATER_POINTS", 7)
    few = recommend(plan, n_draws=2, workers=1).held_out_later
    assert len(every) == 30
    assert [every[at] for at in (0, 4, 9, 14, 19, 24, 29)] == list(few)
