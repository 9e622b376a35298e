"""What else one could buy, days, and a date by which the curve must be there, on a small plan."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from planner.pipeline import price
from planner.read.plan.laboratory_tables import budget_from
from planner.read.plan.plan_tables import BudgetTable
from planner.report.accounts.parts.price_parts_account import ready_by_words
from planner.terms.plan.settings import Budget, Costs, Plan, ProgrammeSettings
from planner.terms.problems import NoScheduleError
from planner.terms.results.answers import PriceAnswer
from tests.verdict.small_table import small_plan

COSTS = Costs(currency="EUR", specimen=18, preparation=12, break_one=25, visit=90, fixed=400, casting=150)


def priced_plan(**budget: object) -> Plan:
    plan = small_plan()
    settings = plan.settings
    programme = ProgrammeSettings(instrumented=0, companions_per_check=3, n_checks=4, most_trial_batches=3)
    return replace(
        plan,
        settings=replace(
            settings, costs=COSTS, programme=programme, budget=replace(settings.budget, specimens=60, **budget)
        ),
    )


@cache
def told() -> PriceAnswer:
    return price(priced_plan(), n_draws=20, workers=1)


def test_alternatives_carry_the_figures_of_the_same_programmes() -> None:
    answer = told()
    spending = answer.recommendation.spending
    assert spending is not None
    bid = next(item for item in answer.alternatives if item.is_recommended)
    assert bid.schedule == spending.recommended.schedule
    assert bid.cost == pytest.approx(spending.recommended.cost)
    assert spending.recommended.next_batch is not None
    assert bid.later_rms == pytest.approx(spending.recommended.next_batch.rms, rel=1e-6)
    assert bid.within_tolerance == pytest.approx(spending.recommended.next_batch.within_tolerance, rel=1e-6)
    by_number = {item.n_trial_batches: item for item in answer.alternatives if item.schedule == bid.schedule}
    assert sorted(by_number) == [1, 2, 3]
    assert by_number[3].cost == pytest.approx(3 * by_number[1].cost)
    assert by_number[1].later_rms > by_number[2].later_rms > by_number[3].later_rms


def test_the_last_stage_is_the_whole_programme_a_day_later_for_each_batch_more() -> None:
    for item in told().alternatives:
        assert item.stages[-1].age_h == item.schedule.ages_h[-1] + 24.0 * (item.n_trial_batches - 1)
        assert item.stages[-1].n_ages == item.schedule.n_ages
        assert item.stages[-1].later_rms == pytest.approx(item.later_rms)


def test_risk_is_priced_from_the_lines_of_the_estimate() -> None:
    answer = told()
    risk, estimate = answer.risk, answer.estimates[0]
    assert risk is not None
    m, n_targets = estimate.count.n_trial_batches, len(answer.recommendation.target_ages_h)
    acceptance = m * n_targets * (3 * 55 + 90)
    assert risk.cost_without_repeat == pytest.approx(estimate.total + acceptance)
    assert risk.options[0].expected_cost == pytest.approx(risk.cost_without_repeat / (1.0 - risk.chance_of_repeat))
    assert risk.chance_lower_95 <= risk.chance_of_repeat <= risk.chance_upper_95
    assert risk.n_checks == 4
    assert risk.expected_alarm_cost == pytest.approx(risk.chance_of_false_alarm * estimate.total)


def test_a_date_limits_the_last_break_of_the_last_trial_batch() -> None:
    free = told().recommendation.recommended.schedule.ages_h[-1]
    ages = sorted(priced_plan().settings.choices.ages_h)
    latest = [age for age in ages if age < free][-1]
    answer = price(priced_plan(ready_by_h=latest, latest_age_h=latest, latest_age_asked_h=None), n_draws=20, workers=1)
    spending = answer.recommendation.spending
    assert spending is not None
    for item in spending.programmes:
        if item.is_within_limits:
            assert item.schedule.ages_h[-1] + 24.0 * (item.n_trial_batches - 1) <= latest
    assert answer.without_ready_by is not None
    assert answer.without_ready_by.schedule == told().recommendation.recommended.schedule
    assert "Without it: " in ready_by_words(answer)
    assert f"{answer.without_ready_by.cost:.0f} EUR" in ready_by_words(answer)


def test_a_date_that_nothing_keeps_names_the_least_that_would_do() -> None:
    plan = priced_plan(ready_by_h=1.0, latest_age_h=1.0, latest_age_asked_h=None)
    with pytest.raises(NoScheduleError, match=r"No calibration is ready within 1 h.*ready_by to \""):
        price(plan, n_draws=20, workers=1)


def test_the_earlier_of_two_dates_holds() -> None:
    read = BudgetTable.model_validate({"specimens": 9, "latest_age": "28 d", "ready_by": "10 d"})
    assert budget_from(read, ProgrammeSettings(trial_batches=2)) == Budget(
        specimens=9, latest_age_h=216.0, ready_by_h=240.0, latest_age_asked_h=672.0
    )
    read = BudgetTable.model_validate({"specimens": 9, "latest_age": "7 d", "ready_by": "10 d"})
    assert budget_from(read, None).latest_age_h == 168.0
