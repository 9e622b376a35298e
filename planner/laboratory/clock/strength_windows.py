"""When strengths that a site waits for will be there in concrete cast at a time: windows on the clock, for planning."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from planner.laboratory.clock.break_slots import BreakTimes
from planner.terms.results.waiting import HoursAt, Wait, Waiting


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
    is_safe: bool  # the end is a safe hour, else the likely one


def strength_windows(answer: Waiting | None, times: BreakTimes) -> tuple[StrengthWindow, ...]:
    """A window for every strength that can be dated: the warmest concrete's earliest to the coolest one's safe hour.

    Where the curve has no earliest or no safe hour, within its ages or at all, the likely one stands in; a strength
    without hours at either end has no window.
    """
    casting = times.slots[0].casting if times.slots else ""
    found = () if answer is None else (_window(wait, times, casting) for wait in answer.waits)
    return tuple(window for window in found if window is not None)


def _window(wait: Wait, times: BreakTimes, casting: str) -> StrengthWindow | None:
    warmest = max(wait.hours, key=lambda at: at.temperature_c)
    coolest = min(wait.hours, key=lambda at: at.temperature_c)
    opens_h, closes_h = _first(warmest), coolest.likely_h if coolest.safe_h is None else coolest.safe_h
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
        is_safe=coolest.safe_h is not None,
    )


def _first(at: HoursAt) -> float | None:
    return at.likely_h if at.earliest_h is None else at.earliest_h


def _after(cast_at: dt.datetime, hours: float) -> dt.datetime:
    """So many hours later, counted through changes of the clock."""
    return (cast_at.astimezone(dt.UTC) + dt.timedelta(hours=hours)).astimezone(cast_at.tzinfo)
