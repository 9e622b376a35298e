"""Plausible answers to an estimator and a specification writer, made by hand around the invented result."""

from __future__ import annotations

from dataclasses import replace

from planner.laboratory.estimate import estimate
from planner.terms.plan.settings import Costs, ProgrammeSettings
from planner.terms.results.answers import (
    AgeBound,
    AgeNeed,
    Clause,
    ClauseAge,
    ConstraintPrice,
    Equality,
    LearntRule,
    MinimumAnswer,
    PriceAnswer,
    PricePoint,
    SpecimenGain,
    Standing,
    TargetMinimum,
)
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.programme_count import Estimate, SiteChecks
from planner.terms.results.recommendation import RatedChoice, Recommendation
from planner.terms.results.sample_size import CountStep, Enough, TrialBatches
from planner.terms.schedule import Schedule
from tests.report.invented_result import EQUIVALENT_AGE, invented_recommendation

COSTS = Costs(
    currency="EUR", specimen=18, preparation=12, break_one=25, visit=90, visit_outside_hours=240,
    instrumented=60, fixed=400,
)  # fmt: skip
PROGRAMME = ProgrammeSettings(instrumented=2, spares=0.10, companions_per_check=3, n_checks=2)


def invented_enough() -> Enough:
    """No count is enough: the rest is between batches."""
    schedule = Schedule((6.0, 12.0, 24.0), (3, 3, 3))
    step = CountStep(most_specimens=9, schedule=schedule, rms=0.09, within_tolerance=0.7, within_tolerance_lower_95=0.4)
    return Enough(
        basis="next batch", tolerance=0.10, assurance=0.90, is_reached=False, n_specimens=None,
        schedule=schedule, rms=0.09, within_tolerance=0.7, within_tolerance_lower_95=0.4,
        n_specimens_beyond=None, within_with_endless_specimens=0.74,
        by_trial_batches=(
            TrialBatches(n_trial_batches=1, n_specimens=9, rms=0.09, within_tolerance=0.7),
            TrialBatches(n_trial_batches=2, n_specimens=18, rms=0.08, within_tolerance=0.75),
        ),
        steps=(step,),
        sentence="No number of specimens within the budget is enough: 9 keep 70 % of later pours within 10 %.",
    )  # fmt: skip


def told() -> Recommendation:
    """The invented recommendation with the whole calibration around it."""
    answer = invented_recommendation()
    return replace(
        answer,
        currency="EUR",
        sufficiency=invented_enough(),
        programme=_estimate(answer.recommended, COSTS).count,
        checks=SiteChecks(
            companions_per_check=3, n_checks=2, n_checks_to_notice=6, scatter=0.1, chance_of_false_alarm=0.3,
            chance_of_alarm=((20, 0.2), (40, 0.26), (300, 0.38)),
            rule="Tonight: the pour waits when its companions are below the required strength.",
            acceptance="The calibration is accepted when the companions agree with the curve.",
        ),
    )  # fmt: skip


def _estimate(choice: RatedChoice, costs: Costs | None) -> Estimate:
    return estimate(
        choice.label, choice.schedule, programme=PROGRAMME, costs=costs, laboratory=None,
        within_test_cv=(0.04,) * choice.schedule.n_ages, geometry="cylinder 100x200 mm",
    )  # fmt: skip


def invented_point(limit: float, schedule: Schedule, rms: float, cost: float | None) -> PricePoint:
    """One point of a frontier."""
    return PricePoint(
        limit=limit, n_specimens=schedule.n_specimens, cost=cost, schedule=schedule, curve="exponential",
        weighting="relative", maturity=EQUIVALENT_AGE, rms=rms, rms_unsmoothed=rms, within_tolerance=0.95,
        later_rms=0.09,
    )  # fmt: skip


def invented_price(costs: Costs | None = COSTS) -> PriceAnswer:
    """With prices, or without."""
    answer = told()
    few, more, most = (Schedule((6.0, 12.0, 24.0), (n, 2, 2)) for n in (2, 3, 4))
    points = (
        invented_point(6.0, few, 0.060, 800.0 if costs else None),
        invented_point(7.0, more, 0.045, 900.0 if costs else None),
        invented_point(8.0, most, 0.045, 1000.0 if costs else None),
    )
    compared = answer.compared[0]
    return PriceAnswer(
        recommendation=answer if costs else replace(answer, currency=""),
        by_specimens=points,
        by_cost=points if costs else (),
        gains=(
            SpecimenGain(age_h=6.0, n_now=3, rms_now=0.042, rms_then=0.040, is_allowed=True),
            SpecimenGain(age_h=12.0, n_now=3, rms_now=0.042, rms_then=0.041, is_allowed=False),
        ),
        equalities=(
            Equality(
                label=ChoiceRole.COMPARED, schedule=compared.schedule, rms=0.09, rms_recommended=0.042,
                n_specimens_needed=41, schedule_needed=Schedule(compared.schedule.ages_h, (14, 14, 13)),
                sentence="Your schedule errs 9.0 % with 9 specimens; it needs 41 to equal that.",
            ),
        ),
        estimates=(_estimate(answer.recommended, costs), _estimate(compared, costs)),
        budget_cost=1500.0 if costs else None,
        to_fill_in=() if costs else ("specimen", "break", "visit"),
    )  # fmt: skip


def invented_standing(schedule: Schedule, rms: float) -> Standing:
    """Inside the tolerance."""
    return Standing(
        schedule=schedule, curve="exponential", maturity=EQUIVALENT_AGE, rms=rms, score_rms=rms,
        within_tolerance=0.96, within_tolerance_lower_95=0.61, is_inside=True, later_rms=0.09,
        later_within_tolerance=0.7, cost=900.0,
    )  # fmt: skip


def invented_target(age_h: float | None) -> TargetMinimum:
    """One target with one of everything."""
    fewest = invented_standing(Schedule((6.0, 24.0, 672.0), (2, 3, 2)), 0.041)
    return TargetMinimum(
        age_h=age_h, maturity_h=age_h or 10.0, maturity_span_h=(4.0, 14.0), strength_mpa=(18.0, 24.0, 33.0),
        n_batches=6, n_schedules=4095, unrestricted=invented_standing(Schedule((6.0, 672.0), (4, 4)), 0.035),
        fewest=fewest,
        ages=(
            AgeNeed(age_h=6.0, multiple=1.0, need="must be there", score_with=0.04, score_without=0.09,
                    rms_with=0.04, rms_without=0.11),
            AgeNeed(age_h=672.0, multiple=112.0, need="does not help", score_with=0.05, score_without=0.04,
                    rms_with=0.05, rms_without=0.04),
        ),
        most_specimens=9,
        bounds=(AgeBound(which="first break", age_h=6.0, multiple=1.0, rms=0.04, is_free=False),),
        constraints=(
            ConstraintPrice(name="no break before 8 h", standing=fewest, rms_more=0.012, fewest_specimens=10,
                            specimens_more=3, cost_more=120.0),
            ConstraintPrice(name="nothing after 1 d", standing=None, rms_more=None, fewest_specimens=None,
                            specimens_more=None, cost_more=None),
            ConstraintPrice(name="no break at a weekend", standing=fewest, rms_more=0.0, fewest_specimens=7,
                            specimens_more=0, cost_more=0.0),
        ),
        rules=(
            LearntRule(text="Low error: first break at 1.1 times the target's maturity or earlier.",
                       n_schedules=700, n_scored=4095, share_inside=0.8, rms=0.045, n_held_out=6,
                       n_held_out_better=5, held_out_rms=0.05, held_out_rms_others=0.08),
        ),
        sentence="6 h: 3 ages and 7 specimens are the fewest.",
    )  # fmt: skip


def invented_minimum() -> MinimumAnswer:
    """Two targets and both together, with a clause."""
    return MinimumAnswer(
        recommendation=told(),
        together=invented_target(None),
        targets=(invented_target(6.0), invented_target(24.0)),
        clause=Clause(
            heading="DRAFT FOR THE ENGINEER",
            ages=(
                ClauseAge(age_h=6.0, n_specimens=2, permitted_deviation_h=0.12),
                ClauseAge(age_h=24.0, n_specimens=3, permitted_deviation_h=0.5),
            ),
            paragraphs=(("Breaks", "At least 5 specimens."), ("Precedence", "Local standards prevail.")),
            temperature_c=(12.0, 30.0),
            refused_because="",
        ),
    )
