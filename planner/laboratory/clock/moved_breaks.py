"""Where a break goes that cannot begin and end inside laboratory hours about its nominal age.

It is moved into the nearest hours that its permitted window reaches, if all its specimens can be broken
there. One that cannot be moved stays at its nominal age, outside hours.
"""

from __future__ import annotations

import math

import numpy as np

from planner.laboratory.clock.opening_hours import OUTSIDE, SECONDS_PER_DAY, SECONDS_PER_HOUR, Shifts
from planner.terms.arrays import BoolArray, FloatArray, IntArray
from planner.terms.plan.machine_time import minutes_needed
from planner.terms.plan.settings import Laboratory
from planner.terms.plan.tolerances import age_tolerances

SECONDS_PER_MINUTE = 60


def days_after_last(ages_h: tuple[float, ...], specimens: tuple[int, ...], laboratory: Laboratory) -> int:
    """Whole days after the last age that its permitted window or its specimens can reach, rounded up."""
    window_s = float(_deviations_s(ages_h, laboratory).max(initial=0.0))
    breaking_s = SECONDS_PER_MINUTE * minutes_needed(max(specimens, default=0), laboratory)
    return math.ceil(max(window_s, breaking_s) / SECONDS_PER_DAY)


def planned_shift(
    due_s: IntArray, ages_h: tuple[float, ...], specimens: tuple[int, ...], laboratory: Laboratory, shifts: Shifts
) -> IntArray:
    """Which shift each age is broken in: its own, else the nearest that its permitted window reaches.

    A break is inside hours when the first specimen goes in and the last is done while the laboratory is open.
    Within both the window and the hours there must be time for all specimens of the age, and no break is moved
    to another shift before the forms may be removed. Of a shift before and one after that are equally near the
    earlier is taken. An age that the tolerances do not cover, and one whose specimens take longer than its window,
    is broken about its nominal age, inside hours or not.

    Parameters
    ----------
    due_s
        Nominal ages as seconds since the epoch, shape ``(..., n_ages)``.
    ages_h, specimens
        The ages [h] and their specimens, n_ages each.
    shifts
        From the casting until after the last window.

    Returns
    -------
    Index of the shift, `OUTSIDE` where there is none; shape of `due_s`.
    """
    own = shifts.index(due_s)
    n_shifts = shifts.opens_s.size
    if n_shifts == 0:
        return own
    needed_s = np.array([round(SECONDS_PER_MINUTE * minutes_needed(count, laboratory)) for count in specimens])
    deviation_s = _deviations_s(ages_h, laboratory)
    is_own = (own != OUTSIDE) & _is_within(shifts, np.maximum(own, 0), due_s, needed_s, deviation_s)
    early_s = np.ceil(due_s - np.minimum(deviation_s, _after_forms_s(ages_h, laboratory)))
    late_s = np.floor(due_s + deviation_s)
    # only the two neighbours count: shifts further away are reached later and are no longer
    after = np.where(own == OUTSIDE, np.searchsorted(shifts.opens_s, due_s, side="right"), own + 1)
    before = np.maximum(np.where(own == OUTSIDE, after - 1, own - 1), 0)
    starts_before_s = shifts.closes_s[before] - needed_s
    is_behind = shifts.closes_s[before] < due_s
    has_before = is_behind & (starts_before_s >= np.maximum(early_s, shifts.opens_s[before]))
    behind = np.minimum(after, n_shifts - 1)
    starts_after_s = shifts.opens_s[behind]
    ends_after_s = np.minimum(late_s, shifts.closes_s[behind])
    has_after = (after < n_shifts) & (starts_after_s > due_s) & (starts_after_s + needed_s <= ends_after_s)
    is_before = has_before & (~has_after | (due_s - shifts.closes_s[before] <= starts_after_s - due_s))
    moved = np.where(is_before, before, np.where(has_after, behind, OUTSIDE))
    return np.where(is_own, own, moved).astype(np.int64)


def earliest_and_latest_start_s(
    opens_s: IntArray, closes_s: IntArray, due_s: IntArray, needed_s: IntArray, deviation_s: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Between which instants a break may begin while the laboratory is open; the later is below where it cannot.

    Specimens that take longer than the permitted window are spread evenly about the nominal age: both instants are
    then half their time before it.
    """
    centred_s = due_s - needed_s // 2
    early_s = np.minimum(np.ceil(due_s - deviation_s), centred_s)
    late_s = np.maximum(np.floor(due_s + deviation_s), centred_s + needed_s)
    return np.maximum(early_s, opens_s), np.minimum(late_s, closes_s) - needed_s


def _is_within(
    shifts: Shifts, which: IntArray, due_s: IntArray, needed_s: IntArray, deviation_s: FloatArray
) -> BoolArray:
    """Whether all specimens can be broken in the hours that the shift belongs to."""
    opens_s, closes_s = shifts.spell_opens_s[which], shifts.spell_closes_s[which]
    low_s, high_s = earliest_and_latest_start_s(opens_s, closes_s, due_s, needed_s, deviation_s)
    return np.asarray(low_s <= high_s)


def _deviations_s(ages_h: tuple[float, ...], laboratory: Laboratory) -> FloatArray:
    """Permitted deviation either way, 0 where the tolerances do not cover an age [s]."""
    tolerances = age_tolerances(laboratory.age_tolerances)
    return np.array([(tolerances.deviation_h(age_h) or 0.0) * SECONDS_PER_HOUR for age_h in ages_h])


def _after_forms_s(ages_h: tuple[float, ...], laboratory: Laboratory) -> FloatArray:
    """How far each age lies after the removal of the forms; without end where it comes before it anyway [s]."""
    removal_h = laboratory.form_removal_h or 0.0
    return np.array([(age_h - removal_h) * SECONDS_PER_HOUR if age_h >= removal_h else np.inf for age_h in ages_h])
