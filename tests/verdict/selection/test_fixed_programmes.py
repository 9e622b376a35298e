"""What is possible, enough and fewest, against a plain walk over invented figures and over judged schedules."""

from __future__ import annotations

import numpy as np
import pytest

from planner.population import basis_of
from planner.resampling.errors.later_pours.judged_programmes import judge
from planner.steps.searching import Work, search_of
from planner.terms.plan.settings import JudgedOn
from planner.verdict.selection.programmes.fixed_programmes import FixedProgrammes
from tests.laws.invented import plan_of, programme, settings


def invented(rng: np.random.Generator, n: int = 30) -> FixedProgrammes:
    """Figures without a meaning, with holes and equals among them."""
    numbers = (1, 2, 3)
    rms = rng.integers(1, 12, (n, 3)) / 100
    rms[rng.uniform(size=(n, 3)) < 0.2] = np.nan
    counts = rng.integers(6, 20, n)
    return FixedProgrammes(
        judged_on="later pour",
        assurance=0.9,
        trial_batches=numbers,
        joint=rng.integers(0, 5, n),
        n_specimens=counts,
        rms=rms,
        within_tolerance=np.where(np.isnan(rms), np.nan, rng.integers(80, 95, (n, 3)) / 100),
        is_within_limits=counts[:, None] * np.array(numbers) <= 30,
    )


def walked(fixed: FixedProgrammes, allowed: np.ndarray) -> list[tuple[int, float, float, int, int]]:
    """Every programme offered: specimens, error, share, schedule and number of trial batches."""
    found = []
    for which in range(len(fixed.n_specimens)):
        for column, number in enumerate(fixed.trial_batches):
            rms, share = fixed.rms[which, column], fixed.within_tolerance[which, column]
            if allowed[which] and fixed.is_within_limits[which, column] and rms == rms:
                found.append((int(fixed.n_specimens[which]) * number, rms, share, which, number))
    return found


@pytest.mark.parametrize("seed", range(60))
def test_decisions_are_minima_over_the_set(seed: int) -> None:
    rng = np.random.default_rng((17, seed))
    fixed = invented(rng)
    allowed = rng.uniform(size=30) < rng.choice([0.05, 0.3, 0.9])
    offered = walked(fixed, allowed)
    decision = fixed.decide(allowed)
    if not offered:
        assert decision is None
        return
    assert decision is not None
    good = [item for item in offered if item[2] >= 0.9]
    assert (decision.fewest is not None) == bool(good)
    assert decision.lowest.rms == min(item[1] for item in offered)
    largest = max(item[2] for item in offered)
    assert decision.most_inside.within_tolerance == largest
    assert decision.most_inside.n_specimens == min(item[0] for item in offered if item[2] == largest)
    if good:
        assert decision.fewest is not None
        assert (decision.fewest.n_specimens, decision.fewest.rms) == min((item[0], item[1]) for item in good)
        assert decision.fewest.within_tolerance >= 0.9
        assert decision.fewest.joint == fixed.joint[decision.fewest.which]


@pytest.mark.parametrize("seed", range(60))
def test_a_part_never_decides_better_than_the_whole(seed: int) -> None:
    rng = np.random.default_rng((18, seed))
    fixed = invented(rng)
    wide = rng.uniform(size=30) < 0.8
    narrow = wide & (rng.uniform(size=30) < 0.5)
    whole, part = fixed.decide(wide), fixed.decide(narrow)
    if part is None:
        return
    assert whole is not None
    assert whole.lowest.rms <= part.lowest.rms
    assert whole.most_inside.within_tolerance >= part.most_inside.within_tolerance
    if part.fewest is not None:
        assert whole.fewest is not None
        assert whole.fewest.n_specimens <= part.fewest.n_specimens


def test_nothing_that_is_offered_can_be_judged() -> None:
    fixed = invented(np.random.default_rng(1))
    assert fixed.decide(np.zeros(30, dtype=bool)) is None


@pytest.mark.parametrize("judged_on", ["own batch", "later pour"])
def test_the_search_decides_as_programmes_judged_anew(judged_on: JudgedOn) -> None:
    """The same figures whether the programmes' rule hands them on or every schedule is judged by itself."""
    plan = plan_of(programme(n_batches=5, cv=0.05), settings(specimens=12, judged_on=judged_on))
    rule = search_of(plan, basis_of(plan), Work.of(1, 1, 1, None)).programmes
    assert rule is not None
    matrix, choices = rule.rule.matrix, rule.rule.matrix.choices
    judged = judge(
        rule.cells, rule.scoring, choices, np.arange(len(choices)), matrix.best_joint, matrix.joints,
        judged_on=judged_on, trial_batches=(1,),
    )  # fmt: skip
    alone = FixedProgrammes(
        judged_on=judged_on,
        assurance=plan.settings.target.assurance,
        trial_batches=(1,),
        joint=np.asarray(matrix.best_joint, dtype=np.int64),
        n_specimens=choices.n_specimens,
        rms=judged.rms,
        within_tolerance=judged.within_tolerance,
        is_within_limits=choices.n_specimens[:, None] <= plan.settings.budget.specimens,
    )
    assert alone.decide() is not None
    assert alone.decide() == rule.fixed().decide()
