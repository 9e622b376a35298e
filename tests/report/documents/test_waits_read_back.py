"""Strengths that the site waits for, on page and calendar, and every event of a calendar, against the JSON document."""

from __future__ import annotations

import datetime as dt
import html
import re
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from icalendar import Calendar

from planner.laboratory.clock.break_slots import BreakTimes
from planner.laboratory.clock.break_times import break_times
from planner.report.accounts.clock.window_account import expected_words
from planner.report.documents.calendar_file import render_calendar
from planner.report.documents.pages.page import render_page
from planner.report.documents.values.recommendation_document import recommendation_document
from planner.terms.plan.settings import Laboratory
from planner.terms.promise import Promise
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.results.waiting import GrowthAt, HoursAt, Wait, Waiting
from tests.report.invented_result import invented_recommendation
from tests.report.read_back import Figure, assert_says, page_table

OSLO = Laboratory(opens=dt.time(8), closes=dt.time(17), days=(0, 1, 2, 3, 4), time_zone="Europe/Oslo")
MADE_AT = dt.datetime(2027, 2, 20, 9, 0, tzinfo=dt.UTC)
REVISION = 7


def hours(temperature_c: float, earliest: float | None, likely: float | None, safe: float | None) -> HoursAt:
    return HoursAt(
        temperature_c=temperature_c, earliest_h=earliest, likely_h=likely,
        safe_h=None if safe is None else Promise(safe),
    )  # fmt: skip


@cache
def advice() -> Recommendation:
    """Two strengths of which no two figures are alike, and one that has no hours in cool concrete."""
    first = Wait(
        strength_mpa=20.0, age_h=30.0, n_batches=5, left_out=("B1",), left_out_elsewhere=("B2", "B3"),
        interpolation_rms=0.0234, own_rms_h=1.24, later_rms_h=3.57,
        hours=(hours(8.0, 31.25, 38.5, 47.75), hours(32.0, 11.125, 13.25, 16.5)),
    )  # fmt: skip
    second = Wait(
        strength_mpa=35.0, age_h=54.0, n_batches=4, left_out=(), left_out_elsewhere=(), interpolation_rms=None,
        own_rms_h=2.46, later_rms_h=None, hours=(hours(8.0, 60.5, 77.75, None), hours(32.0, None, 25.5, 29.75)),
    )  # fmt: skip
    third = replace(first, strength_mpa=50.0, hours=(hours(8.0, None, None, None), hours(32.0, 40.0, 44.0, None)))
    growth = (
        GrowthAt(temperature_c=8.0, points=((9.0, 5.0), (90.0, 40.0))),
        GrowthAt(temperature_c=32.0, points=((4.5, 5.0), (50.0, 60.0))),
    )
    answer = Waiting(
        waits=(first, second, third), reference_c=18.0, n_curves=9, safe_factor=Promise(1.232), assurance=0.9,
        growth=growth,
    )  # fmt: skip
    return replace(invented_recommendation(), waiting=answer)


@cache
def document() -> Any:
    return recommendation_document(advice())["waiting"]


@cache
def times() -> BreakTimes:
    cast_at = dt.datetime(2027, 3, 1, 22, 0)
    return break_times(advice().recommended.schedule, OSLO, cast_at=cast_at, casting="A")


@cache
def page() -> str:
    return render_page(advice(), castings=(), laboratory=OSLO)


def test_hours_of_every_strength_stand_under_their_headings() -> None:
    rows = [(wait, at) for wait in document()["waits"] for at in wait["hours"]]
    table = page_table(page(), "When the strength will be there", "likely, h")
    assert_says(
        table,
        rows,
        {
            "strength": lambda row: Figure(row[0]["strength_mpa"], " MPa", 0),
            "concrete, C": lambda row: Figure(row[1]["temperature_c"], places=0),
            "earliest, h": lambda row: Figure(row[1]["earliest_h"], places=1),
            "likely, h": lambda row: Figure(row[1]["likely_h"], places=1),
            "safe, h": lambda row: Figure(row[1]["safe_h"], places=1),
        },
    )


def test_what_is_said_of_every_strength() -> None:
    text = " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page())).replace("\xa0", " ").split())
    first, second, _ = document()["waits"]
    assert (
        f"20 MPa: typically there at {first['age_h']:g} h under standard curing; called too early or too late by "
        f"{first['later_rms_h']:.1f} h on a later pour, {first['own_rms_h']:.1f} h on the own batch (RMS, hours at "
        f"{document()['reference_c']:g} C). Judged on {first['n_batches']} batches; the truth is read between two "
        f"breaks, which misses the growth between them by about {100 * first['interpolation_rms']:.1f} % of strength. "
        "Not broken on both sides of it, not used: B1. "
        "Not used, since another target cannot be judged on it: B2, B3."
    ) in text
    assert (
        f"35 MPa: typically there at {second['age_h']:g} h under standard curing; called too early or too late by "
        f"{second['own_rms_h']:.1f} h on the own batch (RMS, hours at 18 C). Judged on {second['n_batches']} batches."
    ) in text
    assert f"From the mean curve of {document()['n_curves']} earlier batches at a constant temperature" in text
    assert (  # the factor is rounded up, and 10 % is what 90 % leave
        "safe: the curve then reads 1.24 times the strength, and 10 % of pours may still be weaker; earliest: a pour "
        "as much stronger than typical."
    ) in text


def test_strengths_to_be_expected_are_told_with_the_hours_that_open_and_end_them() -> None:
    first, second, third, note = expected_words(advice().waiting, times())
    # cast on Monday at 22:00: 11.125 h and 47.75 h later; 4.5 h, the first break age, and 77.75 h
    assert first == (
        "20 MPa: from Tue 2027-03-02 09:07 (earliest, concrete at 32 C) "
        "to Wed 2027-03-03 21:45 (safe, concrete at 8 C)."
    )
    assert second == (
        "35 MPa: from Tue 2027-03-02 02:30 (first break age, concrete at 32 C) to Fri 2027-03-05 03:45 (likely, "
        "concrete at 8 C). Stronger pours may have it before the first break age; the curve tells nothing of that. "
        "Its safe hour comes after the last break age."
    )
    assert third == "50 MPa: not dated, by the recommended constant concrete at 8 C never gains it."
    assert note == "To plan who comes in when; it is no reading of a pour."


def test_nothing_is_said_of_a_safe_hour_where_no_safe_reading_is_given() -> None:
    answer = advice().waiting
    assert answer is not None
    _, second, *_ = expected_words(replace(answer, safe_factor=None), times())
    assert second.endswith("(likely, concrete at 8 C).")


@cache
def calendar() -> Any:
    text = render_calendar(
        (times(),), OSLO, title="Panels", made_at=MADE_AT, sequence=REVISION, slip=advice().slip,
        companions=((6.0, 3), (24.0, 2)), waiting=advice().waiting,
    )  # fmt: skip
    return Calendar.from_ical(text)


def after_casting(event: Any) -> tuple[float, float]:
    """Hours from casting to both ends of an event."""
    cast_at = times().cast_at.astimezone(dt.UTC)
    start, end = ((at.astimezone(dt.UTC) - cast_at).total_seconds() / 3600.0 for at in (event.start, event.end))
    return start, end


def events(word: str) -> list[Any]:
    return [event for event in calendar().walk("VEVENT") if word in str(event["summary"])]


def test_every_event_bears_the_revision_and_the_time_of_writing() -> None:
    found = events("")
    assert len(found) == 4 + 2 + 2  # breaks, companions, strengths
    assert {int(event["sequence"]) for event in found} == {REVISION}
    assert {event.decoded("dtstamp") for event in found} == {MADE_AT}
    assert len({str(event["uid"]) for event in found}) == len(found)
    assert str(calendar()["method"]) == "PUBLISH"


def test_strengths_in_the_calendar_take_nobodys_time() -> None:
    found = events("to be expected")
    assert [str(event["summary"]) for event in found] == [
        *("20 MPa to be expected: Panels, A", "35 MPa to be expected: Panels, A")
    ]
    assert [event for event in events("") if event.get("transp") == "TRANSPARENT"] == found
    first, second = document()["waits"][:2]
    (opens, closes), (early, late) = (after_casting(event) for event in found)
    assert (opens, closes) == pytest.approx((first["hours"][1]["earliest_h"], first["hours"][0]["safe_h"]), abs=1e-3)
    assert (early, late) == pytest.approx(
        (document()["growth"][1]["points"][0][0], second["hours"][0]["likely_h"]), abs=1e-3
    )
    for event, line in zip(found, expected_words(advice().waiting, times()), strict=False):
        assert str(event["description"]).startswith(f"Concrete cast 2027-03-01 22:00. {line}\n")


def test_companions_in_the_calendar_are_so_many_and_so_long() -> None:
    found = events("companions")
    assert [str(event["summary"]) for event in found] == [
        *("Break 3 companions on site at 6 h: Panels, A", "Break 2 companions on site at 1 d: Panels, A")
    ]
    for event, (age_h, n) in zip(found, ((6.0, 3), (24.0, 2)), strict=True):
        assert after_casting(event) == pytest.approx((age_h, age_h + n * OSLO.minutes_per_break / 60.0))
        assert str(event["description"]).startswith("Cast 2027-03-01 22:00. Site-cured specimens of the trial batch")


def test_every_break_in_the_calendar_says_how_far_it_itself_may_slip() -> None:
    slips = recommendation_document(advice())["slip"]["breaks"]
    breaks = [event for event in events("Break") if "companions" not in str(event["summary"])]
    for event, slip in zip(breaks, slips, strict=True):
        said = re.search(r"nominal age earlier by ([\d.]+) h.*?; later by ([\d.]+) h", str(event["description"]))
        assert said is not None
        for text, hours_kept in zip(said.groups(), (slip["earlier_h"], slip["later_h"]), strict=True):
            assert 0 <= hours_kept - float(text) <= max(0.1 * hours_kept, 0.01)
