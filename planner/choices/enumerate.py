"""Every schedule the limits allow: every set of ages, with every count at every age."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from planner.choices.choice_set import ChoiceSet
from planner.choices.count_choices import MOST_CHOICES, completions, count_choices, too_many
from planner.terms.arrays import AnyArray, BoolArray, FloatArray, IntArray
from planner.terms.labels import age_label
from planner.terms.plan.settings import Budget, ChoiceLimits
from planner.terms.problems import NoScheduleError


def spread_evenly(n_ages: int, budget: int, per_age: tuple[int, int]) -> tuple[int, ...] | None:
    """Spread a budget of specimens over ages, the remainder to the earliest; None where it does not reach."""
    fewest, most = per_age
    if n_ages * fewest > budget:
        return None
    total = min(budget, n_ages * most)
    share, rest = divmod(total, n_ages)
    return tuple(share + (i < rest) for i in range(n_ages))


def count_patterns(n_ages: int, budget: int, per_age: tuple[int, int]) -> AnyArray:
    """Every way of giving each age a number of specimens within the budget, ``(n_patterns, n_ages)``.

    In lexicographic order, the youngest age counting most.
    """
    fewest, most = per_age
    counts = np.arange(fewest, most + 1, dtype=np.int16)
    patterns = np.zeros((1, 0), dtype=np.int16)
    for placed in range(n_ages):
        still = (n_ages - placed - 1) * fewest
        patterns = np.concatenate(
            (np.repeat(patterns, len(counts), axis=0), np.tile(counts, len(patterns))[:, None]), axis=1
        )
        patterns = patterns[patterns.sum(axis=1) + still <= budget]
    return patterns


def offered_ages(
    ages_h: FloatArray, is_candidate: BoolArray, typical_mpa: FloatArray, limits: ChoiceLimits, budget: Budget
) -> IntArray:
    """Positions of the ages that may be broken: candidates, strong enough and not too late."""
    latest_h = np.inf if budget.latest_age_h is None else budget.latest_age_h
    return np.flatnonzero(is_candidate & (typical_mpa >= limits.least_strength_mpa) & (ages_h <= latest_h))


def enumerate_choices(ages_h: FloatArray, offered: IntArray, limits: ChoiceLimits, budget: Budget) -> ChoiceSet:
    """List every allowed schedule: fewer ages first, then by age, then by specimens.

    Parameters
    ----------
    ages_h
        Recorded ages [h], rising, shape ``(n_recorded,)``.
    offered
        Positions of those that may be broken, see :func:`offered_ages`.

    Raises
    ------
    NoScheduleError
        Where nothing satisfies the limits, or there are more schedules than can be searched; the text
        names the limit to change.
    """
    _check_required(ages_h, offered, limits)
    n_choices = count_choices(ages_h[offered], limits, budget)
    if n_choices > MOST_CHOICES:
        raise NoScheduleError(too_many(n_choices, len(offered)))
    sets = list(_age_sets(ages_h, offered, limits, budget))
    if not sets:
        raise NoScheduleError(_why_none(offered, limits, budget))
    patterns = {
        n_ages: count_patterns(n_ages, budget.specimens, limits.specimens_per_age)
        for n_ages in sorted({len(positions) for positions in sets})
    }
    most = max(patterns)
    members = np.full((len(sets), most), -1, dtype=np.int16)
    for row, positions in enumerate(sets):
        members[row, : len(positions)] = positions
    n_ages = np.array([len(positions) for positions in sets], dtype=np.int64)
    padded = np.concatenate([np.pad(rows, ((0, 0), (0, most - n))) for n, rows in patterns.items()])
    first = dict(zip(patterns, np.cumsum([0, *(len(rows) for rows in patterns.values())]).tolist(), strict=False))
    set_of, pattern_of = np.empty(n_choices, dtype=np.int32), np.empty(n_choices, dtype=np.int32)
    start = 0
    for row, n in enumerate(n_ages.tolist()):
        stop = start + len(patterns[n])
        set_of[start:stop] = row
        pattern_of[start:stop] = np.arange(first[n], first[n] + stop - start)
        start = stop
    return ChoiceSet(ages_h, members, n_ages, set_of, pattern_of, padded)


def _age_sets(ages_h: FloatArray, offered: IntArray, limits: ChoiceLimits, budget: Budget) -> Iterator[tuple[int, ...]]:
    """Every allowed set of positions, fewer ages first; no beginning is followed that cannot be completed."""
    places = [int(i) for i in offered]
    for n_ages in range(limits.fewest_ages, min(limits.most_ages, len(offered)) + 1):
        if n_ages * limits.specimens_per_age[0] > budget.specimens:
            break
        table = completions(ages_h[offered], limits, n_ages)
        begun: list[tuple[int, ...]] = [()]
        for left in range(n_ages - 1, -1, -1):
            begun = [
                (*members, i) for members in begun for i in table.followers(members[-1] if members else None, left)
            ]
        yield from (tuple(places[i] for i in members) for members in begun)


def _check_required(ages_h: FloatArray, offered: IntArray, limits: ChoiceLimits) -> None:
    unmet = [age for age in limits.required_ages_h if not np.any(np.isclose(ages_h[offered], age))]
    if unmet:
        raise NoScheduleError(
            f"Required ages cannot be broken: {', '.join(age_label(age) for age in unmet)}. They must be "
            "candidates, in the break records, strong enough, after final set and not later than latest_age."
        )


def _why_none(offered: IntArray, limits: ChoiceLimits, budget: Budget) -> str:
    """Name the limit that empties the list."""
    if len(offered) < limits.fewest_ages:
        return (
            f"Only {len(offered)} candidate ages can be broken, but fewest_ages is {limits.fewest_ages}. Add "
            "candidate ages that are in the break records, or loosen least_strength_mpa, final_set_h or "
            "latest_age."
        )
    needed = limits.fewest_ages * limits.specimens_per_age[0]
    if needed > budget.specimens:
        return (
            f"{limits.fewest_ages} ages with {limits.specimens_per_age[0]} specimens each need {needed} "
            f"specimens, but the budget is {budget.specimens}. Raise [budget] specimens, or lower fewest_ages "
            "or specimens_per_age."
        )
    return (
        f"No schedule of {limits.fewest_ages} to {limits.most_ages} ages holds the required ages and keeps "
        f"{limits.minimum_gap_h:g} h between breaks. Lower minimum_gap or fewest_ages."
    )
