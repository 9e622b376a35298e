"""Casting hours and the price of casting outside laboratory hours, worked out by hand."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from planner.laboratory.casting.best_casting import best_casting
from planner.laboratory.casting.casting_hours import schedule_costs
from planner.laboratory.casting.visits import is_casting_hour, visit_table
from planner.laboratory.clock.break_times import break_times
from planner.laboratory.costs.cost_items import itemise
from planner.laboratory.costs.cost_sums import cost_when_cast, total_cost
from planner.laboratory.costs.estimate import estimate
from planner.terms.plan.settings import Costs, Laboratory, ProgrammeSettings
from planner.terms.schedule import Schedule

OPENING = Laboratory(opens=dt.time(7), closes=dt.time(17), days=(0, 1, 2, 3, 4))
DAY = replace(OPENING, casting_hours=(dt.time(0), dt.time(0)))  # cast round the clock, broken by day
CREW = replace(DAY, casting_hours=(dt.time(7), dt.time(16)))
TWELVE = Schedule((12.0,), (2,))  # inside hours only if cast in the evening or at night
COSTS = Costs(currency="EUR", visit=90.0, visit_outside_hours=240.0)
WORKING_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri")
NOTHING = ProgrammeSettings(instrumented=0)


def test_only_casting_hours_are_looked_at() -> None:
    assert best_casting(TWELVE, DAY, COSTS).n_outside == 0
    found = best_casting(TWELVE, CREW, COSTS)
    assert found.n_outside == 1, "cast from 07:00 to 16:00 a break at 12 h falls at 19:00 or later"
    assert found.n_castings == 5 * 19, "every half hour from 07:00 to 16:00 on five days"
    assert (found.cast_at.hour, found.cast_at.weekday()) == (7, 0)


def test_casting_hours_left_out_are_the_opening_hours() -> None:
    named = replace(OPENING, casting_hours=(OPENING.opens, OPENING.closes))
    assert visit_table((12.0,), OPENING).cast_at == visit_table((12.0,), named).cast_at
    assert best_casting(TWELVE, OPENING, COSTS).n_castings == 5 * 21, "07:00 to 17:00 on five days"
    assert len(visit_table((12.0,), Laboratory()).cast_at) == 7 * 48
    assert len(visit_table((12.0,), replace(OPENING, days=())).cast_at) == 7 * 48


def test_all_schedules_are_priced_for_those_hours() -> None:
    has_age, specimens = np.ones((1, 1), dtype=bool), np.array([[2]])
    free = schedule_costs(has_age, specimens, (12.0,), DAY, COSTS, NOTHING)
    crew = schedule_costs(has_age, specimens, (12.0,), CREW, COSTS, NOTHING)
    assert (float(free.cost[0]), float(crew.cost[0])) == (90.0, 240.0)


def test_casting_outside_hours_is_paid_for_every_trial_batch() -> None:
    dear = replace(COSTS, casting_outside_hours=100.0)
    three = replace(NOTHING, trial_batches=3)
    has_age, specimens = np.ones((1, 1), dtype=bool), np.array([[2]])
    assert float(schedule_costs(has_age, specimens, (12.0,), DAY, dear, three).cost[0]) == 3 * (90.0 + 100.0)
    dearer = replace(COSTS, casting_outside_hours=200.0)  # then the press is attended in the evening instead
    assert float(schedule_costs(has_age, specimens, (12.0,), DAY, dearer, three).cost[0]) == 3 * 240.0
    items = itemise(TWELVE, dear, three, DAY)
    assert total_cost(items) == 3 * (90.0 + 100.0)
    assert {item.name: item.amount for item in items}["casting outside laboratory hours"] == 300.0


def test_a_crew_costs_one_price_inside_hours_and_another_instead_outside() -> None:
    crew = replace(COSTS, casting=30.0, casting_outside_hours=100.0)
    two = replace(NOTHING, trial_batches=2)
    costs = estimate("recommended", TWELVE, programme=two, costs=crew, laboratory=DAY, within_test_cv=(0.03,))
    morning = break_times(TWELVE, DAY, cast_at=dt.datetime(2027, 3, 1, 8, 0))
    assert costs.total == 2 * (90.0 + 100.0), "a night casting saves the evening visit: 190 against 270"
    assert cost_when_cast(costs, morning) == 2 * (240.0 + 30.0)
    flat = replace(COSTS, casting=30.0)  # outside hours is no dearer where no price is given for it
    assert total_cost(itemise(TWELVE, flat, two, DAY)) == 2 * (90.0 + 30.0)


def test_a_dated_casting_pays_for_its_own_hour() -> None:
    dear = replace(COSTS, casting_outside_hours=100.0)
    costs = estimate("recommended", TWELVE, programme=NOTHING, costs=dear, laboratory=DAY, within_test_cv=(0.03,))
    evening = break_times(TWELVE, DAY, cast_at=dt.datetime(2027, 3, 1, 21, 30))
    morning = break_times(TWELVE, DAY, cast_at=dt.datetime(2027, 3, 1, 8, 0))
    assert (evening.is_casting_outside_hours, morning.is_casting_outside_hours) == (True, False)
    assert cost_when_cast(costs, evening) == 190.0
    assert cost_when_cast(costs, morning) == 240.0


@pytest.mark.parametrize(
    ("at", "is_open"),
    [
        (dt.datetime(2024, 1, 1, 22), True),  # Monday evening
        (dt.datetime(2024, 1, 2, 2), True),  # the night after
        (dt.datetime(2024, 1, 1, 2), False),  # Sunday's night
        (dt.datetime(2024, 1, 6, 2), True),  # Friday's night
        (dt.datetime(2024, 1, 1, 12), False),
    ],
)
def test_hours_past_midnight_belong_to_the_day_before(at: dt.datetime, is_open: bool) -> None:
    assert is_casting_hour(at, replace(DAY, casting_hours=(dt.time(20), dt.time(4)))) is is_open


def test_hours_shorter_than_a_step_still_hold_one() -> None:
    table = visit_table((12.0,), replace(DAY, casting_hours=(dt.time(9, 10), dt.time(9, 20))))
    assert [at.strftime("%a %H:%M") for at in table.cast_at] == [f"{day} 09:10" for day in WORKING_DAYS]
