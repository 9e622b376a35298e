"""The calendar file, read back by two parsers that share no code."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import ics  # type: ignore[import-untyped]
import pytest
from icalendar import Calendar

from planner.laboratory.clock.break_slots import BreakTimes
from planner.laboratory.clock.break_times import break_times
from planner.report.documents.calendar_file import event_uid, next_sequence, render_calendar
from planner.terms.plan.settings import Laboratory
from planner.terms.schedule import Schedule

OSLO = Laboratory(
    opens=dt.time(8), closes=dt.time(17), days=(0, 1, 2, 3, 4), time_zone="Europe/Oslo", form_removal_h=16.0
)
MADE_AT = dt.datetime(2027, 2, 20, 9, 0, tzinfo=dt.UTC)
SCHEDULE = Schedule((4.0, 12.0, 672.0), (3, 3, 2))


def times(*, laboratory: Laboratory = OSLO, casting: str = "", schedule: Schedule = SCHEDULE) -> BreakTimes:
    return break_times(schedule, laboratory, cast_at=dt.datetime(2027, 3, 1, 22), casting=casting)


def written(*castings: BreakTimes, title: str = "Overnight panels", sequence: int = 0) -> bytes:
    return render_calendar(castings or (times(),), OSLO, title=title, made_at=MADE_AT, sequence=sequence)


def events(text: bytes) -> list[Any]:
    return list(Calendar.from_ical(text).walk("VEVENT"))


def test_an_event_for_each_age_with_its_clock_times() -> None:
    first, second, third = events(written())
    # 28 d across the clock change of 28 March 2027: due 23:00, +-20 h, moved to the last 20 minutes before closing.
    spans = [(event.start, event.end) for event in (first, second, third)]
    assert [f"{start:%Y-%m-%d %H:%M}-{end:%H:%M} {start:%z}" for start, end in spans] == [
        "2027-03-02 01:45-02:15 +0100",
        "2027-03-02 09:45-10:15 +0100",
        "2027-03-29 16:40-17:00 +0200",
    ]
    assert first["summary"] == "Break 3 specimens at 4 h: Overnight panels"
    assert third["summary"] == "Break 2 specimens at 28 d: Overnight panels"


def test_what_stands_in_an_event() -> None:
    early, morning, late = events(written(times(casting="A")))
    lines = str(morning["description"]).split("\n")
    assert lines[0] == "Cast 2027-03-01 22:00, age 12 h at 2027-03-02 10:00."
    assert lines[1] == "Permitted window 2027-03-02 09:45:00 to 2027-03-02 10:15:00 (ASTM C39)."
    assert lines[2] == "Specimens: A-12h-1, A-12h-2, A-12h-3."
    assert lines[3].startswith("Record for each specimen: label, time the load was applied")
    assert lines[4:] == ["Before the forms may be removed at 16 h."]
    assert str(early["description"]).split("\n")[4:] == [
        "Outside laboratory hours.",
        "The specimens take 30 minutes, the window has 9.6: record the actual age of each.",
        "Before the forms may be removed at 16 h.",
    ]
    lines = str(late["description"]).split("\n")
    assert lines[0] == "Cast 2027-03-01 22:00, age 28 d at 2027-03-29 23:00."
    assert lines[2] == "Moved into hours from Mon 29 Mar, 23:00, its nominal age."
    assert "Outside laboratory hours." not in lines


def test_another_reader_sees_the_same_instants() -> None:
    text = written(times(casting="A"), times(casting="B"))
    ours = sorted((str(event["uid"]), event.start.timestamp(), str(event["summary"])) for event in events(text))
    theirs = ics.Calendar(text.decode()).events
    assert sorted((event.uid, event.begin.timestamp(), event.name) for event in theirs) == ours
    assert len(ours) == 6


def test_the_zone_travels_with_the_file() -> None:
    zones = [zone["tzid"] for zone in Calendar.from_ical(written()).walk("VTIMEZONE")]
    assert zones == ["Europe/Oslo"]
    assert b"20270328T020000" in written() or b"20270328T030000" in written()  # the change between two breaks
    utc = render_calendar((times(laboratory=Laboratory()),), Laboratory(), title="", made_at=MADE_AT)
    assert b"DTSTART:20270302T014500Z" in utc
    assert b"VTIMEZONE" not in utc


def test_a_revised_plan_updates_its_events() -> None:
    before = written()
    more = times(schedule=Schedule((4.0, 12.0, 72.0), (2, 4, 2)))
    after = written(more, sequence=next_sequence(before))
    old = {str(event["uid"]): int(event["sequence"]) for event in events(before)}
    new = {str(event["uid"]): int(event["sequence"]) for event in events(after)}
    assert len(set(old) & set(new)) == 2  # 4 h and 12 h
    assert set(old.values()) == {0}
    assert set(new.values()) == {1}
    assert next_sequence(after) == 2
    assert next_sequence(None) == 0
    assert written() == before


def test_identity_hangs_on_title_casting_time_and_age_alone() -> None:
    cast_at = dt.datetime(2027, 3, 1, 21, tzinfo=dt.UTC)
    uid = event_uid("Panels", "", cast_at, 12.0)
    assert uid == event_uid("Panels", "", cast_at.astimezone(dt.timezone(dt.timedelta(hours=5))), 12.0)
    others = {
        event_uid("Other", "", cast_at, 12.0),
        event_uid("Panels", "B", cast_at, 12.0),
        event_uid("Panels", "", cast_at + dt.timedelta(minutes=30), 12.0),
        event_uid("Panels", "", cast_at, 12.5),
    }
    assert len(others | {uid}) == 5


@pytest.mark.parametrize(
    "title",
    [
        "Panels\r\nEND:VEVENT\r\nBEGIN:VEVENT\r\nSUMMARY:false",
        "Panels\nATTACH:http://false.example",
        "Panels; X=1, 2: \\n three",
        "Panels\x00\x1b[31m\u202e",
        "<img src=x onerror=alert(1)>",
        "Plåtar 厚板 " + "long " * 60,
    ],
)
def test_foreign_text_stays_text(title: str) -> None:
    text = written(times(casting=title[:20]), title=title)
    found = events(text)
    assert len(found) == 3
    assert len(ics.Calendar(text.decode()).events) == 3
    allowed = {"UID", "SEQUENCE", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY", "DESCRIPTION"}
    assert all(set(event.keys()) == allowed for event in found)
    shown = "".join(str(event["summary"]) + str(event["description"]) for event in found)
    assert not {"\r", "\x00", "\x1b", "\u202e", "<", ">"} & set(shown)
    assert max(len(line) for line in text.split(b"\r\n")) <= 75


def test_what_cannot_be_written() -> None:
    with pytest.raises(ValueError, match="needs a time zone, given 2027-02-20 09:00"):
        render_calendar((times(),), OSLO, title="", made_at=MADE_AT.replace(tzinfo=None))
    with pytest.raises(ValueError, match="cannot be negative, given -1"):
        written(sequence=-1)
    with pytest.raises(ValueError, match="both break at 4 h under one name"):
        written(times(), times())
    with pytest.raises(ValueError, match="earlier calendar file cannot be read"):
        next_sequence(b"no calendar at all")
    with pytest.raises(ValueError, match="earlier calendar file cannot be read"):
        next_sequence(written().replace(b"SEQUENCE:0", b"SEQUENCE:none"))


def test_companions_on_site_have_events_of_their_own() -> None:
    plain = Calendar.from_ical(render_calendar((times(),), OSLO, title="Panels", made_at=MADE_AT)).walk("VEVENT")
    with_companions = Calendar.from_ical(
        render_calendar((times(),), OSLO, title="Panels", made_at=MADE_AT, companions=((6.0, 3), (24.0, 3)))
    ).walk("VEVENT")
    added = with_companions[len(plain) :] if len(with_companions) > len(plain) else []
    found = [event for event in with_companions if "companions on site" in str(event["summary"])]
    assert len(added) == len(found) == 2
    cast_at = times().cast_at.astimezone(dt.UTC)
    assert [event.decoded("dtstart").astimezone(dt.UTC) - cast_at for event in found] == [
        dt.timedelta(hours=6),
        dt.timedelta(hours=24),
    ]
    assert [event.decoded("dtend") - event.decoded("dtstart") for event in found] == [
        dt.timedelta(minutes=3 * OSLO.minutes_per_break)
    ] * 2
    assert len({str(event["uid"]) for event in with_companions}) == len(with_companions)


@pytest.mark.parametrize(("machines", "minutes"), [(1, 30), (2, 20), (3, 10)])
def test_companions_take_as_long_as_the_machines_need(machines: int, minutes: int) -> None:
    laboratory = replace(OSLO, machines=machines)  # three specimens of 10 minutes
    text = render_calendar((times(),), laboratory, title="Panels", made_at=MADE_AT, companions=((6.0, 3),))
    (event,) = [event for event in events(text) if "companions on site" in str(event["summary"])]
    assert event.end - event.start == dt.timedelta(minutes=minutes)


def test_companions_outside_hours_are_said_to_be_so() -> None:
    # cast on Monday 22:00 with hours from 8 to 17: 6 h is Tuesday 04:00, 12 h Tuesday 10:00
    text = render_calendar((times(),), OSLO, title="Panels", made_at=MADE_AT, companions=((6.0, 3), (12.0, 3)))
    night, day = [str(event["description"]) for event in events(text) if "companions" in str(event["summary"])]
    assert night.endswith("Outside laboratory hours.")
    assert "Outside" not in day
    always = render_calendar((times(laboratory=Laboratory()),), Laboratory(), title="P", made_at=MADE_AT,
                             companions=((6.0, 3),))  # fmt: skip
    assert b"Outside" not in always
