"""START HERE: the whole program as one walk from a plan to a recommendation. No input or output.

    records -> cells with maturities -> schedules -> errors of every joint choice -> the rule, repeated
    without each batch -> what may honestly be said -> one frozen result

Where breaks cannot judge every choice, the cells are those of batches drawn from a population. Every step
is one call into one room. Readers make the `Plan`, renderers read the `Recommendation`.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from typing import TypeVar

from planner.choices import ChoiceSet, beyond_limits, beyond_limits_words, extra_choices
from planner.conversion.later_breaks import in_target_geometry
from planner.geometry_choice import settled
from planner.laboratory.costs.cost_sums import attempt_cost
from planner.population import Basis, basis_of
from planner.resampling.search.error_matrix import Progress
from planner.steps.allowed_choices import rank_prices
from planner.steps.large_search import Asks
from planner.steps.searching import Work, fold_table_of, least_of, search_of
from planner.steps.whole_calibration import days_of, estimate_of, whole_calibration
from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import Plan
from planner.terms.problems import Caution, NoScheduleError
from planner.terms.records import GivenRecords
from planner.terms.results.answers import PriceAnswer
from planner.terms.results.geometry.geometry_options import GeometryAnswer
from planner.terms.results.minimum.minimum_figures import MinimumAnswer
from planner.terms.results.programme_figures import Programme
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.schedule import Schedule
from planner.verdict.answers.continuing.trial_batch import continue_trial
from planner.verdict.answers.minimum.allowed_programmes import outside_programme
from planner.verdict.answers.minimum.clause import clause_terms
from planner.verdict.answers.minimum.standard_counts import counts_of
from planner.verdict.answers.price.alternatives import alternatives_of
from planner.verdict.answers.price.price_answer import price_answer, priced_choices
from planner.verdict.answers.price.risk import risk_of
from planner.verdict.answers.programmes.spending import programme_of
from planner.verdict.answers.recommendation.advice import advise
from planner.verdict.answers.recommendation.rated_pick import rated_pick_of
from planner.verdict.selection.search import Search
from planner.verdict.validation.drawn_verdict import check_promising, promises_nothing

Told = TypeVar("Told")


def recommend(
    plan: Plan,
    *,
    n_draws: int = 400,
    seed: int = 1,
    workers: int | None = None,
    progress: Progress | None = None,
    trial: GivenRecords | None = None,
) -> Recommendation:
    """Score every choice and recommend a schedule.

    Parameters
    ----------
    plan
        Checked settings and records, from :func:`planner.read.load_plan`.
    n_draws, seed
        Of the resampled figures. The recommendation itself is free of draws: no seed changes it.
    workers
        Threads; all cores where None. The result is the same to the last bit for any number.
    progress
        Called with (done, total, what) as the search goes on.
    trial
        What is broken so far of the trial batch, where it is cast already: what remains is scored again.

    Raises
    ------
    InputError
        Where the records cannot answer the question, or the trial batch's breaks cannot be used.
    NoScheduleError
        Where no schedule satisfies the limits.
    """
    work = Work.of(n_draws, seed, workers, progress)
    plan, geometries = settled(plan, work)
    search, advice = _searched(plan, basis_of(plan), work, geometries)
    if trial is None:
        return advice
    given = in_target_geometry(trial, None if geometries is None else geometries.curve_conversion)
    return replace(advice, trial=continue_trial(search, advice, given, cost=_cost_in(plan)))


def score(
    plan: Plan,
    schedule: Schedule,
    *,
    n_draws: int = 400,
    seed: int = 1,
    workers: int | None = None,
    progress: Progress | None = None,
) -> tuple[RatedChoice, Recommendation]:
    """Rate one schedule beside the recommendation. Not an approval.

    Raises
    ------
    InputError, NoScheduleError
        As :func:`recommend`; InputError too where no batch was broken at one of the schedule's ages.
    """
    work = Work.of(n_draws, seed, workers, progress)
    plan, geometries = settled(plan, work)
    asked = replace(plan, settings=replace(plan.settings, compare=(schedule, *plan.settings.compare)))
    basis = basis_of(asked)
    extra_choices([schedule], basis.cells.ages_h, must_fit=True)
    search, result = _searched(asked, basis, work, geometries)
    found = [choice for choice in result.compared if choice.schedule == schedule]
    if not found:
        raise NoScheduleError(
            "The schedule cannot be judged: no batch was broken at all of its ages and can be checked."
        )
    beyond = beyond_limits(schedule, plan.settings)
    if beyond:
        said = Caution("beyond-limits", beyond_limits_words(beyond))
        result = replace(result, cautions=(said, *result.cautions))
    if promises_nothing(basis.population, plan.settings):
        return found[0], result
    return replace(found[0], programme=outside_programme(search, found[0])), result


def price(
    plan: Plan,
    *,
    n_draws: int = 400,
    seed: int = 1,
    workers: int | None = None,
    progress: Progress | None = None,
) -> PriceAnswer:
    """Say what knowing the strength costs, and what the next specimen buys.

    Raises
    ------
    InputError, NoScheduleError
        As :func:`recommend`; InputError too where published growth can promise no error.
    """
    work = Work.of(n_draws, seed, workers, progress)
    plan, geometries = settled(plan, work)
    basis = basis_of(plan)
    check_promising(basis.population, plan.settings)
    search, advice = _searched(plan, basis, work, geometries)
    table = fold_table_of(search.basis, search.listed, search.scoring, plan.settings, work)
    estimates = tuple(
        estimate_of(search, choice.label, choice.schedule, advice.early_breaks) for choice in priced_choices(advice)
    )
    batch_cost, once = attempt_cost(estimates[0], plan.settings.costs)
    alternatives = alternatives_of(
        search,
        advice,
        priced=lambda one, m: estimate_of(search, one.label, one.schedule, n_trial_batches=m),
        days=lambda schedule, m: days_of(plan.settings, schedule, m),
    )
    return price_answer(
        advice,
        table,
        plan.settings,
        cost=rank_prices(table.choices, plan.settings).cost_of(search.n_trial_batches),
        cost_of=lambda schedule: estimate_of(search, advice.recommended.label, schedule).total,
        estimates=estimates,
        alternatives=alternatives,
        risk=risk_of(search, advice, table, estimates[0], batch_cost=batch_cost, once=once),
        without_ready_by=_without_ready_by(plan, basis, work),
    )


def _without_ready_by(plan: Plan, basis: Basis, work: Work) -> Programme | None:
    """The programme that would be recommended if the curve were not wanted so soon; None where nobody asks for that."""
    budget = plan.settings.budget
    if budget.ready_by_h is None:
        return None
    free = replace(budget, ready_by_h=None, latest_age_h=budget.latest_age_asked_h)
    search = search_of(replace(plan, settings=replace(plan.settings, budget=free)), basis, work)
    if search.programmes is None or search.chosen is None:
        return None
    return programme_of(search, search.programmes, search.chosen.taken)


def minimum(
    plan: Plan,
    *,
    standard: str = "",
    n_draws: int = 400,
    seed: int = 1,
    workers: int | None = None,
    progress: Progress | None = None,
) -> MinimumAnswer:
    """Say the least that has to be broken for every target, and what a clause may ask for.

    Parameters
    ----------
    standard
        Whose counts of specimens and ages the clause must also have, like ``ASTM C1074``; none where "".

    Raises
    ------
    InputError, NoScheduleError
        As :func:`recommend`; InputError too where the standard is not known.
    """
    work = Work.of(n_draws, seed, workers, progress)
    return judged_minimum(plan, work, standard=standard, told_of=lambda _search, _advice: None)[0]


def judged_minimum(
    plan: Plan,
    work: Work,
    *,
    told_of: Callable[[Search, Recommendation], Told],
    standard: str = "",
    asks: Asks = "the least",
) -> tuple[MinimumAnswer, tuple[Told, ...]]:
    """The least, and something told of every search that it rests on.

    The searches are of all targets together, then of each alone where there are more. Each is let go of before the
    next, so that memory holds one.

    Parameters
    ----------
    told_of
        Asked of each search and the recommendation of the plan, as soon as its least is known.

    Raises
    ------
    InputError, NoScheduleError
        As :func:`minimum`.
    """
    if standard:
        counts_of(standard)
    plan, geometries = settled(plan, work)
    search, advice = _searched(plan, basis_of(plan), work, geometries, asks=asks)
    ages_h = plan.settings.target.ages_h
    together = least_of(
        plan, search, age_h=ages_h[0] if len(ages_h) == 1 else None, customary=advice.customary, standard=standard
    )
    clause = clause_terms(search, advice, together)
    told, targets = [told_of(search, advice)], []
    has_more = len(ages_h) > 1 and search.programmes is not None
    del search
    for age_h, strength_mpa in zip(ages_h, plan.settings.target.waits_mpa, strict=True) if has_more else ():
        one = _for_target(plan, age_h, strength_mpa)
        alone = search_of(one, basis_of(one), work, asks=asks)
        targets.append(least_of(one, alone, age_h=one.settings.target.ages_h[0]))
        told.append(told_of(alone, advice))
        del alone
    answer = MinimumAnswer(
        recommendation=advice, together=together, targets=tuple(targets) or (together,), clause=clause
    )
    return answer, tuple(told)


def _searched(
    plan: Plan, basis: Basis, work: Work, geometries: GeometryAnswer | None, *, asks: Asks = "what is first"
) -> tuple[Search, Recommendation]:
    """Search, choose, put the whole calibration around the choice, and judge the choosing."""
    started = time.perf_counter()
    search = search_of(plan, basis, work, geometries=geometries, asks=asks)
    pick = rated_pick_of(search)
    calibration = whole_calibration(search, pick.recommended)
    return search, advise(search, pick, calibration, started=started)


def _cost_in(plan: Plan) -> Callable[[ChoiceSet], FloatArray | None]:
    return lambda choices: rank_prices(choices, plan.settings).cost


def _for_target(plan: Plan, age_h: float, strength_mpa: float | None) -> Plan:
    """The plan with one target alone: other targets' specimens may then serve the curve."""
    waits = () if strength_mpa is None else (strength_mpa,)
    target = replace(plan.settings.target, ages_h=(age_h,), strengths_mpa=waits, weights=())
    return replace(plan, settings=replace(plan.settings, target=target))
