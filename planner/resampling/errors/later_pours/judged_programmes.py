"""How good every programme is where it is judged: closed form, for as many trial batches as are asked.

The figures are those of a fixed schedule with a fixed curve, read on batches that had no part in fitting it.
They carry no correction for having been chosen among others, so that they do not depend on what else was
offered: adding a choice can make the best of them better, never worse.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from planner.choices import ChoiceSet
from planner.evidence import Cells
from planner.resampling.errors.later_pours.judged_kernel import judge_rows
from planner.resampling.errors.later_pours.pour_readings import Readings, judging_checks, read
from planner.resampling.errors.scoring import Scoring
from planner.resampling.errors.sweeps import Joint
from planner.resampling.threads import in_order
from planner.terms.arrays import AnyArray, FloatArray, IntArray, SingleArray
from planner.terms.plan.settings import JudgedOn

ROWS_AT_ONCE = 20_000


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Programmes:
    """Figures of fixed programmes. NaN where nothing can judge them. Each ``(n_rows, n_numbers)``."""

    trial_batches: tuple[int, ...]  # numbers of trial batches, one a column
    rms: SingleArray  # against true strength, floored at what the specimens' scatter alone gives
    within_tolerance: SingleArray  # share of batches read with every target inside
    over_beyond: SingleArray  # share of readings too high by more than the tolerance
    worst: SingleArray  # RMS on the batch that is read worst


def judge(
    cells: Cells,
    scoring: Scoring,
    choices: ChoiceSet,
    which: AnyArray,
    joint_of: AnyArray,
    joints: Sequence[Joint],
    *,
    judged_on: JudgedOn,
    trial_batches: tuple[int, ...],
    without: tuple[int, ...] = (),
    n_workers: int = 1,
) -> Programmes:
    """Judge schedules, each with its own joint, for every number of trial batches.

    Parameters
    ----------
    which, joint_of
        Schedules as positions in `choices`, and the joint of each; ``(n_rows,)``.
    trial_batches
        On its own batch every trial batch has its own curve, so their number makes no difference.
    without
        Units left out, as trial batches and as pours.
    """
    at, readings = _read_once(
        cells, choices, which, joint_of, joints, judged_on=judged_on, without=without, n_workers=n_workers
    )
    numbers = (1,) if judged_on == "own batch" else trial_batches
    out = np.empty((4, len(at), len(numbers)), dtype=np.float32)
    specimens = choices.specimens_of(which)
    scoring = judging(cells, scoring)

    def fill(start: int) -> None:
        rows = slice(start, start + ROWS_AT_ONCE)
        part = np.full_like(out[:, rows], np.nan, order="C")  # one layout, or the loop would be compiled for two
        judge_rows(
            at[rows], specimens[rows], readings.mean, readings.variance, readings.n_others, readings.single_variance,
            readings.prior_variance, scoring.check_weight, scoring.unit.astype(np.int64),
            scoring.target.astype(np.int64), scoring.truth_variance, np.array(numbers, dtype=np.float64),
            scoring.tolerance, part,
        )  # fmt: skip
        out[:, rows] = part

    for _ in in_order(fill, range(0, len(at), ROWS_AT_ONCE), n_workers):
        pass
    if len(numbers) < len(trial_batches):
        out = np.repeat(out, len(trial_batches), axis=2)
    return Programmes(
        trial_batches=trial_batches, rms=out[0], within_tolerance=out[1], over_beyond=out[2], worst=out[3]
    )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ByUnit:
    """The same unit by unit, each ``(n_rows, n_numbers, n_units)``; NaN where a unit cannot judge."""

    loss: FloatArray  # e^2 + 2 v
    level: FloatArray  # unbiased squared error
    variance: FloatArray  # of the specimens alone
    highest: FloatArray  # mean error at the check that is over-predicted most


def judge_by_unit(
    cells: Cells,
    scoring: Scoring,
    choices: ChoiceSet,
    which: AnyArray,
    joint_of: AnyArray,
    joints: Sequence[Joint],
    *,
    judged_on: JudgedOn,
    trial_batches: tuple[int, ...],
    without: tuple[int, ...] = (),
    n_workers: int = 1,
) -> ByUnit:
    """Losses and levels of a few programmes on every batch read; parameters as in :func:`judge`."""
    at, readings = _read_once(
        cells, choices, which, joint_of, joints, judged_on=judged_on, without=without, n_workers=n_workers
    )
    scoring = judging(cells, scoring)
    inverse = 1.0 / np.maximum(choices.specimens_of(which), 1)
    variance = np.einsum("rka,ra->rk", readings.single_variance[at], inverse)
    numbers = np.ones(len(trial_batches)) if judged_on == "own batch" else np.array(trial_batches, dtype=np.float64)
    share = 1.0 / numbers[None, :, None]
    step = share - 1.0 / np.maximum(readings.n_others[at], 1.0)[:, None, :]
    square = readings.mean[at][:, None, :] ** 2 + readings.variance[at][:, None, :] * step
    own = variance[:, None, :] * share
    prior = readings.prior_variance[at][:, None, :] * share
    highest = np.full((*square.shape[:2], scoring.n_units), -np.inf)
    for k, unit in enumerate(scoring.unit):
        highest[:, :, unit] = np.maximum(highest[:, :, unit], readings.mean[at, None, k])
    is_judged = np.bincount(scoring.unit, minlength=scoring.n_units) > 0

    def given(values: FloatArray) -> FloatArray:
        return np.where(is_judged, scoring.by_unit(values), np.nan)

    return ByUnit(
        loss=given(square + scoring.variance_factor * own),
        level=given(square + own - prior - scoring.truth_variance),
        variance=given(np.where(np.isnan(square), np.nan, own)),
        highest=np.where(np.isfinite(highest), highest, np.nan),
    )


def _read_once(
    cells: Cells,
    choices: ChoiceSet,
    which: AnyArray,
    joint_of: AnyArray,
    joints: Sequence[Joint],
    *,
    judged_on: JudgedOn,
    without: tuple[int, ...],
    n_workers: int,
) -> tuple[IntArray, Readings]:
    """Every set of ages with every joint that some schedule has it with, and where each row finds its own."""
    code = choices.set_of[which].astype(np.int64) * len(joints) + np.asarray(joint_of, dtype=np.int64)
    different, at = np.unique(code, return_inverse=True)
    sets, joint = np.divmod(different, len(joints))
    readings = read(
        cells,
        choices.set_members[sets],
        choices.set_n_ages[sets],
        joint,
        joints,
        judged_on,
        without=without,
        n_workers=n_workers,
    )
    return at, readings


def judging(cells: Cells, scoring: Scoring) -> Scoring:
    """How the checks that judge every schedule add up."""
    kept = judging_checks(cells)
    return replace(
        scoring,
        weight=scoring.weight[kept],
        unit=scoring.unit[kept],
        target=scoring.target[kept],
        truth_variance=scoring.truth_variance[kept],
    )
