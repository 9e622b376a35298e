"""One curve, weighting and maturity setting over every schedule and every batch."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.choices import ChoiceSet
from planner.evidence import Cells
from planner.fitting.sweep import CURVE_CODES, FEWEST_AGES, ITERATIVE, NOT_FITTED, sweep
from planner.fitting.variable_projection import AT_BOUND, UNCONVERGED
from planner.terms.arrays import FloatArray, IntArray
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
    """What one joint does with every schedule, at every check."""

    error: FloatArray  # signed, relative, NaN where it cannot be had, (n_choices, n_checks)
    schedule_variance: FloatArray  # v with the schedule's own specimens, (n_choices, n_checks)
    prior_variance: FloatArray  # v with the specimens the batch really had, (n_choices, n_checks)
    n_fits: int
    n_at_bound: int
    n_unconverged: int
    n_second_looks: int


def sweep_joint(cells: Cells, choices: ChoiceSet, joint: Joint) -> Swept:
    """Fit every schedule to every batch once, untuned, and hold the fits against the batch's own checks."""
    n_checks = len(cells.check_view)
    shape = (len(choices), n_checks)
    error = np.empty(shape)
    schedule_variance = np.empty(shape)
    prior_variance = np.empty(shape)
    status_total = np.zeros(4, dtype=np.int64)
    second_looks = 0
    for view in range(len(cells.view_batch)):
        own = np.flatnonzero(cells.check_view == view)
        part, contribution, status, looks = sweep_view(cells, choices, joint, view, own)
        error[:, own] = part
        schedule_variance[:, own] = variance_with(contribution, choices.specimens)
        prior_variance[:, own] = variance_with(contribution, prior_counts(cells, choices, view))
        status_total += np.bincount(status, minlength=4)
        second_looks += looks
    fitted = int(status_total.sum() - status_total[NOT_FITTED]) if joint.curve in ITERATIVE else 0
    return Swept(
        error, schedule_variance, prior_variance, fitted,
        int(status_total[AT_BOUND]), int(status_total[UNCONVERGED]), second_looks,
    )  # fmt: skip


def sweep_view(
    cells: Cells, choices: ChoiceSet, joint: Joint, view: int, checks: IntArray
) -> tuple[FloatArray, FloatArray, IntArray, int]:
    """Fit every schedule to one view and hold it against any checks.

    Returns
    -------
    tuple
        Errors ``(n_choices, n_checks)``; variance contributions of single specimens ``(n_choices,
        n_checks, most_ages)``; status of each fit ``(n_choices,)``; second looks taken.
    """
    shape = (len(choices), len(checks))
    error = np.empty(shape)
    contribution = np.empty((*shape, choices.members.shape[1]))
    status = np.empty(len(choices), dtype=np.int8)
    looks = np.zeros(1, dtype=np.int64)
    sweep(
        CURVE_CODES[joint.curve],
        FEWEST_AGES[joint.curve],
        choices.members,
        choices.n_ages,
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


def prior_counts(cells: Cells, choices: ChoiceSet, view: int) -> FloatArray:
    """Specimens that stand behind each mean of a schedule in one view, ``(n_choices, most_ages)``."""
    return np.where(choices.members >= 0, cells.n_specimens[view][choices.members], 0.0)


def variance_with(contribution: FloatArray, specimens: FloatArray | IntArray) -> FloatArray:
    """Variance of the relative prediction with so many specimens at each age, ``(n_choices, n_checks)``."""
    share = 1.0 / np.maximum(specimens, 1)
    return np.asarray(np.einsum("ska,sa->sk", contribution, share))
