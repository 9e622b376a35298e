"""A run that asks for castings is ranked and priced for them, on every output."""

from __future__ import annotations

import csv
import datetime as dt
import io
from dataclasses import replace

import numpy as np
import pytest
from openpyxl import load_workbook

from planner.laboratory.casting.casting_hours import castings_costs, schedule_costs
from planner.laboratory.casting.casting_times import casting_windows, with_castings
from planner.laboratory.clock.break_times import break_times
from planner.laboratory.costs.cost_items import itemise
from planner.laboratory.costs.cost_sums import calibration_cost
from planner.pipeline import recommend
from planner.questions.recommending import Advice
from planner.read import load_plan
from planner.report.documents.choices_file import write_choices
from planner.report.documents.workbook import render_workbook
from planner.starter import STARTER
from planner.terms.plan.settings import Costs, Laboratory, Plan, ProgrammeSettings, Settings
from planner.terms.problems import InputError
from planner.terms.schedule import Schedule

OFFICE = Laboratory(opens=dt.time(7), closes=dt.time(17), days=(0, 1, 2, 3, 4))
COSTS = Costs(
    currency="EUR", specimen=18, break_one=25, visit=90, visit_outside_hours=240, casting=30, casting_outside_hours=200
)
TWO = ProgrammeSettings(instrumented=1, companions_per_check=3, n_checks=2, trial_batches=2)
MORNING, NIGHT = "2027-03-01 07:00", "2027-03-02 22:00"


@pytest.fixture(scope="module")
def plan() -> Plan:
    read = load_plan(STARTER / "plan.toml")
    choices = replace(read.settings.choices, most_ages=4, specimens_per_age=(2, 2))
    records = replace(
        read.records, breaks=tuple(item for item in read.records.breaks if item.batch in ("S1", "S2", "S3", "S4"))
    )
    settings = replace(read.settings, choices=choices, laboratory=OFFICE, costs=COSTS)
    return replace(read, settings=settings, records=records)


def asked(settings: Settings, *texts: str) -> Settings:
    return with_castings(settings, casting_windows(texts))


@pytest.mark.parametrize("texts", [(), (MORNING,), (NIGHT,), (MORNING, NIGHT), (NIGHT, NIGHT)])
def test_every_schedule_is_priced_as_its_own_estimate(plan: Plan, texts: tuple[str, ...]) -> None:
    settings = asked(replace(plan.settings, programme=TWO), *texts)
    ages_h = (6.0, 12.0, 24.0, 672.0)
    specimens = np.array([[2, 2, 0, 0], [0, 3, 2, 2], [2, 2, 2, 2], [0, 0, 0, 3]])
    costs = castings_costs(specimens, ages_h, settings, TWO)
    for row, counts in enumerate(specimens):
        held = [(age, int(n)) for age, n in zip(ages_h, counts, strict=True) if n]
        schedule = Schedule(tuple(age for age, _ in held), tuple(n for _, n in held))
        castings = tuple(break_times(schedule, OFFICE, cast_at=first) for first, _last in settings.castings)
        assert costs.cost[row] == pytest.approx(calibration_cost(itemise(schedule, COSTS, TWO, OFFICE, castings)))
        if castings:
            assert costs.n_visits[row] == max(times.n_visits for times in castings)


def test_two_castings_cost_what_each_of_them_does_by_hand(plan: Plan) -> None:
    # One break at 12 h: cast at 07:00 it is a call (240) with a crew inside hours (30), cast at 22:00 a visit (90) with
    # a night crew (200). 2 broken and 1 instrumented each: 3 x 18 + 2 x 25 a batch; site checks are not counted.
    settings = asked(replace(plan.settings, programme=TWO), MORNING, NIGHT)
    costs = castings_costs(np.array([[2]]), (12.0,), settings, TWO)
    assert costs.cost[0] == 2 * (3 * 18 + 2 * 25) + (240 + 30) + (90 + 200)


def test_the_cheapest_of_a_window_is_priced(plan: Plan) -> None:
    settings = asked(plan.settings, "2027-03-01 12:00/2027-03-02 12:00")
    one = replace(TWO, trial_batches=1)
    costs = castings_costs(np.array([[2]]), (12.0,), settings, one)
    free = schedule_costs(np.array([[True]]), np.array([[2]]), (12.0,), OFFICE, COSTS, one)
    # a day visit and a night crew cost 290 in the window, a call and a day crew 270 at any hour of the day
    assert costs.cost[0] == free.cost[0]


def test_castings_must_match_the_trial_batches(plan: Plan) -> None:
    with pytest.raises(InputError, match=r"2 casting times are given.*plan has 1 trial batch\. .*trial_batches = 2"):
        asked(plan.settings, MORNING, NIGHT)
    three = replace(TWO, trial_batches=1, most_trial_batches=3)
    settings = asked(replace(plan.settings, programme=three), MORNING, NIGHT)
    assert settings.programme is not None
    assert settings.programme.allowed_trial_batches == (2,), "one casting each fixes their number"
    with pytest.raises(InputError, match="the plan has 1 to 3 trial batches"):
        asked(replace(plan.settings, programme=three), *(MORNING,) * 4)


def test_one_price_stands_on_every_output(plan: Plan) -> None:
    costs = {}
    for text in (MORNING, NIGHT):
        settings = asked(plan.settings, text)
        recommendation = recommend(replace(plan, settings=settings), n_draws=20, workers=1)
        advice = Advice(recommendation, settings).dated([text])
        assert recommendation.estimate is not None
        assert recommendation.recommended.cost is not None
        (times,) = advice.castings
        own = calibration_cost(
            itemise(recommendation.recommended.schedule, COSTS, settings.programme_asked, OFFICE, (times,))
        )
        assert recommendation.recommended.cost == recommendation.estimate.total == own
        cost = f"{own:.0f} EUR"
        assert recommendation.estimate.casting == text
        assert recommendation.recommended.n_visits == times.n_visits
        screen = str(advice)
        assert f"Cost {cost}" in " ".join(screen.split()).replace(":", "")
        assert f"{times.n_outside} outside hours, {cost}" in screen
        rows = list(csv.DictReader(io.StringIO(write_choices(recommendation.choices).decode("utf-8"))))
        same = [row for row in rows if row["n_specimens"] == str(recommendation.recommended.schedule.n_specimens)]
        assert any(float(row["cost"]) == pytest.approx(own) for row in same)
        book = load_workbook(io.BytesIO(render_workbook(recommendation, settings, castings=advice.castings)))
        amounts = [
            (row[1].value, row[2].value) for row in book["Cost"].iter_rows(min_row=2) if row[1].value is not None
        ]
        assert sum(quantity * price for quantity, price in amounts) == pytest.approx(own)
        costs[text] = recommendation
    assert costs[MORNING].recommended.cost != costs[NIGHT].recommended.cost
