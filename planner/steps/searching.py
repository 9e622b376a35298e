"""The search that every question starts with: what is scored, how, and by how many."""

from __future__ import annotations

import os
from dataclasses import dataclass, replace

import numpy as np

from planner.choices import ChoiceSet
from planner.evidence import Cells
from planner.laboratory.casting.constraint_cases import laboratory_constraints
from planner.population import Basis
from planner.resampling import Draws, Joint, Scoring, error_matrix
from planner.resampling.errors.later_pours.judged_programmes import Programmes, judge
from planner.resampling.search.error_matrix import ErrorMatrix, Progress
from planner.resampling.search.learnt_rows import LearntRows
from planner.resampling.search.model_penalty import with_likeness
from planner.resampling.search.row_limit import RowLimit
from planner.steps.allowed_choices import Prices, offered_choices, price_tiers, rank_prices
from planner.terms.arrays import AnyArray, IntArray
from planner.terms.plan.settings import Plan, Settings
from planner.terms.results.geometry.geometry_options import GeometryAnswer
from planner.terms.results.minimum.minimum_figures import TargetMinimum
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.verdict.answers.minimum.least_breaks import target_minimum
from planner.verdict.answers.recommendation.choice_table import MOST_ROWS
from planner.verdict.selection.added_rows import with_row
from planner.verdict.selection.asked_schedules import JudgedBlock, asked_schedules
from planner.verdict.selection.offered_curves import offered_joints
from planner.verdict.selection.programmes.judged_basis import judged_basis
from planner.verdict.selection.programmes.price_fronts import price_fronts
from planner.verdict.selection.programmes.programme import TOLD_TRIAL_BATCHES, Limits, Wanted
from planner.verdict.selection.programmes.programme_rule import ProgrammeRule
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
    plan: Plan, basis: Basis, work: Work, *, geometries: GeometryAnswer | None = None, is_whole: bool = False
) -> Search:
    """Score every joint choice, and price every schedule.

    Parameters
    ----------
    geometries
        What the geometry of the plan was chosen among; None where the records hold one.
    is_whole
        Hold every schedule to the end, for questions that part them otherwise than by what is first. Without it a
        search beyond `MOST_HELD` goes on with the schedules that anything is asked of.

    Raises
    ------
    NoScheduleError
        Where no schedule satisfies the limits.
    """
    settings = plan.settings
    cells, offered, choices = offered_choices(plan, basis.cells)
    joints = offered_joints(settings.curves, basis, plan_name=plan.name)
    scoring = scoring_of(basis, joints, settings, work)
    is_cut = not is_whole and len(choices) > MOST_HELD
    tier = price_tiers(choices, settings) if is_cut else None
    matrix = error_matrix(
        cells, choices, joints, scoring, n_workers=work.n_workers, progress=work.progress,
        row_limit=None if tier is None or basis.is_drawn else RowLimit(tier, MOST_ROWS_HELD),
    )  # fmt: skip
    if tier is not None:
        asked = _asked(cells, scoring, matrix, settings, work, is_drawn=basis.is_drawn)
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
    )


def programme_rule(
    cells: Cells, scoring: Scoring, rule: Rule, prices: Prices, settings: Settings, work: Work
) -> ProgrammeRule:
    """Judge every schedule for every number of trial batches, and say what is wanted of the best."""
    matrix, target = rule.matrix, settings.target
    limits = _limits(prices, settings)
    everything = _judged(cells, scoring, matrix, matrix.choices, matrix.best_joint, settings, n_workers=work.n_workers)
    every = np.arange(len(matrix.choices))
    return ProgrammeRule(
        cells=cells,
        scoring=scoring,
        rule=rule,
        limits=limits,
        wanted=Wanted(judged_basis(cells, target)[0], target.tolerance, target.assurance, target.immaterial_difference),
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


def _limits(prices: Prices, settings: Settings) -> Limits:
    return Limits(
        trial_batches=settings.programme_asked.allowed_trial_batches,
        most_specimens=settings.budget.specimens,
        most_cost=settings.budget.cost,
        n_specimens=prices.n_specimens,
        n_visits=prices.n_visits,
        last_age_h=prices.last_age_h,
        batch_cost=prices.batch_cost,
        cost_once=prices.cost_once,
        ready_by_h=settings.budget.ready_by_h,
        between_castings_h=settings.budget.between_castings_h,
    )


def _judged(
    cells: Cells,
    scoring: Scoring,
    matrix: ErrorMatrix,
    choices: ChoiceSet,
    joint_of: AnyArray,
    settings: Settings,
    *,
    n_workers: int,
) -> Programmes:
    """Schedules, each with its joint of lowest loss, for every number of trial batches that is told or searched."""
    return judge(
        cells,
        scoring,
        choices,
        np.arange(len(choices)),
        joint_of,
        matrix.joints,
        judged_on=judged_basis(cells, settings.target)[0],
        trial_batches=tuple(sorted({*TOLD_TRIAL_BATCHES, *settings.programme_asked.allowed_trial_batches})),
        n_workers=n_workers,
    )


def _asked(
    cells: Cells, scoring: Scoring, matrix: ErrorMatrix, settings: Settings, work: Work, *, is_drawn: bool
) -> IntArray:
    """The schedules of a large search that anything is asked of."""

    def judge_block(choices: ChoiceSet, joint_of: AnyArray) -> JudgedBlock:
        limits = _limits(rank_prices(choices, settings), settings)
        return JudgedBlock(
            limits, _judged(cells, scoring, matrix, choices, joint_of, settings, n_workers=work.n_workers)
        )

    return asked_schedules(
        matrix,
        n_lowest=MOST_ROWS,
        assurance=settings.target.assurance,
        judge_block=None if is_drawn else judge_block,
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
    choices = search.matrix.choices
    return target_minimum(
        search,
        age_h=age_h,
        constraints=laboratory_constraints(choices.specimens_by_age(), choices.ages_h, plan.settings.laboratory),
        customary=customary,
        standard=standard,
    )
