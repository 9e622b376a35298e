"""The choosing rule from its words: lowest mean loss, what ties with it, the cheapest of those; fold by fold."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations_with_replacement
from math import factorial, prod

import numpy as np

from tests.oracle.plain.candidates import Candidates

WORSE_BY = 0.21  # 10 % in the root


@dataclass(frozen=True)
class Pick:
    best: int  # rows
    chosen: int


def pick(
    candidates: Candidates, units: list[int], *, most_specimens: int | None = None, judged: int | None = None
) -> Pick:
    """What the rule takes when it sees these units alone, among schedules of at most so many specimens.

    Every choice must be able to read the `judged` unit that was left out.
    """
    n = np.array([schedule.n for schedule in candidates.schedules])[candidates.schedule_of]
    rows = np.arange(len(n)) if most_specimens is None else np.flatnonzero(n <= most_specimens)
    if judged is not None:
        rows = rows[np.isfinite(candidates.loss[rows, judged])]
    order = np.argsort([place_of(candidates)[candidates.schedule_of[row]] for row in rows], kind="stable")
    rows = rows[order]  # of equal losses the cheapest is the best
    loss, variance = candidates.loss[rows][:, units], candidates.variance[rows][:, units]
    level, over = candidates.level[rows][:, units], candidates.is_over[rows][:, units]
    if np.isnan(loss).any():
        rows, loss, variance, level, over, _ = _completed(rows, loss, variance, level, over)
    best = int(np.argmin(loss.mean(axis=1)))
    behind = loss - loss[best]
    lead = behind.mean(axis=1)
    deviation = behind.std(axis=1, ddof=1) / np.sqrt(loss.shape[1]) if loss.shape[1] > 1 else np.zeros(len(rows))
    square = max(level[best].mean(), variance[best].mean())
    is_tied = (
        (lead <= deviation)
        & (lead <= WORSE_BY * square)
        & (variance.mean(axis=1) <= (1 + WORSE_BY) * variance[best].mean())
        & ~(over & ~over[best]).any(axis=1)
    )
    is_tied[best] = True
    places = np.array([place_of(candidates)[candidates.schedule_of[row]] for row in rows])
    cheapest = places[is_tied].min()
    among = np.flatnonzero(is_tied & (places == cheapest))
    chosen = among[np.argmin(loss[among].mean(axis=1))]
    return Pick(int(rows[best]), int(rows[chosen]))


def completed_losses(candidates: Candidates, out: tuple[int, ...]) -> tuple[np.ndarray, float]:
    """Mean loss of every row over all units but some, holes filled in; endless where the rule has no score for it.

    And the least mean penalty of any curve over the units that the means are taken over.
    """
    units = [u for u in range(len(candidates.study.units)) if u not in out]
    rows = np.arange(len(candidates.loss))
    if len(out) == 1:  # what is taken will be judged on it
        rows = rows[np.isfinite(candidates.loss[:, out[0]])]
    rows = rows[np.isfinite(candidates.loss[rows][:, units]).any(axis=1)]
    loss, variance = candidates.loss[rows][:, units], candidates.variance[rows][:, units]
    if np.isnan(loss).any():
        level, over = candidates.level[rows][:, units], candidates.is_over[rows][:, units]
        rows, loss, *_, columns = _completed(rows, loss, variance, level, over)
        units = [units[column] for column in columns]
    mean = np.full(len(candidates.loss), np.inf)
    mean[rows] = loss.mean(axis=1)
    return mean, float(candidates.penalty[:, units].mean(axis=1).min())


def _completed(rows, loss, variance, level, over):
    """Fill in where a unit lacks an age of a schedule.

    What most units hold and has the lowest mean is the reference. A choice is scored by the reference's mean plus its
    mean difference from it over the units that both have, at least three of them; its variance and level in the
    others are its own means.
    """
    held = np.isfinite(loss)
    is_most = held.sum(axis=1) == held.sum(axis=1).max()
    reference = int(np.argmin(np.where(is_most, np.nansum(loss, axis=1), np.inf)))
    columns = np.flatnonzero(held[reference])
    common = held[:, columns]
    kept = common.sum(axis=1) >= min(3, len(columns))
    common = common[kept]

    def filled(values, by):
        return np.where(common, values[kept][:, columns], by)

    def own_mean(values):
        return (np.where(common, values[kept][:, columns], 0.0).sum(axis=1) / common.sum(axis=1))[:, None]

    base = loss[reference, columns]
    lead = own_mean(loss - np.where(held[reference], loss[reference], 0.0))
    return (
        rows[kept], filled(loss, np.maximum(base + lead, 0.0)), filled(variance, own_mean(variance)),
        filled(level, own_mean(level)), over[kept][:, columns] & common, columns,
    )  # fmt: skip


def place_of(candidates: Candidates) -> list[int]:
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
    return [
        pick(candidates, [u for u in units if u != out], most_specimens=most_specimens, judged=out) for out in units
    ]
