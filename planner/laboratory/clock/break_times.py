"""One casting on the clock: when each break is due, how long it takes, who must attend.

Ages are elapsed hours, so a break the night the clocks change is an hour off on the wall clock.
"""

from __future__ import annotations

import datetime as dt
import math
from itertools import groupby

import numpy as np

from planner.laboratory.clock.break_slots import Attendance, BreakSlot, BreakTimes
from planner.laboratory.clock.clock_words import clock_warnings
from planner.laboratory.clock.moved_breaks import days_after_last, earliest_and_latest_start_s, planned_shift
from planner.laboratory.clock.opening_hours import (
    ONE_DAY,
    OUTSIDE,
    SECONDS_PER_HOUR,
    Shifts,
    clock_time,
    instants_s,
    laboratory_zone,
    local_time,
    shifts_between,
)
from planner.terms.arrays import BoolArray, IntArray
from planner.terms.plan.machine_time import minutes_needed
from planner.terms.plan.settings import Laboratory
from planner.terms.plan.tolerances import permitted_deviation_h
from planner.terms.schedule import Schedule

ONE_VISIT_S = SECONDS_PER_HOUR  # breaks outside hours no further apart than this are one attendance


def break_times(schedule: Schedule, laboratory: Laboratory, *, cast_at: dt.datetime, casting: str = "") -> BreakTimes:
    """Put a schedule on the clock.

    A break that cannot begin and end inside laboratory hours is moved into the nearest hours that its permitted
    window reaches.

    Parameters
    ----------
    schedule
        Ages with their specimens.
    laboratory
        Hours, zone, machines and age tolerances.
    cast_at
        Age zero. Without a zone it is a wall-clock time of the laboratory.
    casting
        Label carried by the slots, to tell several castings apart.

    Raises
    ------
    ValueError
        Unknown zone, a wall-clock time that does not exist, or an age the tolerances do not cover.
    """
    start = local_time(cast_at, laboratory)
    due_s = instants_s(start, schedule.ages_h)
    last = clock_time(int(due_s[-1]), start.tzinfo or dt.UTC).date()
    shifts = shifts_between(
        laboratory, start.date(), last + days_after_last(schedule.ages_h, schedule.specimens, laboratory) * ONE_DAY
    )
    shift = planned_shift(due_s, schedule.ages_h, schedule.specimens, laboratory, shifts)
    visit = np.cumsum(~is_same_visit(due_s[:-1], due_s[1:], shift[:-1], shift[1:]))
    visit_of = (0, *(int(number) for number in visit))
    slots = tuple(
        _slot(
            schedule,
            n,
            laboratory,
            shifts,
            due_s=int(due_s[n]),
            shift=int(shift[n]),
            visit=visit_of[n],
            casting=casting,
        )
        for n in range(schedule.n_ages)
    )
    return BreakTimes(
        cast_at=start,
        slots=slots,
        attendances=_attendances(slots),
        warnings=clock_warnings(slots, laboratory),
        is_always_open=laboratory.is_always_open,
        is_casting_outside_hours=bool(shifts.index(instants_s(start, (0.0,)))[0] == OUTSIDE),
    )


def is_same_visit(earlier_s: IntArray, later_s: IntArray, earlier_shift: IntArray, later_shift: IntArray) -> BoolArray:
    """Whether a break and the next one are served by one attendance. Arrays of one shape.

    The seconds are nominal ages, the shifts those of `planned_shift`. Inside hours one attendance serves a
    whole laboratory day. Outside hours it serves breaks that follow one another within an hour.
    """
    is_one_day = (earlier_shift == later_shift) & (earlier_shift != OUTSIDE)
    is_one_call = (earlier_shift == OUTSIDE) & (later_shift == OUTSIDE) & (later_s - earlier_s <= ONE_VISIT_S)
    return np.asarray(is_one_day | is_one_call, dtype=np.bool_)


def _slot(
    schedule: Schedule,
    n: int,
    laboratory: Laboratory,
    shifts: Shifts,
    *,
    due_s: int,
    shift: int,
    visit: int,
    casting: str,
) -> BreakSlot:
    zone = laboratory_zone(laboratory)
    age_h, n_specimens = schedule.ages_h[n], schedule.specimens[n]
    needed_min = minutes_needed(n_specimens, laboratory)
    needed_s = round(60 * needed_min)
    deviation_s = permitted_deviation_h(age_h, standard=laboratory.age_tolerances) * SECONDS_PER_HOUR
    early_s, late_s = math.ceil(due_s - deviation_s), math.floor(due_s + deviation_s)
    fits_window = needed_s <= late_s - early_s
    is_inside, start_s = shift != OUTSIDE, due_s - needed_s // 2
    if is_inside:
        hours = (np.array(shifts.spell_opens_s[shift]), np.array(shifts.spell_closes_s[shift]))
        low_s, high_s = earliest_and_latest_start_s(*hours, np.array(due_s), np.array(needed_s), np.array(deviation_s))
        start_s = min(max(start_s, int(low_s)), int(high_s))
    is_due_inside = bool(shifts.index(np.array([due_s]))[0] != OUTSIDE)
    return BreakSlot(
        casting=casting,
        age_h=age_h,
        n_specimens=n_specimens,
        due_at=clock_time(due_s, zone),
        earliest_at=clock_time(early_s, zone),
        latest_at=clock_time(late_s, zone),
        starts_at=clock_time(start_s, zone),
        ends_at=clock_time(start_s + needed_s, zone),
        minutes_per_break=laboratory.minutes_per_break,
        minutes_needed=needed_min,
        visit=visit,
        is_inside_hours=is_inside,
        is_moved=is_inside and not shifts.opens_s[shift] <= due_s <= shifts.closes_s[shift],
        fits_window=fits_window,
        runs_past_hours=is_due_inside and not is_inside,
        is_before_form_removal=laboratory.form_removal_h is not None and age_h < laboratory.form_removal_h,
    )


def _attendances(slots: tuple[BreakSlot, ...]) -> tuple[Attendance, ...]:
    visits = [tuple(members) for _, members in groupby(slots, key=lambda slot: slot.visit)]
    return tuple(
        Attendance(
            starts_at=min((slot.starts_at for slot in members), key=lambda at: at.timestamp()),
            ends_at=max((slot.ends_at for slot in members), key=lambda at: at.timestamp()),
            ages_h=tuple(slot.age_h for slot in members),
            n_specimens=sum(slot.n_specimens for slot in members),
            is_outside_hours=not members[0].is_inside_hours,
        )
        for members in visits
    )
