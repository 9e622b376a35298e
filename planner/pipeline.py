"""START HERE: the whole program as one walk from a plan to a recommendation. No input or output.

    records -> cells with maturities -> schedules -> errors of every joint choice -> the rule, repeated
    without each batch -> what may honestly be said -> one frozen result

Every step is one call into one room. Readers make the `Plan`, renderers read the `Recommendation`.
"""

from __future__ import annotations

import os
import time
from dataclasses import dataclass, replace

from planner.choices import ChoiceSet, enumerate_choices, extra_choices, offered_ages
from planner.evidence import tabulate
from planner.laboratory.casting import schedule_costs
from planner.resampling import Draws, ErrorMatrix, Scoring, error_matrix, joints_of
from planner.resampling.matrix import Progress
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.problems import NoScheduleError
from planner.terms.recommendation import RatedChoice, Recommendation, SearchFacts
from planner.terms.schedule import Schedule
from planner.terms.settings import Plan, ProgrammeSettings, Settings
from planner.verdict.advice import Search, advise
from planner.verdict.rule import Rule, cheapness_tiers


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
    settings = plan.settings
    cells = tabulate(plan.records, settings)
    offered = offered_ages(
        cells.ages_h, cells.is_candidate, cells.typical_mpa(), settings.choices, settings.budget
    )
    choices = enumerate_choices(cells.ages_h, offered, settings.choices, settings.budget)
    scoring = Scoring.of(cells, settings.target)
    joints = joints_of(settings.curves, cells.settings)
    n_workers = workers or os.cpu_count() or 1
    matrix = error_matrix(cells, choices, joints, scoring, n_workers=n_workers, progress=progress)
    prices = price(choices, settings)
    rule = Rule(matrix, prices.tier)
    search = Search(
        plan=plan,
        cells=cells,
        offered=offered,
        scoring=scoring,
        rule=rule,
        draws=Draws(cells, n_draws=n_draws, seed=seed, most_specimens=settings.budget.specimens),
        cost=prices.cost,
        n_visits=prices.n_visits,
        seed=seed,
        n_workers=n_workers,
        progress=progress,
    )
    result = advise(search)
    return replace(
        result,
        search=_facts(matrix, choices, seconds=time.perf_counter() - started, n_draws=n_draws, seed=seed),
    )


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


@dataclass(frozen=True, slots=True, eq=False)
class Prices:
    """What every schedule asks of the laboratory, each at its own cheapest casting hour."""

    cost: FloatArray | None  # None without [costs], (n_choices,)
    n_visits: IntArray  # (n_choices,)
    tier: IntArray  # cheapness, lower is cheaper, (n_choices,)


def price(choices: ChoiceSet, settings: Settings) -> Prices:
    """Rank schedules by cost: money where prices are given, else specimens, visits and the last age."""
    specimens = choices.specimens_by_age()
    told = schedule_costs(
        specimens > 0,
        specimens,
        tuple(float(age) for age in choices.ages_h),
        settings.laboratory,
        settings.costs,
        settings.programme or ProgrammeSettings(instrumented=0),
    )
    keys = (choices.n_specimens, told.n_visits, choices.last_age_h)
    if settings.costs is None:
        return Prices(None, told.n_visits, cheapness_tiers(*keys))
    return Prices(told.cost, told.n_visits, cheapness_tiers(told.cost, *keys))


def _facts(
    matrix: ErrorMatrix, choices: ChoiceSet, *, seconds: float, n_draws: int, seed: int
) -> SearchFacts:
    return SearchFacts(
        n_choices=len(choices),
        n_joint_choices=len(choices) * len(matrix.joints),
        n_fits=matrix.n_fits,
        n_at_bound=matrix.n_at_bound,
        n_unconverged=matrix.n_unconverged,
        n_second_looks=matrix.n_second_looks,
        n_draws=n_draws,
        seed=seed,
        seconds=seconds,
    )
