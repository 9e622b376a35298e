"""One curve, weighting and maturity setting over every schedule and every batch."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.evidence import Cells
from planner.fitting.sweep import CURVE_CODES, FEWEST_AGES, ITERATIVE, NOT_FITTED, sweep
from planner.fitting.sweep_views import sweep_views
from planner.fitting.variable_projection import AT_BOUND, UNCONVERGED
from planner.terms.arrays import AnyArray, FloatArray, IntArray
from planner.terms.maturity import MaturitySetting
from planner.terms.recommendation import Weighting
from planner.terms.settings import CurveName

WEIGHTINGS: tuple[Weighting, ...] = ("absolute", "relative")
_INTERPOLATING = frozenset({"piecewise linear", "piecewise linear in log age"})


@dataclass(frozen=True, slots=True)
class Joint:
    """Everything of a joint choice but its schedule."""

    curve: CurveName
    weighting: Weighting
    setting: int  # position of the maturity setting
    maturity: MaturitySetting

    @property
    def is_relative(self) -> bool:
        return self.weighting == "relative"


def joints_of(curves: tuple[CurveName, ...], settings: tuple[MaturitySetting, ...]) -> tuple[Joint, ...]:
    """List every curve, weighting and maturity setting; curves through every mean know no weighting."""
    return tuple(
        Joint(curve, weighting, m, maturity)
        for curve in curves
        for weighting in (WEIGHTINGS[:1] if curve in _INTERPOLATING else WEIGHTINGS)
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
    n_sets, n_checks = len(n_ages), len(cells.check_view)
    error = np.empty((n_sets, n_checks))
    contribution = np.empty((n_sets, n_checks, members.shape[1]))
    prior_variance = np.empty((n_sets, n_checks))
    totals = np.zeros(5, dtype=np.int64)
    sweep_views(
        CURVE_CODES[joint.curve],
        FEWEST_AGES[joint.curve],
        members,
        n_ages,
        cells.maturity_h[joint.setting],
        cells.mean_mpa,
        cells.n_specimens,
        cells.cv,
        joint.is_relative,
        np.searchsorted(cells.check_view, np.arange(len(cells.view_batch) + 1)),
        cells.check_maturity_h[joint.setting],
        cells.check_truth_mpa,
        error,
        contribution,
        prior_variance,
        totals,
    )
    fitted = int(totals[:NOT_FITTED].sum()) if joint.curve in ITERATIVE else 0
    return Swept(
        error, contribution, prior_variance, fitted,
        int(totals[AT_BOUND]), int(totals[UNCONVERGED]), int(totals[4]),
    )  # fmt: skip


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
    shape = (len(n_ages), len(checks))
    error = np.empty(shape)
    contribution = np.empty((*shape, members.shape[1]))
    status = np.empty(len(n_ages), dtype=np.int8)
    looks = np.zeros(1, dtype=np.int64)
    sweep(
        CURVE_CODES[joint.curve],
        FEWEST_AGES[joint.curve],
        members,
        n_ages,
        np.ascontiguousarray(cells.maturity_h[joint.setting, view]),
        np.ascontiguousarray(cells.mean_mpa[view]),
        cells.cv,
        joint.is_relative,
        np.ascontiguousarray(cells.check_maturity_h[joint.setting, checks]),
        np.ascontiguousarray(cells.check_truth_mpa[checks]),
        error,
        contribution,
        status,
        looks,
    )
    return error, contribution, status, int(looks[0])


def prior_counts(cells: Cells, members: AnyArray, view: int) -> FloatArray:
    """Specimens that stand behind each mean of a set in one view, ``(n_sets, most_ages)``."""
    return np.where(members >= 0, cells.n_specimens[view][members], 0.0)


def variance_with(contribution: FloatArray, specimens: AnyArray) -> FloatArray:
    """Variance of the relative prediction with so many specimens at each age, ``(n_sets, n_checks)``."""
    share = 1.0 / np.maximum(specimens, 1)
    return np.asarray(np.einsum("ska,sa->sk", contribution, share))
