"""Casting in the hour that comes twice, the night the clocks go back."""

from __future__ import annotations

import datetime as dt

import pytest

from planner.laboratory.casting.best_casting import best_casting
from planner.laboratory.clock.break_times import break_times
from planner.laboratory.clock.opening_hours import local_time
from planner.terms.plan.settings import Laboratory
from planner.terms.schedule import Schedule

SCHEDULE = Schedule((6.0, 24.0), (3, 3))
OSLO = Laboratory(time_zone="Europe/Oslo")
# 2027-10-31 02:30 in Oslo was first 00:30 UTC, in summer time, and an hour later 01:30 UTC.
SUMMER = dt.datetime.fromisoformat("2027-10-31 02:30+02:00")
WINTER = dt.datetime.fromisoformat("2027-10-31 02:30+01:00")


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
