"""What each later pour should break before it is read, judged on the earlier batches as pours."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from planner.mixed_model import HeldOutErrors, estimate_growth_prior
from planner.mixed_model.carried_prior import carried
from planner.mixed_model.early_plans import FEWEST_BATCHES
from planner.mixed_model.growth_prior import SpreadPriors
from planner.resampling.errors.arithmetic import floored_rms
from planner.terms.arrays import IntArray
from planner.terms.plan.settings import Settings
from planner.terms.results.after_casting.early_answer import ChosenAnew, EarlyBreakRow, EarlyBreaks
from planner.terms.results.after_casting.pour_model import PourModel, Remainder
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.verdict.answers.early_breaks.early_break_prices import EarlyPrices, worth
from planner.verdict.answers.early_breaks.judged_early_plans import JudgedPlans, ages_left_out, judged_plans
from planner.verdict.selection.search import Search
from planner.verdict.validation.early_figures import Figures, Picked, best_plan, by_batch, figures_of, least_mean
from planner.verdict.validation.early_folds import EarlyFolds
from planner.verdict.validation.one_mix import why_not_one_mix
from planner.verdict.validation.pours_of_cells import Pours
from planner.verdict.validation.rescaled_trials import remainders_of
from planner.verdict.wording.programmes.early_break_words import (
    early_break_sentences,
    even_choice_words,
    not_judged_words,
)


def early_breaks(
    search: Search, recommended: RatedChoice, calibration: Callable[[int], float | None]
) -> EarlyBreaks | None:
    """What each pour breaks; None where the plan asks for no early breaks.

    Parameters
    ----------
    calibration
        Money of so many trial batches of the recommended schedule; None without prices.

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
    prices = EarlyPrices(
        costs=settings.costs,
        pours=settings.pours,
        n_trial_specimens=recommended.schedule.n_specimens,
        calibration=calibration,
    )
    study = judged_plans(search, settings.pours, recommended, prices)
    by_trials = tuple(_rows(study, folds, settings) for folds in study.folds)
    offered = _offered(settings, most=len(study.folds) - 1)
    listed = [row for rows in by_trials for row in rows if row.n_trial_batches in offered]
    found = [(row.reads_within, row.rms, prices.key(row.n_trial_batches, row.n_specimens)) for row in listed]
    place, is_enough = worth(found, settings.target)
    best = listed[place]
    rows = by_trials[best.n_trial_batches]
    anew = _held_out(study, settings, best, offered)
    return EarlyBreaks(
        rows=rows,
        recommended=rows.index(best),
        is_enough=is_enough,
        n_batches=study.pours.held_out.batches.n_batches,
        n_plans=len(study.plans),
        n_pours=settings.pours.number,
        currency=settings.costs.currency if settings.costs else "",
        sentences=early_break_sentences(
            by_trials,
            best,
            is_enough,
            settings,
            offered=offered,
            left_out=ages_left_out(search, settings.pours),
            anew=anew,
        )
        + even_choice_words(study.pours.held_out.batches.n_batches, study.records.n_batches),
        by_trials=by_trials,
        offered=offered,
        models=tuple(_model(study, folds, rows, settings) for folds, rows in zip(study.folds, by_trials, strict=True)),
        chosen_anew=anew,
    )


def _offered(settings: Settings, *, most: int) -> tuple[int, ...]:
    """Numbers of trial batches that may be taken: none, as the records' rival, and those of the plan."""
    programme = settings.programme_asked
    cast = () if programme.relies_on_records else programme.allowed_trial_batches
    return tuple(sorted({0, *(min(number, most) for number in cast)}))


def _model(study: JudgedPlans, folds: EarlyFolds, rows: tuple[EarlyBreakRow, ...], settings: Settings) -> PourModel:
    """What a pour will be read by: all batches, as wide as the widest of the judged plans was off."""
    batches = study.records
    remainders: tuple[Remainder, ...] = ()
    if folds.reading == "rescaled":
        errors = folds.whole["rescaled"]
        remainders = remainders_of(study.pours, study.plans, errors, settings.target.ages_h, study.ages_h)
    return carried(
        estimate_growth_prior(batches),
        batches,
        reading=folds.reading,
        widening=max(row.widening for row in rows),
        least_strength_mpa=settings.choices.least_strength_mpa,
        remainders=remainders,
    )


def _nothing(settings: Settings, why_not: str) -> EarlyBreaks:
    return EarlyBreaks(
        rows=(), recommended=None, is_enough=False, n_batches=0, n_plans=0,
        n_pours=settings.pours.number if settings.pours else None,
        currency=settings.costs.currency if settings.costs else "", sentences=(why_not,),
    )  # fmt: skip


def _figures(study: JudgedPlans, picked: Picked, errors: HeldOutErrors, settings: Settings) -> Figures:
    n_freedom = study.pours.held_out.batches.n_batches - 2 + SpreadPriors().worth_batches  # all but the pour
    return figures_of(picked, errors, study.pours, settings.target, n_freedom=n_freedom)


def _rows(study: JudgedPlans, folds: EarlyFolds, settings: Settings) -> tuple[EarlyBreakRow, ...]:
    """The best plan with every number of specimens, after one number of trial batches."""
    beside = study.folds[max(folds.n_trial_batches, min(1, len(study.folds) - 1))].whole
    rows = []
    for candidates in study.counts:
        picked = best_plan(
            folds.errors, study.pours, candidates, chosen_by=folds.chosen_by, whole=folds.whole[folds.reading]
        )
        if picked is None:
            continue
        early = _figures(study, picked, folds.errors, settings)
        ages, specimens = _plan_of(study, picked)
        rows.append(
            EarlyBreakRow(
                ages_h=ages,
                specimens=specimens,
                n_trial_batches=folds.n_trial_batches,
                reading=folds.reading,
                rms=early.rms,
                rms_upper_95=early.rms_upper_95,
                is_below_resolution=picked.is_floored,
                within_tolerance=early.within_tolerance,
                over_predicted_beyond_tolerance=early.over_predicted_beyond_tolerance,
                reads_within=early.reads_within,
                safe_reading_factor=early.safe_reading_factor,
                rms_by_target=early.rms_by_target,
                rms_records=_rms(folds.whole["records"], study.pours, candidates) or early.rms,
                rms_records_and_trial=_rms(beside.get("records and trial"), study.pours, candidates),
                rms_rescaled=_rms(beside.get("rescaled", study.rival), study.pours, candidates),
                widening=early.widening,
                cost_per_pour=study.prices.of_pour(sum(specimens)),
                cost_of_pours=study.prices.of_pours(sum(specimens)),
                cost_of_calibration=study.prices.of_calibration(folds.n_trial_batches),
            )
        )
    return tuple(rows)


def _held_out(
    study: JudgedPlans, settings: Settings, recommended: EarlyBreakRow, offered: tuple[int, ...]
) -> ChosenAnew | None:
    """The whole choice repeated without each pour and judged on it; None where some fold cannot choose."""
    levels, floors, n_alike = [], [], 0
    for b in range(study.pours.held_out.batches.n_batches):
        options = [
            (folds, pick)
            for folds in study.folds
            if folds.n_trial_batches in offered
            for pick in [_without(study, folds.chosen_by[b], rows, b) for rows in study.counts]
            if pick is not None
        ]
        if not options:
            return None
        early = []
        for folds, pick in options:
            figures = _figures(study, pick, folds.chosen_by[b], settings)
            price = study.prices.key(folds.n_trial_batches, int(study.plans[pick.plan].sum()))
            early.append((figures.reads_within, figures.rms, price))
        place, _ = worth(early, settings.target)
        folds, pick = options[place]
        level, variance = (
            float(by_batch(values[[pick.plan]], study.pours)[0, b])
            for values in (folds.errors.level(), folds.errors.variance())
        )
        if not np.isfinite(level):
            return None
        levels.append(level)
        floors.append(variance)
        n_alike += (folds.n_trial_batches, folds.readings[b], *_plan_of(study, pick)) == (
            recommended.n_trial_batches, recommended.reading, recommended.ages_h, recommended.specimens
        )  # fmt: skip
    return ChosenAnew(
        rms=floored_rms(np.array(levels), np.array(floors)), n_alike=n_alike, is_strict=study.folds[0].is_strict
    )


def _without(study: JudgedPlans, errors: HeldOutErrors, candidates: IntArray, pour: int) -> Picked | None:
    """The candidate of least mean square error on all pours but one, judged on them."""
    others = np.arange(study.pours.held_out.batches.n_batches) != pour
    level = np.where(others, by_batch(errors.level()[candidates], study.pours), np.nan)
    best = least_mean(level, is_allowed=np.ones(len(candidates), dtype=np.bool_))
    if best is None:
        return None
    variance = by_batch(errors.variance()[candidates], study.pours)[best]
    is_judged = np.isfinite(level[best])
    return Picked(
        plan=int(candidates[best]),
        by_pour=np.where(is_judged, candidates[best], -1),
        level=level[best],
        variance=np.where(is_judged, variance, np.nan),
    )


def _plan_of(study: JudgedPlans, picked: Picked) -> tuple[tuple[float, ...], tuple[int, ...]]:
    counts = study.plans[picked.plan]
    broken = np.flatnonzero(counts)
    return tuple(study.ages_h[i] for i in broken), tuple(int(counts[i]) for i in broken)


def _rms(errors: HeldOutErrors | None, pours: Pours, candidates: IntArray) -> float | None:
    picked = None if errors is None else best_plan(errors, pours, candidates)
    return None if picked is None else float(np.sqrt(picked.mean_square))
