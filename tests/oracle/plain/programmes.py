"""How many specimens on later pours: every subset of trial batches enumerated, the ladder of prices, the tie."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from math import sqrt

import numpy as np
from scipy import stats

from tests.oracle.plain.candidates import Candidates, Schedule
from tests.oracle.plain.fits import reading
from tests.oracle.plain.rule import place_of

WORSE_BY = 0.21
IMMATERIAL = 1.0 / 40.0  # of the tolerance


@dataclass(frozen=True)
class AtCheck:
    """Curves of the other batches at one check."""

    unit: int
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
    loss: np.ndarray  # of each unit that judges
    highest: np.ndarray


def readings(
    candidates: Candidates, schedule: Schedule, joint: int, out: int | None = None, *, is_parted_whole: bool = True
) -> list[AtCheck]:
    """The same as :func:`read_anew`, each set of ages worked out once: its specimens only divide the noise."""
    if is_own_batch(candidates) and is_parted_whole:
        return own_readings(candidates, schedule, joint, out)
    key = (schedule.ages_h, joint, is_parted_whole)
    if key not in candidates.memo:
        candidates.memo[key] = read_anew(candidates, schedule.ages_h, joint, is_parted_whole=is_parted_whole)
    counts = np.array(schedule.counts)
    found = []
    for check, weight, truth_variance, batches in candidates.memo[key]:
        if check.unit == out:
            continue
        told = {
            name: [(error, float(np.sum(noise / counts)), prior) for error, noise, prior in views]
            for name, (unit, views) in batches.items()
            if unit != out
        }
        if told:
            columns = np.array([np.mean(views, axis=0) for views in told.values()]).T
            found.append(AtCheck(check.unit, weight, *columns, truth_variance))
    return found


def read_anew(candidates: Candidates, ages_h: tuple[float, ...], joint: int, *, is_parted_whole: bool) -> list:
    """Every check read with every other batch of its mix; a unit left out is neither trial batch nor pour.

    A check without another batch of its mix is left out.
    """
    study, limits = candidates.study, candidates.limits
    curve, weighting, m = candidates.joints[joint]
    found = []
    for k, check in enumerate(study.checks):
        batches: dict[str, tuple[int, list]] = {}
        for at, view in enumerate(study.views):
            if view.mix != check.mix or view.batch == check.batch:
                continue
            means = np.array([view.mean_mpa[age] for age in ages_h])
            fitted = [view.maturity_h[age][m] for age in ages_h]
            scatter = np.array([study.cv_at(age) for age in ages_h]) * means
            read, slopes = reading(curve, weighting, fitted, means, check.maturity_h[m], scatter)
            noise = (slopes * scatter / check.truth_mpa) ** 2
            behind = np.array([behind_mean(study, at, age) if is_parted_whole else view.n[age] for age in ages_h])
            own = (read / check.truth_mpa - 1.0, noise, float(np.sum(noise / behind)))
            batches.setdefault(view.batch, (view.unit, []))[1].append(own)
        found.append((check, limits.shares[check.target] * check.weight, study.check_variance[k], batches))
    return found


def is_own_batch(candidates: Candidates) -> bool:
    """Whether no mix has the three batches that tell how later pours differ."""
    mixes = {view.batch: view.mix for view in candidates.study.views}
    return max(list(mixes.values()).count(mix) for mix in mixes.values()) < 3


def own_readings(candidates: Candidates, schedule: Schedule, joint: int, out: int | None) -> list[AtCheck]:
    """Every check read with its own batch's curve."""
    columns = candidates.errors(schedule, joint)
    return [
        AtCheck(
            check.unit, candidates.limits.shares[check.target] * check.weight,
            *(np.array([column[k]]) for column in columns), candidates.study.check_variance[k],
        )
        for k, check in enumerate(candidates.study.checks)
        if check.unit != out
    ]  # fmt: skip


def behind_mean(study, at: int, age: float) -> float:
    """Specimens behind a mean over all partings: those that a parted cell lends to its check included."""
    return study.views[at].whole_n[age]


def plain_level(check: AtCheck, m: int) -> float:
    """Unbiased square at one check, every subset enumerated."""
    square = np.mean([np.mean(some) ** 2 for some in combinations(check.error, m)])
    return float(square + (check.own.mean() - check.prior.mean()) / m - check.truth_variance)


def judge(checks: list[AtCheck], m: int, tolerance: float) -> Judged:
    """The mean curve of m trial batches, taken in every way there is."""
    units = sorted({check.unit for check in checks})
    weight = np.array([check.weight for check in checks]) / len(units)
    square = np.array([
        np.mean([np.mean(some) ** 2 for some in combinations(check.error, m)]) for check in checks
    ])  # fmt: skip
    own = np.array([check.own.mean() / m for check in checks])
    prior = np.array([check.prior.mean() / m for check in checks])
    truth = np.array([check.truth_variance for check in checks])
    level = max(weight @ (square + own - prior - truth), weight @ own)
    middle = np.array([check.error.mean() for check in checks])
    spread = [check.error.var(ddof=1) if len(check.error) > 1 else 0.0 for check in checks]
    deviation = np.sqrt([(each + check.own.mean()) / m for each, check in zip(spread, checks, strict=True)])
    bias = weight @ middle
    wide = weight @ (middle**2 + deviation**2) - bias**2
    factor = sqrt(min(max(level - bias**2, 0.0) / wide, 1.0))
    law = stats.norm(bias + factor * (middle - bias), np.maximum(factor * deviation, 1e-12))
    inside = law.cdf(tolerance) - law.cdf(-tolerance)

    def by_unit(values) -> np.ndarray:
        return np.array([
            sum(check.weight * value for check, value in zip(checks, values, strict=True) if check.unit == unit)
            for unit in units
        ])  # fmt: skip

    highest = np.array([max(check.error.mean() for check in checks if check.unit == unit) for unit in units])
    return Judged(
        sqrt(level), float(weight @ inside), float(weight @ law.sf(tolerance)),
        sqrt(by_unit(law.mean() ** 2 + law.var()).max()), by_unit(square + 2 * own), highest,
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


def rungs(candidates: Candidates, units: list[int]) -> list[int]:
    """Rows whose loss nothing as cheap or cheaper reaches, cheapest first.

    Only rows within 21 % of the lowest loss of as many specimens or fewer, the least penalty of any curve apart.
    """
    place = np.array(place_of(candidates))[candidates.schedule_of]
    n = np.array([schedule.n for schedule in candidates.schedules])[candidates.schedule_of]
    loss = candidates.loss[:, units].mean(axis=1)
    least = candidates.penalty[:, units].mean(axis=1).min()
    lowest = {most: loss[n <= most].min() for most in set(n.tolist())}
    is_near = loss - least <= (1 + WORSE_BY) * (np.array([lowest[most] for most in n]) - least)
    found: list[int] = []
    for price in sorted(set(place[is_near].tolist())):
        rows = np.flatnonzero((place == price) & is_near)
        row = int(rows[np.argmin(loss[rows])])
        if not found or loss[row] < loss[found[-1]] * (1 - 1e-12):
            found.append(row)
    return found


def take(candidates: Candidates, out: int | None = None, *, assurance: float = 0.90) -> Taken:
    """With one trial batch: the cheapest that is enough, else the cheapest rung that ties with the best."""
    key = ("taken", out, assurance)
    if key not in candidates.memo:
        taken = take_anew(candidates, out, assurance=assurance)
        candidates.memo[key] = unbeaten(candidates, taken, out, assurance=assurance)
    return candidates.memo[key]


def take_anew(candidates: Candidates, out: int | None, *, assurance: float) -> Taken:
    """The same, worked out."""
    tolerance = candidates.limits.tolerance
    units = [u for u in range(len(candidates.study.units)) if u != out]
    ladder = rungs(candidates, units)
    judged = [judge(readings(candidates, *candidates.of(row), out), 1, tolerance) for row in ladder]
    rms = np.array([each.rms for each in judged])
    best = int(rms.argmin())
    immaterial = tolerance * IMMATERIAL
    tied = []
    for at, each in enumerate(judged):
        steps = each.loss - judged[best].loss
        is_untold = steps.mean() <= steps.std(ddof=1) / sqrt(len(steps))
        over = (each.highest > tolerance + immaterial) & ~(judged[best].highest > tolerance)
        is_near = each.rms <= rms[best] + immaterial or is_untold
        if at == best or (is_near and each.rms**2 <= (1 + WORSE_BY) * rms[best] ** 2 and not over.any()):
            tied.append(at)
    enough = [at for at, each in enumerate(judged) if each.share >= assurance]
    if enough:
        return Taken(ladder[enough[0]], judged[enough[0]], True, tuple(ladder[at] for at in tied))
    cheapest = cheapest_enough(candidates, assurance) if out is None else None
    if cheapest is not None:
        row, figures = cheapest
        return Taken(row, figures, True, tuple(ladder[at] for at in tied))
    return Taken(ladder[tied[0]], judged[tied[0]], False, tuple(ladder[at] for at in tied))


def unbeaten(candidates: Candidates, taken: Taken, out: int | None, *, assurance: float) -> Taken:
    """What beats the taken on error, worst batch, over-prediction, specimens, attendances and last age, if anything.

    Only schedules of near own-batch loss that cost no more in anything; of those that none beats the lowest loss.
    """
    units = [u for u in range(len(candidates.study.units)) if u != out]
    loss = candidates.loss[:, units].mean(axis=1)
    n = np.array([schedule.n for schedule in candidates.schedules])[candidates.schedule_of]
    least = candidates.penalty[:, units].mean(axis=1).min()
    lowest = np.array([loss[n <= most].min() for most in n])
    near = np.flatnonzero(loss - least <= (1 + WORSE_BY) * (lowest - least))
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
        judged = judge(readings(candidates, *candidates.of(row), out), 1, candidates.limits.tolerance)
        if (judged.share >= assurance or not taken.is_enough) and beats(keys(row, judged), mine):
            better[row] = (judged, keys(row, judged))
    free = [row for row, (_, own) in better.items() if not any(beats(other, own) for _, other in better.values())]
    row, judged, tied = taken.row, taken.judged, taken.tied
    if free:
        row = min(free, key=lambda one: loss[one])
        judged, tied = better[row][0], tuple(dict.fromkeys(row if one == taken.row else one for one in tied))
    if out is None:  # of what ties only what nothing beats is told
        rows = {one: judge(readings(candidates, *candidates.of(one)), 1, candidates.limits.tolerance)
                for one in {*best_rows(candidates), *tied}}  # fmt: skip
        told = {one: keys(one, figures) for one, figures in rows.items()}
        all_best = best_rows(candidates)
        tied = tuple(one for one in tied if one == row or not any(beats(told[o], told[one]) for o in all_best))
    return Taken(row, judged, taken.is_enough, tied)


def best_rows(candidates: Candidates) -> list[int]:
    """Of every schedule the row of lowest loss over all units."""
    loss = candidates.loss.mean(axis=1).reshape(len(candidates.schedules), len(candidates.joints))
    return [s * len(candidates.joints) + int(loss[s].argmin()) for s in range(len(candidates.schedules))]


def cheapest_enough(candidates: Candidates, assurance: float) -> tuple[int, Judged] | None:
    place = place_of(candidates)
    rows = best_rows(candidates)
    order = sorted(range(len(rows)), key=lambda s: (place[s], candidates.loss[rows[s]].mean()))
    for s in order:
        figures = judge(readings(candidates, *candidates.of(rows[s])), 1, candidates.limits.tolerance)
        if figures.share >= assurance:
            return rows[s], figures
    return None
