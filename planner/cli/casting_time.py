"""``--cast``: a casting time, or a window to find the cheapest one in."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING

import click

from ..terms.problems import InputError, Problem

if TYPE_CHECKING:
    from ..laboratory.break_times import BreakTimes
    from ..terms.schedule import Schedule
    from ..terms.settings import Settings

Window = tuple[dt.datetime, dt.datetime]
NO_LABORATORY = (
    "The plan names no laboratory: times are UTC and no break counts as outside hours. State [laboratory] time_zone, "
    "open and days."
)
EXAMPLE = '"2027-03-01 22:00" or a window "2027-03-01 18:00/2027-03-02 04:00"'


class CastingTime(click.ParamType[Window]):
    """First and last casting time; twice the same where one time is given."""

    name = "time"

    def convert(self, value: str | Window, param: click.Parameter | None, ctx: click.Context | None) -> Window:
        """Read one time or two with a slash between."""
        if isinstance(value, tuple):
            return value
        parts = value.split("/")
        try:
            times = [dt.datetime.fromisoformat(part.strip()) for part in parts]
        except ValueError:
            times = []
        if len(times) not in (1, 2):
            self.fail(f"{value!r} is no casting time. Write {EXAMPLE}.", param, ctx)
        first, last = times[0], times[-1]
        if (first.tzinfo is None) != (last.tzinfo is None):
            self.fail(f"{value!r} names a time zone once. Name it for both times, or for neither.", param, ctx)
        if first > last:
            self.fail(f"{value!r} ends before it begins. Write the earlier time first.", param, ctx)
        return first, last


def check_castings(windows: tuple[Window, ...], settings: Settings) -> None:
    """Refuse, before anything is computed, every time that does not exist in the laboratory's zone.

    Raises
    ------
    InputError
        Naming all of them.
    """
    if not windows:
        return
    from planner.laboratory.opening_hours import local_time

    from ..terms.settings import Laboratory

    problems = []
    for clock in dict.fromkeys(clock for window in windows for clock in window):
        try:
            local_time(clock, settings.laboratory or Laboratory())
        except (ValueError, OverflowError) as error:
            problems.append(Problem(file="--cast", text=str(error)))
    if problems:
        raise InputError(problems)


def castings_at(windows: tuple[Window, ...], schedule: Schedule, settings: Settings) -> tuple[BreakTimes, ...]:
    """Put the schedule on the clock, once for each casting; in a window at its cheapest time.

    Raises
    ------
    InputError
        Where a time does not exist in the laboratory's zone, or its age tolerances do not cover an age.
    """
    from planner.laboratory.casting_hours import best_casting
    from planner.laboratory.opening_hours import local_time

    from ..laboratory.break_times import break_times
    from ..terms.settings import Laboratory

    laboratory = settings.laboratory or Laboratory()
    castings = []
    for place, (first, last) in enumerate(windows, start=1):
        try:
            window = (local_time(first, laboratory), local_time(last, laboratory))
            cast_at = best_casting(schedule, laboratory, settings.costs, window).cast_at
            name = f"trial-{place}" if len(windows) > 1 else ""
            times = break_times(schedule, laboratory, cast_at=cast_at, casting=name)
            castings.append(times if settings.laboratory else replace(times, warnings=(*times.warnings, NO_LABORATORY)))
        except ValueError as error:
            raise InputError([Problem(file="--cast", text=str(error))]) from error
    return tuple(castings)
