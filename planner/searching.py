"""The search that every question starts with: what is scored, how, and by how many."""

from __future__ import annotations

import os
from dataclasses import dataclass, replace

from planner.allowed_choices import offered_choices, rank_prices
from planner.choices import ChoiceSet
from planner.laboratory.constraint_cases import laboratory_constraints
from planner.population import Basis
from planner.resampling import Draws, Joint, Scoring, error_matrix, joints_of
from planner.resampling.search.error_matrix import Progress
from planner.resampling.search.model_penalty import with_likeness
from planner.terms.answers import TargetMinimum
from planner.terms.settings import Plan, Settings
from planner.verdict.answers.least_breaks import Asked, target_minimum
from planner.verdict.selection.rule import Rule
from planner.verdict.selection.search import Search
from planner.verdict.validation.restricted import FoldTable, fold_table, thinned

MOST_DRAWS_OF_DRAWN = 40  # of each drawn batch: there are many of them


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


def search_of(plan: Plan, basis: Basis, work: Work) -> Search:
    """Score every joint choice, and price every schedule.

    Raises
    ------
    NoScheduleError
        Where no schedule satisfies the limits.
    """
    settings = plan.settings
    cells, offered, choices = offered_choices(plan, basis.cells)
    joints = joints_of(settings.curves, cells.settings)
    scoring = scoring_of(basis, choices, joints, settings, work)
    matrix = error_matrix(cells, choices, joints, scoring, n_workers=work.n_workers, progress=work.progress)
    prices = rank_prices(choices, settings)
    n_draws = min(work.n_draws, MOST_DRAWS_OF_DRAWN) if basis.is_drawn else work.n_draws
    return Search(
        plan=plan,
        basis=basis,
        offered=offered,
        scoring=scoring,
        rule=Rule(matrix, prices.tier),
        draws=Draws(cells, n_draws=n_draws, seed=work.seed),
        cost=prices.cost,
        n_visits=prices.n_visits,
        seed=work.seed,
        n_workers=work.n_workers,
        progress=work.progress,
    )


def scoring_of(basis: Basis, choices: ChoiceSet, joints: tuple[Joint, ...], settings: Settings, work: Work) -> Scoring:
    """How checks add up to losses.

    Means of drawn batches are true, so their errors carry no noise that would have to be paid for twice, and
    their curves differ from the truth by what the population says, not by chance.
    """
    plain = Scoring.of(basis.cells, settings.target)
    if basis.is_drawn:
        return replace(plain, variance_factor=1.0)
    return with_likeness(basis.cells, choices, joints, plain, n_workers=work.n_workers)


def fold_table_of(basis: Basis, choices: ChoiceSet, scoring: Scoring, settings: Settings, work: Work) -> FoldTable:
    """Every schedule without each unit in turn."""
    return fold_table(
        basis.cells,
        thinned(choices),
        joints_of(settings.curves, basis.cells.settings),
        scoring,
        n_workers=work.n_workers,
        progress=work.progress,
    )


def least_of(plan: Plan, basis: Basis, work: Work, *, age_h: float | None) -> TargetMinimum:
    """Score every schedule without each unit in turn, and ask what can be left out."""
    settings = plan.settings
    cells, offered, choices = offered_choices(plan, basis.cells)
    scoring = scoring_of(basis, choices, joints_of(settings.curves, cells.settings), settings, work)
    table = fold_table_of(basis, choices, scoring, settings, work)
    asked = Asked(
        table=table,
        offered=offered,
        assurance=settings.target.assurance,
        cost=rank_prices(table.choices, settings).cost,
        constraints=laboratory_constraints(table.choices.specimens_by_age(), table.choices.ages_h, settings.laboratory),
    )
    return target_minimum(asked, age_h=age_h)
