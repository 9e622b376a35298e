"""Every early plan that a pour could break, judged on the earlier batches as pours under every reading."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.mixed_model import HeldOutErrors, PriorBatches, TrialBatches, enumerate_early_plans
from planner.terms.arrays import IntArray
from planner.terms.labels import age_label
from planner.terms.plan.early_breaks import Pours as PlannedPours
from planner.terms.problems import InputError, Problem
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.verdict.answers.early_breaks.early_break_prices import EarlyPrices
from planner.verdict.selection.search import Search
from planner.verdict.validation.early_folds import EarlyFolds, early_folds, most_trials
from planner.verdict.validation.pours_of_cells import Pours, pours_of_cells, some_pours
from planner.verdict.validation.rescaled_trials import rescaled_errors

MOST_POURS = 20  # earlier batches that play pours and trial batches: what it costs grows with their third power


@dataclass(frozen=True, slots=True, eq=False)
class JudgedPlans:
    """Every early plan judged under every reading."""

    pours: Pours
    ages_h: tuple[float, ...]  # early ages that can be judged
    plans: IntArray
    counts: tuple[IntArray, ...]  # rows of the plans with every number of specimens
    folds: tuple[EarlyFolds, ...]  # with 0, 1, 2, ... trial batches
    rival: HeldOutErrors | None  # the curve of one trial batch, rescaled
    prices: EarlyPrices
    records: PriorBatches  # every earlier batch, among them those that play the pours


def _usable_ages(search: Search, pours: PlannedPours) -> tuple[float, ...]:
    """Early ages that were broken in some batch, after final set, and strong enough to be broken."""
    settings, cells = search.plan.settings, search.cells
    typical = dict(zip(cells.ages_h.tolist(), cells.typical_mpa().tolist(), strict=True))
    if pours.curing == "site":  # companions weaker than the least strength are not among them
        ages, at = np.unique(cells.site_cured.age_h, return_inverse=True)
        means = np.bincount(at, weights=cells.site_cured.truth_mpa) / np.maximum(np.bincount(at), 1)
        typical = dict(zip(ages.tolist(), means.tolist(), strict=True))
    return tuple(
        age
        for age in pours.early_ages_h
        if age >= settings.final_set_h and typical.get(age, 0.0) >= max(settings.choices.least_strength_mpa, 1e-9)
    )


def ages_left_out(search: Search, pours: PlannedPours) -> tuple[float, ...]:
    """Early ages of the plan that cannot be judged [h]."""
    usable = _usable_ages(search, pours)
    return tuple(age for age in pours.early_ages_h if age not in usable)


def judged_plans(search: Search, planned: PlannedPours, recommended: RatedChoice, prices: EarlyPrices) -> JudgedPlans:
    """Judge them with every number of trial batches.

    Raises
    ------
    InputError
        Where no early age can be judged.
    """
    settings, cells = search.plan.settings, search.cells
    ages_h = _usable_ages(search, planned)
    if not ages_h:
        on_site = planned.curing == "site"
        known_h = np.unique(cells.site_cured.age_h) if on_site else cells.ages_h
        broken = ", ".join(age_label(float(age)) for age in known_h) or "none"
        raise InputError(
            [
                Problem(
                    search.plan.name,
                    f"None of {', '.join(age_label(age) for age in planned.early_ages_h)} can be judged: an early age "
                    f"must be one that {'site-cured companions' if on_site else 'earlier batches'} were broken at "
                    f"({broken}), after final set and with "
                    f"{settings.choices.least_strength_mpa:g} MPa or more. Give such an age, or leave out [pours].",
                    column="pours.early_ages",
                )
            ]
        )
    fewer = some_pours(cells, MOST_POURS)
    setting = cells.settings.index(recommended.maturity)
    everyone, pours = (
        pours_of_cells(some, ages_h, settings.target.target_weights, setting=setting, curing=planned.curing)
        for some in (cells, fewer)
    )
    plans = enumerate_early_plans(len(ages_h), planned.specimens_per_age, planned.most_specimens)
    counts = _counts(plans)
    specimens = _trial_specimens(search, pours, recommended)

    def rescaled(trials: TrialBatches, without: int | None) -> HeldOutErrors | None:
        return rescaled_errors(pours, plans, recommended, trials, cells=fewer, without=without)

    asked = max(settings.programme_asked.allowed_trial_batches)
    most = most_trials(pours.held_out.batches.n_batches, asked)
    folds = early_folds(pours, plans, specimens, most, rescaled, counts)
    rival = folds[1].whole.get("rescaled") if most else rescaled(TrialBatches(specimens=specimens), None)
    return JudgedPlans(pours, ages_h, plans, counts, folds, rival, prices, everyone.held_out.batches)


def _trial_specimens(search: Search, pours: Pours, recommended: RatedChoice) -> IntArray:
    """Specimens of the recommended schedule at every age of the model."""
    by_age = dict(zip(recommended.schedule.ages_h, recommended.schedule.specimens, strict=True))
    return np.array([by_age.get(float(search.cells.ages_h[i]), 0) for i in pours.columns], dtype=np.int64)


def _counts(plans: IntArray) -> tuple[IntArray, ...]:
    """Rows of the plans with every number of specimens, fewest ages first, none broken first of all."""
    total = plans.sum(axis=1)
    n_ages = (plans > 0).sum(axis=1)
    order = np.lexsort((np.arange(len(total)), n_ages))
    return tuple(order[total[order] == count] for count in np.unique(total))
