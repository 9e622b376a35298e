"""Casting and breaking in the hour that comes twice, the night the clocks go back, and in the one that never comes."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from planner.laboratory.casting.best_casting import best_casting, casting_label
from planner.laboratory.casting.casting_times import casting_windows, check_castings
from planner.laboratory.clock.break_times import break_times
from planner.laboratory.clock.opening_hours import local_time
from planner.terms.plan.settings import Laboratory
from planner.terms.problems import InputError
from planner.terms.schedule import Schedule
from tests.report.sheets.test_workbook import SETTINGS

SCHEDULE = Schedule((6.0, 24.0), (3, 3))
OSLO = Laboratory(time_zone="Europe/Oslo")
# 2027-10-31 02:30 in Oslo was first 00:30 UTC, in summer time, and an hour later 01:30 UTC.
SUMMER = dt.datetime.fromisoformat("2027-10-31 02:30+02:00")
WINTER = dt.datetime.fromisoformat("2027-10-31 02:30+01:00")
# Zone, an hour that comes twice with both offsets, and one that never comes. Rules of the tz database; the
# southern ones end summer in April, Lord Howe puts its clocks back by half an hour.
ZONES = [
    ("Europe/Oslo", "2027-10-31 02:30", "+02:00", "+01:00", "2027-03-28 02:30"),
    ("America/New_York", "2027-11-07 01:30", "-04:00", "-05:00", "2027-03-14 02:30"),
    ("Australia/Sydney", "2027-04-04 02:30", "+11:00", "+10:00", "2027-10-03 02:30"),
    ("America/Santiago", "2027-04-03 23:30", "-03:00", "-04:00", "2027-09-05 00:30"),
    ("Australia/Lord_Howe", "2027-04-04 01:45", "+11:00", "+10:30", "2027-10-03 02:15"),
]


@pytest.mark.parametrize("order", [(SUMMER, WINTER), (WINTER, SUMMER)])
def test_two_castings_an_hour_apart_stay_an_hour_apart(order: tuple[dt.datetime, dt.datetime]) -> None:
    advised = {}
    for at in order:
        there = local_time(at, OSLO)  # in the zone the two compare as equal
        advised[at] = best_casting(SCHEDULE, OSLO, None, (there, there)).cast_at
    assert {at: local.astimezone(dt.UTC).hour for at, local in advised.items()} == {SUMMER: 0, WINTER: 1}
    due = [break_times(SCHEDULE, OSLO, cast_at=advised[at]).slots[0].due_at for at in (SUMMER, WINTER)]
    assert [at.astimezone(dt.UTC).isoformat() for at in due] == [
        "2027-10-31T06:30:00+00:00",
        "2027-10-31T07:30:00+00:00",
    ]


def test_a_window_over_the_change_holds_every_half_hour_once() -> None:
    first, last = dt.datetime(2027, 10, 31, 1, 0), dt.datetime(2027, 10, 31, 4, 0)
    # From 01:00 to 04:00 on the clock are four hours that night: nine half hours, both ends counted.
    assert best_casting(SCHEDULE, OSLO, None, (first, last)).n_castings == 9


def test_without_its_offset_the_hour_is_refused_and_both_are_named() -> None:
    twice = dt.datetime(2027, 10, 31, 2, 30)
    with pytest.raises(ValueError, match=r'"2027-10-31 02:30\+02:00" or "2027-10-31 02:30\+01:00"'):
        break_times(SCHEDULE, OSLO, cast_at=twice)
    with pytest.raises(ValueError, match="comes twice"):
        best_casting(SCHEDULE, OSLO, None, (twice, dt.datetime(2027, 10, 31, 9, 0)))


@pytest.mark.parametrize(("zone", "twice", "first", "second", "never"), ZONES)
def test_every_zone_names_both_offsets_and_the_hour_that_never_comes(
    zone: str, twice: str, first: str, second: str, never: str
) -> None:
    settings = replace(SETTINGS, laboratory=Laboratory(time_zone=zone))
    with pytest.raises(InputError) as refused:
        check_castings(casting_windows((twice, never)), settings)
    said = [problem.text for problem in refused.value.problems]
    assert f'Write which one is meant: "{twice}{first}" or "{twice}{second}".' in said[0]
    assert f"{never} does not exist in {zone}: the clocks go forward over it." in said[1]
    check_castings(casting_windows((twice + first, twice + second)), settings)


@pytest.mark.parametrize(("zone", "twice", "first", "second", "_never"), ZONES)
def test_labels_tell_the_two_apart_and_leave_every_other_time_alone(
    zone: str, twice: str, first: str, second: str, _never: str
) -> None:
    laboratory = Laboratory(time_zone=zone)
    there = [local_time(dt.datetime.fromisoformat(twice + offset), laboratory) for offset in (first, second)]
    assert [casting_label(at, is_dated=True) for at in there] == [twice + first, twice + second]
    later = local_time(dt.datetime(2027, 6, 1, 2, 30), laboratory)
    assert casting_label(later, is_dated=True) == "2027-06-01 02:30"
