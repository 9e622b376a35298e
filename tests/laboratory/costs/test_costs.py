"""An estimate that adds up by hand."""

from __future__ import annotations

import datetime as dt

from planner.laboratory.clock.break_times import break_times
from planner.laboratory.costs.cost_items import itemise
from planner.laboratory.costs.cost_sums import calibration_cost, open_items, total_cost
from planner.laboratory.costs.estimate import estimate
from planner.terms.plan.settings import Costs, Laboratory, ProgrammeSettings
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.schedule import Schedule

LABORATORY = Laboratory(opens=dt.time(8), closes=dt.time(17))
SCHEDULE = Schedule((6.0, 12.0, 24.0, 672.0), (3, 3, 3, 2))  # 11 specimens
PRICES = Costs(
    currency="EUR",
    specimen=18,
    preparation=12,
    break_one=25,
    visit=90,
    visit_outside_hours=240,
    instrumented=60,
    fixed=400,
)
PROGRAMME = ProgrammeSettings(instrumented=2, spares=0.10, companions_per_check=3, n_checks=2, trial_batches=2)


def test_an_estimate_by_hand() -> None:
    # Cast Monday 22:00: 6 h Tuesday 04:00 (call), 12 h Tuesday 10:00 (visit), 24 h Tuesday 22:00 (call),
    # 28 d Monday 22:00, moved to 17:00 (visit, +-20 h). One trial batch: 11, 2 spares, 2 instrumented; twice
    # that. Two site checks: 6 companions and an attendance each.
    times = break_times(SCHEDULE, LABORATORY, cast_at=dt.datetime(2027, 3, 1, 22))
    items = itemise(SCHEDULE, PRICES, PROGRAMME, LABORATORY, (times,))
    assert [(item.name, item.quantity, item.unit_price, item.amount) for item in items] == [
        ("specimens made", 30, 18, 540),
        ("end preparation", 22, 12, 264),
        ("breaking", 22, 25, 550),
        ("visits inside laboratory hours", 4, 90, 360),
        ("visits outside laboratory hours", 4, 240, 960),
        ("instrumented specimens", 4, 60, 240),
        ("fixed, for each trial batch", 2, 400, 800),
        ("casting outside laboratory hours", 2, 0, 0),
        ("companions of site checks, made and broken", 6, 55, 330),
        ("visits of site checks", 2, 90, 180),
    ]
    assert calibration_cost(items) == 3714
    assert total_cost(items) == 4224
    assert open_items(items) == ("casting outside laboratory hours",)


def test_without_a_casting_time_the_cheapest_is_priced() -> None:
    # 6, 12, 24 h and 28 d, cast in the opening hours, 08:00 to 17:00: from 08:00 to 10:45 the breaks at 6 h, 24 h and
    # 28 d are inside, three visits, and 12 h is a call. Casting at 02:00 would save a visit, but nobody casts then.
    items = itemise(SCHEDULE, PRICES, ProgrammeSettings(), LABORATORY)
    visits = {item.name: item.quantity for item in items if item.name.startswith("visits")}
    assert visits == {"visits inside laboratory hours": 3, "visits outside laboratory hours": 1}


def test_of_several_castings_the_most_visits_are_told() -> None:
    # Cast at 03:00: 6 h and 12 h (09:00, 15:00) in one visit, 24 h (03:00) a call, 28 d moved inside. Cast at 19:00:
    # 01:00, 07:00 and 19:00 are calls, and 28 d is moved inside.
    few, many = (dt.datetime(2027, 3, 1, hour) for hour in (3, 19))
    for order in ((few, many), (many, few)):
        found = estimate(
            ChoiceRole.RECOMMENDED, SCHEDULE, programme=PROGRAMME, costs=PRICES, laboratory=LABORATORY,
            within_test_cv=(0.04,) * 4, windows=[(at, at) for at in order],
        )  # fmt: skip
        assert (found.n_visits, found.n_outside) == (4, 3)
        assert found.n_castings_asked == 2


def test_items_without_a_price_are_open() -> None:
    items = itemise(SCHEDULE, Costs(currency="EUR", specimen=18, visit=90), ProgrammeSettings())
    assert open_items(items) == (
        "end preparation",
        "breaking",
        "instrumented specimens",
        "fixed, for each trial batch",
        "casting inside laboratory hours",
    )
    # Always open: attendances outside hours are not needed, so their missing price is not open.
    assert total_cost(items) == 13 * 18 + 90 * next(i.quantity for i in items if "inside" in i.name)
