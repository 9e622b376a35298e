"""When strengths that a site waits for will be there in concrete cast at a time: windows on the clock, for planning."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal, TypeAlias

from planner.laboratory.clock.break_slots import BreakTimes
from planner.terms.results.waiting import HoursAt, Wait, Waiting

Hour: TypeAlias = Literal["earliest", "first break age", "likely", "safe"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StrengthWindow:
    """From when, and until when at the latest, a strength is to be expected."""

    strength_mpa: float
    casting: str  # "" where there is only one
    cast_at: dt.datetime  # in the laboratory's zone, as both ends are
    opens_at: dt.datetime
    closes_at: dt.datetime
    warmest_c: float  # of the concrete, at the opening
    coolest_c: float  # at the end
    opening: Hour  # which hour opens it: earliest, first break age or likely
    closing: Hour  # which hour ends it: safe or likely
    is_promised: bool  # a safe reading is given, so that a missing safe hour lies beyond the curve


def strength_windows(answer: Waiting | None, times: BreakTimes) -> tuple[StrengthWindow, ...]:
    """A window for every strength that can be dated: the warmest concrete's earliest to the coolest one's safe hour.

    Where the earliest hour comes before the first recommended break age, of which the curve knows nothing, that age
    opens the window: a later opening would be too late for half of the pours. Where no safe reading is given, the
    likely hour opens it, and it ends with the likely hour where there is no safe one. A strength without hours at
    either end has no window.
    """
    casting = times.slots[0].casting if times.slots else ""
    found = () if answer is None else (_window(answer, wait, times, casting) for wait in answer.waits)
    return tuple(window for window in found if window is not None)


def _window(answer: Waiting, wait: Wait, times: BreakTimes, casting: str) -> StrengthWindow | None:
    warmest = max(wait.hours, key=lambda at: at.temperature_c)
    coolest = min(wait.hours, key=lambda at: at.temperature_c)
    opens_h, opening = _opening(answer, warmest)
    closes_h = coolest.likely_h if coolest.safe_h is None else coolest.safe_h
    if opens_h is None or closes_h is None:
        return None
    return StrengthWindow(
        strength_mpa=wait.strength_mpa,
        casting=casting,
        cast_at=times.cast_at,
        opens_at=_after(times.cast_at, opens_h),
        closes_at=_after(times.cast_at, closes_h),
        warmest_c=warmest.temperature_c,
        coolest_c=coolest.temperature_c,
        opening=opening,
        closing="likely" if coolest.safe_h is None else "safe",
        is_promised=answer.safe_factor is not None,
    )


def _opening(answer: Waiting, warmest: HoursAt) -> tuple[float | None, Hour]:
    if warmest.earliest_h is not None:
        return warmest.earliest_h, "earliest"
    if answer.safe_factor is None or warmest.likely_h is None:
        return warmest.likely_h, "likely"
    (first_h,) = (line.points[0][0] for line in answer.growth if line.temperature_c == warmest.temperature_c)
    return first_h, "first break age"


def _after(cast_at: dt.datetime, hours: float) -> dt.datetime:
    """So many hours later, counted through changes of the clock."""
    return (cast_at.astimezone(dt.UTC) + dt.timedelta(hours=hours)).astimezone(cast_at.tzinfo)
