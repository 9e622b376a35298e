"""Which programme is taken: the ladder of prices, the tie, and what beats it."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np

from tests.oracle.plain.candidates import Candidates
from tests.oracle.plain.programmes import Judged, judge_row
from tests.oracle.plain.rule import completed_losses, place_of

WORSE_BY = 0.21
IMMATERIAL = 1.0 / 40.0  # of the tolerance


@dataclass(frozen=True)
class Taken:
    row: int
    judged: Judged
    is_enough: bool
    tied: tuple[int, ...]  # rows

    @property
    def n_tied(self) -> int:
        return len(self.tied)


def near_rows(candidates: Candidates, out: tuple[int, ...]) -> tuple[np.ndarray, np.ndarray]:
    """Mean loss of every row without a unit, and which rows come near the lowest of as many specimens or fewer.

    Near is within 21 %, the least penalty of any curve apart. A row that cannot be scored has an endless loss.
    """
    if ("near", out) not in candidates.memo:
        loss, least = completed_losses(candidates, out)
        if len(out) > 1:  # a search keeps what comes near in the full records or without one unit, and what has holes
            kept = np.unique(np.concatenate([near_rows(candidates, one)[1] for one in ((), *singles(candidates))]))
            is_kept = np.isin(np.arange(len(loss)), kept) | np.isnan(candidates.loss).any(axis=1)
            loss = np.where(is_kept, loss, np.inf)
        n = np.array([schedule.n for schedule in candidates.schedules])[candidates.schedule_of]
        lowest_of = {most: loss[n <= most].min() for most in set(n.tolist())}
        lowest = np.array([lowest_of[most] for most in n])
        is_near = (loss == lowest) | (loss - least <= (1 + WORSE_BY) * (lowest - least))
        candidates.memo["near", out] = loss, np.flatnonzero(is_near & np.isfinite(loss))
    return candidates.memo["near", out]


def singles(candidates: Candidates) -> list[tuple[int, ...]]:
    """Every unit left out alone."""
    return [(unit,) for unit in range(len(candidates.study.units))]


def rungs(candidates: Candidates, out: tuple[int, ...]) -> list[int]:
    """Near rows whose loss nothing as cheap or cheaper reaches, cheapest first."""
    loss, near = near_rows(candidates, out)
    place = np.array(place_of(candidates))[candidates.schedule_of]
    found: list[int] = []
    for price in sorted(set(place[near].tolist())):
        rows = near[place[near] == price]
        row = int(rows[np.argmin(loss[rows])])
        if not found or loss[row] < loss[found[-1]] * (1 - 1e-12):
            found.append(row)
    return found


def take(candidates: Candidates, out: int | None = None, *, assurance: float = 0.90) -> Taken:
    """With one trial batch: the cheapest that is enough, else the cheapest rung that ties with the best."""
    taken = take_without(candidates, () if out is None else (out,), assurance=assurance)
    assert taken is not None
    return taken


def take_without(candidates: Candidates, out: tuple[int, ...], *, assurance: float = 0.90) -> Taken | None:
    """The same without some units; None where no other two are left to judge."""
    key = ("taken", out, assurance)
    if key not in candidates.memo:
        taken = take_anew(candidates, out, assurance=assurance)
        candidates.memo[key] = None if taken is None else unbeaten(candidates, taken, out, assurance=assurance)
    return candidates.memo[key]


def take_anew(candidates: Candidates, out: tuple[int, ...], *, assurance: float) -> Taken | None:
    """The same, worked out."""
    tolerance = candidates.limits.tolerance
    ladder = [row for row in rungs(candidates, out) if np.isfinite(judge_row(candidates, row, out).rms)]
    if not ladder:
        return None
    judged = [judge_row(candidates, row, out) for row in ladder]
    rms = np.array([each.rms for each in judged])
    best = int(rms.argmin())
    immaterial = tolerance * IMMATERIAL
    tied = []
    for at, each in enumerate(judged):
        steps = each.loss - judged[best].loss
        steps = steps[np.isfinite(steps)]
        is_untold = len(steps) >= 5 and steps.mean() <= steps.std(ddof=1) / sqrt(len(steps))
        over = (each.highest > tolerance + immaterial) & ~(judged[best].highest > tolerance)
        is_near = each.rms <= rms[best] + immaterial or is_untold
        if at == best or (is_near and each.rms**2 <= (1 + WORSE_BY) * rms[best] ** 2 and not over.any()):
            tied.append(at)
    enough = [at for at, each in enumerate(judged) if each.share >= assurance]
    if enough:
        return Taken(ladder[enough[0]], judged[enough[0]], True, tuple(ladder[at] for at in tied))
    cheapest = None if out else cheapest_enough(candidates, assurance)
    if cheapest is not None:
        row, figures = cheapest
        return Taken(row, figures, True, tuple(ladder[at] for at in tied))
    return Taken(ladder[tied[0]], judged[tied[0]], False, tuple(ladder[at] for at in tied))


def unbeaten(candidates: Candidates, taken: Taken, out: tuple[int, ...], *, assurance: float) -> Taken:
    """What beats the taken on error, worst batch, over-prediction, specimens, attendances and last age, if anything.

    Only schedules of near own-batch loss that cost no more in anything; of those that none beats the lowest loss.
    """
    loss, near = near_rows(candidates, out)
    by_schedule: dict[int, int] = {}
    for row in near[np.argsort(loss[near], kind="stable")]:
        by_schedule.setdefault(int(candidates.schedule_of[row]), int(row))
    price = candidates.of(taken.row)[0].cheapness

    def keys(row: int, judged: Judged) -> tuple[float, ...]:
        return (judged.rms, judged.worst, judged.beyond, *candidates.of(row)[0].cheapness)

    def beats(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
        return all(a <= b for a, b in zip(one, other, strict=True)) and one != other

    mine = keys(taken.row, taken.judged)
    better: dict[int, tuple[Judged, tuple[float, ...]]] = {}
    for row in by_schedule.values():
        if any(own > most for own, most in zip(candidates.of(row)[0].cheapness, price, strict=True)):
            continue
        judged = judge_row(candidates, row, out)
        if (judged.share >= assurance or not taken.is_enough) and beats(keys(row, judged), mine):
            better[row] = (judged, keys(row, judged))
    free = [row for row, (_, own) in better.items() if not any(beats(other, own) for _, other in better.values())]
    row, judged, tied = taken.row, taken.judged, taken.tied
    if free:
        row = min(free, key=lambda one: loss[one])
        judged, tied = better[row][0], tuple(dict.fromkeys(row if one == taken.row else one for one in tied))
    if not out:  # of what ties only what nothing beats is told
        all_best = [keys(one, judge_row(candidates, one)) for one in best_rows(candidates)]
        found = {one: keys(one, judge_row(candidates, one)) for one in tied}
        tied = tuple(one for one in tied if one == row or not any(beats(best, found[one]) for best in all_best))
    return Taken(row, judged, taken.is_enough, tied)


def best_rows(candidates: Candidates) -> list[int]:
    """Of every schedule the row of lowest loss over all units."""
    loss = scores(candidates).reshape(len(candidates.schedules), len(candidates.joints))
    return [s * len(candidates.joints) + int(loss[s].argmin()) for s in range(len(candidates.schedules))]


def scores(candidates: Candidates) -> np.ndarray:
    """Mean loss of every row over the units that hold its ages."""
    return np.nanmean(candidates.loss, axis=1)


def cheapest_enough(candidates: Candidates, assurance: float) -> tuple[int, Judged] | None:
    place = place_of(candidates)
    rows = best_rows(candidates)
    score = scores(candidates)
    for s in sorted(range(len(rows)), key=lambda s: (place[s], score[rows[s]])):
        figures = judge_row(candidates, rows[s])
        if figures.share >= assurance:
            return rows[s], figures
    return None
