"""Rows of the error matrix for programmes that the search let go of."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from planner.evidence import Cells
from planner.resampling import Scoring, error_matrix
from planner.verdict.selection.programmes.programme import Taken
from planner.verdict.selection.rule import Rule


def with_row(rule: Rule, cells: Cells, scoring: Scoring, taken: Taken) -> Rule:
    """The same rule with a row for a programme that is far from the lowest loss: it may be good enough all the same."""
    matrix = rule.matrix
    if np.any((matrix.row_choice == taken.which) & (matrix.row_joint == taken.joint)):
        return rule
    alone = error_matrix(cells, matrix.choices.alone(taken.which), matrix.joints, scoring, is_all_kept=True)
    row = np.flatnonzero(alone.row_joint == taken.joint)
    return replace(
        rule,
        matrix=replace(
            matrix,
            row_choice=np.r_[matrix.row_choice, taken.which],
            row_joint=np.r_[matrix.row_joint, taken.joint],
            loss=np.concatenate([matrix.loss, alone.loss[row]]),
            level=np.concatenate([matrix.level, alone.level[row]]),
            variance=np.concatenate([matrix.variance, alone.variance[row]]),
            is_over=np.concatenate([matrix.is_over, alone.is_over[row]]),
            is_low=np.r_[matrix.is_low, False],
        ),
    )
