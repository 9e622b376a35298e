"""The curve of one batch read on every other batch of its mix."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from scipy import stats

from tests.oracle.plain.bounds import share_inside_lower, share_inside_lower_at
from tests.oracle.plain.candidates import Candidates, Schedule
from tests.oracle.plain.figures import Assembled, Used, assembled, level_of, rms_of
from tests.oracle.plain.fits import reading
from tests.oracle.plain.inside import of_single_errors, worst_targets
from tests.oracle.plain.programmes import is_own_batch, square_of
from tests.oracle.plain.taken import take_without

UsedOfPair = dict[tuple[int, int], tuple[Schedule, int]]  # of a trial batch's unit and the pour's


@dataclass(frozen=True)
class Pairs:
    """One row for every curve read at every check of another batch."""

    error: np.ndarray
    level: np.ndarray
    weight: np.ndarray  # sums to 1
    calibrated_on: list[str]
    read_on: list[str]
    target: np.ndarray
    check: np.ndarray
    excess: np.ndarray  # variance of as many specimens as the schedule has, less that of as many as the records have


def used_of_pair(candidates: Candidates) -> UsedOfPair:
    """What the rule takes without both the trial batch and the pour, wherever it can."""
    found = {}
    for two in combinations(range(len(candidates.study.units)), 2):
        taken = take_without(candidates, two)
        if taken is not None:
            found[two] = found[two[::-1]] = candidates.of(taken.row)
    return found


def pairs_of(candidates: Candidates, used: Used, of_pair: UsedOfPair | None = None) -> Pairs | None:
    """Each unit read by the choice that had not seen it, off the curves of all other batches of its mix."""
    study, limits = candidates.study, candidates.limits
    twins = {view.batch: sum(other.batch == view.batch for other in study.views) for view in study.views}
    # Where batches lack ages, choices have unlike numbers of pairs; all pairs of one choice together count as one.
    whole = {
        schedule.ages_h: sum(
            limits.shares[check.target] * check.weight / twins[view.batch]
            for check in study.checks
            for view in study.views
            if view.mix == check.mix and view.batch != check.batch and set(schedule.ages_h) <= set(view.mean_mpa)
        )
        for schedule, _ in (*used, *(of_pair or {}).values())
    }
    rows = []
    for k, check in enumerate(study.checks):
        for view in study.views:
            if view.mix != check.mix or view.batch == check.batch:
                continue
            schedule, joint = (of_pair or {}).get((view.unit, check.unit), used[check.unit])
            curve, weighting, m = candidates.joints[joint]
            if any(age not in view.mean_mpa for age in schedule.ages_h):
                continue
            means = np.array([view.mean_mpa[age] for age in schedule.ages_h])
            fitted = [view.maturity_h[age][m] for age in schedule.ages_h]
            scatter = np.array([study.cv_at(age) for age in schedule.ages_h]) * means
            read, slopes = reading(curve, weighting, fitted, means, check.maturity_h[m], scatter)
            noise = slopes * scatter / check.truth_mpa
            prior = np.array([view.n[age] for age in schedule.ages_h])
            more = float(np.sum(noise**2 / np.array(schedule.counts) - noise**2 / prior))
            error = read / check.truth_mpa - 1.0
            weight = limits.shares[check.target] * check.weight / twins[view.batch] / whole[schedule.ages_h]
            level = error**2 + more - study.check_variance[k]
            rows.append((error, level, weight, view.batch, check.batch, check.target, k, more))
    if not rows:
        return None
    error, level, weight, calibrated_on, read_on, target, at, excess = zip(*rows, strict=True)
    total = np.array(weight)
    return Pairs(
        np.array(error), np.array(level), total / total.sum(), list(calibrated_on), list(read_on), np.array(target),
        np.array(at), np.array(excess),
    )  # fmt: skip


def batch_equivalents(pairs: Pairs) -> np.ndarray:
    """One signed error for each batch, with the mean and the spread of the pairs."""
    names = sorted(set(pairs.read_on))
    is_on = np.array([[name == on for on in pairs.read_on] for name in names])
    means = (is_on * pairs.weight) @ pairs.error / (is_on @ pairs.weight)
    mean = pairs.weight @ pairs.error
    spread = math.sqrt(pairs.weight @ (pairs.error - mean) ** 2)
    away = means - means.mean()
    return mean + away * spread / away.std(ddof=1)


def later_pour_figures(candidates: Candidates, used: Used, of_pair: UsedOfPair | None = None) -> dict[str, float]:
    """Everything that is said of a later pour."""
    at = assembled(candidates, used)
    pairs = pairs_of(candidates, used, of_pair)
    assert pairs is not None
    own_level, own_rms = level_of(candidates, at)[0], rms_of(candidates, at)
    tolerance = candidates.limits.tolerance
    n_batches = len(set(pairs.read_on))
    square = max(float(pairs.weight @ pairs.level), own_rms**2)
    between = max(square - max(own_level, 0.0), 0.0) / 2.0
    bias = float(pairs.weight @ pairs.error)
    spread = float(pairs.weight @ (pairs.error - bias) ** 2)
    curve_on_pour = list(zip(pairs.calibrated_on, pairs.read_on, strict=True))
    at_worst = worst_targets(zip(curve_on_pour, pairs.target, pairs.weight, pairs.error, strict=True))
    narrowed = bias + (pairs.error - bias) * math.sqrt(min(max(square - bias**2, 0.0) / spread, 1.0))
    inside = of_single_errors(
        zip(curve_on_pour, pairs.target, pairs.weight, np.abs(narrowed) <= tolerance, strict=True)
    )
    lower = share_inside_lower(batch_equivalents(replace(pairs, weight=at_worst)), tolerance)
    if len(set(pairs.target)) > 1:
        lower = min(lower, share_inside_lower_at(inside, n_batches))
    return {
        "rms": math.sqrt(square),
        "rms_upper_95": math.sqrt(square * (n_batches - 1) / stats.chi2.ppf(0.05, n_batches - 1)),
        "within_tolerance": inside,
        "within_tolerance_lower_95": lower,
        "over_predicted_any": float(pairs.weight @ (narrowed > 0)),
        "over_predicted_beyond_tolerance": float(pairs.weight @ (narrowed > tolerance)),
        "between_batch_cv": math.sqrt(between),
        "rms_by_trial_batches": [
            math.sqrt(max(square, own_rms**2 / m))
            for m in (1, 2, 3)[: 1 if is_own_batch(candidates) else 3]
            if math.isfinite(square := mean_square_of(candidates, pairs, m))
        ],
    }


def mean_square_of(candidates: Candidates, pairs: Pairs, m: int) -> float:
    """The same with the mean curve of m trial batches, every subset of them enumerated, unbiased."""
    total = 0.0
    for k in np.unique(pairs.check):
        here = pairs.check == k
        names = [name for name, is_here in zip(pairs.calibrated_on, here, strict=True) if is_here]
        of_batch = [np.array([name == one for name in names]) for one in sorted(set(names))]
        error = np.array([pairs.error[here][views].mean() for views in of_batch])
        excess = np.mean([pairs.excess[here][views].mean() for views in of_batch])
        square = square_of(error, m) + excess / m - candidates.study.check_variance[k]
        total += pairs.weight[here].sum() * square
    return total


def later_rms_by_target(pairs: Pairs) -> list[float]:
    return [
        math.sqrt(max(float(np.average(pairs.level[pairs.target == t], weights=pairs.weight[pairs.target == t])), 0.0))
        for t in np.unique(pairs.target)
    ]


__all__ = [
    "Assembled",
    "Pairs",
    "batch_equivalents",
    "later_pour_figures",
    "later_rms_by_target",
    "pairs_of",
    "used_of_pair",
]
