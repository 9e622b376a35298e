"""How many programmes each set of ages has, and which of them come first.

What the least of a plan is asked by, but for the laboratory's constraints and counts of specimens, depends on the ages
of a schedule alone. So programmes are counted by set of ages, and of each set those that come first by a figure stand
for all of it: no schedule has to be held for a count, or to be first in any union of sets.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.terms.arrays import AnyArray, BoolArray, FloatArray, IntArray
from planner.verdict.selection.programmes.fixed_programmes import FixedProgrammes
from planner.verdict.selection.programmes.programme_table import ProgrammeTable

MOST_CHECKED = 5_000  # schedules that a rule learnt without a batch is checked on; more are thinned evenly


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class SetCounts:
    """Programmes and schedules of every set of ages, each ``(n_sets,)``."""

    programmes: IntArray  # within the limits that can be judged
    keeping: IntArray  # of them those that keep the target
    schedules: IntArray  # with such a programme
    keeping_schedules: IntArray  # with one that keeps the target

    @classmethod
    def of(cls, fixed: FixedProgrammes, set_of: AnyArray, n_sets: int) -> SetCounts:
        """Count the programmes of some schedules, `set_of` the set of each, ``(n_choices,)``."""
        possible, keeping = fixed.is_possible, fixed.is_possible & fixed.is_enough

        def by_set(values: AnyArray) -> IntArray:
            return np.bincount(set_of, weights=values, minlength=n_sets).astype(np.int64)

        return cls(
            programmes=by_set(possible.sum(axis=1)),
            keeping=by_set(keeping.sum(axis=1)),
            schedules=by_set(np.asarray(possible.any(axis=1))),
            keeping_schedules=by_set(np.asarray(keeping.any(axis=1))),
        )

    def __add__(self, other: SetCounts) -> SetCounts:
        return SetCounts(
            programmes=self.programmes + other.programmes,
            keeping=self.keeping + other.keeping,
            schedules=self.schedules + other.schedules,
            keeping_schedules=self.keeping_schedules + other.keeping_schedules,
        )


@dataclass(frozen=True, slots=True, eq=False)
class Counted:
    """What is told of all programmes of a search, held or not."""

    by_set: SetCounts
    checked: IntArray  # an even choice of the schedules that have programmes, rising positions
    table: ProgrammeTable | None = None  # all of them, where they are to be held against those of other mixes


def evenly(positions: IntArray) -> IntArray:
    """At most `MOST_CHECKED` of some positions, evenly spaced among them."""
    places = np.linspace(0, len(positions) - 1, MOST_CHECKED) if positions.size else np.zeros(0)
    return positions[np.unique(places.astype(np.int64))]


def first_of_groups(fixed: FixedProgrammes, group: AnyArray, *, cost: FloatArray | None, score: FloatArray) -> IntArray:
    """Of each group of schedules those that a question about the least can take, rising positions.

    They are the programmes of lowest error, of fewest specimens, of fewest that keep the target, and of the
    cheapest that do; of equals the first, as `FixedProgrammes.decide` takes it.

    Parameters
    ----------
    group
        Of each schedule, never falling; below 0 where it is in none, ``(n_choices,)``.
    cost
        Of whole calibrations, ``(n_choices, n_numbers)``; None without prices.
    score
        Own-batch loss of every schedule, ``(n_choices,)``.
    """
    which, column = np.nonzero(fixed.is_possible & (group >= 0)[:, None])
    counts = fixed.n_specimens[which] * np.array(fixed.trial_batches)[column]
    rms = fixed.rms[which, column]
    every, good = np.arange(len(which)), np.flatnonzero(fixed.is_enough[which, column])
    asked: list[tuple[IntArray, tuple[AnyArray, ...]]] = [
        (every, (rms, counts)),
        (every, (counts, score[which])),
        (good, (counts, rms)),
    ]
    if cost is not None:
        asked.append((good, (cost[which, column],)))
    found = [_first_of_each(group[which], at, keys) for at, keys in asked]
    return np.unique(which[np.concatenate(found)])


def _first_of_each(group: AnyArray, at: IntArray, keys: Sequence[AnyArray]) -> IntArray:
    """Of each group the first of some positions by several keys, the first counting most; groups never fall."""
    for key in keys:
        if not at.size:
            return at
        starts = _starts(group[at])
        lowest = np.repeat(np.fmin.reduceat(key[at], starts), np.diff(np.append(starts, at.size)))
        at = at[key[at] == lowest]
    return at[_starts(group[at])]


def _starts(group: AnyArray) -> IntArray:
    """Where each group begins."""
    is_start: BoolArray = np.ones(len(group), dtype=bool)
    is_start[1:] = group[1:] != group[:-1]
    return np.flatnonzero(is_start)
