"""Plausible answers to an estimator and a specification writer, made by hand around the invented result."""

from __future__ import annotations

from dataclasses import replace

from planner.issued_curve.rules.rule_words import acceptance_words
from planner.laboratory.costs.estimate import estimate
from planner.terms.plan.settings import Costs, ProgrammeSettings
from planner.terms.results.answers import Equality, PriceAnswer, PricePoint, SpecimenGain
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.minimum.clause_terms import (
    ClauseAge,
    ClauseChecks,
    ClauseCurve,
    ClauseError,
    ClauseTerms,
    StandardAsks,
)
from planner.terms.results.minimum.minimum_figures import (
    AgeNeed,
    ConstraintPrice,
    Least,
    MinimumAnswer,
    PropertyRule,
    TargetMinimum,
)
from planner.terms.results.programme_count import Estimate, SiteChecks
from planner.terms.results.programme_figures import LaterPourFigures, Programme
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.results.sample_size import CountStep, Enough, TrialBatches
from planner.terms.schedule import Schedule
from planner.verdict.wording.minimum_words import minimum_words
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


def invented_programme(schedule: Schedule, later_rms: float, *, is_enough: bool = True) -> Programme:
    """One trial batch, read on later pours."""
    return Programme(
        n_trial_batches=1, schedule=schedule, curve="exponential", weighting="relative", maturity=EQUIVALENT_AGE,
        own_batch_rms=0.041, own_batch_within_tolerance=0.96,
        next_batch=LaterPourFigures(
            rms=later_rms, rms_se=0.01, rms_upper_95=0.15, within_tolerance=0.93 if is_enough else 0.61,
            within_tolerance_lower_95=0.52, over_predicted_beyond_tolerance=0.03, worst_batch_rms=0.08,
            safe_reading_factor=1.21, is_extrapolated=False,
        ),
        cost=900.0, n_visits=3, is_tied=True, is_enough=is_enough, is_within_limits=True,
    )  # fmt: skip


def invented_target(age_h: float | None, *, is_kept: bool = True) -> TargetMinimum:
    """One target with one of everything."""
    fewest = invented_programme(Schedule((6.0, 24.0, 672.0), (2, 3, 2)), 0.058, is_enough=is_kept)
    few = invented_programme(Schedule((6.0, 672.0), (4, 4)), 0.055)
    leasts = (
        Least(of="breaks", programme=fewest, is_extrapolating=False),
        Least(of="ages", programme=few, is_extrapolating=False),
        Least(of="latest first break", programme=fewest, is_extrapolating=True),
        Least(of="earliest last break", programme=fewest, is_extrapolating=False),
    )
    found = TargetMinimum(
        age_h=age_h, maturity_h=age_h or 10.0, maturity_span_h=(4.0, 14.0), strength_mpa=(18.0, 24.0, 33.0),
        n_batches=6, n_programmes=4095, n_keeping=700 if is_kept else 0, judged_on="later pour", unjudged_because="",
        leasts=leasts if is_kept else (), own_batch=() if is_kept else leasts[:1], nearest=fewest,
        customary=invented_programme(Schedule((24.0, 72.0, 168.0), (3, 3, 3)), 0.14, is_enough=False),
        ages=(
            AgeNeed(age_h=6.0, multiple=1.0, need="must be there", rms_with=0.04, rms_without=0.11,
                    n_keeping_with=700, n_keeping_without=0),
            AgeNeed(age_h=672.0, multiple=112.0, need="does not help", rms_with=0.05, rms_without=0.04,
                    n_keeping_with=300, n_keeping_without=400),
        ),
        rules=(
            PropertyRule(of="first break", age_h=6.0, multiple=1.1, n_keeping=700, n_having=1500, n_allowed=4095,
                         n_held_out=6, n_held_out_right=5),
        ),
        constraints=(
            ConstraintPrice(name="no break before 8 h", rms=0.067, rms_more=0.012, fewest_specimens=10,
                            specimens_more=3, cost_more=120.0),
            ConstraintPrice(name="nothing after 1 d", rms=None, rms_more=None, fewest_specimens=None,
                            specimens_more=None, cost_more=None),
            ConstraintPrice(name="no break at a weekend", rms=0.055, rms_more=0.0, fewest_specimens=7,
                            specimens_more=0, cost_more=0.0),
        ),
        at_least=None, sentence="",
    )  # fmt: skip
    return replace(found, sentence=minimum_words(found, tolerance=0.10, assurance=0.90))


def invented_clause(*, is_kept: bool = True) -> ClauseTerms:
    """A clause that demands the fewest of the invented target."""
    return ClauseTerms(
        kind="draft", refused_because="", interim_because="", mixes=("M",), strength_property="compressive",
        geometry="cylinder 100x200 mm", is_cylinder=True, standard_curing_c=20.0, age_zero="placed",
        targets=("6 h", "1 d"), strength_mpa=(18.0, 24.0, 33.0), tolerance=0.10, assurance=0.90,
        ages=(
            ClauseAge(age_h=6.0, n_specimens=2, permitted_deviation_h=0.12, multiple=1.0),
            ClauseAge(age_h=24.0, n_specimens=3, permitted_deviation_h=0.5, multiple=3.6),
            ClauseAge(age_h=672.0, n_specimens=2, permitted_deviation_h=20.0, multiple=101.0),
        ),
        n_trial_batches=1, deviations_after="ASTM C39", n_instrumented=2, n_spares=1,
        curves=(ClauseCurve(mix="M", curve="exponential", weighting="relative", maturity=EQUIVALENT_AGE),),
        error=ClauseError(
            own_batch_rms=0.041, own_batch_within_tolerance=0.96, later_rms=0.058 if is_kept else 0.113,
            later_rms_upper_95=0.15, later_within_tolerance=0.93 if is_kept else 0.61,
            later_within_tolerance_lower_95=0.52, judged_on="later pour", is_kept=is_kept, is_later_kept=is_kept,
            safe_reading_factor=1.21, no_factor_because="", n_batches=6, n_breaks=180,
        ),
        temperature_c=(12.0, 30.0), recorded_temperature_c=(11.6, 31.2),
        checks=ClauseChecks(
            companions_per_check=3, check_sd=0.10,
            acceptance=acceptance_words(
                tolerance=0.10, n_groups=2, z_limit=2.24, own_rms=0.041, sound_refused_at_most=0.06
            ),
            chance_of_alarm=((20, 0.2), (40, 0.26), (300, 0.38)),
        ),
        recalibrate_when=("cement or admixture changes", "the lasting rule of the site checks withdraws the curve"),
        standard=StandardAsks(
            standard="ASTM C1074", fewest_specimens=15, fewest_ages=5, ages=(), n_trial_batches=1, is_followed=False
        ),
        grade="measured", checked_against="site-cured",
    )  # fmt: skip


def invented_minimum(*, is_kept: bool = True) -> MinimumAnswer:
    """Two targets and both together, with a clause."""
    return MinimumAnswer(
        recommendation=told(),
        together=invented_target(None, is_kept=is_kept),
        targets=(invented_target(6.0, is_kept=is_kept), invented_target(24.0, is_kept=is_kept)),
        clause=invented_clause(is_kept=is_kept),
    )
