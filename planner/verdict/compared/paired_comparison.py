"""Schedules named beforehand, held against the recommendation by nested paired differences."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.resampling import ErrorMatrix
from planner.resampling.errors.arithmetic import FEWEST_TO_FOLD, floored_rms
from planner.resampling.search.learnt_rows import LearntRows
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.recommended.validation_figures import Rival
from planner.terms.schedule import Schedule
from planner.verdict.selection.nested import Nested
from planner.verdict.statistics.sign_flip import sign_flip
from planner.verdict.wording.rival_words import rival_sentence


@dataclass(frozen=True, slots=True, eq=False)
class NamedSchedules:
    """Schedules that were not searched for: each takes the curve and constants that serve it best."""

    labels: tuple[ChoiceRole, ...]
    matrix: ErrorMatrix  # one choice for each label
    learnt: LearntRows | None = None  # rows that know other units too are worked out again where one is left out

    def best_row(self, which: int, units: IntArray, *, without: int | None = None) -> int | None:
        """Row of lowest mean loss for one schedule in these units; None where it cannot be had in any.

        Parameters
        ----------
        without
            A unit left out that no curve may have learnt from.
        """
        matrix = self.matrix
        if self.learnt is not None and without is not None:
            matrix = self.learnt.without(matrix, without)
        rows = np.flatnonzero(matrix.row_choice == which)
        loss = matrix.loss[rows][:, units]
        rows = rows[np.isfinite(loss).all(axis=1)]
        if rows.size == 0:
            return None
        return int(rows[np.argmin(matrix.loss[rows][:, units].mean(axis=1))])

    def judged_units(self, which: int) -> IntArray:
        """Units that hold all ages of one schedule."""
        rows = np.flatnonzero(self.matrix.row_choice == which)
        return np.flatnonzero(np.isfinite(self.matrix.loss[rows]).any(axis=0))

    def nested_level(self, which: int, units: IntArray) -> tuple[FloatArray, FloatArray]:
        """Unbiased squared error and variance on each unit, curve and constants chosen on the others.

        NaN where a unit lacks an age of the schedule.
        """
        judged = self.judged_units(which)
        level, variance = np.full(len(units), np.nan), np.full(len(units), np.nan)
        for i, unit in enumerate(units):
            others = judged[judged != unit]
            row = self.best_row(which, others, without=int(unit)) if others.size and unit in judged else None
            if row is not None:
                level[i] = self.matrix.level[row, unit]
                variance[i] = self.matrix.variance[row, unit]
        return level, variance


def compare(nested: Nested, named: NamedSchedules, which: int, schedule: Schedule) -> Rival | None:
    """Nested difference to one named schedule; None with fewer than two batches in common."""
    level, variance = named.nested_level(which, nested.units)
    both = np.isfinite(level)
    if both.sum() < FEWEST_TO_FOLD:
        return None
    differences = nested.level[both] - level[both]
    flip = sign_flip(differences)
    own = floored_rms(nested.level[both], nested.variance[both])
    theirs = floored_rms(level[both], variance[both])
    label = named.labels[which]
    return Rival(
        label=label,
        schedule=schedule,
        rms_difference=own - theirs,
        sign_flip_p=flip.p,
        sign_flip_floor=flip.floor,
        sentence=rival_sentence(
            label, rms=own, rival_rms=theirs, p=flip.p, floor=flip.floor, n_batches=int(both.sum())
        ),
    )
