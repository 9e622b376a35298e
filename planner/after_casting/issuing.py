"""The corridor after the breaks: from a plan and the breaks of its trial batches to the issued curve, and from the
site checks of an issued curve to what becomes of it. No input or output.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from planner.after_casting.issue_figures import issue_figures
from planner.conversion.later_breaks import are_converted, in_target_geometry
from planner.evidence.maturity_grid import BreakMaturity
from planner.evidence.within_test_scatter import Scatter, scatter_by_geometry
from planner.geometry_choice import as_cast
from planner.geometry_choice.issued_geometry import conversion_part, known_geometries, within_pairs
from planner.issued_curve.calibration.batch_fit import BatchFit, fit_batch, issued_batch, other_curves
from planner.issued_curve.calibration.batch_means import BatchMeans, Group, batch_means, site_groups
from planner.issued_curve.calibration.curve_companions import companions_of
from planner.issued_curve.calibration.expectation import Expectation, Likeness, expectation_of
from planner.issued_curve.calibration.issue import Issue
from planner.issued_curve.calibration.issued import IssuedCurve, Promise
from planner.issued_curve.calibration.trial_checks import check_inside, check_rising, check_trial
from planner.issued_curve.calibration.usable_breaks import usable_breaks
from planner.issued_curve.rules.acceptance import Acceptance, Verdict, accept
from planner.issued_curve.rules.companions import Companions
from planner.issued_curve.wording.given_doubts import given_doubts
from planner.issued_curve.wording.given_faults import maturity_faults
from planner.issued_curve.wording.issue_cautions import issue_cautions
from planner.issued_curve.wording.trial_cautions import outside_records_cautions, trial_cautions
from planner.issued_curve.wording.usable_cautions import usable_cautions
from planner.maturity.inside_records import is_comparable
from planner.resampling.priors.from_records import learnt_from_records
from planner.terms.plan.settings import PRIOR_CURVE_NAMES, Plan
from planner.terms.problems import Caution, InputError
from planner.terms.records import GivenRecords
from planner.terms.results.after_casting.pour_model import PourModel, TrialMean
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.worded import worded


def issue_curve(plan: Plan, trial: GivenRecords, advice: Recommendation) -> Issue:
    """Fit the recommended curve to the trial batches and judge the calibration by their companions; number 1.

    Parameters
    ----------
    plan
        Checked settings and records.
    trial
        Breaks of the trial batches, from :func:`planner.read.load_later`.
    advice
        The plan's recommendation: its curve, weighting and constants are fitted, its errors are promised.

    Raises
    ------
    InputError
        Where the breaks cannot be fitted, with every reason.
    """
    conversion = None if advice.geometries is None else advice.geometries.curve_conversion
    plan, trial = as_cast(plan, advice.geometries), in_target_geometry(trial, conversion)
    choice, standard_c = advice.recommended, plan.settings.prior.standard_curing_c
    break_maturity = BreakMaturity(trial.records.curing_records, standard_c)
    usable = usable_breaks(trial, break_maturity, choice.maturity, standard_c=standard_c)
    most_batches = max((1, *plan.settings.programme_asked.allowed_trial_batches))
    check_trial(
        trial.file,
        usable.breaks,
        most_batches=most_batches,
        choice=choice,
        geometries=known_geometries(advice.valid_for.geometry, conversion),
        final_set_h=plan.settings.final_set_h,
    )
    impossible = list(maturity_faults(trial.file, usable.breaks, choice.maturity))
    if impossible:
        raise InputError(impossible)
    scatter = scatter_by_geometry(plan.records.breaks, plan.settings.prior)[""]
    learnt = learnt_from_records(plan, choice.maturity)
    numbers = {} if learnt is None else learnt.numbers
    fits = []
    for batch in usable.batches:
        own = [item for item in usable.breaks if item.batch == batch]
        means = batch_means(own, break_maturity, choice.maturity, scatter)
        check_rising(trial.file, means)
        if learnt is not None and choice.curve in learnt.numbers:
            check_inside(trial.file, means, choice.curve, learnt.span_h)
        fits.append(fit_batch(means, choice.curve, choice.weighting, learnt=numbers.get(choice.curve)))
    judged = within_pairs(_issued(plan, trial, advice, fits, scatter), trial.file)
    groups = site_groups(usable.breaks, break_maturity, choice.maturity)
    accepted = _accepted(judged, groups, scatter, is_converted=are_converted(usable.breaks, conversion))
    expectations = tuple(expectation_of(fit.means, plan.records.breaks) for fit in fits)
    curve = judged.as_judged(
        is_calibrated=accepted is None or accepted.lets_rely,
        model=_pour_model(advice, fits, accepted, expectations),
    )
    doubts = given_doubts(
        trial.file,
        usable.breaks,
        choice.maturity,
        geometry=advice.valid_for.geometry,
        temperature_c=curve.temperature_c,
        records=plan.records,
    )
    said = [*trial.records.cautions, *usable_cautions(usable), *doubts]
    for fit in fits:
        said += trial_cautions(
            fit.means,
            fit,
            choice=choice,
            records=plan.records,
            mix=advice.valid_for.mix,
            breaks=usable.breaks,
            is_dated=bool(plan.settings.castings),
        )
        if curve.pour_model is not None:
            said += outside_records_cautions(fit.means, curve.pour_model.span_h)
    figures = issue_figures(
        plan,
        advice,
        curve,
        fits=tuple(fits),
        others=tuple(
            other_curves(
                fit.means,
                plan.settings.curves,
                choice.weighting,
                maturities_h=curve.target_maturities_h(),
                learnt=numbers,
            )
            for fit in fits
        ),
        groups=groups,
        acceptance=accepted,
        expectations=expectations,
    )
    cautions = _once((*said, *issue_cautions(figures, n_planned=_n_advised(advice))))
    return worded(Issue, figures, cautions=cautions)


def _pour_model(
    advice: Recommendation,
    fits: Sequence[BatchFit],
    acceptance: Acceptance | None,
    expectations: Sequence[Expectation],
) -> PourModel | None:
    """By what later pours are read from their early breaks; None where a trial batch speaks against the records."""
    model = None if advice.early_breaks is None else advice.early_breaks.model_of(len(fits))
    is_refused = acceptance is not None and acceptance.verdict is Verdict.REPEAT
    if model is None or is_refused or any(item.likeness is Likeness.STRANGER for item in expectations):
        return None
    return replace(model, trials=tuple(_trial_means(fit.means, model) for fit in fits))


def _trial_means(means: BatchMeans, model: PourModel) -> tuple[TrialMean, ...]:
    """Means at maturities that the earlier batches were broken about: elsewhere their mean curve is not known."""
    return tuple(
        TrialMean(maturity_h=maturity, mean_mpa=mean, n_specimens=int(count))
        for maturity, mean, count in zip(
            means.maturity_h.tolist(), means.mean_mpa.tolist(), means.n_specimens.tolist(), strict=True
        )
        if is_comparable(maturity, model.span_h)
    )


def _n_advised(advice: Recommendation) -> int:
    """Trial batches of the recommended programme."""
    return 1 if advice.spending is None else max(1, advice.spending.recommended.n_trial_batches)


def _issued(
    plan: Plan,
    trial: GivenRecords,
    advice: Recommendation,
    fits: Sequence[BatchFit],
    scatter: Scatter,
) -> IssuedCurve:
    settings, choice = plan.settings, advice.recommended
    means: list[BatchMeans] = [fit.means for fit in fits]
    return IssuedCurve(
        number=1,
        supersedes=None,
        title=advice.title,
        mix=advice.valid_for.mix,
        geometry=advice.valid_for.geometry,
        property=advice.valid_for.property,
        curve=choice.curve,
        weighting=choice.weighting,
        maturity=choice.maturity,
        batches=tuple(issued_batch(fit) for fit in fits),
        basis="trial",
        is_calibrated=True,
        span_h=_span_h(advice, means),
        temperature_c=settings.site_temperature_c or advice.valid_for.concrete_temperature_c,
        standard_c=settings.prior.standard_curing_c,
        target_ages_h=settings.target.ages_h,
        waits_mpa=tuple(wait for wait in settings.target.waits_mpa if wait is not None),
        promise=_promise(plan, advice, scatter, n_curves=len(fits)),
        conversion=None if advice.geometries is None else advice.geometries.curve_conversion,
        inputs=(*plan.inputs, *trial.inputs),
        version=advice.version,
        age_zero=trial.records.age_zero or plan.records.age_zero,
    )


def _span_h(advice: Recommendation, means: Sequence[BatchMeans]) -> tuple[float, float]:
    """Between the breaks of every trial batch; of a curve with a prior, what the earlier batches were broken at."""
    if advice.recommended.curve in PRIOR_CURVE_NAMES:
        return advice.valid_for.maturity_span_h
    return max(float(item.maturity_h[0]) for item in means), min(float(item.maturity_h[-1]) for item in means)


def _promise(plan: Plan, advice: Recommendation, scatter: Scatter, *, n_curves: int) -> Promise:
    own, later = advice.honest.own_batch, advice.honest.next_batch
    programme = plan.settings.programme_asked
    target = plan.settings.target
    later_rms = None
    if later is not None:
        by_number = later.rms_by_trial_batches
        later_rms = by_number[min(n_curves, len(by_number)) - 1] if by_number else later.rms
    factor = advice.honest.safe_reading_factor if later is not None and later.basis == "pairs of batches" else None
    advised = None if advice.spending is None else advice.spending.recommended
    if n_curves > 1 and advised is not None and advised.n_trial_batches == n_curves:
        pours = advised.next_batch
        if pours is not None and pours.safe_reading_factor is not None and not pours.is_extrapolated:
            later_rms, factor = pours.rms, pours.safe_reading_factor
    return Promise(
        own_rms=None if own is None else own.nested_rms,
        later_rms=later_rms,
        within_test_cv=float(np.mean(scatter.cv_at(np.array(target.ages_h)))),
        companions_per_check=programme.companions_taken,
        safe_factor=factor,
        n_batches=advice.evidence.n_batches,
        tolerance=target.tolerance,
        assurance=target.assurance,
        conversion_rms=conversion_part(advice.geometries),
    )


def _accepted(
    curve: IssuedCurve, groups: Sequence[Group], scatter: Scatter, *, is_converted: bool
) -> Acceptance | None:
    """The acceptance rule on the trial batches' companions, each read off the curve of its own batch.

    None where the own-batch error is not known.
    """
    own_rms = curve.promise.acceptance_rms(is_converted=is_converted)
    if own_rms is None:
        return None
    return accept(
        [_own_companions(curve.of_batch(group.batch), group) for group in groups],
        own_rms=own_rms,
        within_test_cv=scatter.cv_at(np.array([group.age_h for group in groups])).tolist() if groups else [],
        tolerance=curve.promise.tolerance,
    )


def _own_companions(curve: IssuedCurve, group: Group) -> Companions:
    return companions_of(curve, group, is_inside=curve.holds_at(group.maturity_h))


def _once(cautions: Sequence[Caution]) -> tuple[Caution, ...]:
    return tuple(dict.fromkeys(cautions))
