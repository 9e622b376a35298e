"""Rows of curves with a prior as they stand in the selection without a unit.

A free curve knows one batch alone, so the selection without a unit leaves a column out and is done. A curve with a
prior has learnt from that unit too. Here its rows are worked out again with what it learns without it; the rows
themselves are those that were kept by what it learns from all units but the one judged.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from planner.evidence import Cells
from planner.resampling.errors.expansion import expand, expand_checks
from planner.resampling.errors.scoring import Scoring
from planner.resampling.errors.sweeps import Joint
from planner.resampling.search.error_matrix import ErrorMatrix
from planner.resampling.search.model_penalty import constant_likeness, curve_likeness
from planner.resampling.search.pieces import set_table
from planner.terms.arrays import AnyArray, FloatArray, IntArray


@dataclass(frozen=True, slots=True, eq=False)
class LearntRows:
    """What is needed to work rows out again. Every unit's answer is kept."""

    cells: Cells
    scoring: Scoring  # of all joints
    joints: tuple[Joint, ...]
    _found: dict[tuple[int, int], tuple[ErrorMatrix, ErrorMatrix]] = field(default_factory=dict)

    def without(self, matrix: ErrorMatrix, unit: int) -> ErrorMatrix:
        """The same rows where no curve has learnt from a unit.

        What is said of the unit itself stays: no curve had learnt from it. NaN in a unit where too few others are
        left to learn from.
        """
        if not any(joint.is_learnt for joint in self.joints):
            return matrix
        key = (id(matrix), unit)  # of a matrix that is kept here, so that no other takes its place
        if key not in self._found:
            self._found[key] = (matrix, self._worked_out(matrix, unit))
        return self._found[key][1]

    def _worked_out(self, matrix: ErrorMatrix, unit: int) -> ErrorMatrix:
        learnt = [j for j, joint in enumerate(self.joints) if joint.is_learnt]
        joints = tuple(replace(self.joints[j], without=unit) for j in learnt)
        penalty = likeness_of(self.cells, joints, self.scoring)
        columns: list[AnyArray] = [
            array.copy() for array in (matrix.loss, matrix.level, matrix.variance, matrix.is_over)
        ]
        own = np.arange(self.scoring.n_units) == unit
        for place, j in enumerate(learnt):
            rows = np.flatnonzero(matrix.row_joint == j)
            if rows.size:
                scoring = replace(self.scoring, penalty=None if penalty is None else penalty[[place]])
                found = self._rows_of(matrix, rows, joints[place], scoring)
                for column, part in zip(columns, found, strict=True):
                    column[rows] = np.where(own, column[rows], part)
        loss, level, variance, is_over = columns
        return replace(matrix, loss=loss, level=level, variance=variance, is_over=is_over)

    def _rows_of(self, matrix: ErrorMatrix, rows: IntArray, joint: Joint, scoring: Scoring) -> tuple[AnyArray, ...]:
        """Loss, level, variance and over-prediction of rows of one joint, ``(n_rows, n_units)`` each."""
        choices, which = matrix.choices, matrix.row_choice[rows]
        sets, local = np.unique(choices.set_of[which], return_inverse=True)
        n_ages, specimens = choices.set_n_ages[sets], choices.specimens_of(which)
        table = set_table(self.cells, choices.set_members[sets], n_ages, (joint,), scoring)
        loss = np.empty((len(rows), 1, scoring.n_units))
        if table.error is None or table.contribution is None:
            expand(table.square, table.single_variance, local, n_ages, specimens, scoring.variance_factor, loss)
        else:
            expand_checks(
                table.error, table.contribution, local, n_ages, specimens, scoring.variance_factor,
                scoring.over_weight, scoring.is_worst, scoring.weight, scoring.unit, scoring.target,
                np.array(scoring.target_weights), loss,
            )  # fmt: skip
            if scoring.penalty is not None:
                loss += scoring.penalty
        variance = np.einsum("rua,ra->ru", table.single_variance[0, local], 1.0 / np.maximum(specimens, 1))
        level = (table.level[0, local] + variance).astype(np.float32)
        return loss[:, 0], level, variance.astype(np.float32), table.is_over[0, local]


def likeness_of(cells: Cells, joints: tuple[Joint, ...], scoring: Scoring) -> FloatArray | None:
    """Penalty of some joints alone, ``(n_joints, n_units)``; None where the scoring knows none."""
    if scoring.penalty is None:
        return None
    return curve_likeness(cells, joints, scoring) + constant_likeness(cells, joints, scoring)
