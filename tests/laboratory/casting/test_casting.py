"""The casting time, and very many schedules priced at once."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from itertools import product
from time import perf_counter

import numpy as np
import pytest

from planner.laboratory.casting.best_casting import best_casting
from planner.laboratory.casting.casting_hours import schedule_costs
from planner.laboratory.casting.visits import count_visits, visit_table
from planner.laboratory.clock.break_times import break_times
from planner.laboratory.costs.cost_items import itemise
from planner.laboratory.costs.cost_sums import calibration_cost, total_cost
from planner.terms.plan.settings import Costs, Laboratory, OtherCost, ProgrammeSettings
from planner.terms.schedule import Schedule

ANY_HOUR = (dt.time(0), dt.time(0))  # casting round the clock on working days
EVERY_DAY = Laboratory(opens=dt.time(8), closes=dt.time(17), casting_hours=ANY_HOUR)
WEEKDAYS = Laboratory(
    opens=dt.time(7), closes=dt.time(17), days=(0, 1, 2, 3, 4), time_zone="Europe/Oslo", casting_hours=ANY_HOUR
)
NIGHTS = Laboratory(opens=dt.time(20), closes=dt.time(6), days=(0, 1, 2, 3, 4))
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
NO_EXTRAS = ProgrammeSettings(instrumented=0)
EVERY_BASIS = (
    OtherCost(name="report", amount=310.0, per="programme"),
    OtherCost(name="transport", amount=60.0, per="batch"),
    OtherCost(name="label", amount=0.35, per="specimen"),
    OtherCost(name="van", amount=22.5, per="visit"),
    OtherCost(name="concrete", amount=0.19, per="litre"),
)


def test_a_12_h_break_in_a_day_from_8_to_17_needs_casting_between_20_and_5() -> None:
    # derived: 08:00 less 12 h is 20:00, 17:00 less 12 h is 05:00, both ends included
    table = visit_table((12.0,), EVERY_DAY)
    inside = {at.time() for at, outside in zip(table.cast_at, table.is_outside[:, 0], strict=True) if not outside}
    outside = {at.time() for at, out in zip(table.cast_at, table.is_outside[:, 0], strict=True) if out}
    assert inside == {at for at in {t.time() for t in table.cast_at} if at >= dt.time(20) or at <= dt.time(5)}
    assert dt.time(5, 30) in outside
    assert dt.time(19, 30) in outside
    assert not inside & outside


def test_the_week_without_dates() -> None:
    table = visit_table((12.0,), WEEKDAYS)
    assert len(table.cast_at) == 240, "on five working days"
    assert f"{table.cast_at[0]:%A %H:%M} {table.cast_at[-1]:%A %H:%M}" == "Monday 00:00 Friday 23:30"
    assert not table.is_dated


def test_the_best_hour_is_named() -> None:
    # 12 h and 24 h inside 07:00 to 17:00 on a weekday: casting between 19:00 and 05:00 for the 12 h break and
    # between 07:00 and 17:00 for the 24 h break cannot both be had, so one attendance is outside.
    advice = best_casting(Schedule((12.0, 24.0), (3, 3)), WEEKDAYS, PRICES)
    assert (advice.n_visits, advice.n_outside, advice.visit_cost) == (2, 1, 330.0)
    assert advice.label == "Monday 07:00"  # inside hours goes before Monday 00:00, which does as well
    # 12 h alone: Monday 00:00 to 05:00 do, all outside hours; the earliest is taken.
    alone = best_casting(Schedule((12.0,), (3,)), WEEKDAYS, PRICES)
    assert (alone.label, alone.n_outside, alone.is_casting_outside_hours) == ("Monday 00:00", 0, True)
    # Three breaks fill the window of +-15 minutes: due from 07:15 to 16:45, so cast Monday 00:00 to 04:30 (10) and
    # Monday to Thursday 19:30 to 04:30 (4 x 19).
    assert alone.n_equal == 10 + 4 * 19


def test_dates_count_inside_a_window() -> None:
    closed = Laboratory(opens=dt.time(8), closes=dt.time(17), closed=(dt.date(2027, 3, 2),))
    window = (dt.datetime(2027, 3, 1, 19), dt.datetime(2027, 3, 2, 21))
    # The 12 h break may not fall on 2 March and takes 15 minutes either way: casting waits for 3 March 08:15.
    advice = best_casting(Schedule((12.0,), (3,)), closed, None, window)
    assert (advice.label, advice.n_outside, advice.n_equal, advice.visit_cost) == (
        "2027-03-02 20:30",
        0,
        2,
        None,
    )


def test_the_clock_change_moves_the_best_casting_time() -> None:
    # Oslo, clocks forward at 02:00 on 28 March 2027: 12 h before 08:15 is 19:15, not 20:15.
    laboratory = Laboratory(opens=dt.time(8), closes=dt.time(17), time_zone="Europe/Oslo")
    window = (dt.datetime(2027, 3, 27, 17), dt.datetime(2027, 3, 27, 23))
    advice = best_casting(Schedule((12.0,), (3,)), laboratory, PRICES, window)
    assert (advice.label, advice.n_outside) == ("2027-03-27 19:30", 0)


def test_a_window_of_one_moment_looks_at_that_one_alone() -> None:
    at = dt.datetime(2027, 3, 1, 22, 15)
    advice = best_casting(Schedule((24.0,), (3,)), WEEKDAYS, PRICES, (at, at))
    assert (advice.label, advice.n_castings, advice.n_outside) == ("2027-03-01 22:15", 1, 1)


def test_a_window_must_not_end_before_it_begins() -> None:
    window = (dt.datetime(2027, 3, 2), dt.datetime(2027, 3, 1))
    with pytest.raises(ValueError, match="ends before it begins, given 2027-03-02 00:00 to 2027-03-01 00:00"):
        best_casting(Schedule((24.0,), (3,)), WEEKDAYS, PRICES, window)


def test_cheap_calls_beat_few_calls_only_when_priced_so() -> None:
    # Breaks at 6 h and 14 h, half an hour each, the first centred on its age, the second within +-16.8 minutes: both
    # are inside 08:00 to 17:00 if cast from 02:15 to 02:46, one attendance. Where a call costs less than a visit,
    # two calls win.
    schedule = Schedule((6.0, 14.0), (3, 3))
    dear = best_casting(schedule, EVERY_DAY, PRICES)
    assert (dear.label, dear.n_visits, dear.n_outside) == ("Monday 02:30", 1, 0)
    cheap = best_casting(schedule, EVERY_DAY, Costs(currency="EUR", visit=90, visit_outside_hours=10))
    assert (cheap.n_visits, cheap.n_outside, cheap.visit_cost) == (2, 2, 20.0)


@pytest.mark.parametrize("laboratory", [EVERY_DAY, WEEKDAYS, NIGHTS, Laboratory()])
@pytest.mark.parametrize("window", [None, (dt.datetime(2027, 3, 26, 20), dt.datetime(2027, 3, 28, 8))])
def test_counts_equal_those_of_each_schedule_on_the_clock(
    laboratory: Laboratory, window: tuple[dt.datetime, dt.datetime] | None
) -> None:
    # Seeded; both sides are whole numbers, so there is no false alarm.
    ages_h = (4.0, 5.0, 5.5, 8.0, 12.0, 24.0, 26.0, 72.0)
    rng = np.random.default_rng(11)
    has_age = rng.random((6, len(ages_h))) < 0.6
    has_age[:, 0] |= ~has_age.any(axis=1)
    table = visit_table(ages_h, laboratory, window)
    counts = count_visits(has_age, table)
    zone = laboratory.time_zone if window else "UTC"
    clock = Laboratory(opens=laboratory.opens, closes=laboratory.closes, days=laboratory.days, time_zone=zone)
    for row, slot in product(range(6), rng.choice(len(table.cast_at), 12)):
        ages = tuple(age for age, has in zip(ages_h, has_age[row], strict=True) if has)
        times = break_times(Schedule(ages, (1,) * len(ages)), clock, cast_at=table.cast_at[slot])
        assert (counts.n_visits[row, slot], counts.n_outside[row, slot]) == (times.n_visits, times.n_outside)


@pytest.mark.parametrize("laboratory", [EVERY_DAY, WEEKDAYS, NIGHTS, None])
@pytest.mark.parametrize(
    "costs",
    [
        PRICES,
        Costs(currency="EUR", visit=90, visit_outside_hours=10),
        replace(PRICES, other=EVERY_BASIS, litres_each=1.7, contingency=0.1, check_visit=35),
    ],
)
def test_many_costs_equal_the_itemised_estimate_of_each(laboratory: Laboratory | None, costs: Costs) -> None:
    ages_h = (6.0, 6.5, 12.0, 48.0, 168.0)  # at 48 h two specimens can be moved into hours where three cannot
    programme = ProgrammeSettings(instrumented=2, spares=0.1, companions_per_check=3, n_checks=2, trial_batches=2)
    specimens = np.array([row for row in product((0, 2, 3), repeat=5) if any(row)])
    priced = schedule_costs(specimens > 0, specimens, ages_h, laboratory, costs, programme)
    table = visit_table(ages_h, laboratory or Laboratory())
    for row in range(0, len(specimens), 7):
        pairs = [(age, int(n)) for age, n in zip(ages_h, specimens[row], strict=True) if n]
        schedule = Schedule(tuple(age for age, _ in pairs), tuple(n for _, n in pairs))
        advice = best_casting(schedule, laboratory or Laboratory(), costs)
        assert (priced.n_visits[row], priced.n_outside[row]) == (advice.n_visits, advice.n_outside)
        assert table.cast_at[priced.casting_slot[row]] == advice.cast_at
        items = itemise(schedule, costs, programme, laboratory)
        assert priced.cost[row] == pytest.approx(calibration_cost(items))


def test_specimens_that_take_too_long_to_move_are_told_apart() -> None:
    # 3 d +-2 h and casting at 06:30 alone: three breaks fit between 08:00 and 08:30, four do not.
    at = dt.datetime(2027, 3, 1, 6, 30)
    specimens = np.array([[2], [3], [4]])
    priced = schedule_costs(specimens > 0, specimens, (72.0,), EVERY_DAY, PRICES, NO_EXTRAS, window=(at, at))
    assert priced.n_outside.tolist() == [0, 0, 1]
    assert priced.cost.tolist() == [400 + 90 + 2 * 55, 400 + 90 + 3 * 55, 400 + 240 + 4 * 55]
    advice = best_casting(Schedule((72.0,), (4,)), EVERY_DAY, PRICES, (at, at))
    assert (advice.n_visits, advice.n_outside, advice.visit_cost) == (1, 1, 240.0)


def test_more_columns_than_a_whole_number_has_bits() -> None:
    # 32 ages from 72 h on with 1 or 6 specimens, which differ in most: against each schedule by itself. Seeded.
    ages_h = tuple(72.0 + 11.0 * place for place in range(32))
    rng = np.random.default_rng(5)
    specimens = rng.choice([0, 1, 6], (40, 32), p=[0.8, 0.1, 0.1])
    specimens[:, 31] = 1
    priced = schedule_costs(specimens > 0, specimens, ages_h, EVERY_DAY, PRICES, NO_EXTRAS)
    for place, row in enumerate(specimens):
        pairs = [(age, int(n)) for age, n in zip(ages_h, row, strict=True) if n]
        schedule = Schedule(tuple(age for age, _ in pairs), tuple(n for _, n in pairs))
        assert priced.cost[place] == pytest.approx(total_cost(itemise(schedule, PRICES, NO_EXTRAS, EVERY_DAY)))


def test_specimens_at_ages_not_broken_are_not_counted() -> None:
    has_age = np.array([[True, False]])
    priced = schedule_costs(has_age, np.array([[2, 3]]), (24.0, 48.0), None, PRICES, NO_EXTRAS)
    assert priced.cost.tolist() == [2 * (18 + 12 + 25) + 90 + 400]


def test_without_prices_the_cost_is_unknown_and_calls_are_avoided() -> None:
    has_age = np.array([[True]])
    priced = schedule_costs(has_age, np.array([[3]]), (12.0,), EVERY_DAY, None, NO_EXTRAS)
    assert np.isnan(priced.cost).all()
    assert (priced.n_visits.tolist(), priced.n_outside.tolist()) == ([1], [0])


def test_shapes_that_disagree_are_refused() -> None:
    with pytest.raises(ValueError, match=r"has_age \(1, 2\), specimens \(1, 1\), 2 ages"):
        schedule_costs(np.ones((1, 2), bool), np.ones((1, 1), int), (1.0, 2.0), None, PRICES, NO_EXTRAS)
    ages_h = tuple(float(age) for age in range(1, 64))
    with pytest.raises(ValueError, match="At most 62 candidate ages can be priced at once, given 63"):
        schedule_costs(np.ones((1, 63), bool), np.ones((1, 63), int), ages_h, None, PRICES, NO_EXTRAS)


def test_half_a_million_schedules_are_priced_in_seconds() -> None:
    ages_h = (4.0, 6.0, 8.0, 10.0, 12.0, 16.0, 24.0, 48.0, 72.0, 168.0, 336.0, 672.0)
    code = np.arange(1, 3**12)[:, None] // 3 ** np.arange(12) % 3
    specimens = np.array([0, 2, 3])[code]
    begun = perf_counter()
    priced = schedule_costs(specimens > 0, specimens, ages_h, WEEKDAYS, PRICES, ProgrammeSettings())
    assert perf_counter() - begun < 5.0  # 0.2 s on two cores
    assert priced.cost.shape == (3**12 - 1,)
    assert np.isfinite(priced.cost).all()
