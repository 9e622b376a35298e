"""From the errors of every choice to one recommendation with all that must be said of it."""

from __future__ import annotations

import time
from dataclasses import dataclass
from importlib import metadata

from planner.population import some_batches
from planner.resampling import Scoring
from planner.terms.results.after_casting.continuing import IfThen
from planner.terms.results.after_casting.early_answer import EarlyBreaks
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.constants import Constants
from planner.terms.results.programme_count import Estimate
from planner.terms.results.recommended.evidence_figures import SearchFacts
from planner.terms.results.recommended.recommendation import Recommendation
from planner.verdict.answers.maturity_constants.careful_answer import careful_answer
from planner.verdict.answers.programmes.spending import spending
from planner.verdict.answers.recommendation.applicability import evidence_of, valid_for
from planner.verdict.answers.recommendation.assessment import Repeated, judged_on_fresh, judged_on_held_out
from planner.verdict.answers.recommendation.choice_table import N_RESAMPLED, choice_table
from planner.verdict.answers.recommendation.choices_beside import (
    age_roles_of,
    enough_row_of,
    next_best_of,
    tied_rows_of,
)
from planner.verdict.answers.recommendation.plot_points import later_points
from planner.verdict.answers.recommendation.rated_pick import RatedPick
from planner.verdict.answers.recommendation.redaction import without_promises
from planner.verdict.answers.recommendation.site_checks import announced_checks
from planner.verdict.answers.recommendation.waiting_hours import waiting
from planner.verdict.compared.age_importance import frontier
from planner.verdict.compared.reference_schedules import Price, rate_named
from planner.verdict.design.age_slip import slip_of
from planner.verdict.selection.search import Search
from planner.verdict.validation.drawn_verdict import promises_nothing
from planner.verdict.wording.cautions.caution_ranks import n_leading, ranked
from planner.verdict.wording.cautions.cautions import STANDING, cautions
from planner.verdict.wording.cautions.circumstances import Circumstances
from planner.verdict.wording.cautions.mortar_cautions import mortar_cautions
from planner.verdict.wording.programmes.next_batch_words import more_words
from planner.verdict.wording.reasons import reasons

MOST_TIED_SHOWN = 20
LIBRARIES = ("numpy", "scipy", "numba")


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Calibration:
    """What the recommended programme asks of the laboratory, and what goes on after casting."""

    estimate: Estimate
    price: Price  # of any other schedule
    early_breaks: EarlyBreaks | None
    if_then: IfThen | None
    constants: Constants | None


def advise(search: Search, pick: RatedPick, calibration: Calibration, *, started: float) -> Recommendation:
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
    training, rater, limit = pick.training, pick.rater, pick.limit
    recommended, best, chosen_row = pick.recommended, pick.best, pick.chosen_row
    tied_rows, early = pick.tied_rows, calibration.early_breaks
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
    next_best = next_best_of(search, training, rater, limit, exclude=recommended.schedule)
    rungs = rule.rungs()
    enough_row, sufficiency = (None, None) if is_drawn else enough_row_of(search, rungs, money, honest)
    shown_tied = tied_rows if search.chosen is None else tied_rows_of(search, search.chosen)
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
        ages=age_roles_of(search, chosen_row, judged.inclusion),
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
        checks=announced_checks(search, honest),
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
