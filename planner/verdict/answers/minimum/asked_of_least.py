"""Which schedules of a large search the least can ask for, found block by block.

Nearly every question about the least is about unions of sets of ages, so the first ones of every set are kept, and all
programmes are counted by set. The constraints of the laboratory, a standard's counts and whether a schedule spans the
targets part the schedules of one set; of these the first ones are kept as well.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from planner.choices import ChoiceSet
from planner.evidence import Cells
from planner.resampling import ErrorMatrix
from planner.terms.arrays import AnyArray, BoolArray, FloatArray, IntArray
from planner.terms.plan.settings import JudgedOn
from planner.verdict.answers.minimum.spans import spanning
from planner.verdict.answers.minimum.standard_counts import STANDARDS
from planner.verdict.selection.asked_schedules import JudgedBlock
from planner.verdict.selection.programmes.fixed_programmes import FixedProgrammes
from planner.verdict.selection.programmes.programme import Limits
from planner.verdict.selection.programmes.programme_table import ProgrammeTable
from planner.verdict.selection.programmes.set_counts import Counted, SetCounts, evenly, first_of_groups

Constraints = Callable[[ChoiceSet], Sequence[tuple[str, BoolArray]]]  # of the laboratory, by name


@dataclass(slots=True, eq=False)
class AskedOfLeast:
    """Asked once for every block, in their order; then it has counted all."""

    cells: Cells
    constraints: Constraints
    judged_on: JudgedOn
    assurance: float
    is_tabled: bool = False  # whether every programme is written down
    by_set: SetCounts | None = None
    _possible: list[AnyArray] = field(default_factory=list)  # of each block, a bit for every schedule
    _lengths: list[int] = field(default_factory=list)
    _tables: list[ProgrammeTable] = field(default_factory=list)

    def __call__(self, span: slice, block: JudgedBlock, matrix: ErrorMatrix) -> IntArray:
        """Positions within the block that the least can ask for."""
        choices, joint_of = matrix.choices.part(span), matrix.best_joint[span]
        fixed = FixedProgrammes.of(
            block.limits, block.everything, joint_of, judged_on=self.judged_on, assurance=self.assurance
        )
        counts = SetCounts.of(fixed, choices.set_of, choices.n_sets)
        self.by_set = counts if self.by_set is None else self.by_set + counts
        self._possible.append(np.packbits(fixed.is_possible.any(axis=1)))
        self._lengths.append(len(choices))
        if self.is_tabled:
            self._tables.append(ProgrammeTable.of(fixed, block.limits, choices, matrix.score[span]))
        groups = [choices.set_of, *(np.where(mask, 0, -1) for mask in self._masks(choices, joint_of, matrix))]
        return self.first_of(fixed, block.limits, groups, matrix.score[span])

    @staticmethod
    def first_of(fixed: FixedProgrammes, limits: Limits, groups: Sequence[AnyArray], score: FloatArray) -> IntArray:
        """First schedules of every group of every grouping."""
        every = np.arange(len(score))
        costs = [limits.cost(every, number) for number in fixed.trial_batches]
        known = [one for one in costs if one is not None]
        cost = np.stack(known, axis=1) if known else None
        return np.unique(np.concatenate([first_of_groups(fixed, one, cost=cost, score=score) for one in groups]))

    def _masks(self, choices: ChoiceSet, joint_of: AnyArray, matrix: ErrorMatrix) -> Iterator[BoolArray]:
        is_spanning = spanning(self.cells, choices, joint_of, matrix.joints)
        yield is_spanning
        for standard in STANDARDS:
            has_counts = standard.are_had_by(choices)
            yield has_counts
            yield has_counts & is_spanning
        for _name, is_obeying in self.constraints(choices):
            yield is_obeying

    @property
    def is_none_keeping(self) -> bool:
        """Whether no programme keeps the target where it is judged."""
        return self.by_set is None or not self.by_set.keeping.any()

    def counted(self) -> Counted | None:
        """What is told of all programmes; None where none was judged."""
        if self.by_set is None:
            return None
        pairs = zip(self._possible, self._lengths, strict=True)
        possible = np.concatenate([np.unpackbits(bits, count=n).astype(bool) for bits, n in pairs])
        table = ProgrammeTable.joined(self._tables) if self._tables else None
        return Counted(self.by_set, evenly(np.flatnonzero(possible)), table)
