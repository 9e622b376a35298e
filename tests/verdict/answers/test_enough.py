"""The count that is enough: the smallest, by the rule itself, with its bound; and plain words where none is."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest

from planner.pipeline import recommend
from planner.terms.results.recommended.recommendation import Recommendation
from planner.verdict.answers.programmes.enough_specimens import LadderStep, normal_share, projection
from planner.verdict.validation.own_batch import share_lower
from tests.verdict.small_table import small_plan


@cache
def told(tolerance: float = 0.10, assurance: float = 0.90) -> Recommendation:
    plan = small_plan()
    target = replace(plan.settings.target, tolerance=tolerance, assurance=assurance)
    return recommend(replace(plan, settings=replace(plan.settings, target=target)), n_draws=40, workers=1)


def test_normal_shares_by_hand() -> None:
    # one deviation either way: 68.27 %; a bias of one tolerance: half of one side, 97.7 % of the other
    assert normal_share(0.1, 0.0, 0.1) == pytest.approx(0.682689, abs=1e-6)
    assert normal_share(np.sqrt(0.02), 0.1, 0.1) == pytest.approx(0.5 - 0.022750, abs=1e-6)
    assert normal_share(0.1, 0.5, 0.2) == pytest.approx(1.0)  # a bias above the RMS cannot be


@pytest.mark.parametrize(("rms", "share"), [(0.05, 0.80), (0.12, 0.58), (0.3, 0.40)])
def test_a_projection_starts_at_today_and_grows(rms: float, share: float) -> None:
    level = LadderStep(8, 0, "next batch", rms, 0.01, share, None, 0.0004, None)
    project = projection(level, 0.10)
    assert project(rms) == pytest.approx(share, abs=1e-6)
    assert project(0.8 * rms) > share > project(1.2 * rms)


def test_a_wide_tolerance_is_reached_and_the_smallest_count_named() -> None:
    answer = told(tolerance=0.80, assurance=0.80)
    found = answer.sufficiency
    assert found is not None
    assert found.is_reached
    assert answer.enough is not None
    assert answer.enough.label == "enough"
    assert found.n_specimens == answer.enough.schedule.n_specimens
    assert found.within_tolerance >= 0.80
    below = [step for step in found.steps if step.most_specimens < found.n_specimens]
    assert all(step.within_tolerance < 0.80 for step in below)
    assert found.within_tolerance_lower_95 is not None
    assert found.within_tolerance_lower_95 <= found.within_tolerance
    assert f"{found.n_specimens} specimens are enough" in found.sentence
    assert "95 % sure" in found.sentence


def test_where_no_count_is_enough_the_rest_is_named() -> None:
    answer = told()
    found = answer.sufficiency
    assert found is not None
    assert not found.is_reached
    assert answer.enough is None
    assert found.n_specimens is None
    assert found.n_specimens_beyond is None
    assert found.within_with_endless_specimens >= found.within_tolerance
    assert "No number of specimens" in found.sentence
    assert "between batches" in found.sentence
    assert [trial.n_trial_batches for trial in found.by_trial_batches] == [1, 2, 3]
    errors = [trial.rms for trial in found.by_trial_batches]
    assert errors == sorted(errors, reverse=True)
    assert all(f"{trial.n_specimens} specimens" in found.sentence for trial in found.by_trial_batches[1:])


def test_what_falls_short_is_told_of_the_recommendation() -> None:
    answer = told()
    found, money = answer.sufficiency, answer.spending
    assert found is not None
    assert money is not None
    assert not found.is_reached
    assert found.schedule == answer.recommended.schedule == money.recommended.schedule
    assert money.recommended.next_batch is not None
    assert found.rms == money.recommended.next_batch.rms
    assert found.within_tolerance == money.recommended.next_batch.within_tolerance
    counts = [step.most_specimens for step in found.steps]
    assert counts == sorted(counts)


def test_the_whole_calibration_stands_beside_the_recommendation() -> None:
    answer = told()
    count = answer.programme
    assert count is not None
    assert count.n_schedule == answer.recommended.schedule.n_specimens
    assert count.n_made == count.n_schedule + count.n_spares + count.n_instrumented + count.n_acceptance
    assert count.n_acceptance == 3  # of one trial batch at one target
    assert count.n_instrumented == 1
    # cubes of 100 mm: 1 L each and a tenth more
    assert count.litres == pytest.approx(1.1 * count.n_made)
    assert answer.checks is not None
    assert answer.checks.companions_per_check == 3


def test_three_batches_carry_a_bound_and_two_do_not() -> None:
    scoring = SimpleNamespace(is_by_mix=False, tolerance=0.1)
    assert share_lower(np.array([0.01, -0.02, 0.03]), scoring) is not None  # type: ignore[arg-type]
    assert share_lower(np.array([0.01, -0.02]), scoring) is None  # type: ignore[arg-type]
