"""Values of a plan about the laboratory's clock: hours, days, holidays, zone."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from typing import Annotated

from pydantic import BeforeValidator, WithJsonSchema

from planner.read.parsing.findings import shown
from planner.read.parsing.quantities import parse_number
from planner.read.plan.types.editor_kinds import TEXT, any_of, at_least, list_of
from planner.read.plan.types.number_types import filled_text, one_or_more, text_of


def _hours_open(given: object) -> tuple[dt.time, dt.time]:
    """Read opening hours; equal times mean round the clock."""
    text = text_of(given).lower()
    if text in ("round the clock", "always", "00:00-24:00"):
        return dt.time(0, 0), dt.time(0, 0)
    parts = [part.strip() for part in text.replace("–", "-").split("-")]
    try:
        opens, closes = (dt.time(0, 0) if part == "24:00" else dt.time.fromisoformat(part) for part in parts)
    except ValueError:
        raise ValueError(
            f'Given {shown(given)}; write opening hours like "07:00-17:00", or "round the clock".'
        ) from None
    if opens == closes:
        raise ValueError(f'Given {shown(given)}; for a laboratory that never closes write "round the clock".')
    if opens.tzinfo or closes.tzinfo:
        raise ValueError(f"Given {shown(given)}; write local times without a time zone.")
    return opens, closes


MOST_KN = 10_000.0  # no testing machine for concrete specimens is larger
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


def _weekday(text: str) -> int:
    word = text.strip().lower()
    if len(word) >= 3:
        for number, day in enumerate(("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")):
            if day.startswith(word):
                return number
    raise ValueError(f'Given {shown(text)}, which is no day of the week. Write days like "Mon-Fri" or "Mon, Wed".')


def _days(given: object) -> tuple[int, ...]:
    """Read working days; a span may run over the end of the week."""
    parts = [text_of(item) for item in given] if isinstance(given, list) else text_of(given).split(",")
    days: set[int] = set()
    for part in parts:
        ends = [_weekday(word) for word in part.replace("–", "-").split("-")]
        if len(ends) > 2:
            raise ValueError(f'Given {shown(part)}; write a span of days like "Mon-Fri".')
        first, last = ends[0], ends[-1]
        days.update((first + step) % 7 for step in range((last - first) % 7 + 1))
    return tuple(sorted(days))


def _date(given: object) -> dt.date:
    if isinstance(given, dt.date) and not isinstance(given, dt.datetime):
        return given
    try:
        return dt.date.fromisoformat(text_of(given))
    except ValueError:
        raise ValueError(f'Given {shown(given)}, which is no date. Write it like "2027-03-19".') from None


def _time_zone(given: object) -> str:
    name = filled_text(given)
    try:
        zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        raise ValueError(
            f'Given {shown(given)}, which is no known time zone. Write it like "Europe/Oslo" or "UTC".'
        ) from None
    return name


def _load_range(given: object) -> tuple[float, float]:
    """Read the least and the most load in kN."""
    if isinstance(given, list) and len(given) == 2:
        least, most = (parse_number(item) for item in given)
        if 0.0 <= least < most <= MOST_KN:
            return least, most
    raise ValueError(
        f"Given {shown(given)}; write the least and the most load in kN that the machine is verified for, like "
        f"[20, 3000], at most {MOST_KN:g}."
    )


LoadRange = Annotated[tuple[float, float], BeforeValidator(_load_range), WithJsonSchema(list_of(at_least(0), length=2))]
HoursOpen = Annotated[tuple[dt.time, dt.time], BeforeValidator(_hours_open), WithJsonSchema(TEXT)]
Days = Annotated[tuple[int, ...], BeforeValidator(_days), WithJsonSchema(any_of(TEXT, list_of(TEXT)))]
Dates = Annotated[tuple[dt.date, ...], one_or_more(_date, "dates"), WithJsonSchema(list_of({}))]
TimeZone = Annotated[str, BeforeValidator(_time_zone), WithJsonSchema(TEXT)]
