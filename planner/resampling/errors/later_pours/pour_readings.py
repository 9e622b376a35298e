"""Curves read where they are judged: on the batch's own concrete, or on later pours of the same mix.

A later pour is every other batch of the mix, read with the curve of one trial batch. Only moments over the
trial batches are kept, at every check of the pours; how many trial batches a calibration takes is put in
afterwards, so that a joint choice is fitted once whatever is asked of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise

import numpy as np

from planner.evidence import Cells
from planner.resampling.errors.sweeps import Joint, sweep_sets, sweep_view, variance_with
from planner.resampling.threads import in_order
from planner.terms.arrays import AnyArray, BoolArray, FloatArray, IntArray
from planner.terms.plan.settings import JudgedOn

VALUES_AT_ONCE = 2_000_000  # of the sensitivities that one thread holds: 16 MB
MOST_CHECKS = 120  # beyond, an even choice of the units judges every schedule: work grows with their square


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """Some sets of ages, each with one joint, at the checks of :func:`judging_checks`. NaN: cannot be read."""

    mean: FloatArray  # signed relative error, mean over the trial batches, (n_sets, n_checks)
    variance: FloatArray  # between trial batches, divisor n - 1; 0 where there is one, (n_sets, n_checks)
    n_others: FloatArray  # trial batches, (n_sets, n_checks)
    single_variance: FloatArray  # variance one specimen at each age adds, mean over them, (n_sets, n_checks, most_ages)
    prior_variance: FloatArray  # of the specimens the records had, mean over them, (n_sets, n_checks)


def read(
    cells: Cells,
    members: AnyArray,
    n_ages: IntArray,
    joint_of: AnyArray,
    joints: Sequence[Joint],
    judged_on: JudgedOn,
    *,
    without: tuple[int, ...] = (),
    n_workers: int = 1,
) -> Readings:
    """Read sets of ages, each with a joint of its own.

    Parameters
    ----------
    members, n_ages, joint_of
        Positions of the ages, their number, and the joint as a position in `joints`; one row for each,
        ``(n_sets, most_ages)``, ``(n_sets,)`` and ``(n_sets,)``.
    without
        Units left out, as trial batches and as pours. What curves with a prior have learnt leaves out the first alone.
    """
    n_sets, most = members.shape
    checks = judging_checks(cells)
    n_checks = len(checks)
    found = Readings(
        np.full((n_sets, n_checks), np.nan),
        np.zeros((n_sets, n_checks)),
        np.zeros((n_sets, n_checks)),
        np.zeros((n_sets, n_checks, most)),
        np.zeros((n_sets, n_checks)),
    )
    one = (
        partial(_own, cells, checks)
        if judged_on == "own batch"
        else partial(_later, cells, _Pours.of(cells, checks, without))
    )

    def fill(rows: IntArray) -> None:
        joint = joints[int(joint_of[rows[0]])]
        if joint.is_learnt and without:
            joint = replace(joint, without=without[0])
        part = one(members[rows], n_ages[rows], joint)
        found.mean[rows] = part.mean
        found.variance[rows] = part.variance
        found.n_others[rows] = part.n_others
        found.single_variance[rows] = part.single_variance
        found.prior_variance[rows] = part.prior_variance

    for _ in in_order(fill, _parts(joint_of, max(1, VALUES_AT_ONCE // (n_checks * most))), n_workers):
        pass
    if judged_on == "own batch" and without:
        found.mean[:, np.isin(cells.check_unit[checks], without)] = np.nan
    return found


def judging_checks(cells: Cells) -> IntArray:
    """Checks that every schedule is judged at: all, or with very many those of evenly chosen units."""
    unit = cells.check_unit
    if len(unit) <= MOST_CHECKS:
        return np.arange(len(unit))
    n_kept = max(2, MOST_CHECKS * cells.n_units // len(unit))
    kept = np.unique(np.linspace(0, cells.n_units - 1, n_kept).astype(np.int64))
    return np.flatnonzero(np.isin(unit, kept))


def _parts(joint_of: AnyArray, size: int) -> list[IntArray]:
    """Rows of one joint together."""
    order = np.argsort(joint_of, kind="stable")
    edges = np.flatnonzero(np.r_[True, np.diff(np.asarray(joint_of)[order]) != 0, True]).tolist()
    return [
        order[start : min(start + size, stop)] for first, stop in pairwise(edges) for start in range(first, stop, size)
    ]


def _own(cells: Cells, checks: IntArray, members: AnyArray, n_ages: IntArray, joint: Joint) -> Readings:
    swept = sweep_sets(cells, members, n_ages, joint)
    error = swept.error[:, checks]
    is_read = np.isfinite(error)
    return Readings(
        np.where(is_read, error, np.nan),
        np.zeros_like(error),
        is_read.astype(np.float64),
        swept.contribution[:, checks],
        swept.prior_variance[:, checks],
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Pours:
    """Which checks the curve of each batch is read at, and what stands behind that curve."""

    views_of: tuple[tuple[int, ...], ...]  # views of each trial batch
    checks: IntArray  # that judge
    checks_of: tuple[IntArray, ...]  # those of the other batches of its mix, as positions in `checks`
    behind: FloatArray  # specimens behind the mean of all its views, (n_views, n_ages)

    @classmethod
    def of(cls, cells: Cells, checks: IntArray, without: tuple[int, ...]) -> _Pours:
        batch, mix = cells.views.batch_code, cells.views.mix_code
        is_used: BoolArray = np.isin(cells.views.unit, without, invert=True)
        of = cells.checks.view[checks]
        is_trial = is_used & np.isin(cells.views.unit, cells.views.unit[of])
        views_of, checks_of = [], []
        for code in dict.fromkeys(batch[is_trial].tolist()):
            views = np.flatnonzero((batch == code) & is_trial)
            others = np.flatnonzero((mix[of] == mix[views[0]]) & (batch[of] != code) & is_used[of])
            if others.size:
                views_of.append(tuple(views.tolist()))
                checks_of.append(others)
        return cls(tuple(views_of), checks, tuple(checks_of), _specimens_behind(cells))


def _specimens_behind(cells: Cells) -> FloatArray:
    """Specimens behind each cell, ``(n_views, n_ages)``.

    Where a cell is parted between fit and truth, the mean over all partings rests on all its specimens.
    """
    return np.where(cells.views.n_specimens > 0, cells.views.whole.n_specimens, 0.0)


def _later(cells: Cells, pours: _Pours, members: AnyArray, n_ages: IntArray, joint: Joint) -> Readings:
    shape = (len(n_ages), len(pours.checks))
    total, squares, n_others, prior = (np.zeros(shape) for _ in range(4))
    single_variance = np.zeros((*shape, members.shape[1]))
    for views, checks in zip(pours.views_of, pours.checks_of, strict=True):
        error, contribution, behind = _of_batch(cells, pours, members, n_ages, joint, views=views, checks=checks)
        is_read = np.isfinite(error)
        error = np.where(is_read, error, 0.0)
        total[:, checks] += error
        squares[:, checks] += error**2
        n_others[:, checks] += is_read
        single_variance[:, checks] += np.where(is_read[:, :, None], contribution, 0.0)
        prior[:, checks] += np.where(is_read, behind, 0.0)
    some = np.where(n_others > 0, n_others, np.nan)
    mean = total / some
    spread = np.maximum(squares - total * np.nan_to_num(mean), 0.0) / np.maximum(n_others - 1.0, 1.0)
    n = np.maximum(n_others, 1.0)
    return Readings(mean, np.where(n_others > 1, spread, 0.0), n_others, single_variance / n[:, :, None], prior / n)


def _of_batch(
    cells: Cells,
    pours: _Pours,
    members: AnyArray,
    n_ages: IntArray,
    joint: Joint,
    *,
    views: tuple[int, ...],
    checks: IntArray,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Errors of one batch's curve, what single specimens add, and the variance that its records had.

    A batch whose cells are parted in several ways has a view for each; the mean over them is its curve.
    """
    parts = []
    for view in views:
        error, contribution, _status, _looks = sweep_view(cells, members, n_ages, joint, view, pours.checks[checks])
        counts = np.where(members >= 0, pours.behind[view][members], 0.0)
        parts.append((error, contribution, variance_with(contribution, counts)))
    if len(parts) == 1:
        return parts[0]
    error, contribution, behind = (np.mean(column, axis=0) for column in zip(*parts, strict=True))
    return error, contribution, behind
