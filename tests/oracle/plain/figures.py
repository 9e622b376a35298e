"""A new batch, calibrated as the rule says without it and read on its own concrete."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from tests.oracle.plain.bounds import order_quantile, share_inside_lower, share_inside_lower_free, true_rms_bound
from tests.oracle.plain.candidates import Candidates, Schedule, by_unit
from tests.oracle.plain.inside import of_normal_errors

Used = list[tuple[Schedule, int]]  # schedule and joint that each unit is judged by


@dataclass(frozen=True)
class Assembled:
    """Every check by the choice that its unit is judged by, each ``(n_checks,)``."""

    error: np.ndarray
    variance: np.ndarray
    prior_variance: np.ndarray


def assembled(candidates: Candidates, used: Used) -> Assembled:
    columns = np.empty((3, len(candidates.study.checks)))
    for k, check in enumerate(candidates.study.checks):
        columns[:, k] = [part[k] for part in candidates.errors(*used[check.unit])]
    return Assembled(*columns)


def level_of(candidates: Candidates, at: Assembled, *, target: int | None = None) -> tuple[float, float]:
    """Mean square against true strength, and the scatter of the schedules' specimens that it is floored at.

    Over the units that hold the ages.
    """
    study, shares = candidates.study, candidates.limits.shares
    square = at.error**2 - at.prior_variance + at.variance - study.check_variance
    return (
        float(np.nanmean(by_unit(study, shares, square, target=target))),
        float(np.nanmean(by_unit(study, shares, at.variance, target=target))),
    )


def rms_of(candidates: Candidates, at: Assembled, *, target: int | None = None) -> float:
    return float(np.sqrt(max(level_of(candidates, at, target=target))))


def rms_upper_95(candidates: Candidates, at: Assembled, *, target: int | None = None, n_more: int = 0) -> float:
    """The measured mean square bounded with the degrees of freedom of error and noise together, less the noise."""
    study, shares = candidates.study, candidates.limits.shares
    noise = float(by_unit(study, shares, study.check_variance, target=target).mean())
    # the same companions judge every way of halving: one source of noise for each place in a batch and target
    sources: dict[tuple[int, str, int, int], float] = {}
    for check in study.checks:
        if target is None or check.target == target:
            beside = [other for other in study.checks if (other.view, other.target) == (check.view, check.target)]
            place = next(i for i, other in enumerate(beside) if other is check)
            key = (check.unit, check.batch, check.target, place)
            weight = check.weight * (shares[check.target] if target is None else 1.0)
            sources[key] = sources.get(key, 0.0) + weight
    left = sum(weight * weight for weight in sources.values()) / len(study.units)
    return true_rms_bound(rms_of(candidates, at, target=target), noise, left, len(study.units) + n_more)


def worst_signed(candidates: Candidates, at: Assembled) -> np.ndarray:
    """The signed error of each unit's worst check."""
    units = [check.unit for check in candidates.study.checks]
    return np.array([
        max((e for e, own in zip(at.error, units, strict=True) if own == unit), key=abs)
        for unit in range(len(candidates.study.units))
    ])  # fmt: skip


def shares_of(candidates: Candidates, at: Assembled) -> dict[str, float]:
    """By the normal law N(e, v) at every check, narrowed to the level: of batches inside, of readings too high."""
    study, shares, tolerance = candidates.study, candidates.limits.shares, candidates.limits.tolerance
    bias = by_unit(study, shares, at.error).mean()
    spread = by_unit(study, shares, at.error**2 + at.variance).mean() - bias**2
    wanted = max(rms_of(candidates, at) ** 2 - bias**2, 0.0)
    factor = np.sqrt(wanted / spread) if spread > wanted else 1.0
    mean, deviation = bias + factor * (at.error - bias), factor * np.sqrt(at.variance)
    at = [(check.unit, check.target, shares[check.target] * check.weight) for check in study.checks]
    normal = [(*check, e, sd) for check, e, sd in zip(at, mean, deviation, strict=True)]
    return {
        "within_tolerance": of_normal_errors(normal, tolerance),
        "over_predicted_any": float(by_unit(study, shares, stats.norm.sf(-mean / deviation)).mean()),
        "over_predicted_beyond_tolerance": float(
            by_unit(study, shares, stats.norm.sf((tolerance - mean) / deviation)).mean()
        ),
        "bias": float(bias),
    }


def own_batch_figures(candidates: Candidates, used: Used) -> dict[str, float]:
    """Everything of the own batch that rests on no draws."""
    at = assembled(candidates, used)
    signed = worst_signed(candidates, at)
    tolerance = candidates.limits.tolerance
    n_missed = int(np.sum(np.abs(signed) > tolerance))
    return {
        "nested_rms": rms_of(candidates, at),
        "rms_upper_95": rms_upper_95(candidates, at),
        "nested_p80_abs": order_quantile(np.abs(signed), 0.8),
        "within_tolerance_lower_95": share_inside_lower(signed, tolerance),
        "within_tolerance_lower_95_free": share_inside_lower_free(len(signed), n_missed),
    }
