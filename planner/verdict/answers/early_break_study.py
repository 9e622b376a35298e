"""What each later pour should break before it is read, judged on the earlier batches as pours."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.mixed_model import HeldOutErrors, enumerate_early_plans, estimate_growth_prior, judge_early_plans
from planner.mixed_model.carried_prior import carried
from planner.mixed_model.early_plans import FEWEST_BATCHES, FEWEST_BATCHES_WITH_TRIAL
from planner.mixed_model.growth_prior import SpreadPriors
from planner.terms.arrays import IntArray
from planner.terms.labels import age_label
from planner.terms.plan.early_breaks import PourReading
from planner.terms.plan.early_breaks import Pours as PlannedPours
from planner.terms.plan.settings import Costs, Settings
from planner.terms.problems import InputError, Problem
from planner.terms.results.after_casting.early_answer import EarlyBreakRow, EarlyBreaks
from planner.terms.results.after_casting.pour_model import PourModel
from planner.terms.results.recommendation import RatedChoice
from planner.verdict.selection.search import Search
from planner.verdict.validation.early_figures import Picked, best_plan, figures_of
from planner.verdict.validation.one_mix import why_not_one_mix
from planner.verdict.validation.pours_of_cells import Pours, pours_of_cells
from planner.verdict.validation.rescaled_trials import rescaled_errors
from planner.verdict.wording.early_break_words import early_break_sentences, not_judged_words

Judged = dict[PourReading, HeldOutErrors]


@dataclass(frozen=True, slots=True, eq=False)
class _Study:
    """Every early plan judged under every reading."""

    pours: Pours
    ages_h: tuple[float, ...]  # early ages that can be judged
    plans: IntArray
    by_reading: Judged
    rescaled: HeldOutErrors | None


def early_breaks(search: Search, recommended: RatedChoice) -> EarlyBreaks | None:
    """What each pour breaks; None where the plan asks for no early breaks.

    Raises
    ------
    InputError
        Where no early age can be broken: none is in the records, or concrete is too young or too weak at all of them.
    """
    settings = search.plan.settings
    if settings.pours is None:
        return None
    why_not = why_not_one_mix(search, fewest=FEWEST_BATCHES)
    if why_not is not None:
        return _nothing(settings, not_judged_words(why_not))
    study = _study(search, settings.pours, recommended)
    reading = _best_reading(study)
    rows = _rows(study, reading, settings, recommended)
    place, is_enough = _worth(rows, settings)
    return EarlyBreaks(
        rows=rows,
        recommended=place,
        is_enough=is_enough,
        n_batches=study.pours.held_out.batches.n_batches,
        n_plans=len(study.plans),
        n_pours=settings.pours.number,
        currency=settings.costs.currency if settings.costs else "",
        sentences=early_break_sentences(rows, place, is_enough, settings, left_out=_left_out(search, settings.pours)),
        model=_model(study, reading, rows, settings),
    )


def _model(study: _Study, reading: PourReading, rows: tuple[EarlyBreakRow, ...], settings: Settings) -> PourModel:
    """What a pour will be read by: all batches, as wide as the widest of the judged plans was off."""
    batches = study.pours.held_out.batches
    return carried(
        estimate_growth_prior(batches),
        batches,
        reading=reading,
        widening=max(row.widening for row in rows),
        least_strength_mpa=settings.choices.least_strength_mpa,
    )


def _nothing(settings: Settings, why_not: str) -> EarlyBreaks:
    return EarlyBreaks(
        rows=(), recommended=None, is_enough=False, n_batches=0, n_plans=0,
        n_pours=settings.pours.number if settings.pours else None,
        currency=settings.costs.currency if settings.costs else "", sentences=(why_not,),
    )  # fmt: skip


def _usable_ages(search: Search, pours: PlannedPours) -> tuple[float, ...]:
    """Early ages that were broken in some batch, after final set, and strong enough to be broken."""
    settings, cells = search.plan.settings, search.cells
    typical = dict(zip(cells.ages_h.tolist(), cells.typical_mpa().tolist(), strict=True))
    return tuple(
        age
        for age in pours.early_ages_h
        if age >= settings.final_set_h and typical.get(age, 0.0) >= max(settings.choices.least_strength_mpa, 1e-9)
    )


def _left_out(search: Search, pours: PlannedPours) -> tuple[float, ...]:
    usable = _usable_ages(search, pours)
    return tuple(age for age in pours.early_ages_h if age not in usable)


def _study(search: Search, planned: PlannedPours, recommended: RatedChoice) -> _Study:
    settings, cells = search.plan.settings, search.cells
    ages_h = _usable_ages(search, planned)
    if not ages_h:
        broken = ", ".join(age_label(age) for age in cells.ages_h)
        raise InputError(
            [
                Problem(
                    search.plan.name,
                    f"None of {', '.join(age_label(age) for age in planned.early_ages_h)} can be judged: an early age "
                    f"must be one that earlier batches were broken at ({broken}), after final set and with "
                    f"{settings.choices.least_strength_mpa:g} MPa or more. Give such an age, or leave out [pours].",
                    column="pours.early_ages",
                )
            ]
        )
    pours = pours_of_cells(
        cells, ages_h, settings.target.target_weights, setting=cells.settings.index(recommended.maturity)
    )  # fmt: skip
    plans = enumerate_early_plans(len(ages_h), planned.specimens_per_age, planned.most_specimens)
    by_reading: Judged = {"records": judge_early_plans(pours.held_out, plans)}
    rescaled = None
    if pours.held_out.batches.n_batches >= FEWEST_BATCHES_WITH_TRIAL:
        trial = _trial_specimens(search, pours, recommended)
        by_reading["records and trial"] = judge_early_plans(pours.held_out, plans, trial_specimens=trial)
        rescaled = rescaled_errors(pours, plans, recommended, trial, cells=cells)
    return _Study(pours, ages_h, plans, by_reading, rescaled)


def _trial_specimens(search: Search, pours: Pours, recommended: RatedChoice) -> IntArray:
    """Specimens of the recommended schedule at every age of the model."""
    by_age = dict(zip(recommended.schedule.ages_h, recommended.schedule.specimens, strict=True))
    return np.array([by_age.get(float(search.cells.ages_h[i]), 0) for i in pours.columns], dtype=np.int64)


def _counts(study: _Study) -> list[IntArray]:
    """Rows of the plans with every number of specimens, fewest ages first, none broken first of all."""
    total = study.plans.sum(axis=1)
    n_ages = (study.plans > 0).sum(axis=1)
    order = np.lexsort((np.arange(len(total)), n_ages))
    return [order[total[order] == count] for count in np.unique(total)]


def _best_reading(study: _Study) -> PourReading:
    """The reading of least mean square error over all numbers of specimens."""
    means: dict[PourReading, float] = {}
    for reading, errors in study.by_reading.items():
        picks = [best_plan(errors, study.pours, rows) for rows in _counts(study)]
        means[reading] = float(np.mean([pick.mean_square for pick in picks if pick is not None]))
    return min(means, key=lambda reading: means[reading])


def _rows(
    study: _Study, reading: PourReading, settings: Settings, recommended: RatedChoice
) -> tuple[EarlyBreakRow, ...]:
    errors = study.by_reading[reading]
    n_batches = study.pours.held_out.batches.n_batches
    n_kept_out = 1 if reading == "records" else 2
    n_freedom = n_batches - n_kept_out - 1 + SpreadPriors().worth_batches
    rows = []
    for candidates in _counts(study):
        picked = best_plan(errors, study.pours, candidates)
        if picked is None:
            continue
        told = figures_of(picked, errors, study.pours, settings.target, n_freedom=n_freedom)
        ages, specimens = _plan_of(study, picked)
        per_pour = _pour_cost(settings.costs, sum(specimens))
        number = settings.pours.number if settings.pours else None
        rows.append(
            EarlyBreakRow(
                ages_h=ages,
                specimens=specimens,
                reading=reading,
                rms=told.rms,
                rms_upper_95=told.rms_upper_95,
                is_below_resolution=picked.is_floored,
                within_tolerance=told.within_tolerance,
                over_predicted_beyond_tolerance=told.over_predicted_beyond_tolerance,
                reads_within=told.reads_within,
                safe_reading_factor=told.safe_reading_factor,
                rms_by_target=told.rms_by_target,
                rms_records=_rms(study.by_reading["records"], study.pours, candidates) or told.rms,
                rms_records_and_trial=_rms(study.by_reading.get("records and trial"), study.pours, candidates),
                rms_rescaled=_rms(study.rescaled, study.pours, candidates),
                widening=told.widening,
                cost_per_pour=per_pour,
                cost_of_pours=None if per_pour is None or number is None else number * per_pour,
                cost_of_calibration=None if per_pour is None else 0.0 if reading == "records" else recommended.cost,
            )
        )
    return tuple(rows)


def _plan_of(study: _Study, picked: Picked) -> tuple[tuple[float, ...], tuple[int, ...]]:
    counts = study.plans[picked.plan]
    broken = np.flatnonzero(counts)
    return tuple(study.ages_h[i] for i in broken), tuple(int(counts[i]) for i in broken)


def _rms(errors: HeldOutErrors | None, pours: Pours, candidates: IntArray) -> float | None:
    picked = None if errors is None else best_plan(errors, pours, candidates)
    return None if picked is None else float(np.sqrt(picked.mean_square))


def _pour_cost(costs: Costs | None, n_specimens: int) -> float | None:
    """Money of the early breaks of one pour."""
    if costs is None:
        return None
    return n_specimens * costs.of_pour_break


def _worth(rows: tuple[EarlyBreakRow, ...], settings: Settings) -> tuple[int, bool]:
    """The fewest specimens that read within the tolerance at the assurance; else the fewest that tie with the best."""
    target = settings.target
    for place, row in enumerate(rows):
        if row.reads_within <= target.tolerance:
            return place, True
    least = min(row.rms for row in rows)
    tied = [place for place, row in enumerate(rows) if row.rms <= least + target.immaterial_difference]
    return tied[0], False
