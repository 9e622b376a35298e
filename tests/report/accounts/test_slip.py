"""How far a break may slip and where it was moved from: the same on clock table, page, workbook, calendar and JSON."""

from __future__ import annotations

import datetime as dt
import html
import io
import re

import pytest
from icalendar import Calendar
from openpyxl import load_workbook

from planner.laboratory.clock.break_slots import BreakTimes
from planner.laboratory.clock.break_times import break_times
from planner.report.accounts.clock.clock_account import clock_account
from planner.report.accounts.clock.slip_account import (
    HEADING,
    deviation_words,
    hours_text,
    moved_words,
    slip_cell,
    slip_section,
)
from planner.report.documents.calendar_file import render_calendar
from planner.report.documents.pages.page import render_page
from planner.report.documents.pages.page_headline import first_screen
from planner.report.documents.values.recommendation_document import recommendation_document
from planner.report.documents.workbook import render_workbook
from planner.report.figures.week import week_plot
from planner.terms.results.recommended.recommendation import Recommendation
from tests.report.invented_result import bare_recommendation, invented_recommendation, invented_slip
from tests.report.pasted_text import render_plain
from tests.report.real_results import made_from
from tests.report.sheets.test_workbook import LABORATORY, SETTINGS, column

MADE_AT = dt.datetime(2027, 2, 20, 9, 0, tzinfo=dt.UTC)


def at_ten_in_the_evening(advice: Recommendation) -> BreakTimes:
    return break_times(advice.recommended.schedule, LABORATORY, cast_at=dt.datetime(2027, 3, 1, 22))


def page_text(advice: Recommendation, *castings: BreakTimes) -> str:
    page = render_page(advice, castings=castings, laboratory=LABORATORY)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).replace("\u00a0", " ").split())


def events(advice: Recommendation) -> list[str]:
    text = render_calendar([at_ten_in_the_evening(advice)], LABORATORY, title="", made_at=MADE_AT, slip=advice.slip)
    return [str(event["description"]) for event in Calendar.from_ical(text).walk("VEVENT")]


def test_hours_are_rounded_down() -> None:
    assert [hours_text(hours) for hours in (0.0, 0.789, 1.0, 4.29, 10.99, 504.0)] == [
        *("0", "0.78", "1", "4.2", "10", "504")
    ]
    assert [deviation_words(hours) for hours in (None, 0.08, 0.5, 1.92, 20.0)] == [
        *("-", "±4.8 min", "±30 min", "±1.92 h", "±20 h")
    ]


def test_the_clock_table_and_the_page_show_the_slip_of_every_break() -> None:
    advice = invented_recommendation()
    (section,) = clock_account([at_ten_in_the_evening(advice)], advice)
    table = section.blocks[0]
    cells = [slip_cell(item) for item in invented_slip().breaks]
    assert cells == ["-0^ +0.78", "-6^ +4.2", "-2 +648^", "-130 +0^"]
    assert [column.heading for column in table.columns][4:] == ["not after", "may slip, h", "hours"]  # type: ignore[union-attr]
    assert [row[5] for row in table.rows] == cells  # type: ignore[union-attr]
    assert "keep 95 % of the precision, if the actual age is recorded" in table.note  # type: ignore[union-attr]
    text = page_text(advice, at_ten_in_the_evening(advice))
    assert all(cell in text for cell in cells)


def test_columns_of_the_slip_are_earlier_and_later_in_this_order() -> None:
    table = slip_section(invented_recommendation()).blocks[0]
    assert [column.heading for column in table.columns] == [  # type: ignore[union-attr]
        *("age", "permitted (ASTM C39)", "earlier, 95 % kept", "later, 95 % kept")
    ]


def test_the_account_puts_the_slip_beside_the_standard() -> None:
    for text in (page_text(invented_recommendation()), render_plain(invented_recommendation(), width=400)):
        said = " ".join(text.replace("\u00a0", " ").split())
        assert "permitted (ASTM C39)" in said
        for row in (
            "6 h ±7.2 min 0 h, no age is recorded before that 0.78 h",
            "12 h ±15 min 6 h, to the break before it 4.2 h",
            "1 d ±30 min 2 h 648 h, to the break after it",
            "28 d - 130 h 0 h, no age is recorded after that",
        ):
            assert row in said


def test_the_register_has_the_slip_in_rows_of_breaks_alone() -> None:
    sheet = load_workbook(io.BytesIO(render_workbook(invented_recommendation(), SETTINGS)))["Specimens"]
    earlier, later = column(sheet, "may slip earlier, h"), column(sheet, "may slip later, h")
    assert earlier[:11] == [0] * 3 + [6] * 3 + [2] * 3 + [130] * 2
    assert later[:11] == [0.78] * 3 + [4.2] * 3 + [648] * 3 + [0] * 2
    assert set(earlier[11:]) == set(later[11:]) == {None}


def test_the_calendar_says_how_far_each_break_may_slip() -> None:
    assert [description.split("\n")[2] for description in events(invented_recommendation())[:2]] == [
        "May slip off its nominal age earlier by 0 h, no age is recorded before that; later by 0.78 h: 95 % of the "
        "schedule's precision is kept, if the actual age is recorded.",
        "May slip off its nominal age earlier by 6 h, to the break before it; later by 4.2 h: 95 % of the schedule's "
        "precision is kept, if the actual age is recorded.",
    ]


def test_the_document_has_every_slip_in_full() -> None:
    document = recommendation_document(invented_recommendation())["slip"]
    assert (document["kept"], document["standard"]) == (0.95, "ASTM C39")
    assert document["breaks"][0] == {
        "age_h": 6.0,
        "earlier_h": 0.0,
        "later_h": 0.789,
        "earlier_ends": "records",
        "later_ends": "precision",
        "permitted_h": 0.12,
    }
    assert recommendation_document(bare_recommendation())["slip"] is None


def test_nothing_is_shown_where_nothing_is_known() -> None:
    found = bare_recommendation()
    assert found.slip is None
    assert not any("slip" in description for description in events(found))
    text = page_text(found, at_ten_in_the_evening(found))
    assert HEADING not in text
    assert "may slip" not in text.lower()
    sheet = load_workbook(io.BytesIO(render_workbook(found, SETTINGS)))["Specimens"]
    assert set(column(sheet, "may slip later, h")) == {None}


def test_the_engine_knows_the_slip_of_every_recommended_break() -> None:
    advice = made_from(4, has_prices=True).told
    assert advice.slip is not None
    assert [item.age_h for item in advice.slip.breaks] == list(advice.recommended.schedule.ages_h)
    assert all(item.earlier_h >= 0.0 and item.later_h >= 0.0 for item in advice.slip.breaks)
    text = page_text(advice, at_ten_in_the_evening(advice))
    assert all(slip_cell(item) in text for item in advice.slip.breaks)


def test_a_moved_break_is_told_everywhere_with_its_nominal_time() -> None:
    # 28 d after Monday 1 March 22:00 in Oslo is Monday 29 March 23:00 (clocks forward on the 28th), +-20 h;
    # two breaks of 10 minutes before 17:00.
    advice = invented_recommendation()
    times = at_ten_in_the_evening(advice)
    moved = "moved into hours from Mon 29 Mar, 23:00"
    assert [moved_words(slot) for slot in times.slots] == ["", "", "", moved]
    (section,) = clock_account([times], advice)
    assert section.heading == "Cast Mon 2027-03-01 22:00: 4 visits, 2 outside hours"
    assert section.blocks[0].rows[3][2] == "Mon 29 Mar 16:40"  # type: ignore[union-attr]
    assert section.blocks[0].rows[3][3:5] == ("03:00", "Tue 19:00")  # type: ignore[union-attr]
    assert section.blocks[0].rows[3][6] == "moved"  # type: ignore[union-attr]
    assert section.blocks[1].items[0].startswith(f"28 d: {moved}")  # type: ignore[union-attr]
    line = first_screen(advice, [times]).breaks[3]
    assert (line.due, line.moved, line.is_outside_hours) == ("Mon 29 Mar, 16:40", moved, False)
    assert f"Mon 29 Mar, 16:40, {moved}" in page_text(advice, times)
    sheet = load_workbook(io.BytesIO(render_workbook(advice, SETTINGS, castings=[times])))["Specimens"]
    assert column(sheet, "due")[10] == dt.datetime(2027, 3, 29, 16, 40)
    assert column(sheet, "planned time")[8:11] == [None, moved, moved]
    description = events(advice)[3]
    assert "Moved into hours from Mon 29 Mar, 23:00, its nominal age." in description
    assert "Outside laboratory hours" not in description
    assert any(moved in hint for mark in week_plot(times, LABORATORY).layers for hint in getattr(mark, "hints", ()))


@pytest.mark.parametrize("hour", [22, 8])
def test_workbook_cost_counts_the_visits_of_the_clock(hour: int) -> None:
    advice = invented_recommendation()
    times = break_times(advice.recommended.schedule, LABORATORY, cast_at=dt.datetime(2027, 3, 1, hour))
    sheet = load_workbook(io.BytesIO(render_workbook(advice, SETTINGS, castings=[times])))["Cost"]
    quantities = {row[0]: row[1] for row in sheet.iter_rows(min_row=2, values_only=True)}
    assert quantities["visits outside laboratory hours"] == times.n_outside
    assert quantities["visits inside laboratory hours"] == times.n_visits - times.n_outside
