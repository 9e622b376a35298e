"""Clock times: formats, zones, the two nights when the clock jumps."""

from __future__ import annotations

import datetime as dt
import re

import numpy as np
import pytest

from planner.read.datetimes.clock_formats import declared_pattern, infer_pattern
from planner.read.datetimes.clock_times import NOT_A_TIME, US_PER_HOUR, ClockTimes, clock_column, resolve
from planner.read.parsing.findings import Findings
from planner.read.tabular.cell_table import Cell, Table


def column_of(*cells: Cell, declared: str | None = None) -> tuple[ClockTimes, Findings]:
    findings = Findings()
    table = Table("f.csv", ("time",), (cells,), range(2, len(cells) + 2))
    pattern = declared_pattern(declared) if declared else None
    return clock_column(table, cells, "time", findings, pattern=pattern), findings


def us(text: str) -> int:
    return (dt.datetime.fromisoformat(text) - dt.datetime(1970, 1, 1)) // dt.timedelta(microseconds=1)


@pytest.mark.parametrize(
    ("cells", "declared"),
    [
        (("2027-03-04 22:05", "2027-03-13 22:05"), None),
        (("2027-03-04T22:05:00", "2027-03-13T22:05"), None),
        (("20270304T2205", "20270313T2205"), None),
        (("2027/03/04 22:05", "2027/3/13 10:05 pm"), None),
        (("04/03/2027 22:05", "13/03/2027 10:05 PM"), None),
        (("03/04/2027 22:05", "03/13/2027 10:05 p.m."), None),
        (("4.3.2027 22:05", "13.3.2027 22:05:00"), None),
        (("03/04/2027 22:05", "03/13/2027 22:05"), "MM/DD/YYYY HH:mm"),
        (("04/03/27 10:05 PM", "13/03/27 10:05 PM"), "%d/%m/%y %I:%M %p"),
        (("4 Mar 2027 22:05", "13 March 2027 22:05"), "%d %b %Y %H:%M"),
        ((dt.datetime(2027, 3, 4, 22, 5), dt.datetime(2027, 3, 13, 22, 5, 0, 3)), None),
    ],
)
def test_ways_to_write_a_time(cells: tuple[Cell, ...], declared: str | None) -> None:
    times, findings = column_of(*cells, declared=declared)
    assert findings.problems == []
    assert times.local_us.tolist() == [us("2027-03-04 22:05"), us("2027-03-13 22:05")]
    assert not times.is_absolute.any()


def test_offsets_make_a_time_absolute() -> None:
    times, _ = column_of("2027-03-04T22:05+01:00", "2027-03-04T21:05Z", "2027-03-04 22:05")
    assert times.local_us.tolist() == [us("2027-03-04 21:05")] * 2 + [us("2027-03-04 22:05")]
    assert times.is_absolute.tolist() == [True, True, False]
    times, _ = column_of("04.03.2027 22:05 -02:00", declared="%d.%m.%Y %H:%M %z")
    assert times.local_us.tolist() == [us("2027-03-05 00:05")]


@pytest.mark.parametrize(("hour", "expected"), [("12:05 AM", 0), ("1:05 am", 1), ("12:05 PM", 12), ("11:05 pm", 23)])
def test_midnight_and_noon(hour: str, expected: int) -> None:
    times, _ = column_of(f"13.03.2027 {hour}")
    assert times.local_us[0] == us(f"2027-03-13 {expected:02d}:05")


@pytest.mark.parametrize(
    ("cells", "row", "message"),
    [
        (("2027-03-04",), 2, "has no time of day"),
        (("03/04/2027 22:00",), 2, r"2027-04-03 \(day first\) or 2027-03-04 \(month first\)"),
        (("13/04/2027 22:00", "04/13/2027 22:00"), 2, "Day and month change places"),
        (("13/04/27 22:00",), 2, "year in four digits"),
        (("31/04/2027 22:00", "13/04/2027 22:00"), 2, "no time of the calendar"),
        (("13/04/2027 13:00 PM",), 2, "no time of the calendar"),
        (("0027-03-04 10:00",), 2, "Correct the year"),
        (("20277-03-04 10:00",), 2, "no time that is understood"),
        (("yesterday",), 2, "no time that is understood"),
        (("2027-03-04 25:00",), 2, "no time that is understood"),
        (("2027-03-04 10:00", ""), 3, "The cell is empty"),
        ((46000.5,), 2, "no date with a time"),
        ((dt.time(3),), 2, "no date with a time"),
    ],
)
def test_times_that_cannot_be_told(cells: tuple[Cell, ...], row: int, message: str) -> None:
    times, findings = column_of(*cells)
    assert re.search(message, findings.problems[0].text), findings.problems[0].text
    assert findings.problems[0].row == row
    assert times.local_us[row - 2] == NOT_A_TIME


def test_every_doubtful_time_is_told_with_its_own_readings() -> None:
    _, findings = column_of("03/04/2027 22:00", "05/06/2027 22:00", "07/07/2027 22:00")
    assert re.search(r"2027-04-03 \(day first\) or 2027-03-04", findings.problems[0].text)
    assert re.search(r"2027-06-05 \(day first\) or 2027-05-06", findings.problems[1].text)
    assert "not certain in this column" in findings.problems[2].text


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("%d.%m.%Y", "lacks hour, minute"),
        ("HH:mm", "lacks day, month, year"),
        ("%d.%m.%Y %H:%M %Q", "%Q, which is not known"),
        ("%d.%d.%Y %H:%M", "has a part twice"),
        ("%", "%, which is not known"),
    ],
)
def test_formats_that_cannot_be_used(text: str, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        declared_pattern(text)


def test_a_time_beside_its_declared_format() -> None:
    _, findings = column_of("2027-03-04 22:05", declared="DD.MM.YYYY HH:mm")
    assert 'does not follow "DD.MM.YYYY HH:mm"' in findings.problems[0].text


def test_words_are_no_numeric_dates() -> None:
    assert infer_pattern(["", "spring"]) is None


def hours(*texts: str, zone: str, is_in_order: bool) -> tuple[list[float], list[bool], list[bool]]:
    times, findings = column_of(*texts)
    assert findings.problems == []
    resolved = resolve(times, zone, is_in_order=is_in_order)
    since = (resolved.instant_us - resolved.instant_us[0]) / US_PER_HOUR
    return since.tolist(), resolved.is_twice.tolist(), resolved.is_never.tolist()


def test_the_night_the_clock_goes_forward_is_an_hour_shorter() -> None:
    since, _, never = hours("2027-03-27 22:00", "2027-03-28 06:00", zone="Europe/Oslo", is_in_order=True)
    assert since == [0.0, 7.0]
    assert never == [False, False]
    _, _, never = hours("2027-03-27 22:00", "2027-03-28 02:15", zone="Europe/Oslo", is_in_order=True)
    assert never == [False, True]


def test_the_night_the_clock_goes_back_is_an_hour_longer() -> None:
    texts = [
        "2027-10-31 01:30",
        "2027-10-31 02:00",
        "2027-10-31 02:30",
        "2027-10-31 02:00",
        "2027-10-31 02:30",
    ]
    since, twice, _ = hours(*texts, "2027-10-31 03:00", zone="Europe/Oslo", is_in_order=True)
    assert since == [0.0, 0.5, 1.0, 1.5, 2.0, 2.5]
    assert not any(twice)
    since, twice, _ = hours("2027-10-30 22:00", "2027-10-31 02:30", zone="Europe/Oslo", is_in_order=False)
    assert twice == [False, True]


def test_half_hour_zones_and_southern_summers() -> None:
    since, _, _ = hours("2027-04-04 01:00", "2027-04-04 03:00", zone="Australia/Lord_Howe", is_in_order=True)
    assert since == [0.0, 2.5]  # the clock goes back by half an hour at 02:00
    since, _, _ = hours("2027-01-01 00:00", "2027-07-01 00:00", zone="Asia/Kolkata", is_in_order=True)
    assert since == [0.0, 181 * 24.0]


def test_a_whole_year_of_hours_agrees_with_the_library() -> None:
    import zoneinfo

    zone = zoneinfo.ZoneInfo("America/New_York")
    start = dt.datetime(2027, 1, 1, 5, tzinfo=dt.UTC)
    truth = [start + dt.timedelta(hours=hour) for hour in range(8760)]
    times, _ = column_of(*(moment.astimezone(zone).strftime("%Y-%m-%d %H:%M") for moment in truth))
    resolved = resolve(times, "America/New_York", is_in_order=True)
    np.testing.assert_array_equal(resolved.instant_us, [int(moment.timestamp()) * 1_000_000 for moment in truth])
