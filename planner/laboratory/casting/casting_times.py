"""Casting times as people write them: one time, or a window to find the cheapest one in."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

from planner.laboratory.casting.best_casting import best_casting, companions_schedule
from planner.laboratory.clock.break_slots import BreakTimes
from planner.laboratory.clock.break_times import break_times
from planner.laboratory.clock.clock_words import no_laboratory
from planner.laboratory.clock.opening_hours import SECONDS_PER_HOUR, local_time
from planner.terms.plan.settings import Budget, Plan, Settings
from planner.terms.plan.settings import CastingWindow as Window
from planner.terms.plan.tolerances import check_ages_covered
from planner.terms.problems import InputError, Problem
from planner.terms.schedule import Schedule

OPTION = "--cast"
EARLIEST_YEAR, LATEST_YEAR = 2000, 2100
LONGEST_WINDOW = dt.timedelta(days=366)
DATE_ALONE = 10  # characters at most
EXAMPLE = '"2027-03-01 22:00" or a window "2027-03-01 18:00/2027-03-02 04:00"'


def casting_windows(texts: Sequence[str]) -> tuple[Window, ...]:
    """Read times, or windows with a slash between first and last.

    Raises
    ------
    InputError
        Naming every text that is neither.
    """
    windows: list[Window] = []
    problems: list[Problem] = []
    for text in texts:
        try:
            windows.append(_window(text))
        except ValueError as error:
            problems.append(Problem(file=OPTION, text=str(error)))
    if problems:
        raise InputError(problems)
    return tuple(windows)


def _window(text: str) -> Window:
    parts = [part.strip() for part in text.split("/")]
    try:
        times = [dt.datetime.fromisoformat(part) for part in parts]
    except ValueError:
        times = []
    if len(times) not in (1, 2):
        raise ValueError(f"{text!r} is no casting time. Write {EXAMPLE}.")
    if any(len(part) <= DATE_ALONE for part in parts):
        raise ValueError(f"{text!r} names a day without its hour. Write {EXAMPLE}.")
    if any(not EARLIEST_YEAR <= time.year <= LATEST_YEAR for time in times):
        raise ValueError(
            f"{text!r} lies outside the years {EARLIEST_YEAR} to {LATEST_YEAR}. Correct the year, as in {EXAMPLE}."
        )
    first, last = times[0], times[-1]
    if (first.tzinfo is None) != (last.tzinfo is None):
        raise ValueError(f"{text!r} names a time zone once. Name it for both times, or for neither.")
    if first > last:
        raise ValueError(f"{text!r} ends before it begins. Write the earlier time first.")
    if last - first > LONGEST_WINDOW:
        raise ValueError(
            f"{text!r} is a window of {(last - first).days:,} days, more than the {LONGEST_WINDOW.days} that can be "
            "looked through. Narrow it."
        )
    return first, last


def check_castings(windows: Sequence[Window], settings: Settings) -> None:
    """Refuse, before anything is computed, every time that does not exist, and ages that cannot be dated.

    Raises
    ------
    InputError
        Naming every time that the laboratory's clock never shows or shows twice, and every candidate age that its
        age tolerances do not cover.
    """
    problems = []
    laboratory = settings.laboratory_taken
    latest_h = settings.budget.latest_age_h
    ages_h = [age for age in settings.choices.ages_h if latest_h is None or age <= latest_h]
    try:
        check_ages_covered(ages_h if windows else (), standard=laboratory.age_tolerances)
    except ValueError as error:
        problems.append(Problem(file=OPTION, text=str(error)))
    for clock in dict.fromkeys(clock for window in windows for clock in window):
        try:
            local_time(clock, laboratory)
        except (ValueError, OverflowError) as error:
            problems.append(Problem(file=OPTION, text=str(error)))
    if problems:
        raise InputError(problems)


def with_castings(settings: Settings, windows: Sequence[Window]) -> Settings:
    """The settings of a run that is ranked and priced for these castings: one for all trial batches, or one each.

    Raises
    ------
    InputError
        Where the plan does not allow as many trial batches as castings are given.
    """
    if len(windows) < 2:
        return replace(settings, castings=tuple(windows))
    programme = settings.programme_asked
    allowed = programme.allowed_trial_batches
    if len(windows) not in allowed:
        planned = f"{allowed[0]}" if len(allowed) == 1 else f"{allowed[0]} to {allowed[-1]}"
        raise InputError(
            [
                Problem(
                    OPTION,
                    f"{len(windows)} casting times are given, one for each trial batch, but the plan has {planned} "
                    f"trial batch{'' if allowed[-1] == 1 else 'es'}. Give one time for all of them, or state "
                    f"[programme] trial_batches = {len(windows)}.",
                )
            ]
        )
    fixed = replace(programme, trial_batches=len(windows), most_trial_batches=None)
    return replace(settings, castings=tuple(windows), programme=fixed, budget=_budget_between(windows, settings))


def _budget_between(windows: Sequence[Window], settings: Settings) -> Budget:
    """The budget with as many hours between the castings as the times asked for leave at most."""
    times = [local_time(at, settings.laboratory_taken).timestamp() for window in windows for at in window]
    last_cast_h = (max(times) - min(times)) / SECONDS_PER_HOUR
    budget = replace(settings.budget, between_castings_h=last_cast_h / (len(windows) - 1))
    if budget.ready_by_h is None:
        return budget
    latest_h, asked_h = budget.ready_by_h - last_cast_h, budget.latest_age_asked_h
    return replace(budget, latest_age_h=latest_h if asked_h is None else min(asked_h, latest_h))


def cast_at(plan: Plan, texts: Sequence[str]) -> Plan:
    """The plan of a run that is ranked and priced for casting times as people write them; itself without any.

    Raises
    ------
    InputError
        As :func:`casting_windows`, :func:`check_castings` and :func:`with_castings`.
    """
    windows = casting_windows(texts)
    check_castings(windows, plan.settings)
    return replace(plan, settings=with_castings(plan.settings, windows))


def castings_at(windows: Sequence[Window], schedule: Schedule, settings: Settings) -> tuple[BreakTimes, ...]:
    """Put the schedule on the clock, once for each casting; in a window at its cheapest time.

    Raises
    ------
    InputError
        Where a time does not exist in the laboratory's zone, or its age tolerances do not cover an age.
    """
    laboratory = settings.laboratory_taken
    n_each = settings.programme_asked.companions_per_check
    companions = companions_schedule(settings.target.ages_h, n_each)
    castings = []
    for place, (first, last) in enumerate(windows, start=1):
        try:
            window = (local_time(first, laboratory), local_time(last, laboratory))
            cast_at = best_casting(schedule, laboratory, settings.costs, window, companions=companions).cast_at
            name = f"trial-{place}" if len(windows) > 1 else ""
            times = break_times(schedule, laboratory, cast_at=cast_at, casting=name)
            castings.append(
                times
                if settings.laboratory
                else replace(times, warnings=(*times.warnings, no_laboratory(laboratory.age_tolerances)))
            )
        except ValueError as error:
            raise InputError([Problem(file=OPTION, text=str(error))]) from error
    return tuple(castings)
