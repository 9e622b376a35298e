"""`recommend`, `score`, `price` and `minimum` decide alike whether anything is enough, and how few specimens are."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.pipeline import minimum, price, recommend, score
from planner.population import basis_of
from planner.searching import Work, search_of
from tests.laws.invented import plan_of, programme, settings

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
    told = recommend(plan, **FEW)
    answers = [
        told,
        score(plan, told.recommended.schedule, **FEW)[1],
        price(plan, **FEW).recommendation,
    ]
    for answer in answers:
        assert answer.sufficiency is not None
        assert answer.spending is not None
        assert answer.sufficiency.is_reached == decision.is_possible
        assert answer.sufficiency.n_specimens == fewest
        assert answer.spending.is_enough == decision.is_possible
        assert answer.sufficiency.basis == ("own batch" if judged_on == "own batch" else "next batch")
    together = minimum(plan, **FEW).together
    assert together.judged_on == judged_on
    assert (None if together.fewest is None else together.fewest.n_specimens) == fewest
