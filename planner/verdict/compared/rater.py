"""Joint choices with their figures, ready to be shown."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.evidence import Cells
from planner.resampling import Draws, ErrorMatrix, Scoring, figures_of, resample_choice
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.recommended.rated_choice import RatedChoice, TargetFigures
from planner.verdict.selection.search import Asks


@dataclass(frozen=True, slots=True, eq=False)
class Rater:
    """Makes rated choices from one set of records; every choice it rates is resampled with the same draws."""

    cells: Cells
    scoring: Scoring
    draws: Draws

    def rate_row(self, label: ChoiceRole, matrix: ErrorMatrix, row: int, asks: Asks) -> RatedChoice:
        """Refit, resample and describe one joint choice, a row of the matrix.

        Its score is what it was ranked by: the mean loss there, with what other schedules say of its curve.

        Parameters
        ----------
        asks
            What its schedule costs, and how it stands beside others.
        """
        which, joint = matrix.choice_of(row), matrix.joint_of(row)
        shown = resample_choice(self.cells, matrix.choices, which, joint, self.draws)
        schedule = matrix.choices.schedule(which)
        held = np.isfinite(matrix.loss[row])
        noise = self.scoring.by_unit(np.nan_to_num(shown.schedule_variance))[held]
        return RatedChoice(
            label=label,
            schedule=schedule,
            curve=joint.curve,
            weighting=joint.weighting,
            maturity=joint.maturity,
            n_batches=int(held.sum()),
            score=float(matrix.loss[row, held].mean()),
            error=figures_of(self.cells, self.scoring, shown),
            per_target=tuple(
                TargetFigures(age_h=age_h, figures=figures_of(self.cells, self.scoring, shown, target=t))
                for t, age_h in enumerate(self.cells.target_ages_h)
            ),
            cost=asks.cost,
            n_visits=asks.n_visits,
            efficiency=asks.efficiency,
            schedule_rms=float(np.sqrt(noise.mean())),
            is_extrapolating=shown.is_extrapolating,
            is_beaten=asks.is_beaten,
        )
