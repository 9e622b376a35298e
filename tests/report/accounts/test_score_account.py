"""Whoever asks about a schedule is told its two errors, whether they are enough, and the limits it does not keep."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.report.accounts.score_account import score_account
from planner.report.text.blocks import Facts
from planner.terms.problems import Caution
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.results.recommended.recommendation import Recommendation
from tests.report.real_results import made_from


def facts_of(scored: RatedChoice, advice: Recommendation) -> dict[str, str]:
    (block,) = (block for block in score_account(scored, advice)[0].blocks if isinstance(block, Facts))
    return dict(block.pairs)


def judged(within: float) -> tuple[RatedChoice, Recommendation]:
    advice = made_from(4, has_prices=True).told
    assert advice.spending is not None
    programme = advice.spending.recommended
    assert programme.next_batch is not None
    later = replace(programme.next_batch, rms=0.108, within_tolerance=within)
    programme = replace(programme, own_batch_rms=0.059, next_batch=later)
    return replace(advice.best, programme=programme), advice


@pytest.mark.parametrize(("short", "verdict"), [(0.01, "NOT GOOD ENOUGH"), (0.0, "good enough")])
def test_the_schedule_asked_about_has_both_errors_and_a_verdict(short: float, verdict: str) -> None:
    _, advice = judged(0.5)
    scored, advice = judged(advice.assurance - short)
    told = facts_of(scored, advice)
    assert told["Later pour"].startswith("read 10.8 % off (RMS); ")
    assert told["Later pour"].endswith(f"wanted: {verdict}")
    assert told["Own batch"] == "read 5.9 % off (RMS)"
    assert "later pour read" in told["Recommended"]
    assert "Beyond limits" not in told


def test_what_is_not_known_of_it_is_said() -> None:
    scored, advice = judged(0.5)
    assert scored.programme is not None
    alone = replace(scored, programme=replace(scored.programme, next_batch=None))
    unknown = replace(advice, honest=replace(advice.honest, next_batch=None, next_batch_unknown_because="one batch."))
    told = facts_of(alone, unknown)
    assert told["Later pour"] == "unknown: one batch"
    assert "later pour" not in told["Recommended"]
    assert facts_of(replace(scored, programme=None), advice)["Own batch"] == "not judged"


def test_limits_that_it_does_not_keep_stand_beside_it() -> None:
    scored, advice = judged(0.5)
    beyond = replace(advice, cautions=(Caution("beyond-limits", "The schedule has 30 specimens."), *advice.cautions))
    assert facts_of(scored, beyond)["Beyond limits"] == "The schedule has 30 specimens."
