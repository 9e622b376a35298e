"""The whole rule without each unit in turn, judged on the unit left out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from planner.evidence import Cells
from planner.resampling import Draws, ErrorMatrix, Scoring, ShownChoice, resample_choice
from planner.resampling.errors.arithmetic import FEWEST_TO_FOLD
from planner.terms.arrays import FloatArray, IntArray
from planner.verdict.selection.rule import Pick


@dataclass(frozen=True, slots=True, eq=False)
class Nested:
    """What the rule took without each unit, and how that did on it."""

    units: IntArray  # units that could be judged, (n_folds,)
    picks: tuple[Pick, ...]  # one for each
    level: FloatArray  # unbiased squared error of the recommended on the unit left out, (n_folds,)
    variance: FloatArray  # v of the recommended there, what the level is floored at, (n_folds,)
    best_level: FloatArray  # the same for the lowest loss
    best_variance: FloatArray
    shown: ShownChoice  # at every check: the errors of the pick that had not seen its unit
    signed: FloatArray  # the measured error of each unit's worst check, (n_folds,)
    without_two: Mapping[tuple[int, int], int]  # row taken without two units, the lower first; {}: not asked


def nested(
    matrix: ErrorMatrix,
    cells: Cells,
    scoring: Scoring,
    draws: Draws,
    folds: Mapping[int, Pick],
    without_two: Mapping[tuple[int, int], int] | None = None,
) -> Nested | None:
    """Judge what the rule took without each unit on that unit; None with fewer than two that could be judged.

    Parameters
    ----------
    folds
        From :meth:`Rule.folds`, or of one rung.
    without_two
        Rows taken without two units, the lower first: what a trial batch and the pour read with it are judged by.
    """
    if len(folds) < FEWEST_TO_FOLD:
        return None
    units, picks = list(folds), list(folds.values())
    left_out = np.array(units)
    shown = assembled(matrix, cells, scoring, draws, {u: p.chosen for u, p in zip(units, picks, strict=True)})
    chosen = np.array([pick.chosen for pick in picks])
    best = np.array([pick.best for pick in picks])
    return Nested(
        left_out,
        tuple(picks),
        matrix.level[chosen, left_out].astype(np.float64),
        matrix.variance[chosen, left_out].astype(np.float64),
        matrix.level[best, left_out].astype(np.float64),
        matrix.variance[best, left_out].astype(np.float64),
        shown,
        worst_signed(scoring, shown.error)[left_out],
        without_two or {},
    )


def assembled(
    matrix: ErrorMatrix, cells: Cells, scoring: Scoring, draws: Draws, row_of_unit: dict[int, int]
) -> ShownChoice:
    """Errors at every check of the row that its unit is to be judged by."""
    n_checks = len(cells.checks.view)
    error, schedule_variance, prior_variance = (np.full(n_checks, np.nan) for _ in range(3))
    drawn = np.full((draws.n_draws, n_checks), np.nan)
    linear = np.full((draws.n_draws, n_checks), np.nan)
    is_extrapolating = False
    for row in dict.fromkeys(row_of_unit.values()):
        shown = resample_choice(cells, matrix.choices, matrix.choice_of(row), matrix.joint_of(row), draws)
        judged = [unit for unit, used in row_of_unit.items() if used == row]
        own = np.isin(scoring.unit, judged)
        error[own] = shown.error[own]
        schedule_variance[own] = shown.schedule_variance[own]
        prior_variance[own] = shown.prior_variance[own]
        drawn[:, own] = shown.drawn[:, own]
        linear[:, own] = shown.linear[:, own]
        is_extrapolating |= shown.is_extrapolating
    return ShownChoice(error, schedule_variance, prior_variance, drawn, linear, is_extrapolating)


def worst_signed(scoring: Scoring, error: FloatArray, *, target: int | None = None) -> FloatArray:
    """Signed error of each unit's worst check, NaN where it has none, ``(n_units,)``."""
    worst = np.full(scoring.n_units, np.nan)
    for k, value in enumerate(error):
        unit = int(scoring.unit[k])
        is_wanted = target is None or scoring.target[k] == target
        if is_wanted and np.isfinite(value) and not abs(value) <= abs(worst[unit]):  # NaN is never as large
            worst[unit] = value
    return worst
