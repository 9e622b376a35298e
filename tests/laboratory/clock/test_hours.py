"""Shifts as instants: nights, weekends, closed dates and clock changes."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from planner.laboratory.clock.opening_hours import instants_s, is_repeated, laboratory_zone, local_time, shifts_between
from planner.terms.plan.settings import Laboratory

WEEKDAYS = (0, 1, 2, 3, 4)
DAY_SHIFT = Laboratory(opens=dt.time(8), closes=dt.time(17), days=WEEKDAYS, time_zone="Europe/Oslo")
NIGHT_SHIFT = Laboratory(opens=dt.time(20), closes=dt.time(6), days=WEEKDAYS, time_zone="Europe/Oslo")
ALWAYS_ON_WEEKDAYS = Laboratory(days=WEEKDAYS, time_zone="Europe/Oslo")


def is_open(laboratory: Laboratory, clock: str) -> bool:
    at = local_time(dt.datetime.fromisoformat(clock), laboratory)
    shifts = shifts_between(laboratory, at.date(), at.date())
    return bool(shifts.index(instants_s(at, (0.0,)))[0] >= 0)


@pytest.mark.parametrize(
    ("laboratory", "clock", "expected"),
    [
        (DAY_SHIFT, "2027-03-01T07:59:59", False),  # a Monday
        (DAY_SHIFT, "2027-03-01T08:00", True),
        (DAY_SHIFT, "2027-03-01T17:00", True),  # closing time is still inside
        (DAY_SHIFT, "2027-03-01T17:00:01", False),
        (DAY_SHIFT, "2027-03-06T12:00", False),  # a Saturday
        (NIGHT_SHIFT, "2027-03-01T05:00", False),  # Monday morning belongs to Sunday night
        (NIGHT_SHIFT, "2027-03-01T20:00", True),
        (NIGHT_SHIFT, "2027-03-06T05:00", True),  # Saturday morning belongs to Friday night
        (NIGHT_SHIFT, "2027-03-06T06:01", False),
        (NIGHT_SHIFT, "2027-03-02T12:00", False),
        (ALWAYS_ON_WEEKDAYS, "2027-03-02T00:00", True),
        (ALWAYS_ON_WEEKDAYS, "2027-03-06T00:00", True),  # the closing instant of Friday
        (ALWAYS_ON_WEEKDAYS, "2027-03-06T00:01", False),
        (ALWAYS_ON_WEEKDAYS, "2027-02-28T23:59", False),  # a Sunday
    ],
)
def test_open_and_closed(laboratory: Laboratory, clock: str, expected: bool) -> None:
    assert is_open(laboratory, clock) is expected


def test_a_closed_date_closes_the_shift_that_begins_on_it() -> None:
    closed = (dt.date(2027, 3, 19),)  # a Friday
    day = Laboratory(opens=dt.time(8), closes=dt.time(17), closed=closed)
    night = Laboratory(opens=dt.time(20), closes=dt.time(6), closed=closed)
    assert not is_open(day, "2027-03-19T12:00")
    assert is_open(day, "2027-03-20T12:00")
    assert is_open(night, "2027-03-19T05:00")  # Thursday's shift
    assert not is_open(night, "2027-03-19T22:00")
    assert not is_open(night, "2027-03-20T05:00")  # still Friday's shift


@pytest.mark.parametrize(
    ("date", "hours"),
    [
        (dt.date(2027, 3, 27), 9),  # clocks go forward at 02:00 on 28 March 2027 in Oslo
        (dt.date(2027, 10, 30), 11),  # clocks go back at 03:00 on 31 October 2027
        (dt.date(2027, 6, 1), 10),
    ],
)
def test_a_night_shift_is_as_long_as_the_night(date: dt.date, hours: int) -> None:
    laboratory = Laboratory(opens=dt.time(20), closes=dt.time(6), time_zone="Europe/Oslo")
    shifts = shifts_between(laboratory, date, date)
    assert shifts.day.tolist() == [date.toordinal() - 1, date.toordinal()]
    assert (shifts.closes_s - shifts.opens_s)[-1] == hours * 3600


def test_a_laboratory_that_never_opens() -> None:
    shifts = shifts_between(Laboratory(days=()), dt.date(2027, 3, 1), dt.date(2027, 3, 7))
    assert shifts.index(np.array([[0, 1]])).tolist() == [[-1, -1]]


def test_wall_clock_times_the_night_the_clocks_change() -> None:
    laboratory = Laboratory(time_zone="Europe/Oslo")
    with pytest.raises(ValueError, match=r"2027-03-28 02:30 does not exist in Europe/Oslo"):
        local_time(dt.datetime(2027, 3, 28, 2, 30), laboratory)
    twice = dt.datetime(2027, 10, 31, 2, 30)
    assert is_repeated(twice, laboratory)
    assert not is_repeated(dt.datetime(2027, 10, 31, 3, 30), laboratory)
    both = r'comes twice in Europe/Oslo.*"2027-10-31 02:30\+02:00" or "2027-10-31 02:30\+01:00"'
    with pytest.raises(ValueError, match=both):
        local_time(twice, laboratory)
    aware = dt.datetime(2027, 3, 28, 1, 30, tzinfo=dt.UTC)
    assert local_time(aware, laboratory).hour == 3


@pytest.mark.parametrize("name", ["Nowhere/Never", "", "../etc"])
def test_an_unknown_zone_is_named(name: str) -> None:
    with pytest.raises(ValueError, match=f'Time zone "{name}" is not known'):
        laboratory_zone(Laboratory(time_zone=name))


def test_elapsed_time_needs_a_zone() -> None:
    with pytest.raises(ValueError, match="needs a time zone, given 2027-03-01 22:00"):
        instants_s(dt.datetime(2027, 3, 1, 22), (12.0,))
