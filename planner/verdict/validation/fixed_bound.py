"""The lower 95 % bound of the share inside that stands beside a fixed programme's own figure."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from planner.choices import ChoiceSet
from planner.evidence import Cells
from planner.resampling import Joint, Scoring, pair_errors
from planner.resampling.errors.arithmetic import FEWEST_FOR_BOUNDS
from planner.resampling.errors.sweeps import sweep_sets
from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import JudgedOn
from planner.verdict.selection.fixed_programmes import FixedProgramme
from planner.verdict.selection.nested import worst_signed
from planner.verdict.statistics.coverage_bounds import share_inside_lower
from planner.verdict.validation.next_batch import batch_equivalents, gathered


def share_lower_95(
    cells: Cells,
    scoring: Scoring,
    choices: ChoiceSet,
    joints: Sequence[Joint],
    programme: FixedProgramme,
    *,
    judged_on: JudgedOn,
) -> float | None:
    """Lower bound at 95 % of the share of judged readings inside; None with fewer than three batches that judge."""
    joint = joints[programme.joint]
    if judged_on == "own batch":
        positions, _ = choices.row(programme.which)
        swept = sweep_sets(cells, positions[None, :], np.array([len(positions)]), joint)
        signed = worst_signed(scoring, swept.error[0])
        return _lower(signed[np.isfinite(signed)], scoring)
    pairs = pair_errors(cells, scoring, choices, programme.which, joint)
    errors = None if pairs is None else gathered([(pairs, programme.n_trial_batches)], scoring)
    return None if errors is None else _lower(batch_equivalents(errors), scoring)


def _lower(signed: FloatArray, scoring: Scoring) -> float | None:
    return share_inside_lower(signed, tolerance=scoring.tolerance) if len(signed) >= FEWEST_FOR_BOUNDS else None
