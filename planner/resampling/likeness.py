"""What the records say of a curve and its constants beyond any one schedule.

Among thousands of joint choices a wrong curve looks right in some schedule by luck, and a few batches
cannot tell. But a curve that suits a mix suits it in most schedules. So the typical loss of a joint over
all sets of ages is added to the loss of each of its choices, batch by batch: schedules of one joint keep
their order, and a joint that fits one schedule by chance loses its lead. A penalty per batch is summed
and left out like any other loss, so selection without a batch, ties and the bootstrap never see what
they must not: the curve is not tuned first, it is chosen with the schedule in every fold.

The weight 1 and the median were tried beside 0 and 3 and the 0.2 quantile on simulated programmes; see
``python -m tests.statistics.regret``.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from planner.choices import ChoiceSet
from planner.evidence import Cells
from planner.terms.arrays import FloatArray

from .pieces import set_table
from .scoring import Scoring
from .sweeps import Joint

MOST_SETS = 400  # sets of ages that a joint is judged by, spread evenly over all


def with_likeness(cells: Cells, choices: ChoiceSet, joints: tuple[Joint, ...], scoring: Scoring) -> Scoring:
    """Add the penalty of every joint to the scoring."""
    return replace(scoring, penalty=curve_likeness(cells, choices, joints, scoring))


def curve_likeness(
    cells: Cells, choices: ChoiceSet, joints: tuple[Joint, ...], scoring: Scoring
) -> FloatArray:
    """Median loss of each joint over the sets of ages, with the most specimens anywhere, ``(n_joints, n_units)``.

    Sets that a unit lacks, or with too few ages for the curve, do not count; a joint that a unit cannot
    judge at all takes the largest median there.
    """
    sets = np.unique(np.linspace(0, choices.n_sets - 1, MOST_SETS).astype(np.int64))
    table = set_table(cells, choices.set_members[sets], choices.set_n_ages[sets], joints, scoring)
    loss = table.square + scoring.variance_factor * table.shares.sum(axis=3) / float(choices.specimens.max())
    loss = np.where(np.isfinite(loss), loss, np.nan)
    typical = np.full((len(joints), scoring.n_units), np.nan)
    for j in range(len(joints)):
        held = ~np.isnan(loss[j]).all(axis=0)
        if held.any():
            typical[j, held] = np.nanmedian(loss[j][:, held], axis=0)
    worst = np.nanmax(typical, axis=0, initial=0.0)
    return np.where(np.isnan(typical), worst, typical)
