"""What a search of very many schedules goes on with: those that a question can ever ask for, judged block by block."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from planner.choices import ChoiceSet
from planner.evidence import Cells
from planner.laboratory.casting.constraint_cases import Constraint, laboratory_constraints
from planner.resampling import Joint, Scoring
from planner.resampling.errors.later_pours.judged_programmes import Programmes, judge
from planner.resampling.search.error_matrix import ErrorMatrix, Progress
from planner.steps.allowed_choices import Prices, rank_prices
from planner.terms.arrays import AnyArray, IntArray
from planner.terms.plan.settings import JudgedOn, Settings
from planner.verdict.answers.minimum.asked_of_least import AskedOfLeast
from planner.verdict.selection import asked_schedules
from planner.verdict.selection.asked_schedules import JudgedBlock
from planner.verdict.selection.programmes.fixed_programmes import FixedProgrammes
from planner.verdict.selection.programmes.judged_basis import judged_basis
from planner.verdict.selection.programmes.programme import TOLD_TRIAL_BATCHES, Limits
from planner.verdict.selection.programmes.set_counts import Counted

Asks = Literal["what is first", "the least", "every programme", "everything"]  # of the schedules of a search


def limits_of(prices: Prices, settings: Settings) -> Limits:
    """What may be spent, beside what each schedule asks for."""
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


def constraints_on(choices: ChoiceSet, settings: Settings) -> tuple[Constraint, ...]:
    """What the laboratory might forbid, and which of the schedules obey it."""
    return laboratory_constraints(choices.specimens_by_age(), choices.ages_h, settings.laboratory)


@dataclass(frozen=True, slots=True, eq=False)
class LargeSearch:
    """Every joint choice scored; schedules are priced and judged in blocks."""

    cells: Cells
    scoring: Scoring
    joints: tuple[Joint, ...]
    settings: Settings
    n_workers: int
    progress: Progress | None

    def judged(
        self,
        choices: ChoiceSet,
        joint_of: AnyArray,
        judged_on: JudgedOn | None = None,
        n_workers: int | None = None,
    ) -> Programmes:
        """Schedules, each with its joint, for every number of trial batches that is told or searched.

        On what the plan asks for where `judged_on` is None.
        """
        numbers = {*TOLD_TRIAL_BATCHES, *self.settings.programme_asked.allowed_trial_batches}
        return judge(
            self.cells,
            self.scoring,
            choices,
            np.arange(len(choices)),
            joint_of,
            self.joints,
            judged_on=judged_on or self.judged_on,
            trial_batches=tuple(sorted(numbers)),
            n_workers=self.n_workers if n_workers is None else n_workers,
        )

    @property
    def judged_on(self) -> JudgedOn:
        return judged_basis(self.cells, self.settings.target)[0]

    def asked(
        self, matrix: ErrorMatrix, asks: Asks, *, n_lowest: int, is_drawn: bool
    ) -> tuple[IntArray, Counted | None]:
        """Rising positions of the schedules that anything is asked of, and what is told of all where the least is.

        What is told names schedules by their places among those positions.

        Parameters
        ----------
        n_lowest
            Schedules of lowest score that are listed.
        is_drawn
            No programmes are judged then.
        """
        target = self.settings.target
        is_about_least = asks in ("the least", "every programme")
        least = AskedOfLeast(
            self.cells, lambda choices: constraints_on(choices, self.settings), self.judged_on, target.assurance,
            is_tabled=asks == "every programme",
        )  # fmt: skip
        found = asked_schedules.asked_schedules(
            matrix,
            n_lowest=n_lowest,
            assurance=target.assurance,
            judge_block=None if is_drawn else self._block,
            also=least if is_about_least else None,
            n_workers=self.n_workers,
            progress=self.progress,
        )
        if not is_about_least or is_drawn:
            return found, None
        counted = least.counted()
        parts = [found] if counted is None else [found, counted.checked]
        if least.judged_on == "later pour" and least.is_none_keeping:
            parts += self._on_own_batch(matrix, least)
        positions = np.unique(np.concatenate(parts))
        if counted is not None:
            counted = replace(counted, checked=np.searchsorted(positions, counted.checked))
        return positions, counted

    def _block(self, choices: ChoiceSet, joint_of: AnyArray) -> JudgedBlock:
        return JudgedBlock(
            limits_of(rank_prices(choices, self.settings), self.settings),
            self.judged(choices, joint_of, n_workers=1),  # blocks are worked on side by side
        )

    def _on_own_batch(self, matrix: ErrorMatrix, least: AskedOfLeast) -> Sequence[IntArray]:
        """The least on the own batch is told where no later pour is kept."""
        found = []
        for span, some in matrix.choices.in_blocks(asked_schedules.AT_ONCE):
            joint_of = matrix.best_joint[span]
            limits = limits_of(rank_prices(some, self.settings), self.settings)
            fixed = FixedProgrammes.of(
                limits, self.judged(some, joint_of, "own batch"), joint_of, judged_on="own batch",
                assurance=least.assurance,
            )  # fmt: skip
            found.append(span.start + least.first_of(fixed, limits, [some.set_of], matrix.score[span]))
        return found
