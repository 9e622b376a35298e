"""START HERE: the whole program as one walk from a plan to a recommendation. No input or output.

    records -> cells with maturities -> schedules -> errors of every joint choice -> the rule, repeated
    without each batch -> what may honestly be said -> one frozen result

Every step is one call into one room. Readers make the `Plan`, renderers read the `Recommendation`.
"""

from __future__ import annotations

import os
import time
from dataclasses import replace

from planner.choices import extra_choices
from planner.evidence import tabulate
from planner.laboratory.constraints import laboratory_constraints
from planner.laboratory.estimate import estimate, geometry_of
from planner.offer import offered_choices, rank_prices
from planner.resampling import Draws, Scoring, error_matrix, joints_of
from planner.resampling.matrix import Progress
from planner.terms.answers import MinimumAnswer, PriceAnswer, TargetMinimum
from planner.terms.problems import NoScheduleError
from planner.terms.programme import Estimate
from planner.terms.recommendation import RatedChoice, Recommendation, SearchFacts
from planner.terms.schedule import Schedule
from planner.terms.settings import Plan, ProgrammeSettings
from planner.verdict.advice import Search, advise
from planner.verdict.clause import draft_clause
from planner.verdict.minimum import Asked, target_minimum
from planner.verdict.price_answer import price_answer, priced_choices
from planner.verdict.restricted import fold_table, thinned
from planner.verdict.rule import Rule


def recommend(
    plan: Plan,
    *,
    n_draws: int = 400,
    seed: int = 1,
    workers: int | None = None,
    progress: Progress | None = None,
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

    Raises
    ------
    InputError
        Where the records cannot answer the question.
    NoScheduleError
        Where no schedule satisfies the limits.
    """
    started = time.perf_counter()
    search = _search(plan, n_draws=n_draws, seed=seed, workers=workers, progress=progress)
    return _told(search, started=started)


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
    asked = replace(plan, settings=replace(plan.settings, compare=(schedule, *plan.settings.compare)))
    extra_choices([schedule], tabulate(plan.records, plan.settings).ages_h, must_fit=True)
    result = recommend(asked, n_draws=n_draws, seed=seed, workers=workers, progress=progress)
    found = [choice for choice in result.compared if choice.schedule == schedule]
    if not found:
        raise NoScheduleError(
            "The schedule cannot be judged: no batch was broken at all of its ages and can be checked."
        )
    return found[0], result


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
        As :func:`recommend`.
    """
    started = time.perf_counter()
    search = _search(plan, n_draws=n_draws, seed=seed, workers=workers, progress=progress)
    told = _told(search, started=started)
    table = fold_table(
        search.cells, thinned(search.matrix.choices), search.matrix.joints, search.scoring,
        n_workers=search.n_workers, progress=progress,
    )  # fmt: skip
    settings = plan.settings
    return price_answer(
        told,
        table,
        settings,
        cost=None if search.cost is None else rank_prices(table.choices, settings).cost,
        estimates=tuple(_estimate(search, choice) for choice in priced_choices(told)),
    )


def minimum(
    plan: Plan,
    *,
    n_draws: int = 400,
    seed: int = 1,
    workers: int | None = None,
    progress: Progress | None = None,
) -> MinimumAnswer:
    """Say the least that has to be broken for every target, and draft a clause that asks for it.

    Raises
    ------
    InputError, NoScheduleError
        As :func:`recommend`.
    """
    started = time.perf_counter()
    search = _search(plan, n_draws=n_draws, seed=seed, workers=workers, progress=progress)
    told = _told(search, started=started)
    ages_h = plan.settings.target.ages_h
    together = _least(
        plan, workers=workers, progress=progress, age_h=ages_h[0] if len(ages_h) == 1 else None
    )
    return MinimumAnswer(
        recommendation=told,
        together=together,
        targets=(together,)
        if len(ages_h) == 1
        else tuple(
            _least(_for_target(plan, age_h), workers=workers, progress=progress, age_h=age_h)
            for age_h in ages_h
        ),
        clause=draft_clause(told, together, search.cells, plan.settings),
    )


def _for_target(plan: Plan, age_h: float) -> Plan:
    """The plan with one target alone: other targets' specimens may then serve the curve."""
    target = replace(plan.settings.target, ages_h=(age_h,), weights=())
    return replace(plan, settings=replace(plan.settings, target=target))


def _least(
    plan: Plan, *, workers: int | None, progress: Progress | None, age_h: float | None
) -> TargetMinimum:
    """Score every schedule without each batch in turn, and ask what can be left out."""
    settings = plan.settings
    cells, offered, choices = offered_choices(plan)
    choices = thinned(choices)
    table = fold_table(
        cells, choices, joints_of(settings.curves, cells.settings), Scoring.of(cells, settings.target),
        n_workers=workers or os.cpu_count() or 1, progress=progress,
    )  # fmt: skip
    specimens = choices.specimens_by_age()
    asked = Asked(
        table=table,
        offered=offered,
        assurance=settings.target.assurance,
        cost=rank_prices(choices, settings).cost,
        constraints=laboratory_constraints(specimens > 0, choices.ages_h, settings.laboratory),
    )
    return target_minimum(asked, age_h=age_h)


def _search(
    plan: Plan, *, n_draws: int, seed: int, workers: int | None, progress: Progress | None
) -> Search:
    """Score every joint choice, and price every schedule."""
    settings = plan.settings
    cells, offered, choices = offered_choices(plan)
    scoring = Scoring.of(cells, settings.target)
    joints = joints_of(settings.curves, cells.settings)
    n_workers = workers or os.cpu_count() or 1
    matrix = error_matrix(cells, choices, joints, scoring, n_workers=n_workers, progress=progress)
    prices = rank_prices(choices, settings)
    return Search(
        plan=plan,
        cells=cells,
        offered=offered,
        scoring=scoring,
        rule=Rule(matrix, prices.tier),
        draws=Draws(cells, n_draws=n_draws, seed=seed, most_specimens=settings.budget.specimens),
        cost=prices.cost,
        n_visits=prices.n_visits,
        seed=seed,
        n_workers=n_workers,
        progress=progress,
    )


def _told(search: Search, *, started: float) -> Recommendation:
    """The recommendation with the whole calibration around it."""
    result = advise(search)
    facts = _facts(search, seconds=time.perf_counter() - started)
    priced = _estimate(search, result.recommended)
    return replace(
        result,
        search=facts,
        programme=priced.count,
        estimate=priced,
        customary=None if result.customary is None else _costed(search, result.customary),
        equal_gain=None if result.equal_gain is None else _costed(search, result.equal_gain),
        compared=tuple(_costed(search, choice) for choice in result.compared),
    )


def _costed(search: Search, choice: RatedChoice) -> RatedChoice:
    """A schedule from outside the search, with what it asks of the laboratory."""
    told = _estimate(search, choice)
    return replace(choice, cost=told.total, n_visits=told.n_visits)


def _estimate(search: Search, choice: RatedChoice) -> Estimate:
    settings, cells = search.plan.settings, search.cells
    positions = [int(abs(cells.ages_h - age).argmin()) for age in choice.schedule.ages_h]
    return estimate(
        choice.label,
        choice.schedule,
        programme=settings.programme or ProgrammeSettings(instrumented=0),
        costs=settings.costs,
        laboratory=settings.laboratory,
        within_test_cv=tuple(float(cells.cv[position]) for position in positions),
        geometry=settings.prior.geometry or geometry_of(search.plan.records),
    )


def _facts(search: Search, *, seconds: float) -> SearchFacts:
    matrix = search.matrix
    return SearchFacts(
        n_choices=matrix.n_choices,
        n_joint_choices=matrix.n_choices * len(matrix.joints),
        n_fits=matrix.n_fits,
        n_at_bound=matrix.n_at_bound,
        n_unconverged=matrix.n_unconverged,
        n_second_looks=matrix.n_second_looks,
        n_draws=search.draws.n_draws,
        seed=search.seed,
        seconds=seconds,
    )
