"""The corridor of a calibration without a trial batch: from the records to their own mean curve. No input or output.

The curve is a calibration only where the records are of one mix and at least four batches of it can be read from
the others; else it is stamped and holds no safe readings.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from planner.after_casting.issue_figures import issue_figures
from planner.evidence.maturity_grid import BreakMaturity
from planner.evidence.within_test_scatter import scatter_by_geometry
from planner.geometry_choice import as_cast
from planner.geometry_choice.issued_geometry import conversion_part, within_pairs
from planner.issued_curve.calibration.batch_means import batch_means
from planner.issued_curve.calibration.issue import Issue
from planner.issued_curve.calibration.issued import (
    RECORDS_CURVE,
    RECORDS_CURVE_FEWEST,
    BatchCurve,
    IssuedCurve,
    Promise,
)
from planner.issued_curve.calibration.records_curve import batches_of_means, common_ages, curve_of_prior, plain_curve
from planner.issued_curve.wording.issue_cautions import issue_cautions
from planner.mixed_model import PriorBatches, estimate_growth_prior
from planner.population import basis_of
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import Plan
from planner.terms.problems import Caution, InputError, Problem
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.worded import worded
from planner.verdict.answers.early_breaks.records_reading import RecordsReading, records_reading

FEWEST_KNOTS = 2


def issue_records_curve(plan: Plan, advice: Recommendation) -> Issue:
    """Issue the mean curve of the earlier batches; number 1.

    Parameters
    ----------
    plan
        Its ``[programme] trial_batches`` is 0.
    advice
        The plan's recommendation: its maturity constants are used, and what it is valid for.

    Raises
    ------
    InputError
        Where the plan casts a trial batch, or its records hold no curve.
    """
    plan = as_cast(plan, advice.geometries)
    check_relied_on(plan)
    reading, why_not = _judged(plan, advice.recommended.maturity)
    curve = within_pairs(_curve(plan, advice, reading), plan.name)
    figures = issue_figures(plan, advice, curve)
    said: list[Caution] = list(issue_cautions(figures, n_planned=0, not_calibrated_because=why_not))
    return worded(Issue, figures, cautions=tuple(dict.fromkeys((*said, *plan.records.cautions))))


def check_relied_on(plan: Plan) -> None:
    """Refuse a plan that does not rely on its records, before anything is searched.

    Raises
    ------
    InputError
        Where the plan casts a trial batch, or has no standard-cured breaks.
    """
    problems = [Problem(plan.name, text, column=column) for text, column in _faults(plan)]
    if problems:
        raise InputError(problems)


def _faults(plan: Plan) -> Iterator[tuple[str, str]]:
    if not plan.settings.programme_asked.relies_on_records:
        yield (
            "The plan casts a trial batch, and no breaks of it are given. Give --trial; or write 0 to issue the mean "
            "curve of the earlier batches, with nothing cast.",
            "programme.trial_batches",
        )
    elif not any(item.curing == "standard" for item in plan.records.breaks):
        yield "There are no standard-cured breaks of earlier batches, so that they have no mean curve.", "prior.breaks"


def _judged(plan: Plan, maturity: MaturitySetting) -> tuple[RecordsReading | None, str]:
    """The records as pours, or why they are no calibration."""
    basis = basis_of(plan)
    mixes = {item.mix for item in plan.records.breaks}
    if plan.settings.prior.hold_out == "mix" or len(mixes) > 1:
        return None, "the records hold several mixes, or the mix is not in them"
    if plan.settings.mix_name and mixes - {"", plan.settings.mix_name}:
        return None, f'the records are of the mix "{next(iter(mixes))}", the plan of "{plan.settings.mix_name}"'
    if basis.is_drawn:
        return None, "too few batches were broken at the ages of the plan to be read from each other"
    reading = records_reading(basis.cells, plan.settings, maturity)
    if reading is None:
        return None, f"fewer than {RECORDS_CURVE_FEWEST} earlier batches can be read from the others"
    return reading, ""


def _curve(plan: Plan, advice: Recommendation, reading: RecordsReading | None) -> IssuedCurve:
    settings, choice = plan.settings, advice.recommended
    programme, target = settings.programme_asked, settings.target
    fitted, n_batches = _fitted(plan, choice.maturity, reading)
    model = None if reading is None or advice.early_breaks is None else advice.early_breaks.model_of(0)
    scatter = scatter_by_geometry(plan.records.breaks, settings.prior)[""]
    return IssuedCurve(
        number=1,
        supersedes=None,
        title=advice.title,
        mix=advice.valid_for.mix,
        geometry=advice.valid_for.geometry,
        property=advice.valid_for.property,
        curve=RECORDS_CURVE,
        weighting=choice.weighting,
        maturity=choice.maturity,
        batches=(fitted,),
        basis="records",
        is_calibrated=reading is not None,
        span_h=(fitted.knots_h[0], fitted.knots_h[-1]),
        temperature_c=settings.site_temperature_c or advice.valid_for.concrete_temperature_c,
        standard_c=settings.prior.standard_curing_c,
        target_ages_h=target.ages_h,
        promise=Promise(
            own_rms=None,
            later_rms=None if reading is None else reading.figures.rms,
            within_test_cv=float(np.mean(scatter.cv_at(np.array(target.ages_h)))),
            companions_per_check=programme.companions_taken,
            safe_factor=None if reading is None else reading.figures.safe_reading_factor,
            n_batches=n_batches,
            tolerance=target.tolerance,
            assurance=target.assurance,
            conversion_rms=conversion_part(advice.geometries),
        ),
        conversion=None if advice.geometries is None else advice.geometries.curve_conversion,
        inputs=plan.inputs,
        version=advice.version,
        age_zero=plan.records.age_zero,
        pour_model=model,
    )


def _fitted(plan: Plan, maturity: MaturitySetting, reading: RecordsReading | None) -> tuple[BatchCurve, int]:
    """The mean curve with its number of batches."""
    batches = common_ages(_batches(plan, maturity) if reading is None else reading.batches)
    if batches.mean_mpa.shape[1] < FEWEST_KNOTS:
        raise InputError(
            [
                Problem(
                    plan.name,
                    "The earlier batches share fewer than two ages of standard-cured breaks: they have no mean curve. "
                    "Cast a trial batch, or add records that share their ages.",
                    column="prior.breaks",
                )
            ]
        )
    fitted = plain_curve(batches) if reading is None else curve_of_prior(estimate_growth_prior(batches))
    return fitted, batches.n_batches


def _batches(plan: Plan, maturity: MaturitySetting) -> PriorBatches:
    settings = plan.settings
    break_maturity = BreakMaturity(plan.records.curing_records, settings.prior.standard_curing_c)
    scatter = scatter_by_geometry(plan.records.breaks, settings.prior)[""]
    by_batch = {
        batch: [
            item
            for item in plan.records.breaks
            if item.batch == batch
            and item.curing == "standard"
            and (maturity.method == "age" or break_maturity.has_maturity(item))
        ]
        for batch in plan.records.batches
    }
    return batches_of_means(
        [batch_means(items, break_maturity, maturity, scatter) for items in by_batch.values() if items]
    )
