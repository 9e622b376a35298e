"""The one matrix: loss, level and variance of every joint choice in every held-out unit.

Every fit is that of one batch alone and nothing is tuned before it is selected, so leaving batches
out, nested selection, ties and the bootstrap over batches are sums and argmins over this matrix.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from planner.choices import ChoiceSet
from planner.evidence import Cells
from planner.terms.arrays import BoolArray, FloatArray, IntArray, SingleArray

from .scoring import Scoring
from .sweeps import Joint, Swept, sweep_joint

Progress = Callable[[int, int, str], None]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ErrorMatrix:
    """Rows are joint choices: row ``joint * n_choices + choice``.

    NaN: the unit lacks an age of the schedule, or the schedule has too few ages for the curve. Infinite:
    the ages are there but cannot tell the curve's parameters apart.
    """

    choices: ChoiceSet
    joints: tuple[Joint, ...]
    loss: FloatArray  # C, (n_joints * n_choices, n_units)
    level: SingleArray  # unbiased squared error against true strength, same shape
    variance: SingleArray  # v of the schedule's own specimens, same shape
    is_over: BoolArray  # over-predicted beyond tolerance at any check, same shape
    best_joint: IntArray  # joint of lowest mean loss for each schedule, (n_choices,)
    best_error: FloatArray  # its errors at the checks, (n_choices, n_checks)
    best_variance: FloatArray  # v, same shape
    best_prior_variance: FloatArray  # v with the specimens the batches really had, same shape
    n_fits: int
    n_at_bound: int
    n_unconverged: int
    n_second_looks: int

    @property
    def n_choices(self) -> int:
        return len(self.choices)

    def joint_of(self, row: int) -> Joint:
        """Curve, weighting and constants of a row."""
        return self.joints[row // self.n_choices]

    def choice_of(self, row: int) -> int:
        """Schedule of a row, as a position in `choices`."""
        return row % self.n_choices


def error_matrix(
    cells: Cells,
    choices: ChoiceSet,
    joints: tuple[Joint, ...],
    scoring: Scoring,
    *,
    n_workers: int = 1,
    progress: Progress | None = None,
) -> ErrorMatrix:
    """Score every joint choice.

    Threads over compiled loops that hold no lock; joints are merged in their own order, so the result
    does not depend on the number of workers, to the last bit.
    """
    n_choices, n_units = len(choices), cells.n_units
    shape = (len(joints), n_choices, n_units)
    loss = np.empty(shape)
    level = np.empty(shape, dtype=np.float32)
    variance = np.empty(shape, dtype=np.float32)
    is_over = np.empty(shape, dtype=bool)
    n_checks = len(cells.check_view)
    best_score = np.full(n_choices, np.inf)
    best_joint = np.zeros(n_choices, dtype=np.int64)
    best = [np.full((n_choices, n_checks), np.nan) for _ in range(3)]
    totals = np.zeros(4, dtype=np.int64)
    for j, swept in enumerate(_swept(cells, choices, joints, n_workers)):
        loss[j] = scoring.loss(swept.error, swept.schedule_variance)
        level[j] = scoring.level(swept.error, swept.schedule_variance, swept.prior_variance)
        variance[j] = scoring.by_unit(swept.schedule_variance)
        is_over[j] = scoring.over_predicted_beyond(swept.error)
        score = _mean_where_held(loss[j])
        is_better = score < best_score
        best_score[is_better] = score[is_better]
        best_joint[is_better] = j
        for kept, new in zip(best, (swept.error, swept.schedule_variance, swept.prior_variance), strict=True):
            kept[is_better] = new[is_better]
        totals += (swept.n_fits, swept.n_at_bound, swept.n_unconverged, swept.n_second_looks)
        if progress:
            progress(j + 1, len(joints), "Fitting every schedule to every batch")
    rows = (-1, n_units)
    return ErrorMatrix(
        choices=choices,
        joints=joints,
        loss=loss.reshape(rows),
        level=level.reshape(rows),
        variance=variance.reshape(rows),
        is_over=is_over.reshape(rows),
        best_joint=best_joint,
        best_error=best[0],
        best_variance=best[1],
        best_prior_variance=best[2],
        n_fits=int(totals[0]),
        n_at_bound=int(totals[1]),
        n_unconverged=int(totals[2]),
        n_second_looks=int(totals[3]),
    )


def _swept(
    cells: Cells, choices: ChoiceSet, joints: tuple[Joint, ...], n_workers: int
) -> Iterator[Swept]:
    """Sweep the joints, in order, a few ahead at a time so that memory does not grow with their number."""
    if n_workers <= 1:
        yield from (sweep_joint(cells, choices, joint) for joint in joints)
        return
    with ThreadPoolExecutor(n_workers) as pool:
        ahead = 2 * n_workers
        waiting = [pool.submit(sweep_joint, cells, choices, joint) for joint in joints[:ahead]]
        for j in range(len(joints)):
            yield waiting.pop(0).result()
            if j + ahead < len(joints):
                waiting.append(pool.submit(sweep_joint, cells, choices, joints[j + ahead]))


def _mean_where_held(loss: FloatArray) -> FloatArray:
    """Mean loss over the units a schedule can be had in; infinite with fewer than half of them."""
    held = ~np.isnan(loss)
    n_held = held.sum(axis=1)
    total = np.where(held, loss, 0.0).sum(axis=1)
    return np.where(2 * n_held >= loss.shape[1], total / np.maximum(n_held, 1), np.inf)
