"""The simple rival of an early plan: the curve of one trial batch, shifted to the pour's own early breaks.

It is the trade's way of carrying an early break along the maturity line. Without early breaks it is the trial curve as
it stands, which is what a later pour is read from today.
"""

from __future__ import annotations

import numpy as np

from planner.evidence import Cells
from planner.fitting.single import CurveFit, fit_curve
from planner.mixed_model import HeldOutErrors
from planner.resampling.priors.one_fit import fit_learnt, learnt_numbers
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.plan.settings import PRIOR_CURVE_NAMES
from planner.terms.results.recommendation import RatedChoice
from planner.verdict.validation.pours_of_cells import Pours


def rescaled_errors(
    pours: Pours,
    plans: IntArray,
    choice: RatedChoice,
    trial_specimens: IntArray,
    *,
    cells: Cells,
    without: int | None = None,
) -> HeldOutErrors | None:
    """Held-out errors of every plan, every other batch as the trial batch; None where no batch can be fitted.

    The trial curve is fitted to whole cells at the ages of the schedule, so its own scatter is that of the records.

    Parameters
    ----------
    plans
        Specimens at every early age, ``(n_plans, n_early)``.
    trial_specimens
        Specimens of the schedule at every age of the model, ``(n_ages,)``.
    cells
        From which a curve with a prior learns, neither the trial batch nor the pour among them.
    without
        A batch that is neither pour nor trial batch nor learnt from.
    """
    held = pours.held_out
    batches = held.batches
    shape = (batches.n_batches, len(plans), len(held.check_batch))
    error, plan_variance, cell_variance = (np.full(shape, np.nan) for _ in range(3))
    names = tuple(dict.fromkeys(cells.views.batch))
    units = [cells.views.unit[cells.views.batch.index(name)] for name in names]
    for trial in (b for b in range(batches.n_batches) if b != without):
        for check in np.flatnonzero((held.check_batch != trial) & (held.check_batch != without)):
            apart = {trial, int(held.check_batch[check])} | (set() if without is None else {without})
            left_out = frozenset(int(units[b]) for b in apart)
            curve = _curve_of(pours, trial, choice, trial_specimens, cells, left_out)
            if curve is None:
                continue
            figures = _shifted(pours, plans, curve, int(check))
            at = (trial, slice(None), check)
            error[at], plan_variance[at], cell_variance[at] = figures
    if not np.isfinite(error).any():
        return None
    return HeldOutErrors(
        error=error,
        plan_variance=plan_variance,
        cell_variance=cell_variance,
        stated_variance=_stated(pours, error, plan_variance, cell_variance),
        check_noise=held.check_noise,
    )


def _stated(pours: Pours, error: FloatArray, plan_variance: FloatArray, cell_variance: FloatArray) -> FloatArray:
    """A rescaled curve states no error of its own: the mean square of the other pours at the same target stands for it.

    Never below what the specimens alone give. Of the shape of the errors.
    """
    held = pours.held_out
    raw = error**2 + plan_variance - cell_variance - held.check_noise
    stated = np.full(error.shape, np.nan)
    for check in range(len(held.check_batch)):
        others = (pours.check_target == pours.check_target[check]) & (held.check_batch != held.check_batch[check])
        told = np.moveaxis(raw[:, :, others], 1, 0).reshape(raw.shape[1], -1)
        known = np.isfinite(told)
        mean = np.where(known, told, 0.0).sum(axis=1) / np.maximum(known.sum(axis=1), 1)
        stated[:, :, check] = np.maximum(np.where(known.any(axis=1), mean, np.nan), plan_variance[:, :, check])
    return np.where(np.isfinite(error), stated, np.nan)


def _curve_of(
    pours: Pours,
    trial: int,
    choice: RatedChoice,
    trial_specimens: IntArray,
    cells: Cells,
    left_out: frozenset[int],
) -> CurveFit | None:
    """The recommended curve fitted to one batch; None where it lacks an age of the schedule, or has learnt nothing."""
    batches = pours.held_out.batches
    ages = np.flatnonzero(trial_specimens > 0)
    if not np.all(batches.is_held[trial, ages]):
        return None
    maturity, mean = batches.maturity_h[trial, ages], batches.mean_mpa[trial, ages]
    if choice.curve not in PRIOR_CURVE_NAMES:
        return fit_curve(choice.curve, maturity, mean, weighting=choice.weighting)
    numbers = learnt_numbers(cells, choice.curve, cells.settings.index(choice.maturity), left_out)
    return None if numbers is None else fit_learnt(numbers, maturity, mean, batches.cv[ages])[0]


def _shifted(pours: Pours, plans: IntArray, curve: CurveFit, check: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Error, and variance by the plan's counts and by the whole cells, at one check, ``(n_plans,)`` each."""
    held = pours.held_out
    batch = held.early_row(check)
    is_there = held.early_n_specimens[batch] > 0
    counts = np.where(held.is_before[check], plans, 0).astype(np.float64)
    is_lacking = np.any((counts > 0) & ~is_there, axis=1)
    weight = np.where(is_there, counts / pours.early_cv**2, 0.0)
    weight /= np.maximum(weight.sum(axis=1, keepdims=True), np.finfo(np.float64).tiny)
    early_h = np.where(is_there, held.early_maturity_h[batch], held.check_maturity_h[check])
    with np.errstate(divide="ignore", invalid="ignore"):
        early = np.log(np.where(is_there, held.early_mean_mpa[batch], 1.0)) - np.log(curve.predict(early_h))
        read = np.log(curve.predict(held.check_maturity_h[[check]])[0])
        shift = np.where(weight > 0, weight * early, 0.0).sum(axis=1)
        error = np.expm1(read + shift - np.log(held.check_truth_mpa[check]))
    scatter = weight**2 * pours.early_cv**2
    plan = np.sum(scatter / np.maximum(counts, 1.0), axis=1)
    cell = np.sum(scatter / np.maximum(held.early_n_specimens[batch], 1.0), axis=1)
    return np.where(is_lacking | ~np.isfinite(error), np.nan, error), plan, cell
