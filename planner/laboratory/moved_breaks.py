"""Where a break goes whose nominal age falls outside laboratory hours.

It is moved into the nearest hours that its permitted window reaches, if all its specimens can be broken
there. One that cannot be moved stays at its nominal age, outside hours.
"""

from __future__ import annotations

import math

import numpy as np

from planner.laboratory.opening_hours import OUTSIDE, SECONDS_PER_DAY, SECONDS_PER_HOUR, Shifts
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.plan.settings import Laboratory
from planner.terms.plan.tolerances import age_tolerances

SECONDS_PER_MINUTE = 60


def minutes_needed(n_specimens: int, laboratory: Laboratory) -> float:
    """How long the breaks of one age take: as many rounds as the machines need."""
    return math.ceil(n_specimens / laboratory.machines) * laboratory.minutes_per_break


def longest_deviation_days(ages_h: tuple[float, ...], laboratory: Laboratory) -> int:
    """Whole days after the last age that its permitted window can reach, rounded up."""
    return math.ceil(float(_deviations_s(ages_h, laboratory).max(initial=0.0)) / SECONDS_PER_DAY)


def planned_shift(
    due_s: IntArray, ages_h: tuple[float, ...], specimens: tuple[int, ...], laboratory: Laboratory, shifts: Shifts
) -> IntArray:
    """Which shift each age is broken in: its own, else the nearest that its permitted window reaches.

    Inside both the window and the shift there must be time for all specimens of the age, and no break is
    moved to before the forms may be removed. Of a shift before and one after that are equally near the
    earlier is taken. An age that the tolerances do not cover is not moved.

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
    early_s = np.ceil(due_s - np.minimum(deviation_s, _after_forms_s(ages_h, laboratory)))
    late_s = np.floor(due_s + deviation_s)
    # only the two neighbours of the gap count: shifts further away are reached later and are no longer
    after = np.searchsorted(shifts.opens_s, due_s, side="right")
    before = np.maximum(after - 1, 0)
    starts_before_s = shifts.closes_s[before] - needed_s
    has_before = (after > 0) & (starts_before_s >= np.maximum(early_s, shifts.opens_s[before]))
    behind = np.minimum(after, n_shifts - 1)
    starts_after_s = shifts.opens_s[behind]
    ends_after_s = np.minimum(late_s, shifts.closes_s[behind])
    has_after = (after < n_shifts) & (starts_after_s + needed_s <= ends_after_s)
    is_before = has_before & (~has_after | (due_s - shifts.closes_s[before] <= starts_after_s - due_s))
    moved = np.where(is_before, before, np.where(has_after, behind, OUTSIDE))
    return np.where(own != OUTSIDE, own, moved).astype(np.int64)


def _deviations_s(ages_h: tuple[float, ...], laboratory: Laboratory) -> FloatArray:
    """Permitted deviation either way, 0 where the tolerances do not cover an age [s]."""
    tolerances = age_tolerances(laboratory.age_tolerances)
    return np.array([(tolerances.deviation_h(age_h) or 0.0) * SECONDS_PER_HOUR for age_h in ages_h])


def _after_forms_s(ages_h: tuple[float, ...], laboratory: Laboratory) -> FloatArray:
    """How far each age lies after the removal of the forms; without end where it comes before it anyway [s]."""
    removal_h = laboratory.form_removal_h or 0.0
    return np.array([(age_h - removal_h) * SECONDS_PER_HOUR if age_h >= removal_h else np.inf for age_h in ages_h])
