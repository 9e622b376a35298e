"""A narrower plan never makes possible what a wider one called impossible. 200 pairs of random plans, seeds below."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.population import basis_of
from planner.steps.searching import Work, search_of
from planner.terms.plan.settings import Plan, ProgrammeSettings
from planner.verdict.selection.programmes.programme_rule import ProgrammeRule
from tests.laws.invented import AGES_H, plan_of, programme, settings

N_RECORDS, N_PLANS = 20, 10  # of each


def rule_of(plan: Plan) -> ProgrammeRule:
    rule = search_of(plan, basis_of(plan), Work.of(1, 1, 1, None)).programmes
    assert rule is not None
    return rule


def fewest(rule: ProgrammeRule) -> float:
    """Fewest specimens that are enough over all trial batches; endless where nothing is."""
    taken = rule.fewest_enough()
    if taken is None:
        return np.inf
    return float(rule.limits.n_specimens[taken.which] * taken.n_trial_batches)


def narrowed(plan: Plan, rng: np.random.Generator) -> Plan:
    """The same plan with one limit made stricter."""
    asked = plan.settings
    choices, budget = asked.choices, asked.budget
    ways = {
        "required age": lambda: replace(asked, choices=replace(choices, required_ages_h=(float(rng.choice(AGES_H)),))),
        "fewer ages": lambda: replace(asked, choices=replace(choices, most_ages=3)),
        "more ages": lambda: replace(asked, choices=replace(choices, fewest_ages=4)),
        "fewer specimens": lambda: replace(asked, budget=replace(budget, specimens=budget.specimens - 2)),
        "earlier": lambda: replace(asked, budget=replace(budget, latest_age_h=168.0)),
        "gap": lambda: replace(asked, choices=replace(choices, minimum_gap_h=10.0)),
        "strength": lambda: replace(asked, choices=replace(choices, least_strength_mpa=9.0)),
        "one trial batch": lambda: replace(asked, programme=ProgrammeSettings(instrumented=0)),
    }
    return replace(plan, settings=ways[str(rng.choice(list(ways)))]())


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(N_RECORDS))
def test_a_stricter_limit_never_makes_less_enough(seed: int) -> None:
    rng = np.random.default_rng((91, seed))
    records = programme(n_batches=int(rng.integers(3, 6)), cv=float(rng.uniform(0.02, 0.06)), seed=seed)
    for _ in range(N_PLANS):
        judged_on = "own batch" if rng.uniform() < 0.3 else "later pour"
        wide = plan_of(records, settings(specimens=int(rng.integers(12, 19)), judged_on=judged_on))
        tolerance = float(rng.uniform(0.04, 0.25))
        asked = replace(
            wide.settings,
            target=replace(wide.settings.target, tolerance=tolerance),
            programme=ProgrammeSettings(instrumented=0, trial_batches=1, most_trial_batches=2),
        )
        wide = replace(wide, settings=asked)
        narrow = narrowed(wide, rng)
        assert fewest(rule_of(wide)) <= fewest(rule_of(narrow)), (narrow.settings, seed)


def test_the_law_is_not_empty() -> None:
    """Both plans with something enough and plans with nothing are among them, and limits that cost specimens."""
    records = programme(n_batches=4, seed=3)
    found = []
    for tolerance in (0.02, 0.30):
        for required in ((), (672.0,)):
            asked = settings(specimens=12)
            asked = replace(
                asked,
                target=replace(asked.target, tolerance=tolerance),
                choices=replace(asked.choices, required_ages_h=required),
            )
            found.append(fewest(rule_of(plan_of(records, asked))))
    assert np.isinf(found[0])
    assert np.isfinite(found[2:]).all()
