"""What the rule takes and what it finds best, rated: all that is worked out of one recommendation starts here."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.terms.arrays import IntArray
from planner.terms.problems import NoScheduleError
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.verdict.compared.rater import Rater
from planner.verdict.design.efficiency import PlacementLimit, placement_limit
from planner.verdict.selection.rule import Training
from planner.verdict.selection.search import Search

MOST_VIEWS_OF_LIMIT = 10  # drawn batches that the limit is computed over: each costs a slow fit


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class RatedPick:
    """What the rule takes and what it finds best, with their figures."""

    training: Training  # on all batches
    tied_rows: IntArray  # with the best, of one trial batch
    chosen_row: int
    rater: Rater
    limit: PlacementLimit | None
    recommended: RatedChoice
    best: RatedChoice


def rated_pick_of(search: Search) -> RatedPick:
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

    return RatedPick(
        training=training,
        tied_rows=rule.tied(training, pick.best),
        chosen_row=chosen_row,
        rater=rater,
        limit=limit,
        recommended=rated(ChoiceRole.RECOMMENDED, chosen_row),
        best=rated(ChoiceRole.BEST, pick.best),
    )
