"""Every schedule with its best curve, weighting and constants, for ``choices.csv``."""

from __future__ import annotations

import numpy as np

from planner.choices import ChoiceSet
from planner.evidence import Cells
from planner.resampling import Draws, ErrorMatrix, Scoring, figures_of, resample_choice
from planner.resampling.errors.closed_form import closed_figures
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.results.recommended.evidence_figures import EvidenceGrade
from planner.terms.results.recommended.listed_choices import ChoiceTable
from planner.terms.results.schedule_table import ScheduleTable

MOST_ROWS = 200_000
N_RESAMPLED = 50  # more than anybody reads; the closed form differs in the third digit


def choice_table(
    matrix: ErrorMatrix,
    cells: Cells,
    scoring: Scoring,
    draws: Draws,
    *,
    cost: FloatArray | None,
    n_visits: IntArray,
    evidence: EvidenceGrade,
    n_resampled: int = N_RESAMPLED,
    n_workers: int = 1,
) -> ChoiceTable:
    """Rank the schedules; the first ones by resampling, the rest in closed form.

    Schedules that too few batches can judge come last, with NaN for their figures.
    """
    choices = matrix.choices
    order = np.argsort(matrix.score, kind="stable")[:MOST_ROWS]
    joint_of = matrix.best_joint[order]
    closed = closed_figures(cells, scoring, choices, order, joint_of, matrix.joints, n_workers=n_workers)
    columns = {
        "rms": closed.rms,
        "bias": closed.bias,
        "mean_abs": closed.mean_abs,
        "p95_abs": closed.p95_abs,
        "within_tolerance": closed.within_tolerance,
        "over_predicted_beyond_tolerance": closed.over_predicted_beyond_tolerance,
    }
    is_judged = np.isfinite(matrix.score[order])
    for column in columns.values():
        column[~is_judged] = np.nan
    is_resampled = np.zeros(len(order), dtype=bool)
    for place in range(min(n_resampled, len(order))):
        if not is_judged[place]:
            break
        which = int(order[place])
        shown = resample_choice(cells, choices, which, matrix.joints[joint_of[place]], draws)
        figures = figures_of(cells, scoring, shown)
        for name, column in columns.items():
            column[place] = getattr(figures, name)
        is_resampled[place] = True
    joints = [matrix.joints[j] for j in joint_of]
    return ChoiceTable(
        schedules=_schedules(choices, order),
        curve=tuple(joint.curve for joint in joints),
        weighting=tuple(joint.weighting for joint in joints),
        maturity=tuple(joint.maturity for joint in joints),
        score=np.where(is_judged, matrix.score[order], np.nan),
        cost=np.full(len(order), np.nan) if cost is None else cost[order],
        n_batches=units_holding(cells, choices)[choices.set_of[order]],
        n_visits=n_visits[order],
        is_resampled=is_resampled,
        evidence=evidence,
        n_in_search=matrix.n_searched,
        **columns,
    )


def _schedules(choices: ChoiceSet, order: IntArray) -> ScheduleTable:
    """The schedules of some rows, in their order."""
    members = choices.set_members[choices.set_of[order]].astype(np.int64)
    counts = np.zeros((len(order), len(choices.ages_h) + 1), dtype=choices.patterns.dtype)
    np.put_along_axis(counts, members, choices.specimens_of(order), axis=1)  # padding falls into the last column
    return ScheduleTable(choices.ages_h, np.ascontiguousarray(counts[:, :-1]))


def units_holding(cells: Cells, choices: ChoiceSet) -> IntArray:
    """How many units hold every age of each set, ``(n_sets,)``."""
    held = cells.views.n_specimens > 0
    by_unit = np.array([held[cells.views.unit == unit].all(axis=0) for unit in range(cells.n_units)])
    lacks = choices.set_has_age().astype(np.int64) @ (~by_unit).T.astype(np.int64)
    return np.asarray((lacks == 0).sum(axis=1))
