"""Every schedule with its best curve, weighting and constants, for ``choices.csv``."""

from __future__ import annotations

import numpy as np

from planner.evidence import Cells
from planner.resampling import Draws, ErrorMatrix, Scoring, figures_of, resample_choice
from planner.resampling.figures import closed_figures
from planner.terms.arrays import FloatArray
from planner.terms.recommendation import ChoiceTable, EvidenceGrade

MOST_ROWS = 200_000
N_RESAMPLED = 200


def choice_table(
    matrix: ErrorMatrix,
    cells: Cells,
    scoring: Scoring,
    draws: Draws,
    *,
    cost: FloatArray | None,
    evidence: EvidenceGrade,
    n_resampled: int = N_RESAMPLED,
) -> ChoiceTable:
    """Rank the schedules; the first ones by resampling, the rest in closed form.

    Schedules that too few batches can judge come last, with NaN for their figures.
    """
    choices = matrix.choices
    loss = matrix.loss[matrix.best_joint * matrix.n_choices + np.arange(matrix.n_choices)]
    held = np.isfinite(loss)
    n_held = held.sum(axis=1)
    score = np.where(n_held > 0, np.where(held, loss, 0.0).sum(axis=1) / np.maximum(n_held, 1), np.nan)
    order = np.argsort(np.nan_to_num(score, nan=np.inf), kind="stable")[:MOST_ROWS]
    closed = closed_figures(
        scoring, matrix.best_error[order], matrix.best_variance[order], matrix.best_prior_variance[order]
    )
    columns = {
        "rms": closed.rms,
        "bias": closed.bias,
        "mean_abs": closed.mean_abs,
        "p95_abs": closed.p95_abs,
        "within_tolerance": closed.within_tolerance,
        "over_predicted_beyond_tolerance": closed.over_predicted_beyond_tolerance,
    }
    is_judged = n_held[order] > 0
    for column in columns.values():
        column[~is_judged] = np.nan
    is_resampled = np.zeros(len(order), dtype=bool)
    for place in range(min(n_resampled, len(order))):
        if not is_judged[place]:
            break
        which = int(order[place])
        shown = resample_choice(cells, choices, which, matrix.joints[matrix.best_joint[which]], draws)
        figures = figures_of(cells, scoring, shown)
        for name, column in columns.items():
            column[place] = getattr(figures, name)
        is_resampled[place] = True
    joints = [matrix.joints[j] for j in matrix.best_joint[order]]
    return ChoiceTable(
        schedules=tuple(choices.schedule(int(which)) for which in order),
        curve=tuple(joint.curve for joint in joints),
        weighting=tuple(joint.weighting for joint in joints),
        maturity=tuple(joint.maturity for joint in joints),
        score=score[order],
        cost=np.full(len(order), np.nan) if cost is None else cost[order],
        n_batches=n_held[order],
        is_resampled=is_resampled,
        evidence=evidence,
        n_in_search=len(choices),
        **columns,
    )
