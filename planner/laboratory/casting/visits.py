"""Attendances of very many schedules over very many casting times, by two matrix products.

A schedule needs one attendance per age, less one for every age that shares its attendance with the age
before it. Which ages follow each other depends on the schedule alone, which of them share an attendance
on the casting time alone; the count is the product of the two. All counts are whole numbers, exact in
single precision, so equal castings tie exactly.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

import numpy as np

from planner.laboratory.clock.break_times import is_same_visit
from planner.laboratory.clock.moved_breaks import days_after_last, planned_shift
from planner.laboratory.clock.opening_hours import (
    ONE_DAY,
    OUTSIDE,
    clock_time,
    instants_s,
    laboratory_zone,
    local_time,
    shifts_between,
    without_dates,
)
from planner.terms.arrays import BoolArray, IntArray, SingleArray
from planner.terms.plan.settings import Laboratory

CASTING_STEP = dt.timedelta(minutes=30)
REFERENCE_MONDAY = dt.datetime(2024, 1, 1)  # a Monday; only its weekday matters
WEEK = dt.timedelta(days=7)

Window = tuple[dt.datetime, dt.datetime]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class VisitTable:
    """Every candidate age under every casting time. An age may stand more than once, with other specimens."""

    cast_at: tuple[dt.datetime, ...]  # aware, rising, one per slot
    is_dated: bool  # False: a week without dates, clocks that never change and no closed dates
    is_outside: BoolArray  # the break is due outside laboratory hours and cannot be moved, shape (n_slots, n_ages)
    day: IntArray  # ordinal of the laboratory day it is broken on, -1 outside hours, shape (n_slots, n_ages)
    is_casting_outside: BoolArray  # the casting itself is outside hours, shape (n_slots,)
    pairs: tuple[tuple[int, int], ...]  # pairs of ages that share an attendance in at least one slot
    is_shared: BoolArray  # the later age of the pair needs no attendance of its own, (n_slots, n_pairs)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class VisitCounts:
    """Attendances of schedules under casting times."""

    n_visits: SingleArray  # whole numbers, shape (n_schedules, n_slots)
    n_outside: SingleArray  # those outside hours, same shape


def visit_table(
    ages_h: tuple[float, ...],
    laboratory: Laboratory,
    window: Window | None = None,
    *,
    specimens: tuple[int, ...] = (),
) -> VisitTable:
    """Look every age up in the laboratory's hours, for castings half an hour apart.

    Breaks due outside hours are moved as `break_times` moves them.

    Parameters
    ----------
    ages_h
        Candidate ages, none below the one before it [h].
    laboratory
        Hours, zone, machines and age tolerances.
    window
        First and last casting time, both offered. None: the casting hours of a week without dates.
    specimens
        At each age: breaking more of them takes longer, and may not fit where fewer do. (): one.

    Raises
    ------
    ValueError
        The window ends before it begins, or the zone is not known.
    """
    if window is not None:  # in UTC: in a zone the two hours of the night the clocks go back compare as equal
        first, last = (local_time(at, laboratory).astimezone(dt.UTC) for at in window)
        window = (first, last)
    return _visit_table(tuple(ages_h), tuple(specimens) or (1,) * len(ages_h), laboratory, window)


@lru_cache(maxsize=32)
def _visit_table(
    ages_h: tuple[float, ...], specimens: tuple[int, ...], laboratory: Laboratory, window: Window | None
) -> VisitTable:
    calendar = laboratory if window else without_dates(laboratory)
    cast_at = _casting_times(calendar, window)
    due_s = np.stack([instants_s(at, (0.0, *ages_h)) for at in cast_at])
    zone = laboratory_zone(calendar)
    last = clock_time(int(due_s[-1, -1]), zone).date() + days_after_last(ages_h, specimens, calendar) * ONE_DAY
    shifts = shifts_between(calendar, cast_at[0].date(), last)
    shift = planned_shift(due_s[:, 1:], ages_h, specimens, calendar, shifts)
    day = np.full(shift.shape, OUTSIDE, dtype=np.int64)
    day[shift != OUTSIDE] = shifts.day[shift[shift != OUTSIDE]]
    pairs, is_shared = _shared_attendances(ages_h, due_s[:, 1:], shift)
    is_outside = shift == OUTSIDE
    for remembered in (is_outside, day, is_shared):
        remembered.flags.writeable = False  # the table is kept for the next caller
    return VisitTable(
        cast_at=cast_at,
        is_dated=window is not None,
        is_outside=is_outside,
        day=day,
        is_casting_outside=shifts.index(due_s[:, 0]) == OUTSIDE,
        pairs=pairs,
        is_shared=is_shared,
    )


def count_visits(has_age: BoolArray, table: VisitTable) -> VisitCounts:
    """Count the attendances of each schedule under each casting time.

    Parameters
    ----------
    has_age
        Which candidate ages each schedule breaks at, none of them twice, shape (n_schedules, n_ages).
    """
    follows = _follows(has_age, table.pairs)
    present = has_age.astype(np.float32)
    is_outside = table.is_outside.astype(np.float32)
    later_outside = np.array([later for _, later in table.pairs], dtype=np.intp)
    shared = table.is_shared.astype(np.float32)
    shared_outside = shared * is_outside[:, later_outside]
    return VisitCounts(
        n_visits=present.sum(axis=1, keepdims=True) - follows @ shared.T,
        n_outside=present @ is_outside.T - follows @ shared_outside.T,
    )


def _follows(has_age: BoolArray, pairs: tuple[tuple[int, int], ...]) -> SingleArray:
    """Whether the two ages of each pair follow one another in each schedule, (n_schedules, n_pairs)."""
    before = np.zeros((has_age.shape[0], has_age.shape[1] + 1), dtype=np.int16)
    np.cumsum(has_age, axis=1, out=before[:, 1:])
    follows = np.empty((has_age.shape[0], len(pairs)), dtype=np.float32)
    for column, (earlier, later) in enumerate(pairs):
        is_gap_free = before[:, later] - before[:, earlier + 1] == 0
        follows[:, column] = has_age[:, earlier] & has_age[:, later] & is_gap_free
    return follows


def _shared_attendances(
    ages_h: tuple[float, ...], due_s: IntArray, shift: IntArray
) -> tuple[tuple[tuple[int, int], ...], BoolArray]:
    pairs = [pair for pair in combinations(range(len(ages_h)), 2) if ages_h[pair[0]] < ages_h[pair[1]]]
    earlier = np.array([pair[0] for pair in pairs], dtype=np.intp)
    later = np.array([pair[1] for pair in pairs], dtype=np.intp)
    is_shared = is_same_visit(due_s[:, earlier], due_s[:, later], shift[:, earlier], shift[:, later])
    is_used: BoolArray = np.any(is_shared, axis=0).reshape(-1)
    return tuple(pair for pair, used in zip(pairs, is_used, strict=True) if used), is_shared[:, is_used]


def _casting_times(laboratory: Laboratory, window: Window | None) -> tuple[dt.datetime, ...]:
    zone = laboratory_zone(laboratory)
    if window is None:
        first = REFERENCE_MONDAY.replace(tzinfo=zone)
        last = first + WEEK - CASTING_STEP
    else:
        first, last = (local_time(at, laboratory) for at in window)
    first_s, last_s = round(first.timestamp()), round(last.timestamp())
    if last_s < first_s:
        raise ValueError(
            f"The casting window ends before it begins, given {first:%Y-%m-%d %H:%M} to "
            f"{last:%Y-%m-%d %H:%M}. Swap the two times."
        )
    step_s = round(CASTING_STEP.total_seconds())
    times = tuple(clock_time(step, zone) for step in range(first_s, last_s + 1, step_s))
    if window is not None:  # asked for by name: its hours stand as they were given
        return times
    begins = laboratory.hours_of_casting[0]
    # casting hours shorter than half an hour hold no step: their beginning is taken on every working day
    within = tuple(at for at in times if is_casting_hour(at, laboratory)) or tuple(
        at.replace(hour=begins.hour, minute=begins.minute)
        for at in times
        if at.time() == dt.time() and at.weekday() in laboratory.days
    )
    return within or times  # a laboratory without a working day casts when it likes


def is_casting_hour(at: dt.datetime, laboratory: Laboratory) -> bool:
    """Whether a trial batch is cast then: on working days in the casting hours, else in the opening hours."""
    begins, ends = laboratory.hours_of_casting
    if begins == ends:  # round the clock
        return at.weekday() in laboratory.days
    if begins < ends:
        return at.weekday() in laboratory.days and begins <= at.time() <= ends
    before = (at - dt.timedelta(days=1)).weekday()  # past midnight the day before counts
    return (at.weekday() in laboratory.days and at.time() >= begins) or (
        before in laboratory.days and at.time() <= ends
    )
