"""One curve, weighting and maturity setting over every schedule and every batch."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.evidence import Cells
from planner.fitting.batch_sweep import CURVE_CODES, FEWEST_AGES, ITERATIVE, NOT_FITTED, sweep
from planner.fitting.variable_projection import AT_BOUND, UNCONVERGED
from planner.resampling.errors.kernels import add_to_units, sweep_joints
from planner.resampling.priors.sweep import sweep_learnt, sweep_learnt_draws
from planner.terms.arrays import AnyArray, BoolArray, FloatArray, IntArray
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import PRIOR_CURVE_NAMES, CurveName, Weighting

WEIGHTINGS: tuple[Weighting, ...] = ("absolute", "relative")
# Curves through every mean, and those whose weights are learnt, know no weighting.
_UNWEIGHTED = frozenset({"piecewise linear", "piecewise linear in log age", *PRIOR_CURVE_NAMES})


@dataclass(frozen=True, slots=True)
class Joint:
    """Everything of a joint choice but its schedule."""

    curve: CurveName
    weighting: Weighting
    setting: int  # position of the maturity setting
    maturity: MaturitySetting
    without: int | None = None  # a unit that a curve with a prior has not learnt from either, whatever it is judged on

    @property
    def is_learnt(self) -> bool:
        """Whether the curve has learnt from the other batches."""
        return self.curve in PRIOR_CURVE_NAMES

    @property
    def is_relative(self) -> bool:
        return self.weighting == "relative"


def joints_of(curves: tuple[CurveName, ...], settings: tuple[MaturitySetting, ...]) -> tuple[Joint, ...]:
    """List every curve, weighting and maturity setting; some curves know no weighting, those with a prior come last."""
    return tuple(
        Joint(curve, weighting, m, maturity)
        for curve in sorted(curves, key=lambda one: one in PRIOR_CURVE_NAMES)
        for weighting in (WEIGHTINGS[:1] if curve in _UNWEIGHTED else WEIGHTINGS)
        for m, maturity in enumerate(settings)
    )


@dataclass(frozen=True, slots=True, eq=False)
class Swept:
    """What one joint does with every set of ages, at every check."""

    error: FloatArray  # signed, relative, NaN where it cannot be had, (n_sets, n_checks)
    contribution: FloatArray  # variance one specimen at each age adds, (n_sets, n_checks, most_ages)
    prior_variance: FloatArray  # v with the specimens the batches really had, (n_sets, n_checks)
    n_fits: int
    n_at_bound: int
    n_unconverged: int
    n_second_looks: int


def sweep_sets(cells: Cells, members: AnyArray, n_ages: IntArray, joint: Joint) -> Swept:
    """Fit every set of ages to every batch once, untuned, and hold the fits against the batch's own checks.

    Parameters
    ----------
    members, n_ages
        As in :class:`planner.choices.ChoiceSet`: positions ``(n_sets, most_ages)`` and ``(n_sets,)``.
    """
    n_checks = len(cells.checks.view)
    nothing = np.zeros(n_checks)
    swept, _added = sweep_all(
        cells, members, n_ages, (joint,), weight=nothing, truth_variance=nothing, unit=nothing.astype(np.int64),
        tolerance=0.0, n_units=0, is_kept=True,
    )  # fmt: skip
    return Swept(swept.error[0], swept.contribution[0], swept.prior_variance[0], *swept.counts.tolist())


@dataclass(frozen=True, slots=True, eq=False)
class SweptAll:
    """What every joint does at every check. Without joints where it is not kept."""

    error: FloatArray  # (n_joints, n_sets, n_checks)
    contribution: FloatArray  # (n_joints, n_sets, n_checks, most_ages)
    prior_variance: FloatArray  # (n_joints, n_sets, n_checks)
    counts: IntArray  # iterative fits, at a bound, unconverged, second looks


@dataclass(frozen=True, slots=True, eq=False)
class Added:
    """The same added up to units. Without joints where there are no units."""

    square: FloatArray  # mean e^2, capped where the scoring caps it, NaN: a hole, (n_joints, n_sets, n_units)
    level: FloatArray  # unbiased squared error but for the schedule's own variance, same shape
    single_variance: FloatArray  # variance one specimen at each age adds, (n_joints, n_sets, n_units, most_ages)
    is_over: BoolArray  # over-predicted beyond tolerance at any check, (n_joints, n_sets, n_units)


def sweep_all(
    cells: Cells,
    members: AnyArray,
    n_ages: IntArray,
    joints: tuple[Joint, ...],
    *,
    weight: FloatArray,
    truth_variance: FloatArray,
    unit: IntArray,
    tolerance: float,
    n_units: int,
    is_kept: bool,
    most_error: float = np.inf,
) -> tuple[SweptAll, Added]:
    """Sweep every joint: those fitted to one batch alone in one compiled call, those that have learnt one by one.

    Parameters
    ----------
    joints
        Those that have learnt come last.
    members, n_ages
        As in :func:`sweep_sets`.
    weight, truth_variance, unit, tolerance, n_units, most_error
        How checks add up, see :class:`planner.resampling.errors.scoring.Scoring`; nothing is added up to 0 units.
    is_kept
        Hand back what happens at the checks as well.
    """
    n_sets, most = members.shape
    at_checks = (len(joints) if is_kept else 0, n_sets, len(cells.checks.view))
    in_units = (len(joints) if n_units else 0, n_sets, n_units)
    error, prior_variance = np.empty(at_checks), np.empty(at_checks)
    contribution = np.empty((*at_checks, most))
    square, level, single_variance = np.zeros(in_units), np.zeros(in_units), np.zeros((*in_units, most))
    is_over = np.zeros(in_units, dtype=bool)
    totals = np.zeros((len(joints), 5), dtype=np.int64)
    n_free = sum(not joint.is_learnt for joint in joints)
    if n_free:
        alone = joints[:n_free]
        sweep_joints(
            np.array([CURVE_CODES[joint.curve] for joint in alone]),
            np.array([FEWEST_AGES[joint.curve] for joint in alone]),
            np.array([joint.is_relative for joint in alone]),
            np.array([joint.setting for joint in alone]),
            members.astype(np.int16),  # one type everywhere, or the loops would be compiled for each
            n_ages.astype(np.int64),
            cells.views.maturity_h,
            cells.views.mean_mpa,
            cells.views.n_specimens,
            cells.cv,
            first_checks(cells),
            np.ascontiguousarray(cells.checks.maturity_h),
            cells.checks.truth_mpa,
            weight,
            truth_variance,
            unit,
            tolerance,
            most_error,
            error[:n_free],
            contribution[:n_free],
            prior_variance[:n_free],
            square[:n_free],
            level[:n_free],
            single_variance[:n_free],
            is_over[:n_free],
            totals[:n_free],
        )
    for j in range(n_free, len(joints)):
        at_view = _sweep_learnt_views(cells, members, n_ages, joints[j], totals[j])
        if is_kept:
            error[j], contribution[j], prior_variance[j] = at_view
        if n_units:
            add_to_units(
                *at_view, weight, truth_variance, unit, tolerance, most_error, square[j], level[j],
                single_variance[j], is_over[j],
            )  # fmt: skip
    is_iterative = np.array([joint.curve in ITERATIVE for joint in joints])
    counts = [totals[is_iterative, :NOT_FITTED].sum(), *totals[:, [AT_BOUND, UNCONVERGED, 4]].sum(axis=0)]
    return (
        SweptAll(error, contribution, prior_variance, np.array(counts, dtype=np.int64)),
        Added(square, level, single_variance, is_over),
    )


def _sweep_learnt_views(
    cells: Cells, members: AnyArray, n_ages: IntArray, joint: Joint, totals: IntArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Errors, contributions and variances of the records' specimens at every check, by a curve with a prior."""
    edges = first_checks(cells)
    shape = (len(n_ages), len(cells.checks.view))
    error, contribution, behind = np.empty(shape), np.empty((*shape, members.shape[1])), np.empty(shape)
    for view in range(len(cells.views.batch)):
        checks = np.arange(edges[view], edges[view + 1])
        part, single, status, _looks = sweep_view(cells, members, n_ages, joint, view, checks)
        error[:, checks], contribution[:, checks] = part, single
        behind[:, checks] = variance_with(single, np.maximum(prior_counts(cells, members, view), 1.0))
        totals[: NOT_FITTED + 1] += np.bincount(status, minlength=NOT_FITTED + 1)
    return error, contribution, behind


def first_checks(cells: Cells) -> IntArray:
    """Where the checks of each view begin, and one more at the end, ``(n_views + 1,)``."""
    return np.asarray(np.searchsorted(cells.checks.view, np.arange(len(cells.views.batch) + 1)))


def sweep_view(
    cells: Cells, members: AnyArray, n_ages: IntArray, joint: Joint, view: int, checks: IntArray
) -> tuple[FloatArray, FloatArray, AnyArray, int]:
    """Fit every set to one view and hold it against any checks.

    Returns
    -------
    tuple
        Errors ``(n_sets, n_checks)``; variance contributions of single specimens ``(n_sets, n_checks,
        most_ages)``; status of each fit ``(n_sets,)``; second looks taken.
    """
    if joint.is_learnt:
        read = sweep_learnt(
            cells, members, n_ages, view, checks, curve=joint.curve, setting=joint.setting, without=joint.without
        )
        return *read, 0
    shape = (len(n_ages), len(checks))
    error = np.empty(shape)
    contribution = np.empty((*shape, members.shape[1]))
    status = np.empty(len(n_ages), dtype=np.int8)
    looks = np.zeros(1, dtype=np.int64)
    sweep(
        CURVE_CODES[joint.curve],
        FEWEST_AGES[joint.curve],
        members.astype(np.int16),  # as above
        n_ages,
        np.ascontiguousarray(cells.views.maturity_h[joint.setting, view]),
        np.ascontiguousarray(cells.views.mean_mpa[view]),
        cells.cv,
        joint.is_relative,
        np.ascontiguousarray(cells.checks.maturity_h[joint.setting, checks]),
        np.ascontiguousarray(cells.checks.truth_mpa[checks]),
        error,
        contribution,
        status,
        looks,
    )
    return error, contribution, status, int(looks[0])


def resample_learnt(cells: Cells, members: AnyArray, joint: Joint, noise: FloatArray, error: FloatArray) -> None:
    """Refit one schedule of a curve with a prior to drawn cell means of every view; what it has learnt stays.

    Parameters
    ----------
    members
        Of one set, ``(1, n_ages)``.
    noise
        Relative departures of the cell means, ``(n_views, n_draws, n_ages)``.
    error
        Out: signed relative errors, ``(n_draws, n_checks)``; NaN where not fitted.
    """
    edges = first_checks(cells)
    for view in range(len(cells.views.batch)):
        checks = np.arange(edges[view], edges[view + 1])
        factor = np.maximum(1.0 + noise[view], 1e-3)
        error[:, checks] = sweep_learnt_draws(
            cells, members, view, checks, factor, curve=joint.curve, setting=joint.setting, without=joint.without
        )


def prior_counts(cells: Cells, members: AnyArray, view: int) -> FloatArray:
    """Specimens that stand behind each mean of a set in one view, ``(n_sets, most_ages)``."""
    return np.where(members >= 0, cells.views.n_specimens[view][members], 0.0)


def variance_with(contribution: FloatArray, specimens: AnyArray) -> FloatArray:
    """Variance of the relative prediction with so many specimens at each age, ``(n_sets, n_checks)``."""
    share = 1.0 / np.maximum(specimens, 1)
    return np.asarray(np.einsum("ska,sa->sk", contribution, share))
