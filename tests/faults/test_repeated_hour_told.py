"""Castings and breaks in the hour that comes twice, the night the clocks go back, on every output that dates them."""

from __future__ import annotations

import datetime as dt
import io
import re
from dataclasses import replace
from functools import cache
from typing import Any

import ics  # type: ignore[import-untyped]
from icalendar import Calendar
from openpyxl import load_workbook

from planner.laboratory.casting.casting_times import casting_windows, castings_at
from planner.laboratory.clock.break_slots import BreakTimes
from planner.report.accounts.clock.clock_account import clock_account
from planner.report.accounts.clock.window_account import expected_words
from planner.report.documents.calendar_file import render_calendar
from planner.report.documents.pages.page import render_page
from planner.report.documents.pages.testing_room import render_testing_room
from planner.report.documents.workbook import render_workbook
from planner.report.text.plain_blocks import plain_sections
from planner.terms.plan.settings import Laboratory, Settings
from planner.terms.results.waiting import HoursAt, Wait, Waiting
from tests.report.invented_result import invented_recommendation
from tests.report.sheets.test_workbook import SETTINGS

OSLO = Laboratory(time_zone="Europe/Oslo")
# 24 h after the first two, and at the casting of the others, the clocks of Oslo show 02:30: 00:30 and 01:30 UTC.
CASTS = ("2027-10-30 02:30", "2027-10-30 03:30", "2027-10-31 02:30+02:00", "2027-10-31 02:30+01:00")
FIRST, SECOND = (dt.datetime(2027, 10, 31, hour, 30, tzinfo=dt.UTC) for hour in (0, 1))


@cache
def cast() -> tuple[Settings, tuple[BreakTimes, ...]]:
    programme = replace(SETTINGS.programme_asked, trial_batches=4)
    settings = replace(SETTINGS, laboratory=OSLO, programme=programme)
    return settings, castings_at(casting_windows(CASTS), invented_recommendation().recommended.schedule, settings)


def test_screen_and_page_name_the_offset_of_that_hour_alone() -> None:
    settings, castings = cast()
    advice = invented_recommendation()
    page = re.sub(r"<[^>]+>", " ", render_page(advice, castings=castings, laboratory=settings.laboratory))
    for text in (plain_sections(clock_account(castings, advice)), page):
        said = " ".join(text.split())
        assert "Cast trial-1 Sat 2027-10-30 02:30: " in said
        assert "Cast trial-3 Sun 2027-10-31 02:30+02:00: " in said
        assert "Cast trial-4 Sun 2027-10-31 02:30+01:00: " in said
    assert "Cast Sun 31 Oct 2027 02:30+02:00; breaks: 6 h Sun 31 Oct 07:15;" in page  # in the words of the picture
    assert "Cast Sun 31 Oct 2027 02:30+01:00; breaks: 6 h Sun 31 Oct 08:15;" in page
    assert "1 d Sun 31 Oct 02:15+02:00; 28 d" in page
    assert "1 d Sun 31 Oct 02:15+01:00; 28 d" in page


def test_the_testing_room_has_them_in_the_order_of_time() -> None:
    settings, castings = cast()
    room = render_testing_room(invented_recommendation(), settings, castings=castings)
    due = re.findall(r"Sun 31 Oct 2027 ([\d:+]+) \(", room)
    assert [at for at in due if at.startswith("02:")] == ["02:30+02:00", "02:30+02:00", "02:30+01:00", "02:30+01:00"]
    assert "Sun 02:00+02:00 to Sun 02:00+01:00<" in room  # 1 d: half an hour on either side
    assert "Sun 02:00+01:00 to Sun 03:00<" in room


def test_the_workbook_says_beside_its_cells_which_hour_is_meant() -> None:
    settings, castings = cast()
    book = load_workbook(io.BytesIO(render_workbook(invented_recommendation(), settings, castings=castings)))
    register = [[cell.value for cell in row] for row in book["Specimens"].iter_rows(min_row=2)]
    noted = {(row[1], row[3]): str(row[23]) for row in register if "comes twice" in str(row[23])}
    twice = "an hour that comes twice: due"
    assert noted == {
        ("trial-1", "break"): f"{twice} 02:30+02:00, not before 02:00+02:00, not after 02:00+01:00",
        ("trial-2", "break"): f"{twice} 02:30+01:00, not before 02:00+01:00",
        **{
            (batch, "site companion"): "accepts the calibration; cured beside the work, broken at the target; "
            f"{twice} 02:30{offset}"
            for batch, offset in (("trial-1", "+02:00"), ("trial-2", "+01:00"))
        },
    }
    assert all(row[8] == dt.datetime(2027, 10, 31, 2, 30) for row in register if "comes twice" in str(row[23]))
    summary = [str(row[0].value) for row in book["Summary"].iter_rows()]
    assert [text for text in summary if text.startswith("Cast ")] == [f"Cast {text}" for text in CASTS]
    cost = " ".join(str(cell.value) for row in book["Cost"].iter_rows() for cell in row)
    assert "Sun 2027-10-31 02:30+02:00 and Sun 2027-10-31 02:30+01:00" in cost


def waiting() -> Waiting:
    """A strength that is there after 24 h in warm and after 24.5 h in cool concrete."""
    hours = tuple(
        HoursAt(temperature_c=celsius, earliest_h=after, likely_h=after, safe_h=None)
        for celsius, after in ((30.0, 24.0), (8.0, 24.5))
    )
    wait = Wait(
        strength_mpa=20.0, age_h=24.0, n_batches=4, left_out=(), left_out_elsewhere=(), interpolation_rms=None,
        own_rms_h=None, later_rms_h=None, hours=hours,
    )  # fmt: skip
    return Waiting(waits=(wait,), reference_c=20.0, n_curves=4, safe_factor=None, assurance=0.9, growth=())


def test_a_strength_to_be_expected_then_names_the_offset() -> None:
    _, castings = cast()
    said = [expected_words(waiting(), times)[0] for times in castings[:2]]
    assert "from Sun 2027-10-31 02:30+02:00 (earliest, concrete at 30 C) to Sun 2027-10-31 02:00+01:00 (" in said[0]
    assert "from Sun 2027-10-31 02:30+01:00 (earliest, concrete at 30 C) to Sun 2027-10-31 03:00 (" in said[1]


def test_both_readers_of_the_calendar_see_every_event_at_its_instant() -> None:
    """A local time in the hour that comes twice is the earlier one (RFC 5545, 3.3.5), so the later is told in UTC."""
    _, castings = cast()
    text = render_calendar(
        castings, OSLO, title="", made_at=dt.datetime(2027, 2, 20, 9, tzinfo=dt.UTC), companions=((24.25, 3),),
        waiting=waiting(),
    )  # fmt: skip
    events: list[Any] = list(Calendar.from_ical(text).walk("VEVENT"))
    ours = {str(event["uid"]): (event.start.timestamp(), event.end.timestamp()) for event in events}
    theirs = {
        event.uid: (event.begin.timestamp(), event.end.timestamp()) for event in ics.Calendar(text.decode()).events
    }
    assert ours == theirs
    wanted = []
    for times in castings:
        wanted += [(slot.starts_at.timestamp(), slot.ends_at.timestamp()) for slot in times.slots]
        cast_s = times.cast_at.timestamp()
        beside = cast_s + 24.25 * 3600
        wanted.append((beside, beside + 3 * 10 * 60))  # three companions, ten minutes each, one machine
        wanted.append((cast_s + 24.0 * 3600, cast_s + 24.5 * 3600))
    assert sorted(ours.values()) == sorted(wanted)
    told = "".join(str(event["description"]) for event in events)
    assert "Cast 2027-10-31 02:30+02:00, age 6 h at 2027-10-31 07:30." in told
    assert "Cast 2027-10-31 02:30+01:00, age 6 h at 2027-10-31 08:30." in told
    assert "Cast 2027-10-30 02:30, age 1 d at 2027-10-31 02:30+02:00." in told
    assert "Permitted window 2027-10-31 02:00:00+01:00 to 2027-10-31 03:00:00 (ASTM C39)." in told
    assert {times.cast_at.astimezone(dt.UTC) for times in castings} >= {FIRST, SECOND}
