"""`recommend`, `score`, `price` and `minimum` decide alike whether anything is enough, and how few specimens are."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.pipeline import minimum, price, recommend, score
from planner.population import basis_of
from planner.steps.searching import Work, search_of
from tests.laws.invented import plan_of, programme, settings

pytestmark = pytest.mark.usefixtures("without_what_comes_after_casting")

FEW = {"n_draws": 2, "workers": 1}


@pytest.mark.slow
@pytest.mark.parametrize(("tolerance", "judged_on"), [(0.25, "later pour"), (0.02, "later pour"), (0.12, "own batch")])
def test_every_question_gives_the_same_decision(tolerance: float, judged_on: str) -> None:
    records = programme(n_batches=4, cv=0.04, seed=3)
    asked = settings(specimens=9, judged_on=judged_on)
    asked = replace(asked, target=replace(asked.target, tolerance=tolerance))
    plan = plan_of(records, asked)
    rule = search_of(plan, basis_of(plan), Work.of(1, 1, 1, None)).programmes
    assert rule is not None
    decision = rule.fixed().decide()
    assert decision is not None
    fewest = None if decision.fewest is None else decision.fewest.n_specimens
    advice = recommend(plan, **FEW)
    answers = [
        advice,
        score(plan, advice.recommended.schedule, **FEW)[1],
        price(plan, **FEW).recommendation,
    ]
    for answer in answers:
        assert answer.sufficiency is not None
        assert answer.spending is not None
        assert answer.sufficiency.is_reached == (decision.fewest is not None)
        assert answer.sufficiency.n_specimens == fewest
        assert answer.spending.is_enough == (decision.fewest is not None)
        assert answer.sufficiency.basis == ("own batch" if judged_on == "own batch" else "next batch")
    together = minimum(plan, **FEW).together
    assert together.judged_on == judged_on
    assert (None if together.fewest is None else together.fewest.n_specimens) == fewest
    assert together.customary is not None
    rated = score(plan, together.customary.schedule, **FEW)[0].programme
    assert rated is not None
    assert (rated.next_batch, rated.own_batch_rms) == (together.customary.next_batch, together.customary.own_batch_rms)


@pytest.mark.slow
def test_price_minimum_and_recommend_agree_on_random_plans() -> None:
    # 8 plans of records, limits and tolerances drawn with seed 7; some reach their target and some do not
    rng = np.random.default_rng(7)
    decided = set()
    for _ in range(8):
        records = programme(
            n_batches=int(rng.integers(3, 7)), cv=float(rng.uniform(0.01, 0.06)), seed=int(rng.integers(1000))
        )
        judged_on = str(rng.choice(["later pour", "own batch"]))
        asked = settings(specimens=int(rng.integers(7, 11)), judged_on=judged_on)
        tolerance, assurance = float(rng.choice([0.01, 0.015, 0.03, 0.15])), float(rng.uniform(0.8, 0.97))
        asked = replace(asked, target=replace(asked.target, tolerance=tolerance, assurance=assurance))
        plan = plan_of(records, asked)
        found, priced, least = recommend(plan, **FEW), price(plan, **FEW).recommendation, minimum(plan, **FEW).together
        for answer in (found, priced):
            assert answer.sufficiency is not None
            assert answer.spending is not None
            assert answer.sufficiency.is_reached == answer.spending.is_enough == (least.fewest is not None)
            wanted = None if least.fewest is None else least.fewest.n_specimens
            assert answer.sufficiency.n_specimens == wanted
        assert found.spending is not None
        assert priced.spending is not None
        assert found.spending.recommended == priced.spending.recommended
        assert found.recommended.schedule == priced.recommended.schedule
        decided.add((found.spending.is_enough, judged_on))
    assert {is_enough for is_enough, _ in decided} == {True, False}
    assert {basis for _, basis in decided} == {"later pour", "own batch"}
