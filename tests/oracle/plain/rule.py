"""The choosing rule from its words: lowest mean loss, what ties with it, the cheapest of those; fold by fold."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations_with_replacement
from math import factorial, prod

import numpy as np

from .candidates import Candidates

WORSE_BY = 0.21  # 10 % in the root


@dataclass(frozen=True)
class Pick:
    best: int  # rows
    chosen: int


def pick(candidates: Candidates, units: list[int], *, most_specimens: int | None = None) -> Pick:
    """What the rule takes when it sees these units alone, among schedules of at most so many specimens."""
    n = np.array([schedule.n for schedule in candidates.schedules])[candidates.schedule_of]
    rows = np.arange(len(n)) if most_specimens is None else np.flatnonzero(n <= most_specimens)
    order = np.argsort([_place(candidates)[candidates.schedule_of[row]] for row in rows], kind="stable")
    rows = rows[order]  # of equal losses the cheapest is the best
    loss, variance = candidates.loss[rows][:, units], candidates.variance[rows][:, units]
    level, over = candidates.level[rows][:, units], candidates.is_over[rows][:, units]
    best = int(np.argmin(loss.mean(axis=1)))
    behind = loss - loss[best]
    lead = behind.mean(axis=1)
    deviation = behind.std(axis=1, ddof=1) / np.sqrt(len(units)) if len(units) > 1 else np.zeros(len(rows))
    square = max(level[best].mean(), variance[best].mean())
    is_tied = (
        (lead <= deviation)
        & (lead <= WORSE_BY * square)
        & (variance.mean(axis=1) <= (1 + WORSE_BY) * variance[best].mean())
        & ~(over & ~over[best]).any(axis=1)
    )
    is_tied[best] = True
    places = np.array([_place(candidates)[candidates.schedule_of[row]] for row in rows])
    cheapest = places[is_tied].min()
    among = np.flatnonzero(is_tied & (places == cheapest))
    chosen = among[np.argmin(loss[among].mean(axis=1))]
    return Pick(int(rows[best]), int(rows[chosen]))


def _place(candidates: Candidates) -> list[int]:
    """Rank of every schedule by cheapness; kept, because every fold asks for it."""
    kept = candidates.__dict__.setdefault("_places", [])
    if not kept:
        keys = [schedule.cheapness for schedule in candidates.schedules]
        rank = {key: place for place, key in enumerate(sorted(set(keys)))}
        kept += [rank[key] for key in keys]
    return kept


def bootstrap_mean_square(candidates: Candidates) -> float:
    """The rule in every world of as many batches drawn with replacement, judged on those that were not drawn.

    Worlds that leave none out do not count. A batch drawn twice counts twice, in the deviation too.
    """
    n_units = len(candidates.study.units)
    total = chance = 0.0
    for world in combinations_with_replacement(range(n_units), n_units):
        out = [u for u in range(n_units) if u not in world]
        if out:
            likely = factorial(n_units) / prod(factorial(world.count(u)) for u in set(world))
            chosen = pick(candidates, list(world)).chosen
            total += likely * candidates.level[chosen, out].mean()
            chance += likely
    return total / chance


def folds(candidates: Candidates, *, most_specimens: int | None = None) -> list[Pick]:
    """The rule without each unit in turn."""
    units = range(len(candidates.study.units))
    return [pick(candidates, [u for u in units if u != out], most_specimens=most_specimens) for out in units]
