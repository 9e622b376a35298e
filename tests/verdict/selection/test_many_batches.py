"""Beyond so many batches an even choice of them is left out in turn; what is said of each stays the same."""

from __future__ import annotations

import numpy as np
import pytest

from planner.pipeline import recommend
from planner.population import basis_of
from planner.steps.searching import Work, search_of
from planner.verdict.answers.recommendation.assessment import folds_of
from planner.verdict.statistics import left_out
from planner.verdict.statistics.left_out import left_out_in_turn
from tests.laws.invented import plan_of, programme

N_BATCHES = 9


def test_few_are_all_left_out_and_many_evenly(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(left_out, "MOST_LEFT_OUT", 5)
    assert left_out_in_turn(5).tolist() == [0, 1, 2, 3, 4]
    assert left_out_in_turn(9).tolist() == [0, 2, 4, 6, 8]
    steps = np.diff(left_out_in_turn(3000))
    assert steps.max() - steps.min() <= 1


def test_folds_of_the_choice_are_those_of_all(monkeypatch: pytest.MonkeyPatch) -> None:
    plan = plan_of(programme(n_batches=N_BATCHES))
    search = search_of(plan, basis_of(plan), Work(2, 1, 1, None))
    _rule, every = folds_of(search)
    monkeypatch.setattr(left_out, "MOST_LEFT_OUT", 5)
    _rule, some = folds_of(search)
    assert list(every) == list(range(N_BATCHES))
    assert some == {unit: every[unit] for unit in (0, 2, 4, 6, 8)}


def test_it_is_said_and_the_schedule_stays(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing that chooses looks at an even choice; the held-out figures count the batches they rest on."""
    plan = plan_of(programme(n_batches=N_BATCHES))
    whole = recommend(plan, n_draws=2, workers=1)
    monkeypatch.setattr(left_out, "MOST_LEFT_OUT", 5)
    some = recommend(plan, n_draws=2, workers=1)
    assert some.recommended.schedule == whole.recommended.schedule
    said = [caution.text for caution in some.cautions if caution.code == "even-choice-of-batches"]
    assert len(said) == 1
    assert "9 batches" in said[0]
    assert "without 5 of them" in said[0]
    assert not [caution for caution in whole.cautions if caution.code == "even-choice-of-batches"]
    second = ["B1", "B3", "B5", "B7", "B9"]
    assert [fold.held_out for fold in some.honest.folds] == second
    assert some.honest.folds == tuple(fold for fold in whole.honest.folds if fold.held_out in second)
    assert some.if_then is not None
    assert some.if_then.trial is not None
    assert some.if_then.trial.n_batches == 5
