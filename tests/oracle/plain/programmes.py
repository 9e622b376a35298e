"""How many specimens on later pours: every subset of trial batches enumerated, the ladder of prices, the tie."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from math import nan, sqrt

import numpy as np
from scipy.special import ndtr

from tests.oracle.plain.candidates import Candidates, Schedule
from tests.oracle.plain.fits import reading
from tests.oracle.plain.inside import of_normal_errors
from tests.oracle.plain.rule import completed_losses, place_of
from tests.oracle.plain.study import Check

WORSE_BY = 0.21
IMMATERIAL = 1.0 / 40.0  # of the tolerance


@dataclass(frozen=True)
class AtCheck:
    """Curves of the other batches at one check."""

    unit: int
    target: int
    weight: float
    error: np.ndarray  # of each batch's curve
    own: np.ndarray  # variance of as many specimens as the schedule has
    prior: np.ndarray  # of as many as the records have
    truth_variance: float


@dataclass(frozen=True)
class Judged:
    rms: float
    share: float
    beyond: float
    worst: float  # RMS of the unit that is read worst
    loss: np.ndarray  # of every unit, NaN where it cannot judge
    highest: np.ndarray


def readings(
    candidates: Candidates, schedule: Schedule, joint: int, out: tuple[int, ...] = (), *, is_parted_whole: bool = True
) -> list[AtCheck]:
    """The same as :func:`read_anew`, each set of ages worked out once: its specimens only divide the noise."""
    if is_own_batch(candidates) and is_parted_whole:
        return own_readings(candidates, schedule, joint, out)
    key = (schedule.ages_h, joint, is_parted_whole)
    if key not in candidates.memo:
        candidates.memo[key] = read_anew(candidates, schedule.ages_h, joint, is_parted_whole=is_parted_whole)
    share = 1.0 / np.array(schedule.counts)
    found, unread = [], set()
    for one in candidates.memo[key]:
        if one.check.unit in out:
            continue
        kept = ~np.isin(one.unit, out)
        if kept.any():
            columns = (one.error[kept], one.noise[kept] @ share, one.prior[kept])
            found.append(AtCheck(one.check.unit, one.check.target, one.weight, *columns, one.truth_variance))
        else:
            unread.add(one.check.unit)
    return [check for check in found if check.unit not in unread]


@dataclass(frozen=True)
class ReadAnew:
    """One check read with every other batch of its mix that holds all ages, halvings of a batch averaged."""

    check: Check
    weight: float
    truth_variance: float
    unit: np.ndarray  # of each other batch, (n_batches,)
    error: np.ndarray  # (n_batches,)
    noise: np.ndarray  # variance of one specimen at each age, (n_batches, n_ages)
    prior: np.ndarray  # variance of the records' specimens, (n_batches,)


def read_anew(
    candidates: Candidates, ages_h: tuple[float, ...], joint: int, *, is_parted_whole: bool
) -> list[ReadAnew]:
    """Every check read with every other batch of its mix that holds all ages."""
    study, limits = candidates.study, candidates.limits
    curve, weighting, m = candidates.joints[joint]
    found = []
    for k, check in enumerate(study.checks):
        batches: dict[str, tuple[int, list]] = {}
        for at, view in enumerate(study.views):
            if view.mix != check.mix or view.batch == check.batch or any(age not in view.mean_mpa for age in ages_h):
                continue
            means = np.array([view.mean_mpa[age] for age in ages_h])
            fitted = [view.maturity_h[age][m] for age in ages_h]
            scatter = np.array([study.cv_at(age) for age in ages_h]) * means
            read, slopes = reading(curve, weighting, fitted, means, check.maturity_h[m], scatter)
            noise = (slopes * scatter / check.truth_mpa) ** 2
            behind = np.array([behind_mean(study, at, age) if is_parted_whole else view.n[age] for age in ages_h])
            own = (read / check.truth_mpa - 1.0, noise, float(np.sum(noise / behind)))
            batches.setdefault(view.batch, (view.unit, []))[1].append(own)
        stated = [[np.mean(column, axis=0) for column in zip(*views, strict=True)] for _, views in batches.values()]
        found.append(
            ReadAnew(
                check, limits.shares[check.target] * check.weight, study.check_variance[k],
                np.array([unit for unit, _ in batches.values()]),
                np.array([one[0] for one in stated]),
                np.array([one[1] for one in stated]).reshape(len(stated), len(ages_h)),
                np.array([one[2] for one in stated]),
            )
        )  # fmt: skip
    return found


def is_own_batch(candidates: Candidates) -> bool:
    """Whether no mix has the three batches that tell how later pours differ."""
    mixes = {view.batch: view.mix for view in candidates.study.views}
    return max(list(mixes.values()).count(mix) for mix in mixes.values()) < 3


def own_readings(candidates: Candidates, schedule: Schedule, joint: int, out: tuple[int, ...]) -> list[AtCheck]:
    """Every check read with its own batch's curve."""
    columns = candidates.errors(schedule, joint)
    return [
        AtCheck(
            check.unit, check.target, candidates.limits.shares[check.target] * check.weight,
            *(np.array([column[k]]) for column in columns), candidates.study.check_variance[k],
        )
        for k, check in enumerate(candidates.study.checks)
        if check.unit not in out and np.isfinite(columns[0][k])
    ]  # fmt: skip


def behind_mean(study, at: int, age: float) -> float:
    """Specimens behind a mean over all partings: those that a parted cell lends to its check included."""
    return study.views[at].whole_n[age]


def plain_level(check: AtCheck, m: int) -> float:
    """Unbiased square at one check, every subset enumerated."""
    return float(square_of(check.error, m) + (check.own.mean() - check.prior.mean()) / m - check.truth_variance)


def square_of(error: np.ndarray, m: int) -> float:
    """Mean square of the mean of m errors, every subset enumerated."""
    if m == 1:
        return float(error @ error) / len(error)
    if m > len(error):  # cannot be enumerated: from the mean and the variance between batches
        return float(error.mean() ** 2 + error.var(ddof=1) * (1 / m - 1 / len(error))) if len(error) > 1 else nan
    return float(np.mean([np.mean(some) ** 2 for some in combinations(error, m)]))


def judge_row(candidates: Candidates, row: int, out: tuple[int, ...] = (), *, m: int = 1) -> Judged:
    """One joint choice judged; kept, because the rule asks for the same ones again and again."""
    key = ("judged", row, out, m)
    if key not in candidates.memo:
        checks = readings(candidates, *candidates.of(row), out)
        candidates.memo[key] = judge(checks, m, candidates.limits.tolerance, len(candidates.study.units))
    return candidates.memo[key]


def judge(checks: list[AtCheck], m: int, tolerance: float, n_units: int) -> Judged:
    """The mean curve of m trial batches, taken in every way there is; NaN where no unit can judge."""
    empty = np.full(n_units, nan)
    if not checks:
        return Judged(nan, nan, nan, nan, empty, empty)
    unit = np.array([check.unit for check in checks])
    own_weight = np.array([check.weight for check in checks])
    weight = own_weight / len(set(unit.tolist()))
    square = np.array([square_of(check.error, m) for check in checks])
    own = np.array([check.own.mean() for check in checks]) / m
    prior = np.array([check.prior.mean() for check in checks]) / m
    truth = np.array([check.truth_variance for check in checks])
    level = max(weight @ (square + own - prior - truth), weight @ own)
    middle = np.array([check.error.mean() for check in checks])
    spread = np.array([check.error.var(ddof=1) if len(check.error) > 1 else 0.0 for check in checks])
    deviation = np.sqrt(spread / m + own)
    bias = weight @ middle
    wide = weight @ (middle**2 + deviation**2) - bias**2
    factor = sqrt(min(max(level - bias**2, 0.0) / wide, 1.0))
    mean, narrow = bias + factor * (middle - bias), np.maximum(factor * deviation, 1e-12)
    beyond = ndtr((mean - tolerance) / narrow)
    targets = [check.target for check in checks]
    inside = of_normal_errors(zip(unit, targets, weight, mean, narrow, strict=True), tolerance)

    def by_unit(values) -> np.ndarray:
        total = np.where(np.isin(np.arange(n_units), unit), 0.0, nan)
        np.add.at(total, unit, own_weight * values)
        return total

    highest = np.where(np.isin(np.arange(n_units), unit), -np.inf, nan)
    np.fmax.at(highest, unit, middle)
    return Judged(
        sqrt(level), inside, float(weight @ beyond),
        sqrt(np.nanmax(by_unit(mean**2 + narrow**2))), by_unit(square + 2 * own), highest,
    )  # fmt: skip


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
