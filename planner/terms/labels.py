"""Short words for values, the same on every output."""

from __future__ import annotations

from planner.terms.schedule import Schedule

HOURS_PER_DAY = 24.0


def age_label(age_h: float) -> str:
    """Write an age as the trade says it: hours below one day and for odd ages, days for whole days."""
    if age_h >= HOURS_PER_DAY and age_h % HOURS_PER_DAY == 0:
        return f"{age_h / HOURS_PER_DAY:g} d"
    return f"{age_h:g} h"


def schedule_label(schedule: Schedule) -> str:
    """Write a schedule as `[compare] schedules` reads it: ``6 h x3, 1 d x3``."""
    return ", ".join(
        f"{age_label(age)} x{count}" for age, count in zip(schedule.ages_h, schedule.specimens, strict=True)
    )


def percent(share: float, *, is_signed: bool = False, digits: int = 1) -> str:
    """Write a relative figure as a percentage: ``3.1 %``."""
    text = f"{100 * share:+.{digits}f}" if is_signed else f"{100 * share:.{digits}f}"
    return f"{text} %"
