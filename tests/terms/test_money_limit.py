"""A limit of the very sum is kept, a cent less is not, and the message names the least that would do."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.pipeline import price
from planner.terms.plan.money_limit import is_within_money, keeps_money, least_limit
from planner.terms.problems import NoScheduleError
from tests.verdict.answers.test_price_parts import COSTS, priced_plan


def test_sums_that_are_not_exact_keep_their_own_limit() -> None:
    assert sum([0.1] * 3) > 0.3
    assert is_within_money(np.array([sum([0.1] * 3), 0.301, 1e12]), 0.3).tolist() == [True, False, False]
    assert is_within_money(np.array([1e12]), None).tolist() == [True]
    assert keeps_money(None, 1.0)
    assert keeps_money(sum([0.1] * 3), 0.3)
    assert not keeps_money(100.01, 100.0)


@pytest.mark.parametrize(("cost", "least"), [(216.0, 216.0), (7.3, 7.3), (0.1 + 0.2, 0.3), (1602.3546, 1602.36)])
def test_the_least_limit_is_in_whole_cents_and_kept(cost: float, least: float) -> None:
    assert least_limit(cost) == least
    assert keeps_money(cost, least)
    assert not keeps_money(cost, least - 0.01)


def test_the_message_names_a_limit_that_then_works() -> None:
    costs = replace(COSTS, specimen=18.333, fixed=400.1)

    def limited(most: float):
        plan = priced_plan(cost=most)
        return replace(plan, settings=replace(plan.settings, costs=costs))

    with pytest.raises(NoScheduleError, match=r"costs [0-9]+\.[0-9][0-9] EUR, but \[budget\] cost is 99\.50\.") as told:
        price(limited(99.5), n_draws=5, workers=1)
    least = float(str(told.value).split("costs ")[1].split(" EUR")[0])
    with pytest.raises(NoScheduleError, match="cheapest"):
        price(limited(least - 0.01), n_draws=5, workers=1)
    found = price(limited(least), n_draws=5, workers=1)
    assert found.estimates[0].total == pytest.approx(least, abs=0.01)
    is_within = [item.cost <= least + 0.001 for item in found.alternatives]
    assert [item.is_within_limits for item in found.alternatives] == is_within
    assert set(is_within) == {True, False}
    assert next(item for item in found.alternatives if item.is_recommended).is_within_limits


def test_a_limit_of_the_very_sum_is_kept() -> None:
    with pytest.raises(NoScheduleError) as told:
        price(priced_plan(cost=1.0), n_draws=5, workers=1)
    least = float(str(told.value).split("costs ")[1].split(" EUR")[0])
    assert least == round(least)
    assert price(priced_plan(cost=least), n_draws=5, workers=1).estimates[0].total == least
