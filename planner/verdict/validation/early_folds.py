"""Early breaks chosen without each pour: trial batches, reading, ages and number of specimens.

A pour is judged by what its fold chose: everything is judged again on the other pours, nothing having been learnt from
this one, and the same rule takes reading and plan. What the trial batches break, and their curve, stay those that are
recommended: the folds look around the recommended programme alone.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from planner.mixed_model import HeldOutErrors, TrialBatches, judge_early_plans
from planner.mixed_model.early_plans import FEWEST_BATCHES
from planner.mixed_model.growth_prior import GrowthPrior
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.plan.early_breaks import PourReading
from planner.verdict.validation.early_figures import by_batch, least_mean
from planner.verdict.validation.pours_of_cells import Pours

MOST_TRIALS = 3  # trial batches that are compared
Readings = Mapping[PourReading, HeldOutErrors]
Rescaled = Callable[[TrialBatches, int | None], HeldOutErrors | None]  # of the rescaled trial curve without a batch


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class EarlyFolds:
    """Every reading with one number of trial batches judged, with all pours and without each."""

    n_trial_batches: int
    whole: Readings
    reading: PourReading  # of least mean square over all numbers of specimens, by all pours; of those every fold judges
    readings: tuple[PourReading, ...]  # the same by the others, of each pour, (n_batches,)
    chosen_by: tuple[HeldOutErrors, ...]  # errors that each pour's plan is chosen by, (n_batches,)
    errors: HeldOutErrors  # of each pour under the reading that was chosen without it
    is_strict: bool  # nothing was learnt from a pour where its plan was chosen


def most_trials(n_batches: int, asked: int) -> int:
    """Trial batches that can be compared: pour, fold and trial batches left out, two batches tell the spread."""
    return max(0, min(asked, MOST_TRIALS, n_batches - 1 - FEWEST_BATCHES))


def early_folds(
    pours: Pours, plans: IntArray, trial_specimens: IntArray, most: int, rescaled: Rescaled, counts: Sequence[IntArray]
) -> tuple[EarlyFolds, ...]:
    """Judge every reading with all pours and without each, with no trial batch, with one, up to the most.

    Parameters
    ----------
    trial_specimens
        Of the recommended schedule at every age of the model, ``(n_ages,)``.
    most
        Trial batches compared, from :func:`most_trials`.
    rescaled
        Errors of the trial curve shifted to the early breaks.
    counts
        Rows of the plans with every number of specimens.
    """
    n_batches = pours.held_out.batches.n_batches
    is_strict = n_batches - 1 >= FEWEST_BATCHES + most
    judge = _Judge(pours, plans, rescaled)
    none = TrialBatches(specimens=trial_specimens, number=0, most=most)
    records = {without: judge.read(none, without) for without in ([None, *range(n_batches)] if is_strict else [None])}
    texts = []
    for number in range(most + 1):
        trials = replace(none, number=number)
        judged = {without: judge.readings(trials, alone, without) for without, alone in records.items()}
        texts.append(_with_trials(pours, counts, judged, number))
    return tuple(texts)


@dataclass(frozen=True, slots=True, eq=False)
class _Judge:
    """Judges every reading; what was learnt without the same batches is learnt once."""

    pours: Pours
    plans: IntArray
    rescaled: Rescaled
    known: dict[frozenset[int], GrowthPrior] = field(default_factory=dict)

    def read(self, trials: TrialBatches, without: int | None) -> HeldOutErrors:
        """Read from the records and so many trial batches, none included."""
        return judge_early_plans(self.pours.held_out, self.plans, trials=trials, without=without, known=self.known)

    def readings(self, trials: TrialBatches, records: HeldOutErrors, without: int | None) -> Readings:
        """What a pour can be read by once so many trial batches are cast: the records alone serve all the same."""
        found: dict[PourReading, HeldOutErrors] = {"records": records}
        if trials.number:
            found["records and trial"] = self.read(trials, without)
            simple = self.rescaled(trials, without)
            if simple is not None:
                found["rescaled"] = simple
        return found


def _with_trials(
    pours: Pours, counts: Sequence[IntArray], judged: Mapping[int | None, Readings], number: int
) -> EarlyFolds:
    """What was judged with all pours (None) and without each, put together."""
    everyone, whole = np.arange(pours.held_out.batches.n_batches), judged[None]
    folds = [judged.get(b, whole) for b in everyone.tolist()]
    offered = {name: errors for name, errors in whole.items() if all(name in fold for fold in folds)}
    readings = [best_reading(fold, pours, counts, np.delete(everyone, b)) for b, fold in enumerate(folds)]
    return EarlyFolds(
        n_trial_batches=number,
        whole=whole,
        reading=best_reading(offered, pours, counts, everyone),
        readings=tuple(readings),
        chosen_by=tuple(fold[one] for fold, one in zip(folds, readings, strict=True)),
        errors=_assembled([whole[one] for one in readings], pours),
        is_strict=len(judged) > 1,
    )


def best_reading(readings: Readings, pours: Pours, counts: Sequence[IntArray], judged: IntArray) -> PourReading:
    """The reading of least mean square error on some pours, over all numbers of specimens; the first of equals."""
    means: dict[PourReading, float] = {}
    for name, errors in readings.items():
        level = by_batch(errors.level(), pours)[:, judged]
        found = [(rows, least_mean(level[rows], is_allowed=np.ones(len(rows), dtype=np.bool_))) for rows in counts]
        stated = [_mean(level[rows[at]]) for rows, at in found if at is not None]
        means[name] = float(np.mean(stated)) if stated else np.inf
    return min(means, key=lambda name: means[name])


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
        kept_out_variance=joined("kept_out_variance"),
        check_noise=of_pour[0].check_noise,
    )


def _mean(level: FloatArray) -> float:
    return float(np.nanmean(level))
