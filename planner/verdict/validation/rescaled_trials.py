"""The simple rival of an early plan: the curve of the trial batches, shifted to the pour's own early breaks.

The curve of several trial batches is the mean of theirs at every maturity. It is the trade's way of carrying an early
break along the maturity line. Without early breaks it is the trial curve as it stands, which is what a later pour is
read from today.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field

import numpy as np

from planner.evidence import Cells
from planner.fitting.single import CurveFit, fit_curve
from planner.mixed_model import HeldOutErrors, TrialBatches
from planner.mixed_model.trial_batches import trial_sets
from planner.resampling.priors.one_fit import fit_learnt, learnt_numbers
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.plan.settings import PRIOR_CURVE_NAMES
from planner.terms.results.after_casting.pour_model import Remainder
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.verdict.validation.pours_of_cells import Pours


def rescaled_errors(
    pours: Pours,
    plans: IntArray,
    choice: RatedChoice,
    trials: TrialBatches,
    *,
    cells: Cells,
    without: int | None = None,
) -> HeldOutErrors | None:
    """Held-out errors of every plan, the other batches as trial batches in turn; None where none can be fitted.

    The trial curve is fitted to whole cells at the ages of the schedule, so its own scatter is that of the records.

    Parameters
    ----------
    plans
        Specimens at every early age, ``(n_plans, n_early)``.
    trials
        One trial batch or more.
    cells
        From which a curve with a prior learns, neither the trial batches nor the pour among them.
    without
        A batch that is neither pour nor trial batch nor learnt from.
    """
    held = pours.held_out
    n_batches = held.batches.n_batches
    shape = (n_batches, len(plans), len(held.check_batch))
    error, plan_variance, cell_variance = (np.full(shape, np.nan) for _ in range(3))
    curves = _Curves(pours, choice, trials.specimens, cells)
    for pour in sorted({*held.check_batch.tolist()} - {without}):
        others = [b for b in range(n_batches) if b not in (pour, without)]
        checks = np.flatnonzero(held.check_batch == pour)
        for batches in trial_sets(others, trials.most):
            apart = {pour, *batches} | (set() if without is None else {without})
            fits = [curves.of(trial, apart) for trial in batches[: trials.number]]
            known = [fit for fit in fits if fit is not None]
            if len(known) < len(fits):
                continue
            for into, values in zip(
                (error, plan_variance, cell_variance), _shifted(pours, plans, known, checks), strict=True
            ):
                into[batches[0]][:, checks] = values
    if not np.isfinite(error).any():
        return None
    return HeldOutErrors(
        error=error,
        plan_variance=plan_variance,
        cell_variance=cell_variance,
        stated_variance=_error_of_others(pours, error, plan_variance, cell_variance),
        kept_out_variance=np.where(np.isfinite(error), 0.0, np.nan),
        check_noise=held.check_noise,
    )


def remainders_of(
    pours: Pours, plans: IntArray, errors: HeldOutErrors, target_ages_h: Sequence[float], early_ages_h: Sequence[float]
) -> tuple[Remainder, ...]:
    """Mean square of what the shifted trial curve is off, for every set of early ages before every target.

    The largest over the numbers of specimens at the same ages. Scatter of early cells and truths is taken out of it.

    Parameters
    ----------
    errors
        Of the rescaled trial curve.
    target_ages_h, early_ages_h
        Of the plan [h]; the second are the columns of the plans.
    """
    level = errors.level() - errors.variance()
    found: dict[tuple[tuple[float, ...], float], float] = {}
    for target, target_h in enumerate(target_ages_h):
        weight = np.where(pours.check_target == target, pours.check_weight, 0.0)
        for row, plan in enumerate(plans):
            is_known = np.isfinite(level[row]) & (weight > 0)
            ages_h = tuple(age for age, n in zip(early_ages_h, plan, strict=True) if n and age < target_h)
            if ages_h and is_known.any():
                mean = float(np.average(level[row][is_known], weights=weight[is_known]))
                found[ages_h, target_h] = max(mean, found.get((ages_h, target_h), 0.0))
    return tuple(Remainder(ages_h=ages, target_h=at, variance=variance) for (ages, at), variance in found.items())


def _error_of_others(
    pours: Pours, error: FloatArray, plan_variance: FloatArray, cell_variance: FloatArray
) -> FloatArray:
    """A rescaled curve states no error of its own: the mean square of the other pours at the same target stands for it.

    Never below what the specimens alone give. Of the shape of the errors.
    """
    held = pours.held_out
    raw = error**2 + plan_variance - cell_variance - held.check_noise
    expected = np.full(error.shape, np.nan)
    for check in range(len(held.check_batch)):
        others = (pours.check_target == pours.check_target[check]) & (held.check_batch != held.check_batch[check])
        theirs = np.moveaxis(raw[:, :, others], 1, 0).reshape(raw.shape[1], -1)
        known = np.isfinite(theirs)
        mean = np.where(known, theirs, 0.0).sum(axis=1) / np.maximum(known.sum(axis=1), 1)
        expected[:, :, check] = np.maximum(np.where(known.any(axis=1), mean, np.nan), plan_variance[:, :, check])
    return np.where(np.isfinite(error), expected, np.nan)


@dataclass(frozen=True, slots=True, eq=False)
class _Curves:
    """The recommended curve of every batch, fitted once; one with a prior once for all that it has not learnt from."""

    pours: Pours
    choice: RatedChoice
    specimens: IntArray  # of the schedule at every age of the model, (n_ages,)
    cells: Cells
    fitted: dict[tuple[int, frozenset[int]], CurveFit | None] = field(default_factory=dict)

    def of(self, trial: int, apart: Collection[int]) -> CurveFit | None:
        """None where the batch lacks an age of the schedule, or where nothing could be learnt."""
        units = self.cells.views.unit
        names = tuple(dict.fromkeys(self.cells.views.batch))
        is_learnt = self.choice.curve in PRIOR_CURVE_NAMES
        left_out = frozenset(int(units[self.cells.views.batch.index(names[b])]) for b in apart if is_learnt)
        if (trial, left_out) not in self.fitted:
            self.fitted[trial, left_out] = self._fit(trial, left_out)
        return self.fitted[trial, left_out]

    def _fit(self, trial: int, left_out: frozenset[int]) -> CurveFit | None:
        batches, choice = self.pours.held_out.batches, self.choice
        ages = np.flatnonzero(self.specimens > 0)
        if not np.all(batches.is_held[trial, ages]):
            return None
        maturity, mean = batches.maturity_h[trial, ages], batches.mean_mpa[trial, ages]
        if choice.curve not in PRIOR_CURVE_NAMES:
            return fit_curve(choice.curve, maturity, mean, weighting=choice.weighting)
        numbers = learnt_numbers(self.cells, choice.curve, self.cells.settings.index(choice.maturity), left_out)
        return None if numbers is None else fit_learnt(numbers, maturity, mean, batches.cv[ages])[0]


def _shifted(
    pours: Pours, plans: IntArray, curves: Sequence[CurveFit], checks: IntArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Error, and variance by the plan's counts and by the whole cells, ``(n_plans, n_checks)`` each."""
    held = pours.held_out
    batch = held.early_rows[checks]
    is_there = held.early_n_specimens[batch] > 0
    counts = np.where(held.is_before[checks], plans[:, None, :], 0).astype(np.float64)
    is_lacking = np.any((counts > 0) & ~is_there, axis=2)
    weight = np.where(is_there, counts / pours.early_cv**2, 0.0)
    weight /= np.maximum(weight.sum(axis=2, keepdims=True), np.finfo(np.float64).tiny)
    check_h = held.check_maturity_h[checks]
    early_h = np.where(is_there, held.early_maturity_h[batch], check_h[:, None])
    with np.errstate(divide="ignore", invalid="ignore"):
        early = np.log(np.where(is_there, held.early_mean_mpa[batch], 1.0)) - np.log(_mean_of(curves, early_h))
        read = np.log(_mean_of(curves, check_h))
        shift = np.where(weight > 0, weight * early, 0.0).sum(axis=2)
        error = np.expm1(read + shift - np.log(held.check_truth_mpa[checks]))
    scatter = weight**2 * pours.early_cv**2
    plan = np.sum(scatter / np.maximum(counts, 1.0), axis=2)
    cell = np.sum(scatter / np.maximum(held.early_n_specimens[batch], 1.0), axis=2)
    return np.where(is_lacking | ~np.isfinite(error), np.nan, error), plan, cell


def _mean_of(curves: Sequence[CurveFit], maturity_h: FloatArray) -> FloatArray:
    """Mean of the curves at every maturity, as an issued curve reads, in the shape that is given."""
    at = maturity_h.ravel()
    mean = np.mean([curve.predict(at) for curve in curves], axis=0)
    return np.asarray(mean, dtype=np.float64).reshape(maturity_h.shape)
