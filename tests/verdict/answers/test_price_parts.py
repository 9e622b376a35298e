"""What else one could buy, days, and a date by which the curve must be there, on a small plan."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from functools import cache

import pytest

from planner.laboratory.casting.casting_times import casting_windows, with_castings
from planner.pipeline import price
from planner.read.plan.laboratory_settings import budget_from
from planner.read.plan.plan_tables import BudgetTable
from planner.report.accounts.price.bid_account import specimen_words
from planner.report.accounts.price.price_parts_account import ready_by_words, ready_words, stages_section
from planner.report.text.blocks import Table
from planner.terms.labels import age_label
from planner.terms.plan.settings import Budget, Costs, Laboratory, Plan, ProgrammeSettings
from planner.terms.problems import NoScheduleError
from planner.terms.results.answers import PriceAnswer
from planner.terms.results.cost_item import CostKind
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


def test_what_takes_more_specimens_than_the_plan_allows_is_marked() -> None:
    plan = priced_plan()
    n_bid = told().recommendation.recommended.schedule.n_specimens
    few = replace(plan.settings.budget, specimens=2 * n_bid)
    answer = price(replace(plan, settings=replace(plan.settings, budget=few)), n_draws=5, workers=1)
    is_within = [item.n_specimens <= 2 * n_bid for item in answer.alternatives]
    assert [item.is_within_limits for item in answer.alternatives] == is_within
    assert set(is_within) == {True, False}


def test_one_specimen_more_in_every_trial_batch_must_keep_the_budget() -> None:
    plan = priced_plan()
    programme = replace(plan.settings.programme_asked, trial_batches=3, most_trial_batches=None)
    settings = replace(plan.settings, programme=programme)
    n_free = price(
        replace(plan, settings=settings), n_draws=5, workers=1
    ).recommendation.recommended.schedule.n_specimens
    most = 3 * n_free + 2  # two more than are broken, but one more in each batch takes three
    budget = replace(settings.budget, specimens=most)
    answer = price(replace(plan, settings=replace(settings, budget=budget)), n_draws=5, workers=1)
    schedule, most_each = answer.recommendation.recommended.schedule, settings.choices.specimens_per_age[1]
    fits = 3 * (schedule.n_specimens + 1) <= most
    assert [gain.is_allowed for gain in answer.gains] == [fits and gain.n_now < most_each for gain in answer.gains]
    assert not fits
    assert any(gain.n_now < most_each for gain in answer.gains)


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
    assert risk.expected_alarm_cost == pytest.approx(risk.chance_of_false_alarm * (estimate.total + acceptance))


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


def test_money_of_one_specimen_more_is_the_difference_of_two_estimates_by_hand() -> None:
    # one more is made, prepared and broken in each of the m trial batches: 18 + 12 + 25, no new attendance
    answer = told()
    spending = answer.recommendation.spending
    assert spending is not None
    for gain in answer.gains:
        assert gain.cost == pytest.approx(55.0 * spending.recommended.n_trial_batches)
    best = min(answer.gains, key=lambda gain: (not gain.is_allowed, gain.rms_then))
    assert f"one more at {age_label(best.age_h)}: {best.cost:.0f} EUR, " in specimen_words(answer)


def hours(day: dt.date, hour: float) -> dt.datetime:
    return dt.datetime.combine(day, dt.time(), tzinfo=dt.UTC) + dt.timedelta(hours=hour)


def test_a_casting_time_prices_the_holiday_and_dates_the_curves() -> None:
    # The laboratory is open round the clock but closed on Wednesday 3 March: cast on Tuesday at 08:00 the breaks of
    # Wednesday are attendances outside hours. A week later they are not.
    plan = priced_plan()
    laboratory = Laboratory(closed=(dt.date(2027, 3, 3),), age_tolerances="other +-10 %")
    costs = replace(COSTS, visit_outside_hours=240)
    plan = replace(plan, settings=replace(plan.settings, laboratory=laboratory, costs=costs))
    found = {}
    for day in (2, 9):
        windows = casting_windows([f"2027-03-{day:02d} 08:00"])
        cast = replace(plan, settings=with_castings(plan.settings, windows))
        found[day] = price(cast, n_draws=20, workers=1)
    for day, answer in found.items():
        start = hours(dt.date(2027, 3, day), 8.0)
        bid = next(item for item in answer.alternatives if item.is_recommended)
        estimate = answer.estimates[0]
        days = {(start + dt.timedelta(hours=age)).date() for age in estimate.schedule.ages_h}
        assert estimate.n_outside == len(days & {dt.date(2027, 3, 3)})
        outside = {item.kind: item for item in estimate.items}[CostKind.VISITS_OUTSIDE_HOURS]
        assert outside.amount == 240.0 * estimate.n_outside * estimate.count.n_trial_batches
        last = bid.stages[-1]
        assert last.due is not None
        middle = start + dt.timedelta(hours=bid.schedule.ages_h[-1] + 24.0 * (bid.n_trial_batches - 1))
        assert abs(last.due - middle) <= dt.timedelta(hours=1)  # the last specimen is broken after the nominal age
        assert f"final {last.due:%a %d %b %Y %H:%M}, " in ready_words(answer)
        section = stages_section(answer).blocks[0]
        assert isinstance(section, Table)
        assert [column.heading for column in section.columns][:2] == ["on", "ages"]
    assert found[2].estimates[0].n_outside > 0
    assert found[9].estimates[0].n_outside == 0


def test_without_a_casting_time_nothing_is_dated() -> None:
    assert {stage.due for item in told().alternatives for stage in item.stages} == {None}
    assert "202" not in ready_words(told())
