"""One rule for many mixes, from searches that let go of schedules: the answer of searches that hold them all."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from planner.sweeping import family_plans
from planner.sweeping.family_plans import family_minimum
from planner.terms.plan.settings import Plan, ProgrammeSettings
from planner.verdict.selection.programmes import set_counts
from tests.laws.test_streamed_search import let_go, middling


def mix(seed: int) -> Plan:
    """Two targets that some programmes of two or three trial batches keep."""
    plan = middling(seed)
    target = replace(plan.settings.target, ages_h=(24.0, 72.0), tolerance=0.16, assurance=0.6)
    settings = replace(
        plan.settings,
        target=target,
        mix_name=f"mix {seed}",
        budget=replace(plan.settings.budget, specimens=20),
        programme=ProgrammeSettings(instrumented=0, trial_batches=2, most_trial_batches=3),
    )
    return replace(plan, settings=settings)


def test_a_family_of_searches_that_let_go_is_that_of_all(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    plans = {f"{seed}.toml": mix(seed) for seed in (1, 2)}
    monkeypatch.setattr(family_plans, "plans_in", lambda _folder: [(name, Path(name)) for name in plans])
    monkeypatch.setattr(set_counts, "MOST_CHECKED", 70)
    monkeypatch.setattr(family_plans, "load_plan", lambda path, **_: plans[path.name])

    held = family_minimum(tmp_path, n_draws=20, workers=1)
    together = held.result.together
    assert together is not None
    assert together.rule is not None
    assert together.n_common > 100
    assert len(held.result.targets) == 2
    clause = held.result.clause
    assert clause is not None
    assert clause.error is not None
    # What is worked out again from a row is what was judged among all.
    assert clause.error.later_rms == pytest.approx(max(one.rms for one in together.members), rel=1e-6)
    assert together.rule.n_trial_batches == 2
    let_go(monkeypatch)
    assert family_minimum(tmp_path, n_draws=20, workers=1).document == held.document
