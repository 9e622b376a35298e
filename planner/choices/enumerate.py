"""Every schedule the limits allow."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from planner.terms.arrays import BoolArray, FloatArray, IntArray
from planner.terms.labels import age_label
from planner.terms.problems import NoScheduleError
from planner.terms.schedule import Schedule
from planner.terms.settings import Budget, ChoiceLimits


@dataclass(frozen=True, slots=True, eq=False)
class ChoiceSet:
    """Schedules as arrays over the recorded ages. Rows are padded with -1 and 0."""

    ages_h: FloatArray  # recorded ages [h], (n_recorded,)
    members: IntArray  # positions of the ages of each schedule, rising, (n_choices, most_ages)
    n_ages: IntArray  # (n_choices,)
    specimens: IntArray  # at each age, (n_choices, most_ages)

    def __len__(self) -> int:
        return len(self.n_ages)

    @property
    def n_specimens(self) -> IntArray:
        return np.asarray(self.specimens.sum(axis=1))

    @property
    def last_age_h(self) -> FloatArray:
        return self.ages_h[self.members[np.arange(len(self)), self.n_ages - 1]]

    def schedule(self, which: int) -> Schedule:
        """Return one row as a value."""
        n = int(self.n_ages[which])
        return Schedule(
            tuple(float(self.ages_h[i]) for i in self.members[which, :n]),
            tuple(int(count) for count in self.specimens[which, :n]),
        )

    def has_age(self) -> BoolArray:
        """Which recorded ages each schedule holds, ``(n_choices, n_recorded)``."""
        held = np.zeros((len(self), len(self.ages_h) + 1), dtype=bool)
        np.put_along_axis(held, self.members, True, axis=1)
        return held[:, :-1]


def spread_evenly(n_ages: int, budget: int, per_age: tuple[int, int]) -> tuple[int, ...] | None:
    """Spread a budget of specimens over ages, the remainder to the earliest; None where it does not reach."""
    fewest, most = per_age
    if n_ages * fewest > budget:
        return None
    total = min(budget, n_ages * most)
    share, rest = divmod(total, n_ages)
    return tuple(share + (i < rest) for i in range(n_ages))


def choice_set(ages_h: FloatArray, schedules: Iterable[tuple[Sequence[int], Sequence[int]]]) -> ChoiceSet:
    """Pack (positions, specimens) pairs into arrays."""
    rows = list(schedules)
    most = max(len(positions) for positions, _ in rows)
    members = np.full((len(rows), most), -1, dtype=np.int64)
    specimens = np.zeros((len(rows), most), dtype=np.int64)
    n_ages = np.array([len(positions) for positions, _ in rows], dtype=np.int64)
    for row, (positions, counts) in enumerate(rows):
        members[row, : len(positions)] = positions
        specimens[row, : len(positions)] = counts
    return ChoiceSet(ages_h, members, n_ages, specimens)


def offered_ages(
    ages_h: FloatArray, is_candidate: BoolArray, typical_mpa: FloatArray, limits: ChoiceLimits, budget: Budget
) -> IntArray:
    """Positions of the ages that may be broken: candidates, strong enough and not too late."""
    latest_h = np.inf if budget.latest_age_h is None else budget.latest_age_h
    return np.flatnonzero(is_candidate & (typical_mpa >= limits.least_strength_mpa) & (ages_h <= latest_h))


def enumerate_choices(
    ages_h: FloatArray, offered: IntArray, limits: ChoiceLimits, budget: Budget
) -> ChoiceSet:
    """List every allowed schedule: fewer ages first, then by age.

    Specimens are spread as evenly as the budget allows, the remainder to the earliest ages.

    Parameters
    ----------
    ages_h
        Recorded ages [h], rising, shape ``(n_recorded,)``.
    offered
        Positions of those that may be broken, see :func:`offered_ages`.

    Raises
    ------
    NoScheduleError
        Where nothing satisfies the limits; the text names the limit that empties the list.
    """
    required = {int(np.argmin(np.abs(ages_h - age))) for age in limits.required_ages_h}
    unmet = [
        age
        for age in limits.required_ages_h
        if not np.any(np.isclose(ages_h[offered], age))
    ]
    if unmet:
        raise NoScheduleError(
            f"Required ages cannot be broken: {', '.join(age_label(age) for age in unmet)}. They must be "
            "candidates, in the break records, strong enough, after final set and not later than latest_age."
        )
    rows: list[tuple[tuple[int, ...], tuple[int, ...]]] = []
    reached_budget = False
    for n_ages in range(limits.fewest_ages, min(limits.most_ages, len(offered)) + 1):
        counts = spread_evenly(n_ages, budget.specimens, limits.specimens_per_age)
        if counts is None:
            break
        reached_budget = True
        for positions in combinations([int(i) for i in offered], n_ages):
            if not required.issubset(positions):
                continue
            if limits.minimum_gap_h and np.min(np.diff(ages_h[list(positions)])) < limits.minimum_gap_h - 1e-9:
                continue
            rows.append((positions, counts))
    if rows:
        return choice_set(ages_h, rows)
    if len(offered) < limits.fewest_ages:
        raise NoScheduleError(
            f"Only {len(offered)} candidate ages can be broken, but fewest_ages is {limits.fewest_ages}. Add "
            "candidate ages that are in the break records, or loosen least_strength_mpa, final_set_h or "
            "latest_age."
        )
    if not reached_budget:
        raise NoScheduleError(
            f"{limits.fewest_ages} ages with {limits.specimens_per_age[0]} specimens each need "
            f"{limits.fewest_ages * limits.specimens_per_age[0]} specimens, but the budget is "
            f"{budget.specimens}. Raise [budget] specimens, or lower fewest_ages or specimens_per_age."
        )
    raise NoScheduleError(
        f"No schedule of {limits.fewest_ages} to {limits.most_ages} ages holds the required ages and keeps "
        f"{limits.minimum_gap_h:g} h between breaks. Lower minimum_gap or fewest_ages."
    )
