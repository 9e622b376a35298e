"""One row of a sweep: a plan, its targets, and what is recommended for them or why nothing is."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace

from planner.report.documents.values.recommendation_document import plain_value
from planner.report.text.refusal_words import told_problems
from planner.terms.exit_codes import BAD_INPUT, DONE, FAULT, NO_SCHEDULE
from planner.terms.labels import schedule_label
from planner.terms.labels import target_label as one_label
from planner.terms.plan.settings import Plan
from planner.terms.problems import InputError, NoScheduleError
from planner.terms.results.recommended.recommendation import Recommendation

MOST_PROBLEMS_TOLD = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class SweepRow:
    """A line of the table; figures are relative errors, empty where there are none."""

    plan: str  # path inside the folder
    target: str = ""  # "6 h, 1 d"
    tolerance: float | None = None
    assurance: float | None = None
    exit: int = DONE  # as the program would have ended for this plan alone
    problem: str = ""  # as the program would have said it, in the units of the plan
    schedule: str = ""
    n_specimens: int | None = None
    curve: str = ""
    weighting: str = ""
    maturity: str = ""
    rms: float | None = None  # apparent
    nested_rms: float | None = None
    nested_rms_upper_95: float | None = None
    within_tolerance: float | None = None
    within_tolerance_lower_95: float | None = None
    over_predicted_beyond_tolerance: float | None = None
    next_batch_rms: float | None = None
    next_batch_rms_upper_95: float | None = None
    next_batch_within_tolerance: float | None = None  # share of later pours
    cost: float | None = None
    currency: str = ""
    n_batches: int | None = None
    evidence: str = ""
    cautions: str = ""  # their codes


COLUMNS = tuple(field.name for field in fields(SweepRow))


def for_targets(plan: Plan, targets_h: tuple[float, ...]) -> Iterator[Plan]:
    """The plan once for each target alone; as it stands where none are given."""
    if not targets_h:
        yield plan
    for age_h in targets_h:
        target = replace(plan.settings.target, ages_h=(age_h,), strengths_mpa=(), weights=())
        yield replace(plan, settings=replace(plan.settings, target=target))


def target_label(plan: Plan) -> str:
    """``6 h, 1 d``."""
    target = plan.settings.target
    return ", ".join(one_label(age, wait) for age, wait in zip(target.ages_h, target.waits_mpa, strict=True))


def row_of(name: str, plan: Plan, advice: Recommendation) -> SweepRow:
    """The row of an answer."""
    chosen, own, later = advice.recommended, advice.honest.own_batch, advice.honest.next_batch
    return SweepRow(
        plan=name,
        target=target_label(plan),
        tolerance=plain_value(advice.tolerance),
        assurance=plain_value(advice.assurance),
        schedule=schedule_label(chosen.schedule),
        n_specimens=sum(chosen.schedule.specimens),
        curve=chosen.curve,
        weighting=chosen.weighting,
        maturity=str(chosen.maturity),
        rms=plain_value(chosen.error.rms),
        nested_rms=plain_value(own.nested_rms) if own else None,
        nested_rms_upper_95=plain_value(own.rms_upper_95) if own else None,
        within_tolerance=plain_value(own.within_tolerance) if own else None,
        within_tolerance_lower_95=plain_value(own.within_tolerance_lower_95) if own else None,
        over_predicted_beyond_tolerance=plain_value(own.over_predicted_beyond_tolerance) if own else None,
        next_batch_rms=plain_value(later.rms) if later else None,
        next_batch_rms_upper_95=plain_value(later.rms_upper_95) if later else None,
        next_batch_within_tolerance=plain_value(later.within_tolerance) if later else None,
        cost=plain_value(chosen.cost),
        currency=advice.currency,
        n_batches=advice.evidence.n_batches,
        evidence=advice.evidence.grade,
        cautions=" ".join(caution.code for caution in advice.cautions),
    )


def failed_row(name: str, error: Exception, *, target: str = "") -> SweepRow:
    """The row of a plan that has no answer."""
    if isinstance(error, InputError):
        texts = told_problems(error)[:MOST_PROBLEMS_TOLD]
        n_more = len(error.problems) - len(texts)
        text = " ".join(texts) + (f" And {n_more} more; see test-ages check." if n_more else "")
        return SweepRow(plan=name, target=target, exit=BAD_INPUT, problem=text)
    if isinstance(error, NoScheduleError):
        return SweepRow(plan=name, target=target, exit=NO_SCHEDULE, problem=str(error))
    if isinstance(error, MemoryError):
        return SweepRow(plan=name, target=target, exit=FAULT, problem="There is not enough memory for it.")
    text = f"A fault of the program, not of the plan: {type(error).__name__}: {error}"
    return SweepRow(plan=name, target=target, exit=FAULT, problem=text)
