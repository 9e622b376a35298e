"""A schedule on the clock, by hand."""

from __future__ import annotations

import datetime as dt

import pytest

from planner.laboratory.clock.break_times import break_times
from planner.terms.plan.settings import Laboratory
from planner.terms.schedule import Schedule

WEEKDAYS = (0, 1, 2, 3, 4)
OSLO = Laboratory(opens=dt.time(8), closes=dt.time(17), days=WEEKDAYS, time_zone="Europe/Oslo")
MONDAY_22 = dt.datetime(2027, 3, 1, 22, 0)


def clocks(*ages_h: float, cast_at: dt.datetime, laboratory: Laboratory = OSLO) -> list[str]:
    schedule = Schedule(ages_h, (3,) * len(ages_h))
    times = break_times(schedule, laboratory, cast_at=cast_at)
    return [f"{slot.due_at:%a %d %H:%M}" for slot in times.slots]


def test_ages_are_elapsed_hours_the_night_the_clocks_change() -> None:
    # Oslo: forward at 02:00 on Sunday 28 March 2027, back at 03:00 on Sunday 31 October 2027.
    assert clocks(4, 12, cast_at=dt.datetime(2027, 3, 27, 22)) == ["Sun 28 03:00", "Sun 28 11:00"]
    assert clocks(4, 12, cast_at=dt.datetime(2027, 10, 30, 22)) == ["Sun 31 02:00", "Sun 31 09:00"]
    assert clocks(4, 672, cast_at=dt.datetime(2027, 3, 1, 22)) == ["Tue 02 02:00", "Mon 29 23:00"]


def test_windows_and_minutes() -> None:
    times = break_times(Schedule((12.0, 24.0), (3, 2)), OSLO, cast_at=MONDAY_22)
    twelve, day = times.slots
    # ASTM C39 (12 h from memory): +-15 minutes at 12 h, which three breaks of 10 minutes just fill.
    assert f"{twelve.earliest_at:%a %H:%M}-{twelve.latest_at:%H:%M}" == "Tue 09:45-10:15"
    assert (twelve.minutes_needed, twelve.window_minutes, twelve.fits_window) == (30.0, 30.0, True)
    assert f"{twelve.starts_at:%H:%M}-{twelve.ends_at:%H:%M}" == "09:45-10:15"
    assert twelve.is_inside_hours
    assert twelve.is_inside_hours
    assert f"{day.earliest_at:%a %H:%M}-{day.latest_at:%H:%M}" == "Tue 21:30-22:30"
    assert not day.is_inside_hours
    assert not day.is_inside_hours
    assert times.warnings == ()


@pytest.mark.parametrize(("n_specimens", "machines", "minutes"), [(3, 1, 30), (3, 2, 20), (4, 2, 20), (3, 3, 10)])
def test_minutes_are_rounds_on_the_machines(n_specimens: int, machines: int, minutes: float) -> None:
    laboratory = Laboratory(machines=machines)
    (slot,) = break_times(Schedule((24.0,), (n_specimens,)), laboratory, cast_at=MONDAY_22).slots
    assert slot.minutes_needed == minutes


def test_at_four_hours_three_breaks_do_not_fit_the_window() -> None:
    # ASTM C39, unlisted ages +-2 % (from memory): 4.8 minutes either way, 9.6 in all, against 30.
    times = break_times(Schedule((4.0,), (3,)), OSLO, cast_at=MONDAY_22)
    assert not times.slots[0].fits_window
    assert times.slots[0].window_minutes == pytest.approx(9.6, abs=0.02)
    assert len(times.warnings) == 1
    assert times.warnings[0].startswith("At 4 h 3 specimens take 30 minutes, but ASTM C39 leaves 9.6")


def test_breaks_due_at_opening_and_closing_are_moved_inside_where_the_window_allows() -> None:
    # 24 h +-30 minutes: due 08:00 they run 08:00 to 08:30, due 17:00 they run 16:30 to 17:00.
    for hour, runs in ((8, "08:00-08:30"), (17, "16:30-17:00")):
        (slot,) = break_times(Schedule((24.0,), (3,)), OSLO, cast_at=dt.datetime(2027, 3, 1, hour)).slots
        assert f"{slot.starts_at:%H:%M}-{slot.ends_at:%H:%M}" == runs
        assert slot.is_inside_hours
    # 12 h +-15 minutes leaves no room to move: 07:45 to 08:15.
    times = break_times(Schedule((12.0,), (3,)), OSLO, cast_at=dt.datetime(2027, 3, 1, 20))
    assert not times.slots[0].is_inside_hours, "breaking begins before the laboratory opens"
    assert (times.slots[0].runs_past_hours, times.n_outside) == (True, 1)
    assert "runs past the laboratory's hours" in times.warnings[0]


def test_attendances() -> None:
    # Cast Monday 22:00: 4 h and 5 h are Tuesday 02:00 and 03:00 (one call), 7 h is 05:00 (another),
    # 12 h and 18 h are Tuesday 10:00 and 16:00 (one day), 24 h is 22:00 (a third call), 36 h Wednesday 10:00.
    ages_h = (4.0, 5.0, 7.0, 12.0, 18.0, 24.0, 36.0)
    times = break_times(Schedule(ages_h, (2,) * 7), OSLO, cast_at=MONDAY_22)
    assert [item.ages_h for item in times.attendances] == [(4, 5), (7,), (12, 18), (24,), (36,)]
    assert [item.is_outside_hours for item in times.attendances] == [True, True, False, True, False]
    assert [slot.visit for slot in times.slots] == [0, 0, 1, 2, 2, 3, 4]
    assert (times.n_visits, times.n_outside) == (5, 3)
    call = times.attendances[0]
    assert f"{call.starts_at:%H:%M}-{call.ends_at:%H:%M}" == "01:50-03:10"
    assert call.n_specimens == 4


def test_a_night_shift_is_one_attendance_across_midnight() -> None:
    nights = Laboratory(opens=dt.time(20), closes=dt.time(6), days=WEEKDAYS)
    times = break_times(Schedule((4.0, 6.0, 10.0), (1, 1, 1)), nights, cast_at=dt.datetime(2027, 3, 5, 18))
    assert [item.ages_h for item in times.attendances] == [(4, 6, 10)]  # Friday 22:00 to Saturday 04:00
    assert times.n_outside == 0


def test_round_the_clock_counts_calendar_days() -> None:
    times = break_times(Schedule((1.0, 3.0, 25.0), (1, 1, 1)), Laboratory(), cast_at=MONDAY_22)
    assert [item.ages_h for item in times.attendances] == [(1,), (3, 25)]
    assert times.n_outside == 0


def test_a_closed_date_puts_the_break_outside() -> None:
    closed = Laboratory(opens=dt.time(8), closes=dt.time(17), closed=(dt.date(2027, 3, 2),))
    assert break_times(Schedule((12.0,), (3,)), closed, cast_at=MONDAY_22).n_outside == 1


def test_breaks_before_form_removal_are_flagged() -> None:
    laboratory = Laboratory(form_removal_h=16.0)
    times = break_times(Schedule((12.0, 16.0), (1, 1)), laboratory, cast_at=MONDAY_22)
    assert [slot.is_before_form_removal for slot in times.slots] == [True, False]
    assert "The break at 12 h comes before the forms may be removed at 16 h" in times.warnings[0]


def test_an_hour_apart_is_one_call_and_more_is_two() -> None:
    schedule = Schedule((4.0, 5.0, 6.01), (1, 1, 1))
    times = break_times(schedule, OSLO, cast_at=MONDAY_22)
    assert [item.ages_h for item in times.attendances] == [(4, 5), (6.01,)]


def test_an_age_without_tolerance_is_refused() -> None:
    laboratory = Laboratory(age_tolerances="24 h +-0.5 h")
    with pytest.raises(ValueError, match="do not cover 12 h"):
        break_times(Schedule((12.0,), (1,)), laboratory, cast_at=MONDAY_22)


@pytest.mark.parametrize(
    ("cast_at", "planned"),
    [
        # 28 d is +-20 h, two breaks take 20 minutes, open Monday to Friday 08:00 to 17:00 in Oslo, where the clocks
        # go forward on 28 March: 22:00 becomes 23:00.
        ("2027-03-01 22:00", "Mon 29 16:40-17:00"),  # due Monday 23:00: 6 h after closing, 9 h before opening
        ("2027-03-02 05:00", "Tue 30 08:00-08:20"),  # due Tuesday 06:00: 13 h after closing, 2 h before opening
        ("2027-03-06 11:00", "Fri 02 16:40-17:00"),  # due Saturday 3 April 12:00: 19 h after closing
        ("2027-03-06 12:40", None),  # due Saturday 13:40: 20 minutes before 13:00 + 20 h is past closing
        ("2027-03-07 13:00", "Mon 05 08:00-08:20"),  # due Sunday 4 April 14:00: 18 h before opening
    ],
)
def test_a_break_due_outside_hours_moves_to_the_nearest_hours_in_its_window(cast_at: str, planned: str | None) -> None:
    (slot,) = break_times(Schedule((672.0,), (2,)), OSLO, cast_at=dt.datetime.fromisoformat(cast_at)).slots
    assert slot.is_moved == slot.is_inside_hours == slot.is_inside_hours == (planned is not None)
    if planned is not None:
        assert f"{slot.starts_at:%a %d %H:%M}-{slot.ends_at:%H:%M}" == planned
        assert slot.earliest_at <= slot.starts_at < slot.ends_at <= slot.latest_at
    else:
        assert slot.starts_at + (slot.ends_at - slot.starts_at) / 2 == slot.due_at


def test_all_specimens_must_fit_into_hours_and_window() -> None:
    # 3 d +-2 h due Thursday 06:30: the window ends 08:30, from 08:00 three breaks of 10 minutes fit, four do not,
    # and on two machines four take no longer than two.
    cast_at = dt.datetime(2027, 3, 1, 6, 30)
    for n_specimens, machines, is_moved in ((3, 1, True), (4, 1, False), (4, 2, True)):
        laboratory = Laboratory(opens=dt.time(8), closes=dt.time(17), machines=machines)
        times = break_times(Schedule((72.0,), (n_specimens,)), laboratory, cast_at=cast_at)
        assert times.slots[0].is_moved == is_moved
        assert (times.n_visits, times.n_outside) == (1, 0 if is_moved else 1)


def test_a_window_too_short_to_reach_hours_leaves_the_break_outside() -> None:
    # 24 h +-30 minutes due 22:00, five hours after closing; 7 d +-6 h due 23:30 ends 17:30 at the earliest.
    for age_h, cast_at in ((24.0, dt.datetime(2027, 3, 1, 22)), (168.0, dt.datetime(2027, 3, 1, 23, 30))):
        times = break_times(Schedule((age_h,), (3,)), OSLO, cast_at=cast_at)
        assert (times.slots[0].is_moved, times.n_outside) == (False, 1)
        assert times.slots[0].starts_at + dt.timedelta(minutes=15) == times.slots[0].due_at


def test_a_break_is_moved_around_a_closed_date() -> None:
    # 28 d due Tuesday 30 March 12:00, which is closed: 19 h after closing on Monday, 20 h before opening on Wednesday.
    cast_at = dt.datetime(2027, 3, 2, 11)
    closed = Laboratory(opens=dt.time(8), closes=dt.time(17), time_zone="Europe/Oslo", closed=(dt.date(2027, 3, 30),))
    (slot,) = break_times(Schedule((672.0,), (3,)), closed, cast_at=cast_at).slots
    assert f"{slot.due_at:%a %d %H:%M} {slot.starts_at:%a %d %H:%M}" == "Tue 30 12:00 Mon 29 16:30"
    longer = Laboratory(
        opens=dt.time(8),
        closes=dt.time(17),
        time_zone="Europe/Oslo",
        closed=(dt.date(2027, 3, 29), dt.date(2027, 3, 30)),
    )
    assert not break_times(Schedule((672.0,), (3,)), longer, cast_at=cast_at).slots[0].is_moved


def test_a_moved_break_costs_no_visit_where_somebody_is_there_anyway() -> None:
    # Cast Monday 05:00: 3 d is Thursday 05:00 +-2 h, not reached from 08:00; 84 h is Thursday 17:00, inside;
    # 85 h is Thursday 18:00 +-1.7 h, moved to 17:00 that day.
    times = break_times(Schedule((72.0, 84.0, 85.0), (1, 1, 1)), OSLO, cast_at=dt.datetime(2027, 3, 1, 5))
    assert [item.ages_h for item in times.attendances] == [(72,), (84, 85)]
    assert [item.is_outside_hours for item in times.attendances] == [True, False]
    assert [slot.is_moved for slot in times.slots] == [False, False, True]


def test_no_break_is_moved_to_before_the_forms_are_removed() -> None:
    # 48 h +-57.6 minutes due 17:30: by the window alone it could be done before 17:00.
    cast_at = dt.datetime(2027, 3, 1, 17, 30)
    for removal_h, is_moved in ((None, True), (47.0, True), (47.4, False)):
        laboratory = Laboratory(opens=dt.time(8), closes=dt.time(17), form_removal_h=removal_h)
        assert break_times(Schedule((48.0,), (1,)), laboratory, cast_at=cast_at).slots[0].is_moved == is_moved


def test_hours_that_are_equally_near_are_taken_early() -> None:
    # Open 08:00 to 20:00, due 02:00: six hours either way.
    laboratory = Laboratory(opens=dt.time(8), closes=dt.time(20))
    (slot,) = break_times(Schedule((672.0,), (2,)), laboratory, cast_at=dt.datetime(2027, 3, 1, 2)).slots
    assert f"{slot.starts_at:%a %d %H:%M}" == "Sun 28 19:40"
