"""The curve of one batch read on every other batch of its mix."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy import stats

from tests.oracle.plain.bounds import share_inside_lower, share_inside_lower_at
from tests.oracle.plain.candidates import Candidates
from tests.oracle.plain.figures import Assembled, Used, assembled, level_of, rms_of
from tests.oracle.plain.fits import reading
from tests.oracle.plain.inside import of_single_errors, worst_targets
from tests.oracle.plain.programmes import is_own_batch, plain_level, readings


@dataclass(frozen=True)
class Pairs:
    """One row for every curve read at every check of another batch."""

    error: np.ndarray
    level: np.ndarray
    weight: np.ndarray  # sums to 1
    calibrated_on: list[str]
    read_on: list[str]
    target: np.ndarray


def pairs_of(candidates: Candidates, used: Used) -> Pairs | None:
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
        for schedule, _ in used
    }
    rows = []
    for k, check in enumerate(study.checks):
        schedule, joint = used[check.unit]
        curve, weighting, m = candidates.joints[joint]
        for view in study.views:
            if view.mix != check.mix or view.batch == check.batch:
                continue
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
            rows.append(
                (error, error**2 + more - study.check_variance[k], weight, view.batch, check.batch, check.target)
            )
    if not rows:
        return None
    error, level, weight, calibrated_on, read_on, target = zip(*rows, strict=True)
    total = np.array(weight)
    return Pairs(
        np.array(error), np.array(level), total / total.sum(), list(calibrated_on), list(read_on), np.array(target)
    )


def batch_equivalents(pairs: Pairs) -> np.ndarray:
    """One signed error for each batch, with the mean and the spread of the pairs."""
    names = sorted(set(pairs.read_on))
    is_on = np.array([[name == on for on in pairs.read_on] for name in names])
    means = (is_on * pairs.weight) @ pairs.error / (is_on @ pairs.weight)
    mean = pairs.weight @ pairs.error
    spread = math.sqrt(pairs.weight @ (pairs.error - mean) ** 2)
    away = means - means.mean()
    return mean + away * spread / away.std(ddof=1)


def later_pour_figures(candidates: Candidates, used: Used) -> dict[str, float]:
    """Everything that is said of a later pour."""
    at = assembled(candidates, used)
    pairs = pairs_of(candidates, used)
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
            math.sqrt(max(mean_square_of(candidates, used, m), own_rms**2 / m))
            for m in (1, 2, 3)[: 1 if is_own_batch(candidates) else 3]
        ],
    }


def mean_square_of(candidates: Candidates, used: Used, m: int) -> float:
    """The same with the mean curve of m trial batches, every subset of them enumerated, unbiased."""
    checks = [
        check
        for unit, choice in enumerate(used)
        for check in readings(candidates, *choice, is_parted_whole=False)
        if check.unit == unit
    ]
    weight = np.array([check.weight for check in checks])
    return float(weight @ [plain_level(check, m) for check in checks] / weight.sum())


def later_rms_by_target(candidates: Candidates, used: Used) -> list[float]:
    pairs = pairs_of(candidates, used)
    assert pairs is not None
    return [
        math.sqrt(max(float(np.average(pairs.level[pairs.target == t], weights=pairs.weight[pairs.target == t])), 0.0))
        for t in range(len(candidates.limits.shares))
    ]


__all__ = ["Assembled", "Pairs", "batch_equivalents", "later_pour_figures", "later_rms_by_target", "pairs_of"]
