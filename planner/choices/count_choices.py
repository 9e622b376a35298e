"""How many schedules the limits allow, counted before any of them is listed."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate

import numpy as np

from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import Budget, ChoiceLimits

MOST_CHOICES = 20_000_000
SAME_AGE_H = 1e-9


@dataclass(frozen=True, slots=True)
class Completions:
    """In how many ways a set of ages can be completed once its last age is chosen."""

    ways: tuple[tuple[int, ...], ...]  # [ages still to choose][position of the last age]
    next_from: tuple[int, ...]  # first position that keeps the gap to each age
    last_required: tuple[int, ...]  # the next required position after each; n where there is none
    first_required: int  # n where none is required

    def followers(self, last: int | None, left: int) -> list[int]:
        """Positions that may follow `last` (None: begin a set) with so many ages `left` after them."""
        n = len(self.next_from)
        low = 0 if last is None else self.next_from[last]
        high = self.first_required if last is None else self.last_required[last]
        return [i for i in range(low, min(high, n - 1) + 1) if self.ways[left][i]]


def completions(offered_h: FloatArray, limits: ChoiceLimits, most_ages: int) -> Completions:
    """Count the ways to complete a set, for up to `most_ages` ages.

    Parameters
    ----------
    offered_h
        Ages that may be broken [h], rising, shape ``(n_offered,)``.
    """
    n = len(offered_h)
    gap_h = limits.minimum_gap_h - SAME_AGE_H
    next_from = tuple(max(i + 1, int(np.searchsorted(offered_h, offered_h[i] + gap_h))) for i in range(n))
    required = [i for i in range(n) if any(np.isclose(offered_h[i], age) for age in limits.required_ages_h)]
    following = tuple(next((r for r in required if r > i), n) for i in range(n))
    table = Completions((), next_from, following, required[0] if required else n)
    ways = [tuple(int(following[i] == n) for i in range(n))]
    for _ in range(most_ages - 1):
        below = ways[-1]
        ways.append(tuple(sum(below[j] for j in range(next_from[i], min(following[i], n - 1) + 1)) for i in range(n)))
    return Completions(tuple(ways), table.next_from, table.last_required, table.first_required)


def count_choices(offered_h: FloatArray, limits: ChoiceLimits, budget: Budget) -> int:
    """Count every allowed schedule: sets of ages times their patterns of specimens.

    Parameters
    ----------
    offered_h
        Ages that may be broken [h], rising, shape ``(n_offered,)``.
    """
    fewest, most = limits.specimens_per_age
    most_ages = min(limits.most_ages, len(offered_h), budget.specimens // fewest)
    if most_ages < limits.fewest_ages:
        return 0
    table = completions(offered_h, limits, most_ages)
    room = min(budget.specimens, most_ages * most)
    patterns = [1] + [0] * room  # [specimens used], of so many ages
    n_choices = 0
    for n_ages in range(1, most_ages + 1):
        below = [0, *accumulate(patterns)]  # below[k]: patterns that use fewer than k specimens
        patterns = [below[max(used - fewest + 1, 0)] - below[max(used - most, 0)] for used in range(room + 1)]
        if n_ages >= limits.fewest_ages:
            high = min(table.first_required, len(offered_h) - 1)
            n_choices += sum(table.ways[n_ages - 1][: high + 1]) * sum(patterns)
    return n_choices


def too_many(n_choices: int, n_ages: int) -> str:
    """Say what to change where there are more schedules than can be searched."""
    count = f"{n_choices:,}" if n_choices < 10**15 else f"about 10^{len(str(n_choices)) - 1}"
    return (
        f"The limits allow {count} schedules of {n_ages} ages, more than the {MOST_CHOICES:,} that can be searched. "
        "Offer fewer ages, lower most_ages or [budget] specimens, or narrow specimens_per_age."
    )
