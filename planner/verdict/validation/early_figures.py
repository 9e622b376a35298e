"""Figures of early plans from their held-out errors, the best plan of every number of specimens.

Which ages are best is chosen for every pour by the other pours, so that no pour judges what it helped to choose.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.mixed_model import HeldOutErrors
from planner.mixed_model.reading import student_quantile
from planner.resampling.errors.arithmetic import BOUND_CONFIDENCE, share_of_units
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.plan.settings import Target
from planner.verdict.validation.pours_of_cells import Pours

_HALVINGS = 40  # of a bisection


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Picked:
    """The best plan with one number of specimens."""

    plan: int  # by all pours
    by_pour: IntArray  # by the others, -1: none held, (n_batches,)
    level: FloatArray  # mean square error of every pour under its own pick, NaN: not judged, (n_batches,)
    variance: FloatArray  # part of it that the specimens of the plan make, (n_batches,)

    @property
    def mean_square(self) -> float:
        """Over the pours, never below what the specimens alone give."""
        return max(float(np.nanmean(self.level)), self.floor)

    @property
    def floor(self) -> float:
        return float(np.nanmean(self.variance))

    @property
    def is_floored(self) -> bool:
        return float(np.nanmean(self.level)) < self.floor


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What is said of a picked plan, relative figures."""

    rms: float
    rms_upper_95: float
    within_tolerance: float  # share of pours with every target inside
    over_predicted_beyond_tolerance: float
    reads_within: float  # half-width that the assured share of pours keeps at every target
    safe_reading_factor: float
    rms_by_target: tuple[float, ...]
    widening: float  # variance of the held-out readings over the stated one, 1 or more


def best_plan(
    errors: HeldOutErrors,
    pours: Pours,
    candidates: IntArray,
    *,
    chosen_by: Sequence[HeldOutErrors] | None = None,
    whole: HeldOutErrors | None = None,
) -> Picked | None:
    """The candidate of least mean square error, for all pours and for each by the others; None where none is held.

    Parameters
    ----------
    errors
        That every pour is judged by.
    candidates
        Rows of the plans with one number of specimens, in the order in which ties fall.
    chosen_by
        Errors that the plan of each pour is chosen by, nothing learnt from it, ``(n_batches,)``; `errors` where None.
    whole
        Errors that the plan is chosen by with all pours; `errors` where None.
    """
    level = by_batch(errors.level()[candidates], pours)
    variance = by_batch(errors.variance()[candidates], pours)
    by_all = level if whole is None else by_batch(whole.level()[candidates], pours)
    held = np.isfinite(level)
    if not np.any(held):
        return None
    n_batches = level.shape[1]
    by_pour = np.full(n_batches, -1, dtype=np.int64)
    chosen_level, chosen_variance = np.full(n_batches, np.nan), np.full(n_batches, np.nan)
    for b in range(n_batches):
        others = np.delete(np.arange(n_batches), b)
        seen = level if chosen_by is None else by_batch(chosen_by[b].level()[candidates], pours)
        row = least_mean(seen[:, others], is_allowed=held[:, b])
        if row is None:
            continue
        by_pour[b] = candidates[row]
        chosen_level[b], chosen_variance[b] = level[row, b], variance[row, b]
    best = least_mean(by_all, is_allowed=np.ones(len(candidates), dtype=np.bool_))
    if best is None or not np.any(by_pour >= 0):
        return None
    return Picked(plan=int(candidates[best]), by_pour=by_pour, level=chosen_level, variance=chosen_variance)


def figures_of(picked: Picked, errors: HeldOutErrors, pours: Pours, target: Target, *, n_freedom: float) -> Figures:
    """Bounds and shares of a picked plan.

    Held-out errors are stretched or shrunk to the level that is told, so that the scatter of the measured truths
    is not counted. The law of single readings is the model's, as wide as it states or as the pours show, whichever is
    wider.

    Parameters
    ----------
    n_freedom
        Degrees of freedom of the model's law.
    """
    from scipy.special import chdtri

    is_judged = np.isfinite(picked.level)
    n_pours = pours.held_out.batches.n_batches
    error, stated, weight = _picked_checks(picked, errors, pours)
    raw = _weighted_mean(error**2, weight)
    scaled = error * np.sqrt(picked.mean_square / raw) if raw > 0 else error
    said = _weighted_mean(stated, weight)
    wider = max(1.0, picked.mean_square / said)
    targets = range(len(target.ages_h))
    at_targets = [
        float(np.sqrt(wider * _weighted_mean(stated, np.where(pours.check_target == t, weight, 0.0)))) for t in targets
    ]
    sd = max(at_targets)
    one_sided = student_quantile(n_freedom, target.assurance)
    n_batches = int(is_judged.sum())
    return Figures(
        rms=float(np.sqrt(picked.mean_square)),
        rms_upper_95=float(np.sqrt(n_batches * picked.mean_square / chdtri(n_batches, BOUND_CONFIDENCE))),
        within_tolerance=share_of_units(
            np.abs(scaled).ravel() <= target.tolerance,
            weight.ravel(),
            (np.arange(len(error))[:, None] * n_pours + pours.held_out.check_batch).ravel(),
            np.tile(pours.check_target, len(error)),
        ),
        over_predicted_beyond_tolerance=min(
            _weighted_mean((scaled > target.tolerance).astype(np.float64), weight), 1.0
        ),
        reads_within=float(np.expm1(_half_width(at_targets, n_freedom, target.assurance))),
        safe_reading_factor=float(np.exp(one_sided * sd)),
        rms_by_target=tuple(_rms_at(picked, errors, pours, t) for t in targets),
        widening=wider,
    )


def _half_width(deviations: Sequence[float], n_freedom: float, share: float) -> float:
    """What the assured share of pours keeps at every target, the targets' readings taken as independent.

    What early breaks leave hardly moves together; where nothing is broken early it does, and this errs wide.
    """
    from scipy.special import stdtr

    widest = max(deviations) * student_quantile(n_freedom, 0.5 + 0.5 * share)
    if len(deviations) == 1:
        return widest
    low, high = widest, max(deviations) * student_quantile(n_freedom, 0.5 + 0.5 * share ** (1.0 / len(deviations)))
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        kept = np.prod(2.0 * stdtr(n_freedom, middle / np.array(deviations)) - 1.0)
        low, high = (low, middle) if kept >= share else (middle, high)
    return high


def by_batch(values: FloatArray, pours: Pours) -> FloatArray:
    """Checks of every batch added up by their weights, NaN where one or all are missing, ``(n_plans, n_batches)``."""
    total = np.zeros((len(values), pours.held_out.batches.n_batches))
    np.add.at(total.T, pours.held_out.check_batch, (values * pours.check_weight).T)
    is_checked = np.bincount(pours.held_out.check_batch, minlength=total.shape[1]) > 0
    return np.where(is_checked, total, np.nan)


def least_mean(level: FloatArray, *, is_allowed: FloatArray) -> int | None:
    """Row of least mean over the pours that hold it; the first of equals."""
    held = np.isfinite(level)
    count = held.sum(axis=1)
    mean = np.where(held, level, 0.0).sum(axis=1) / np.maximum(count, 1)
    mean = np.where((count > 0) & is_allowed, mean, np.inf)
    return int(np.argmin(mean)) if np.isfinite(mean).any() else None


def _picked_checks(picked: Picked, errors: HeldOutErrors, pours: Pours) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Errors, stated variances and weights of the picks at every check, ``(n_trials, n_checks)`` each."""
    plan = picked.by_pour[pours.held_out.check_batch]
    checks = np.arange(len(plan))
    error = np.where(plan >= 0, errors.error[:, plan, checks], np.nan)
    stated = np.where(plan >= 0, errors.stated_variance[:, plan, checks], np.nan)
    n_trials = np.maximum(np.isfinite(error).sum(axis=0), 1)
    return error, stated, np.where(np.isfinite(error), pours.check_weight / n_trials, 0.0)


def _weighted_mean(values: FloatArray, weight: FloatArray) -> float:
    return float(np.sum(np.where(weight > 0, values, 0.0) * weight) / np.sum(weight))


def _rms_at(picked: Picked, errors: HeldOutErrors, pours: Pours, target: int) -> float:
    """RMS error at one target, never below what the specimens alone give."""
    plan = picked.by_pour[pours.held_out.check_batch]
    checks = np.arange(len(plan))
    is_counted = (pours.check_target == target) & (plan >= 0)
    weight = np.where(is_counted, pours.check_weight, 0.0)
    level = _weighted_mean(errors.level()[plan, checks], weight)
    floor = _weighted_mean(errors.variance()[plan, checks], weight)
    return float(np.sqrt(max(level, floor)))
