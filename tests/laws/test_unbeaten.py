"""A programme that another beats in all that counts is not taken, not listed as tied and not shown without saying so.

Brute force over every schedule and number of trial batches of small plans.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from planner.pipeline import recommend
from planner.population import basis_of
from planner.resampling.errors.later_pours.judged_programmes import judge
from planner.steps.searching import Work, search_of
from planner.terms.plan.settings import Costs, Plan, ProgrammeSettings
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.schedule import Schedule
from planner.verdict.selection.programmes.programme import Chosen, Taken
from planner.verdict.selection.programmes.programme_rule import ProgrammeRule
from tests.laws.invented import plan_of, programme, settings

pytestmark = pytest.mark.usefixtures("without_what_comes_after_casting")

COSTS = Costs(currency="EUR", specimen=18.0, preparation=12.0, break_one=25.0, visit=90.0, fixed=400.0)
SEEDS = (0, 1, 2, 3, 4, 5, 9, 10, 11, 13)


def small(seed: int) -> Plan:
    """Every other plan has prices; some are judged on their own concrete."""
    rng = np.random.default_rng((5, seed))
    records = programme(n_batches=int(rng.integers(3, 7)), cv=float(rng.uniform(0.02, 0.07)), seed=seed)
    asked = settings(
        specimens=int(rng.integers(14, 26)), judged_on="own batch" if seed % 5 == 4 else "later pour",
        assurance=float(rng.choice([0.4, 0.9])),
    )  # fmt: skip
    programme_asked = ProgrammeSettings(instrumented=0, trial_batches=1, most_trial_batches=int(rng.integers(1, 4)))
    return plan_of(records, replace(asked, programme=programme_asked, costs=COSTS if seed % 2 else None))


def keys_of(rule: ProgrammeRule, taken: Taken) -> tuple[float, ...]:
    """Error, worst batch, over-prediction, money, specimens, visits and last age of one programme."""
    return keys_of_each(rule, [taken.which], [taken.joint], taken.n_trial_batches)[0]


def keys_of_each(
    rule: ProgrammeRule, which: Sequence[int], joint: Sequence[int], n_trial_batches: int
) -> list[tuple[float, ...]]:
    """The same of schedules that are taken for one number of trial batches."""
    matrix, m = rule.rule.matrix, n_trial_batches
    judged = judge(
        rule.cells, rule.scoring, matrix.choices, np.array(which), np.array(joint), matrix.joints,
        judged_on=rule.wanted.judged_on, trial_batches=(m,),
    )  # fmt: skip
    found: list[tuple[float, ...]] = []
    for row, place in enumerate(which):
        schedule = matrix.choices.schedule(place)
        money = rule.limits.cost(place, m)
        found.append((
            float(judged.rms[row, 0]), float(judged.worst[row, 0]), float(judged.over_beyond[row, 0]),
            0.0 if money is None else round(float(money), 6), schedule.n_specimens * m,
            int(rule.limits.n_visits[place]) * m, schedule.last_age_h,
        ))  # fmt: skip
    return found


@cache
def searched(seed: int) -> tuple[ProgrammeRule, Chosen, dict[Taken, tuple[float, ...]]]:
    """The rule and the choice of a small plan, and every programme that it allows and can judge."""
    plan = small(seed)
    search = search_of(plan, basis_of(plan), Work.of(1, 1, 1, None))
    rule, chosen = search.programmes, search.chosen
    assert rule is not None
    assert chosen is not None
    found = {}
    best = rule.rule.matrix.best_joint
    for m in rule.limits.trial_batches:
        which = np.flatnonzero(rule.limits.allows(np.arange(len(best)), m)).tolist()
        joint = best[which].tolist()
        for one, of, keys in zip(which, joint, keys_of_each(rule, which, joint, m), strict=True):
            if np.isfinite(keys[0]):
                found[Taken(one, of, m)] = keys
    return rule, chosen, found


def beats(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    return all(a <= b for a, b in zip(one, other, strict=True)) and one != other


@pytest.mark.slow
@pytest.mark.parametrize("seed", SEEDS)
def test_what_is_beaten_is_not_tied_and_said_where_it_is_shown(seed: int) -> None:
    rule, chosen, programmes = searched(seed)
    for taken in chosen.tied:
        if taken != chosen.taken:
            keys = keys_of(rule, taken)
            assert not any(beats(other, keys) for other in programmes.values()), taken
    mine = keys_of(rule, chosen.taken)
    better = {taken for taken, keys in programmes.items() if beats(keys, mine)}
    found = rule.beaten_by(chosen.taken)
    assert (found is not None) == bool(better)
    if found is not None:
        assert found in better
        assert not any(beats(keys, programmes[found]) for keys in programmes.values())
        matrix = rule.rule.matrix
        assert matrix.score[found.which] > matrix.score[chosen.taken.which] or chosen.is_enough


@pytest.mark.slow
@pytest.mark.parametrize("seed", SEEDS)
def test_every_programme_and_schedule_shown_says_whether_it_is_beaten(seed: int) -> None:
    rule, _, programmes = searched(seed)
    advice: Recommendation = recommend(small(seed), n_draws=5, workers=1)
    money = advice.spending
    assert money is not None
    matrix = rule.rule.matrix
    place = {matrix.choices.schedule(which): which for which in range(len(rule.limits.n_specimens))}

    def is_beaten(schedule: Schedule, curve: str, weighting: str, maturity: object, m: int) -> bool:
        joint = next(
            j
            for j, item in enumerate(matrix.joints)
            if (item.curve, item.weighting, item.maturity) == (curve, weighting, maturity)
        )
        keys = keys_of(rule, Taken(place[schedule], joint, m))
        return any(beats(other, keys) for other in programmes.values())

    for item in money.programmes:
        expected = is_beaten(item.schedule, item.curve, item.weighting, item.maturity, item.n_trial_batches)
        assert (item.beaten_by is not None) == expected
        assert not (item.is_tied and expected and item != money.recommended)
    number = money.recommended.n_trial_batches
    for choice in (advice.recommended, advice.best, *advice.tied, *advice.next_best):
        assert choice.is_beaten == is_beaten(choice.schedule, choice.curve, choice.weighting, choice.maturity, number)
    assert advice.next_best
    if money.recommended.beaten_by is not None:
        assert any("no worse in anything" in text for text in money.sentences)
    else:
        assert not any("no worse in anything" in text for text in money.sentences)


@pytest.mark.parametrize("seed", [53, 102, 103])
def test_one_of_like_loss_that_beats_the_cheapest_is_taken_instead(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Plans found by walking through seeds, where the ladder's choice is beaten by a schedule of near loss."""
    plan = small(seed)
    search = search_of(plan, basis_of(plan), Work.of(1, 1, 1, None))
    rule, chosen = search.programmes, search.chosen
    assert rule is not None
    assert chosen is not None
    monkeypatch.setattr(ProgrammeRule, "_unbeaten", lambda _self, ladders, _training, **_how: ladders)
    ladders = rule.choose()
    assert ladders is not None
    assert beats(keys_of(rule, chosen.taken), keys_of(rule, ladders.taken))
    assert chosen.taken in chosen.tied
    assert ladders.taken not in chosen.tied


def test_some_of_these_plans_have_something_beaten() -> None:
    """Else the tests above would look at nothing."""
    shown = recommend(small(3), n_draws=5, workers=1)
    assert shown.spending is not None
    assert sum(item.beaten_by is not None for item in shown.spending.programmes) > 3
    assert shown.best.is_beaten
    taken = recommend(small(10), n_draws=5, workers=1).spending
    assert taken is not None
    assert taken.recommended.beaten_by is not None
