"""The search that every question starts with: what is scored, how, and by how many."""

from __future__ import annotations

import os
from dataclasses import dataclass, replace

import numpy as np

from planner.choices import ChoiceSet
from planner.evidence import Cells
from planner.population import Basis
from planner.resampling import Draws, Joint, Scoring, error_matrix
from planner.resampling.search.error_matrix import Progress
from planner.resampling.search.learnt_rows import LearntRows
from planner.resampling.search.model_penalty import with_likeness
from planner.resampling.search.row_limit import RowLimit
from planner.steps.allowed_choices import Prices, offered_choices, price_tiers, rank_prices
from planner.steps.large_search import Asks, LargeSearch, constraints_on, limits_of
from planner.terms.plan.settings import Plan, Settings
from planner.terms.results.geometry.geometry_options import GeometryAnswer
from planner.terms.results.minimum.minimum_figures import TargetMinimum
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.verdict.answers.minimum.least_breaks import target_minimum
from planner.verdict.answers.recommendation.choice_table import MOST_ROWS
from planner.verdict.selection.added_rows import with_row
from planner.verdict.selection.offered_curves import offered_joints
from planner.verdict.selection.programmes.price_fronts import price_fronts
from planner.verdict.selection.programmes.programme import Wanted
from planner.verdict.selection.programmes.programme_rule import ProgrammeRule
from planner.verdict.selection.programmes.set_counts import Counted
from planner.verdict.selection.rule import Rule, cheapness_tiers
from planner.verdict.selection.search import Search
from planner.verdict.validation.restricted import FoldTable, fold_table, thinned

MOST_DRAWS_OF_DRAWN = 40  # of each drawn batch: there are many of them
MOST_ROWS_HELD = 500_000  # joint choices of such a search that the rule sees: 80 MB with eight batches
MOST_HELD = MOST_ROWS  # schedules: with more, only those that anything is asked of are held to the end


@dataclass(frozen=True, slots=True)
class Work:
    """How the work is done; none of it changes what is recommended."""

    n_draws: int
    seed: int
    n_workers: int
    progress: Progress | None

    @classmethod
    def of(cls, n_draws: int, seed: int, workers: int | None, progress: Progress | None) -> Work:
        """All cores where `workers` is None."""
        return cls(n_draws, seed, workers or os.cpu_count() or 1, progress)


def search_of(
    plan: Plan, basis: Basis, work: Work, *, geometries: GeometryAnswer | None = None, asks: Asks = "what is first"
) -> Search:
    """Score every joint choice, and price every schedule.

    Parameters
    ----------
    geometries
        What the geometry of the plan was chosen among; None where the records hold one.
    asks
        A search beyond `MOST_HELD` goes on with the schedules that anything is asked of: those that are first by some
        figure, or also those that the least is asked by, all programmes written down beside where "every programme" is
        asked for; "everything" holds every schedule to the end.

    Raises
    ------
    NoScheduleError
        Where no schedule satisfies the limits.
    """
    settings = plan.settings
    cells, offered, choices = offered_choices(plan, basis.cells)
    joints = offered_joints(settings.curves, basis, plan_name=plan.name)
    scoring = scoring_of(basis, joints, settings, work)
    is_cut = asks != "everything" and len(choices) > MOST_HELD
    tier = price_tiers(choices, settings, work.n_workers) if is_cut else None
    matrix = error_matrix(
        cells, choices, joints, scoring, n_workers=work.n_workers, progress=work.progress,
        row_limit=None if tier is None or basis.is_drawn else RowLimit(tier, MOST_ROWS_HELD),
    )  # fmt: skip
    counted: Counted | None = None
    if tier is not None:
        large = LargeSearch(cells, scoring, joints, settings, work.n_workers, work.progress)
        asked, counted = large.asked(matrix, asks, n_lowest=MOST_ROWS, is_drawn=basis.is_drawn)
        matrix, tier = matrix.only(asked), tier[asked]
    prices = rank_prices(matrix.choices, settings)
    tier = cheapness_tiers(*prices.keys) if tier is None else tier
    n_draws = min(work.n_draws, MOST_DRAWS_OF_DRAWN) if basis.is_drawn else work.n_draws
    rule = Rule(matrix, tier, LearntRows(cells, scoring, joints))
    programmes = None if basis.is_drawn else programme_rule(cells, scoring, rule, prices, settings, work)
    chosen = None if programmes is None else programmes.choose()
    if programmes is not None and chosen is not None:
        for taken in (chosen.taken, programmes.fewest_enough()):
            rule = rule if taken is None else with_row(rule, cells, scoring, taken)
        programmes = replace(programmes, rule=rule)
    number = settings.programme_asked.trial_batches if chosen is None else chosen.taken.n_trial_batches
    return Search(
        plan=plan,
        basis=basis,
        offered=offered,
        scoring=scoring,
        rule=rule,
        listed=choices,
        programmes=programmes,
        chosen=chosen,
        n_trial_batches=number,
        draws=Draws(cells, n_draws=n_draws, seed=work.seed),
        cost=prices.cost_of(number),
        is_thinned=chosen is not None
        and matrix.dearest_whole is not None
        and int(tier[chosen.taken.which]) > matrix.dearest_whole,
        n_visits=prices.n_visits,
        seed=work.seed,
        n_workers=work.n_workers,
        progress=work.progress,
        geometries=geometries,
        counted=counted,
    )


def programme_rule(
    cells: Cells, scoring: Scoring, rule: Rule, prices: Prices, settings: Settings, work: Work
) -> ProgrammeRule:
    """Judge every schedule for every number of trial batches, and say what is wanted of the best."""
    matrix, target = rule.matrix, settings.target
    limits = limits_of(prices, settings)
    judging = LargeSearch(cells, scoring, matrix.joints, settings, work.n_workers, None)
    everything = judging.judged(matrix.choices, matrix.best_joint)
    every = np.arange(len(matrix.choices))
    return ProgrammeRule(
        cells=cells,
        scoring=scoring,
        rule=rule,
        limits=limits,
        wanted=Wanted(judging.judged_on, target.tolerance, target.assurance, target.immaterial_difference),
        everything=everything,
        fronts=price_fronts(
            everything,
            [everything.trial_batches.index(number) for number in limits.trial_batches],
            np.stack([limits.allows(every, number) for number in limits.trial_batches], axis=1),
            limits.price_keys(every, np.array(limits.trial_batches[:1])),
            matrix.score,
        ),
        n_workers=work.n_workers,
        site_c=settings.site_temperature_c,
    )


def scoring_of(basis: Basis, joints: tuple[Joint, ...], settings: Settings, work: Work) -> Scoring:
    """How checks add up to losses.

    Means of drawn batches are true, so their errors carry no noise that would have to be paid for twice, and
    their curves differ from the truth by what the population says, not by chance.
    """
    plain = Scoring.of(basis.cells, settings.target)
    if basis.is_drawn:
        return replace(plain, variance_factor=1.0)
    return with_likeness(basis.cells, joints, plain, n_workers=work.n_workers)


def fold_table_of(basis: Basis, choices: ChoiceSet, scoring: Scoring, settings: Settings, work: Work) -> FoldTable:
    """Every schedule without each unit in turn."""
    return fold_table(
        basis.cells,
        thinned(choices),
        offered_joints(settings.curves, basis, plan_name=""),
        scoring,
        n_workers=work.n_workers,
        progress=work.progress,
    )


def least_of(
    plan: Plan, search: Search, *, age_h: float | None, customary: RatedChoice | None = None, standard: str = ""
) -> TargetMinimum:
    """Ask of every programme that was searched what can be left out."""
    return target_minimum(
        search,
        age_h=age_h,
        constraints=constraints_on(search.matrix.choices, plan.settings),
        customary=customary,
        standard=standard,
    )
