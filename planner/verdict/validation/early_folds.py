"""Early breaks chosen without each pour: reading, trial batch or none, ages and number of specimens.

A pour is judged by what its fold chose: everything is judged again on the other pours, nothing having been learnt from
this one, and the same rule takes reading and plan. What the trial batch breaks, and its curve, stay those that are
recommended: the folds look around the recommended programme alone.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from planner.mixed_model import HeldOutErrors, judge_early_plans
from planner.mixed_model.early_plans import FEWEST_BATCHES, FEWEST_BATCHES_WITH_TRIAL
from planner.mixed_model.growth_prior import GrowthPrior
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.plan.early_breaks import PourReading
from planner.verdict.validation.early_figures import by_batch, least_mean
from planner.verdict.validation.pours_of_cells import Pours

Readings = Mapping[PourReading, HeldOutErrors]
Rescaled = Callable[[int | None], HeldOutErrors | None]  # errors of the rescaled trial curve without a batch


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class EarlyFolds:
    """Every reading judged, with all pours and without each."""

    whole: Readings
    reading: PourReading  # of least mean square over all numbers of specimens, by all pours; of those every fold judges
    readings: tuple[PourReading, ...]  # the same by the others, of each pour, (n_batches,)
    chosen_by: tuple[HeldOutErrors, ...]  # errors that each pour's plan is chosen by, (n_batches,)
    errors: HeldOutErrors  # of each pour under the reading that was chosen without it
    is_strict: bool  # nothing was learnt from a pour where its plan was chosen


def early_folds(
    pours: Pours, plans: IntArray, trial_specimens: IntArray | None, rescaled: Rescaled, counts: Sequence[IntArray]
) -> EarlyFolds:
    """Judge every reading with all pours and without each.

    Parameters
    ----------
    trial_specimens
        Of the recommended schedule at every age of the model; None: none can play the trial batch.
    counts
        Rows of the plans with every number of specimens.
    """
    n_batches = pours.held_out.batches.n_batches
    known: dict[frozenset[int], GrowthPrior] = {}
    whole = _readings(pours, plans, trial_specimens, rescaled, known=known)
    everyone = np.arange(n_batches)
    is_strict = n_batches - 1 >= FEWEST_BATCHES
    folds = [
        _readings(pours, plans, trial_specimens, rescaled, without=b, known=known) if is_strict else whole
        for b in range(n_batches)
    ]
    offered = {name: errors for name, errors in whole.items() if all(name in fold for fold in folds)}
    reading = best_reading(offered, pours, counts, everyone)
    readings, chosen_by = [], []
    for b, fold in enumerate(folds):
        readings.append(best_reading(fold, pours, counts, np.delete(everyone, b)))
        chosen_by.append(fold[readings[-1]])
    return EarlyFolds(
        whole=whole,
        reading=reading,
        readings=tuple(readings),
        chosen_by=tuple(chosen_by),
        errors=_assembled([whole[one] for one in readings], pours),
        is_strict=is_strict,
    )


def best_reading(readings: Readings, pours: Pours, counts: Sequence[IntArray], judged: IntArray) -> PourReading:
    """The reading of least mean square error on some pours, over all numbers of specimens; the first of equals."""
    means: dict[PourReading, float] = {}
    for name, errors in readings.items():
        level = by_batch(errors.level(), pours)[:, judged]
        found = [(rows, least_mean(level[rows], is_allowed=np.ones(len(rows), dtype=np.bool_))) for rows in counts]
        told = [_mean(level[rows[at]]) for rows, at in found if at is not None]
        means[name] = float(np.mean(told)) if told else np.inf
    return min(means, key=lambda name: means[name])


def _readings(
    pours: Pours,
    plans: IntArray,
    trial_specimens: IntArray | None,
    rescaled: Rescaled,
    *,
    known: dict[frozenset[int], GrowthPrior],
    without: int | None = None,
) -> dict[PourReading, HeldOutErrors]:
    n_left = pours.held_out.batches.n_batches - (without is not None)
    found: dict[PourReading, HeldOutErrors] = {
        "records": judge_early_plans(pours.held_out, plans, without=without, known=known)
    }
    if trial_specimens is not None and n_left >= FEWEST_BATCHES_WITH_TRIAL:
        found["records and trial"] = judge_early_plans(
            pours.held_out, plans, trial_specimens=trial_specimens, without=without, known=known
        )
        simple = rescaled(without)
        if simple is not None:
            found["rescaled"] = simple
    return found


def _assembled(of_pour: Sequence[HeldOutErrors], pours: Pours) -> HeldOutErrors:
    """Each pour's checks from its own errors; trial batches that a reading does not know are NaN."""
    batch = pours.held_out.check_batch
    n_trials = max(len(errors.error) for errors in of_pour)

    def joined(name: str) -> FloatArray:
        out = np.full((n_trials, *of_pour[0].error.shape[1:]), np.nan)
        for check, b in enumerate(batch):
            values = getattr(of_pour[b], name)
            out[: len(values), :, check] = values[:, :, check]
        return out

    return HeldOutErrors(
        error=joined("error"),
        plan_variance=joined("plan_variance"),
        cell_variance=joined("cell_variance"),
        stated_variance=joined("stated_variance"),
        check_noise=of_pour[0].check_noise,
    )


def _mean(level: FloatArray) -> float:
    return float(np.nanmean(level))
