"""What the sheet of an issued curve says of it, read off once, with a trial batch or without."""

from __future__ import annotations

from collections import defaultdict
from statistics import fmean

from planner.evidence.maturity_grid import BreakMaturity
from planner.issued_curve.calibration.batch_fit import BatchFit, OtherCurve
from planner.issued_curve.calibration.batch_means import Group, cell_maturity_h
from planner.issued_curve.calibration.curve_alarms import alarms_of, check_sd
from planner.issued_curve.calibration.early_correction import EarlyCorrection, PlannedEarly, early_correction
from planner.issued_curve.calibration.expectation import Expectation
from planner.issued_curve.calibration.issue import IssueFigures
from planner.issued_curve.calibration.issued import IssuedCurve
from planner.issued_curve.calibration.readings import (
    decision_hours,
    readings_of,
    table_of,
)
from planner.issued_curve.rules.acceptance import Acceptance
from planner.issued_curve.rules.customary_rule import customary_rule
from planner.laboratory.quantities.programme_totals import n_spares_for
from planner.terms.plan.settings import Plan
from planner.terms.records import Break
from planner.terms.results.recommended.recommendation import Recommendation


def issue_figures(
    plan: Plan,
    advice: Recommendation,
    curve: IssuedCurve,
    *,
    fits: tuple[BatchFit, ...] = (),
    others: tuple[tuple[OtherCurve, ...], ...] = (),
    groups: tuple[Group, ...] = (),
    acceptance: Acceptance | None = None,
    expectations: tuple[Expectation, ...] = (),
) -> IssueFigures:
    """Read the tables of a curve, and the rules it is kept by.

    Parameters
    ----------
    fits, others, groups, acceptance, expectations
        Of the trial batches, see :class:`IssueFigures`; nothing where none was cast.
    """
    sd = check_sd(curve)
    return IssueFigures(
        curve=curve,
        fits=fits,
        others=others,
        groups=groups,
        acceptance=acceptance,
        customary=None if sd is None else customary_rule(sd),
        alarms=alarms_of(curve),
        check_sd=sd,
        expectations=expectations,
        table=table_of(curve),
        readings=readings_of(curve),
        hours=decision_hours(curve),
        grade=advice.evidence.grade,
        recalibrate_when=advice.valid_for.recalibrate_when,
        standing_cautions=advice.standing_cautions,
        has_early_breaks=plan.settings.pours is not None,
        n_spares=n_spares_for(advice.recommended.schedule.n_specimens, plan.settings.programme_asked) if fits else 0,
        early_correction=_correction_of(plan, curve, advice),
    )


def _correction_of(plan: Plan, curve: IssuedCurve, advice: Recommendation) -> EarlyCorrection | None:
    """The correction table for the early breaks that are recommended for every pour.

    Early specimens are as warm as those of the earlier batches were on the mean: young concrete heats itself. None
    where they are cured on site, each at a maturity of its own.
    """
    early, pours = advice.early_breaks, plan.settings.pours
    if early is None or early.recommended is None or pours is None or pours.curing == "site":
        return None
    row = early.rows[early.recommended]
    break_maturity = BreakMaturity(plan.records.curing_records, curve.standard_c)
    planned = []
    for age_h, n_specimens in zip(row.ages_h, row.specimens, strict=True):
        cells: dict[str, list[Break]] = defaultdict(list)
        for item in plan.records.breaks:
            is_one = item.curing == "standard" and item.age_h == age_h
            if is_one and (curve.maturity.method == "age" or break_maturity.has_maturity(item)):
                cells[item.batch].append(item)
        maturities = [cell_maturity_h(items, break_maturity, curve.maturity) for items in cells.values()]
        if not maturities:
            return None
        planned.append(PlannedEarly(age_h=age_h, n_specimens=n_specimens, maturity_h=fmean(maturities)))
    return early_correction(curve, planned)
