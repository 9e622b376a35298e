"""Choices that stand beside the recommended one: next best, tied, enough, with an age more or less."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from planner.choices import choice_set
from planner.resampling import error_matrix
from planner.terms.arrays import FloatArray
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.programme_figures import Spending
from planner.terms.results.recommended.design_figures import AgeRole
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.results.recommended.validation_figures import Honest
from planner.terms.results.sample_size import Enough
from planner.terms.schedule import Schedule
from planner.verdict.answers.programmes.enough_programmes import fewest_enough
from planner.verdict.answers.programmes.enough_specimens import enough
from planner.verdict.compared.age_importance import Variants, age_roles
from planner.verdict.compared.rater import Rater
from planner.verdict.design.efficiency import PlacementLimit, variant_schedules
from planner.verdict.selection.programmes.programme import Chosen
from planner.verdict.selection.rule import Rung, Training
from planner.verdict.selection.search import Search

N_NEXT_BEST = 10


def next_best_of(
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


def enough_row_of(
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


def tied_rows_of(search: Search, chosen: Chosen) -> list[int]:
    """Rows of the schedules that tie with as many trial batches as are recommended, cheapest first."""
    number = chosen.taken.n_trial_batches
    return [search.row_of(taken) for taken in chosen.tied if taken.n_trial_batches == number]


def age_roles_of(search: Search, chosen: int, inclusion: FloatArray) -> tuple[AgeRole, ...]:
    """What each candidate age does for the recommended schedule, from the schedule with it and without it."""
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
