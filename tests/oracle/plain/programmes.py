"""How a programme is judged on later pours: every subset of trial batches enumerated."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from math import nan, sqrt

import numpy as np
from scipy.special import ndtr

from tests.oracle.plain.candidates import Candidates, Schedule
from tests.oracle.plain.fits import reading
from tests.oracle.plain.inside import of_normal_errors
from tests.oracle.plain.study import Check


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
