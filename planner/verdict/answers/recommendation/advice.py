"""From the errors of every choice to one recommendation with all that must be said of it."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from importlib import metadata

import numpy as np

from planner.choices import choice_set
from planner.issued_curve.calibration.issued import without_part
from planner.population import some_batches
from planner.resampling import Scoring, error_matrix
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.problems import NoScheduleError
from planner.terms.results.after_casting.continuing import IfThen
from planner.terms.results.after_casting.early_answer import EarlyBreaks
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.constants import Constants
from planner.terms.results.programme_count import Estimate, SiteChecks
from planner.terms.results.programme_figures import Spending
from planner.terms.results.recommended.design_figures import AgeRole
from planner.terms.results.recommended.evidence_figures import SearchFacts
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.results.recommended.validation_figures import Honest
from planner.terms.results.sample_size import Enough
from planner.terms.schedule import Schedule
from planner.verdict.answers.maturity_constants.careful_answer import careful_answer
from planner.verdict.answers.programmes.enough_programmes import fewest_enough
from planner.verdict.answers.programmes.enough_specimens import enough
from planner.verdict.answers.programmes.spending import spending
from planner.verdict.answers.recommendation.applicability import evidence_of, valid_for
from planner.verdict.answers.recommendation.assessment import Repeated, judged_on_fresh, judged_on_held_out
from planner.verdict.answers.recommendation.choice_table import N_RESAMPLED, choice_table
from planner.verdict.answers.recommendation.plot_points import later_points
from planner.verdict.answers.recommendation.redaction import without_promises
from planner.verdict.answers.recommendation.site_checks import site_checks
from planner.verdict.answers.recommendation.waiting_hours import waiting
from planner.verdict.compared.age_importance import Variants, age_roles, frontier
from planner.verdict.compared.rater import Rater
from planner.verdict.compared.reference_schedules import Price, rate_named
from planner.verdict.design.age_slip import slip_of
from planner.verdict.design.efficiency import PlacementLimit, placement_limit, variant_schedules
from planner.verdict.selection.programmes.programme import Chosen
from planner.verdict.selection.rule import Rung, Training
from planner.verdict.selection.search import Search
from planner.verdict.validation.drawn_verdict import promises_nothing
from planner.verdict.wording.cautions.caution_ranks import n_leading, ranked
from planner.verdict.wording.cautions.cautions import STANDING, cautions
from planner.verdict.wording.cautions.circumstances import Circumstances
from planner.verdict.wording.cautions.mortar_cautions import mortar_cautions
from planner.verdict.wording.programmes.next_batch_words import more_words
from planner.verdict.wording.reasons import reasons

MOST_TIED_SHOWN = 20
N_NEXT_BEST = 10
MOST_VIEWS_OF_LIMIT = 10  # drawn batches that the limit is computed over: each costs a slow fit
LIBRARIES = ("numpy", "scipy", "numba")


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Standing:
    """What the rule takes and finds best, rated; all that is worked out of one recommendation starts here."""

    training: Training  # on all batches
    tied_rows: IntArray  # with the best, of one trial batch
    chosen_row: int
    rater: Rater
    limit: PlacementLimit | None
    recommended: RatedChoice
    best: RatedChoice


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Calibration:
    """What the recommended programme asks of the laboratory, and what goes on after casting."""

    estimate: Estimate
    price: Price  # of any other schedule
    early_breaks: EarlyBreaks | None
    if_then: IfThen | None
    constants: Constants | None


def standing_of(search: Search) -> Standing:
    """Choose, and rate the choice and the best.

    Raises
    ------
    NoScheduleError
        Where no schedule can be judged on any batch.
    """
    cells, matrix, rule = search.cells, search.matrix, search.rule
    training = rule.training(np.ones(cells.n_units, dtype=bool))
    pick = rule.pick(training)
    if pick is None:
        raise NoScheduleError(
            "No schedule can be judged: no batch holds all ages of any allowed schedule beside its truth at the "
            "target. Add candidate ages that the batches share, or lower fewest_ages."
        )
    chosen_row = pick.chosen if search.chosen is None else search.row_of(search.chosen.taken)
    rater = Rater(cells, search.scoring, search.draws)
    limit = placement_limit(
        cells, search.scoring, matrix, search.offered, search.plan.settings.curves,
        most_views=MOST_VIEWS_OF_LIMIT if search.basis.is_drawn else None,
    )  # fmt: skip

    def rated(role: ChoiceRole, row: int) -> RatedChoice:
        return rater.rate_row(role, matrix, row, search.asks(row, limit))

    return Standing(
        training=training,
        tied_rows=rule.tied(training, pick.best),
        chosen_row=chosen_row,
        rater=rater,
        limit=limit,
        recommended=rated(ChoiceRole.RECOMMENDED, chosen_row),
        best=rated(ChoiceRole.BEST, pick.best),
    )


def advise(search: Search, standing: Standing, calibration: Calibration, *, started: float) -> Recommendation:
    """Judge the choosing, and gather everything in one frozen result.

    Parameters
    ----------
    started
        A ``time.perf_counter`` from before the search.

    Raises
    ------
    InputError
        Where most drawn batches have no strength at a target.
    """
    settings, cells, matrix, rule = search.plan.settings, search.cells, search.matrix, search.rule
    training, rater, limit = standing.training, standing.rater, standing.limit
    recommended, best, chosen_row = standing.recommended, standing.best, standing.chosen_row
    tied_rows, early = standing.tied_rows, calibration.early_breaks
    money = None
    if search.programmes is not None and search.chosen is not None:
        money = spending(search, search.programmes, search.chosen, early)
    is_drawn = search.basis.is_drawn
    named = rate_named(search, rater, limit, recommended.schedule.n_ages, calibration.price)
    judged = (
        judged_on_fresh(search, recommended)
        if is_drawn
        else judged_on_held_out(search, recommended, named, Repeated(training, tied_rows, chosen_row))
    )
    honest = judged.honest
    next_best = _next_best(search, training, rater, limit, exclude=recommended.schedule)
    rungs = rule.rungs()
    enough_row, sufficiency = (None, None) if is_drawn else _enough(search, rungs, money, honest)
    shown_tied = tied_rows if search.chosen is None else _tied_rows(search, search.chosen)
    three = limit.limit_for(recommended.schedule) if limit is not None else None
    customary = named.first(ChoiceRole.CUSTOMARY)
    about = Circumstances(
        settings,
        search.plan.records,
        search.basis,
        matrix,
        recommended,
        honest,
        is_thinned=search.is_thinned,
        geometries=search.geometries,
    )
    mortar = settings.maturity.mortar
    of_mortar = mortar_cautions(calibration.constants, mortar)
    said = ranked((*cautions(about), *judged.cautions, *named.cautions, *of_mortar))
    listed = some_batches(cells) if is_drawn else cells
    advice = Recommendation(
        geometries=search.geometries,
        version=metadata.version("test-age-planner"),
        title=settings.title,
        inputs=dict(search.plan.inputs),
        libraries={name: metadata.version(name) for name in LIBRARIES},
        evidence=evidence_of(search, judged.more, more_words(judged.more, search.basis.grade)),
        valid_for=valid_for(search, recommended),
        target_ages_h=settings.target.ages_h,
        target_weights=settings.target.target_weights,
        target_waits_mpa=settings.target.strengths_mpa,
        tolerance=settings.target.tolerance,
        assurance=settings.target.assurance,
        budget_specimens=settings.budget.specimens,
        candidate_ages_h=tuple(float(cells.ages_h[i]) for i in search.offered),
        search=_facts(search, seconds=time.perf_counter() - started),
        programme=calibration.estimate.count,
        estimate=calibration.estimate,
        early_breaks=early,
        if_then=calibration.if_then,
        constants=calibration.constants,
        careful=careful_answer(search),
        mortar=mortar,
        waiting=waiting(search, recommended, honest),
        recommended=recommended,
        best=best,
        customary=customary,
        equal_gain=named.first(ChoiceRole.EQUAL_GAIN),
        compared=named.labelled(ChoiceRole.COMPARED),
        tied=tuple(
            rater.rate_row(ChoiceRole.TIED, matrix, row, search.asks(row, limit))
            for row in shown_tied[:MOST_TIED_SHOWN]
        ),
        n_tied=len(shown_tied),
        next_best=next_best,
        honest=honest,
        limit=three,
        ages=_roles(search, chosen_row, judged.inclusion),
        frontier=frontier(rule, rungs, search.cost),
        reasons=reasons(
            recommended,
            best,
            n_tied=len(shown_tied),
            n_choices=matrix.n_searched,
            customary=customary,
            next_best=next_best,
            honest=honest,
            limit=three,
            money=money,
        ),
        cautions=said,
        n_leading_cautions=n_leading(said),
        standing_cautions=STANDING,
        choices=choice_table(
            matrix,
            listed,
            Scoring.of(listed, settings.target),
            search.draws,
            cost=search.cost,
            n_visits=search.n_visits,
            evidence=search.basis.grade,
            n_resampled=0 if is_drawn else N_RESAMPLED,
            n_workers=search.n_workers,
        ),
        growth=judged.growth,
        held_out=judged.held_out,
        held_out_later=() if is_drawn else later_points(cells, search.scoring, matrix, chosen_row),
        currency=settings.costs.currency if settings.costs else "",
        enough=None
        if enough_row is None
        else rater.rate_row(ChoiceRole.ENOUGH, matrix, enough_row, search.asks(enough_row, limit)),
        sufficiency=sufficiency,
        spending=money,
        checks=_site_checks(search, honest),
        by_temperature=judged.by_temperature,
        slip=slip_of(limit, recommended.schedule, standard=settings.laboratory_taken.age_tolerances),
    )
    return without_promises(advice) if promises_nothing(search.basis.population, settings) else advice


def _facts(search: Search, *, seconds: float) -> SearchFacts:
    matrix = search.matrix
    return SearchFacts(
        n_choices=matrix.n_searched,
        n_joint_choices=matrix.n_searched * len(matrix.joints),
        n_fits=matrix.n_fits,
        n_at_bound=matrix.n_at_bound,
        n_unconverged=matrix.n_unconverged,
        n_second_looks=matrix.n_second_looks,
        n_draws=search.draws.n_draws,
        seed=search.seed,
        seconds=seconds,
    )


def _enough(
    search: Search, rungs: Sequence[Rung], money: Spending | None, honest: Honest
) -> tuple[int | None, Enough | None]:
    """The row of the count that is enough, None where no count is; and the verdict in words.

    Where the spread between batches is stated because the records do not tell it, the choosing rule's own figures
    with that spread decide: fixed programmes have none on later pours.
    """
    settings = search.plan.settings
    is_stated = settings.prior.between_batch_cv is not None and money is not None and bool(money.judged_because)
    if money is not None and search.programmes is not None and search.chosen is not None and not is_stated:
        if honest.own_batch is None:
            return None, None
        few = fewest_enough(
            search, search.programmes, search.chosen, money, target=settings.target, later=honest.next_batch
        )
        return (search.row_of(few.taken) if few.verdict.is_reached else None), few.verdict
    found = enough(
        search.rule, search.cells, search.scoring, search.draws, target=settings.target, prior=settings.prior,
        rungs=rungs,
    )  # fmt: skip
    if found is None:
        return None, None
    verdict, row = found
    return (row if verdict.is_reached else None), verdict


def _tied_rows(search: Search, chosen: Chosen) -> list[int]:
    """Rows of the schedules that tie with as many trial batches as are recommended, cheapest first."""
    number = chosen.taken.n_trial_batches
    return [search.row_of(taken) for taken in chosen.tied if taken.n_trial_batches == number]


def _site_checks(search: Search, honest: Honest) -> SiteChecks | None:
    """How calibration and later pours are checked; None where nothing is known of the error."""
    if honest.own_batch is None:
        return None
    settings, later = search.plan.settings, honest.next_batch
    programme = settings.programme_asked
    later_rms = None
    if later is not None:
        by_number = later.rms_by_trial_batches
        later_rms = by_number[min(max(1, search.n_trial_batches), len(by_number)) - 1] if by_number else later.rms
    own_rms, answer = honest.own_batch.nested_rms, search.geometries
    conversion = None if answer is None else answer.curve_conversion
    part = 0.0 if conversion is None else conversion.rms  # companions are of the geometry cast, converted alike
    return site_checks(
        own_rms=without_part(own_rms, part) or own_rms,
        later_rms=without_part(later_rms, part),
        within_test_cv=float(np.mean(search.cells.checks.cv)),
        n_targets=len(settings.target.ages_h),
        tolerance=settings.target.tolerance,
        programme=replace(programme, trial_batches=max(1, search.n_trial_batches)),
    )


def _next_best(
    search: Search, training: Training, rater: Rater, limit: PlacementLimit | None, *, exclude: Schedule
) -> tuple[RatedChoice, ...]:
    """The ten of lowest score after the recommended one, each with its best curve, marked where another beats it."""
    matrix = search.matrix
    shown: list[RatedChoice] = []
    seen: set[int] = set()
    for at in np.argsort(training.loss.mean(axis=1), kind="stable"):
        row = int(training.rows[at])
        which = matrix.choice_of(row)
        if which in seen:
            continue
        seen.add(which)
        if matrix.choices.schedule(which) != exclude:
            shown.append(rater.rate_row(ChoiceRole.NEXT_BEST, matrix, row, search.asks(row, limit)))
        if len(shown) == N_NEXT_BEST:
            break
    return tuple(shown)


def _roles(search: Search, chosen: int, inclusion: FloatArray) -> tuple[AgeRole, ...]:
    cells, matrix = search.cells, search.matrix
    variants = variant_schedules(search.offered, matrix.choices, matrix.choice_of(chosen))
    scored = None
    if variants:
        choices = choice_set(cells.ages_h, [(positions, counts) for _, positions, counts in variants])
        scored = Variants(
            error_matrix(cells, choices, matrix.joints, search.scoring, n_workers=search.n_workers),
            tuple(age for age, *_ in variants),
        )
    return age_roles(
        cells,
        search.scoring,
        search.rule,
        chosen,
        scored,
        offered=search.offered,
        inclusion=inclusion,
        required_h=search.plan.settings.choices.required_ages_h,
    )
