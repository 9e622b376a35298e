"""The corridor of later pours: from an issued curve and its site checks to what becomes of it. No input or output."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.conversion.later_breaks import are_converted, in_target_geometry
from planner.evidence.maturity_grid import BreakMaturity
from planner.issued_curve.calibration.batch_means import Group, cells_with_maturity, site_groups
from planner.issued_curve.calibration.curve_alarms import alarms_of, check_sd
from planner.issued_curve.calibration.curve_companions import companions_of
from planner.issued_curve.calibration.issue import Issue
from planner.issued_curve.calibration.issued import IssuedCurve
from planner.issued_curve.calibration.readings import (
    decision_hours,
    readings_of,
    table_of,
)
from planner.issued_curve.calibration.trial_checks import before_set
from planner.issued_curve.calibration.usable_breaks import UsableBreaks, usable_breaks
from planner.issued_curve.plan_match import faults_beside
from planner.issued_curve.rules.customary_rule import customary_rule
from planner.issued_curve.rules.lasting import SiteVerdict, judge_site_checks
from planner.issued_curve.rules.next_prior import next_prior
from planner.issued_curve.rules.site_check import Pour, SiteCheck, pours_of
from planner.issued_curve.site_answer import SiteAnswer
from planner.issued_curve.wording.check_cautions import check_cautions, order_cautions, required_cautions
from planner.issued_curve.wording.check_doubts import casting_doubts, check_doubts, void_doubts
from planner.issued_curve.wording.given_doubts import given_doubts
from planner.issued_curve.wording.given_faults import given_faults, not_read, not_rising
from planner.issued_curve.wording.pour_cautions import known_batch_caution
from planner.issued_curve.wording.usable_cautions import usable_cautions
from planner.terms.plan.settings import Plan
from planner.terms.problems import Caution, InputError, Problem
from planner.terms.records import Break, GivenRecords


def check_pours(plan: Plan, curve: IssuedCurve, given: GivenRecords, *, curve_file: str = "curve.json") -> SiteAnswer:
    """Judge the site checks of an issued curve, in order of casting.

    Parameters
    ----------
    plan
        The plan that the curve was issued for.
    curve
        From :func:`planner.read.read_curve`.
    given
        Site-cured companions of the pours, from :func:`planner.read.load_later`; a batch is a pour.
    curve_file
        For messages.

    Raises
    ------
    InputError
        Where the curve is another plan's, promises nothing about later pours, or no companions are there.
    """
    problems = [Problem(curve_file, text) for text in _faults(plan, curve)]
    if problems:
        raise InputError(problems)
    as_broken = [item for item in given.records.breaks if item.curing == "site"]
    given = in_target_geometry(given, curve.conversion)
    is_converted = are_converted(given.records.breaks, curve.conversion)
    later_rms = curve.promise.check_rms(is_converted=is_converted)
    alarms = alarms_of(curve, is_converted=is_converted)
    assert later_rms is not None  # _faults has seen to it
    assert alarms is not None  # they follow from it
    break_maturity = BreakMaturity(given.records.curing_records, curve.standard_c)
    usable = usable_breaks(given, break_maturity, curve.maturity, standard_c=curve.standard_c)
    problems = _file_faults(plan, curve, usable, break_maturity)
    if problems:
        raise InputError(problems)
    groups = _in_order(site_groups(usable.breaks, break_maturity, curve.maturity), usable.breaks)
    checks = [_check(curve, group, usable.breaks) for group in groups]
    verdict = judge_site_checks(
        checks,
        later_rms=later_rms,
        deciding_maturities_h=curve.target_maturities_h(),
        tolerance=curve.promise.tolerance,
        scale_sd=None if curve.pour_model is None else curve.pour_model.scale_sd,
    )
    sd = check_sd(curve, is_converted=is_converted)
    assert sd is not None  # as the error that it rests on
    return SiteAnswer(
        curve=curve,
        verdict=verdict,
        check_sd=sd,
        alarms=alarms,
        customary=customary_rule(sd),
        next_prior=next_prior(_counted_pours(checks), later_rms=later_rms, n_curves=curve.n_curves()),
        rescaled=_rescaled(curve, verdict),
        inputs=given.inputs,
        cautions=(
            *given.records.cautions,
            *usable_cautions(usable),
            *given_doubts(
                given.file,
                as_broken,
                curve.maturity,
                geometry=curve.geometry,
                temperature_c=curve.temperature_c,
                records=plan.records,
            ),
            *order_cautions(_cast_times(usable.breaks), given.file),
            *casting_doubts(given.file, _cast_times(usable.breaks)),
            *void_doubts(given.file, given.records.voided, as_broken),
            *_known_pours(plan, curve, checks),
            *check_doubts(
                given.file,
                curve,
                checks,
                [item for item in usable.breaks if item.curing == "site"],
                later_rms=later_rms,
            ),
            *check_cautions(plan, curve, checks, given),
            *required_cautions(usable.breaks),
        ),
    )


def rescaled_issue(answer: SiteAnswer, *, standing: tuple[str, ...]) -> Issue | None:
    """The curve under its new number with what its sheet says; None where it is not scaled.

    Parameters
    ----------
    standing
        Cautions that stand on every output.
    """
    curve = answer.rescaled
    if curve is None:
        return None
    return Issue(
        curve=curve,
        customary=answer.customary,
        alarms=answer.alarms,
        check_sd=answer.check_sd,
        table=table_of(curve),
        readings=readings_of(curve),
        hours=decision_hours(curve),
        grade="measured",
        recalibrate_when=(),
        cautions=answer.cautions,
        standing_cautions=standing,
    )


def _faults(plan: Plan, curve: IssuedCurve) -> Iterator[str]:
    yield from faults_beside(plan.settings, curve)
    if curve.promise.later_rms is None:
        yield (
            "The curve was issued without an error on later pours, so that checks have no limits. Issue it from "
            "records with two batches or more of one mix."
        )


def _file_faults(plan: Plan, curve: IssuedCurve, usable: UsableBreaks, break_maturity: BreakMaturity) -> list[Problem]:
    """What in the file of the companions cannot be held against the curve."""
    on_site = [item for item in usable.breaks if item.curing == "site"]
    if not on_site:
        text = "There are no site-cured breaks. Give the companions of the pours, curing site."
        return [Problem(usable.file, text)]
    young = before_set(usable.file, on_site, plan.settings.final_set_h)
    cells = cells_with_maturity(on_site, break_maturity, curve.maturity)
    return [
        *given_faults(usable.file, on_site, curve),
        *young,
        *not_rising(usable.file, cells),
        *(() if young else not_read(usable.file, cells, curve)),
    ]


def _known_pours(plan: Plan, curve: IssuedCurve, checks: Sequence[SiteCheck]) -> Iterator[Caution]:
    known = {*plan.records.batches, *(item.batch for item in curve.batches)}
    for name in dict.fromkeys(check.companions.batch for check in checks):
        if name in known:
            yield known_batch_caution(name)


def _in_order(groups: Sequence[Group], breaks: Sequence[Break]) -> list[Group]:
    """Groups in order of casting where every pour says when, else as their pours stand in the file."""
    cast = _cast_times(breaks)
    order = {batch: place for place, batch in enumerate(cast)}
    if all(len(times) == 1 for times in cast.values()):
        by_time = sorted(order, key=lambda batch: (min(cast[batch]), order[batch]))
        order = {batch: place for place, batch in enumerate(by_time)}
    return sorted(groups, key=lambda group: (order[group.batch], group.age_h, group.placement))


def _cast_times(breaks: Sequence[Break]) -> dict[str, set[int]]:
    """When each pour was cast, by its site-cured breaks; none, or several where they contradict."""
    cast: dict[str, set[int]] = {item.batch: set() for item in breaks if item.curing == "site"}
    for item in breaks:
        if item.curing == "site" and item.cast_us is not None:
            cast[item.batch].add(item.cast_us)
    return cast


def _check(curve: IssuedCurve, group: Group, breaks: Sequence[Break]) -> SiteCheck:
    required = [
        item.required_mpa
        for item in breaks
        if (item.batch, item.age_h, item.placement) == (group.batch, group.age_h, group.placement)
        and item.required_mpa is not None
    ]
    return SiteCheck(
        companions=companions_of(
            curve,
            group,
            is_inside=curve.holds_at(group.maturity_h) and not curve.is_outside_temperatures(group.temperature_c),
        ),
        within_test_cv=curve.promise.within_test_cv,
        safe_mpa=curve.safe(group.maturity_h),
        required_mpa=max(required) if required else None,
    )


def _counted_pours(checks: Sequence[SiteCheck]) -> list[Pour]:
    """Pours with their checks inside the range of the curve."""
    counted = [tuple(check for check in of_pour if check.companions.is_inside) for of_pour in pours_of(checks)]
    return [Pour(checks=of_pour) for of_pour in counted if of_pour]


def _rescaled(curve: IssuedCurve, verdict: SiteVerdict) -> IssuedCurve | None:
    rescaling = verdict.rescaling
    if rescaling is None or rescaling.factor is None:
        return None
    first, last = rescaling.span_h
    return curve.scaled(
        rescaling.factor,
        number=curve.number + 1,
        span_h=(max(first, curve.span_h[0]), min(last, curve.span_h[1])),
    )
