"""Figures without draws, from the normal law N(e, v) at each check: for choices that are listed, not shown."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import sqrt

import numpy as np

from planner.choices import ChoiceSet
from planner.compiled import njit
from planner.evidence import Cells
from planner.resampling.errors.arithmetic import LEAST_DEVIATION
from planner.resampling.errors.compiled_arithmetic import (
    beyond_at,
    inside_at,
    level_at,
    narrowing_factor,
    normal_density,
    normal_tail,
    units_inside,
)
from planner.resampling.errors.scoring import Scoring
from planner.resampling.errors.sweeps import Joint, sweep_sets
from planner.resampling.threads import in_order
from planner.terms.arrays import AnyArray, FloatArray, IntArray

_MOST_STEPS = 60  # of a safeguarded Newton iteration for a quantile; six are usual
_QUANTILE_TOLERANCE = 1e-3  # of the last step, of the whole reach; Newton's steps square it
_CELLS_AT_ONCE = 10_000  # of the sets of a part: small enough that threads share the work evenly
_ROWS_AT_ONCE = 5_000
_MANY = 200  # checks, beyond which a few points stand for the normal law of each: together they are a fine comb
_POINTS = (-1.6076, -0.8685, -0.4017, 0.0, 0.4017, 0.8685, 1.6076)  # midpoints of sevenths, mean square 1 (derived)
_N_BINS = 1000  # of the histogram that the quantile is read from


@dataclass(frozen=True, slots=True, eq=False)
class ClosedFigures:
    """Figures of many choices, each ``(n_choices,)``; NaN where no batch holds all ages."""

    rms: FloatArray
    bias: FloatArray
    mean_abs: FloatArray
    p95_abs: FloatArray
    within_tolerance: FloatArray
    over_predicted_beyond_tolerance: FloatArray


def closed_figures(
    cells: Cells,
    scoring: Scoring,
    choices: ChoiceSet,
    which: IntArray,
    joint_of: AnyArray,
    joints: tuple[Joint, ...],
    *,
    n_workers: int = 1,
) -> ClosedFigures:
    """Describe schedules, each with its own joint, by one more sweep over the sets they need.

    Parameters
    ----------
    which
        Schedules, as positions in `choices`, ``(n_choices,)``.
    joint_of
        Joint of each, as a position in `joints`, ``(n_choices,)``.
    """
    figures = np.full((6, len(which)), np.nan)
    most_sets = max(1, _CELLS_AT_ONCE // (len(cells.checks.view) * choices.set_members.shape[1]))

    def describe(part: tuple[int, IntArray]) -> None:
        joint, at = part
        sets, local = np.unique(choices.set_of[which[at]], return_inverse=True)
        swept = sweep_sets(cells, choices.set_members[sets], choices.set_n_ages[sets], joints[joint])
        out = np.empty((len(at), 6))
        describe_choices(
            local,
            choices.specimens_of(which[at]),
            swept.error,
            swept.contribution,
            swept.prior_variance,
            scoring.check_weight,
            scoring.unit.astype(np.int64),
            scoring.target.astype(np.int64),
            scoring.truth_variance,
            scoring.tolerance,
            out,
        )
        figures[:, at] = out.T

    for _ in in_order(describe, _parts(choices.set_of[which], joint_of, most_sets), n_workers):
        pass
    return ClosedFigures(*figures)


def _parts(set_of: AnyArray, joint_of: AnyArray, most_sets: int) -> Iterator[tuple[int, IntArray]]:
    """Joints with some of their schedules, those of a set together so that few are fitted twice."""
    for joint in np.unique(joint_of).tolist():
        at = np.flatnonzero(joint_of == joint)
        at = at[np.argsort(set_of[at], kind="stable")]
        first = np.flatnonzero(np.r_[True, np.diff(set_of[at]) != 0])  # of every set
        edges = [*first[::most_sets].tolist(), len(at)]
        for low, high in pairwise(edges):
            for start in range(low, high, _ROWS_AT_ONCE):
                yield joint, at[start : min(start + _ROWS_AT_ONCE, high)]


@njit(cache=True, nogil=True, error_model="numpy")
def _quantile(mean, deviation, weight, share, start, highest):
    """Smallest reach about zero that holds a share of the mixture: Newton's steps inside a bracket."""
    low, high = 0.0, highest
    reach = min(start, highest)
    for _ in range(_MOST_STEPS):
        excess = -share
        slope = 0.0
        for k in range(len(mean)):
            inverse = 1.0 / deviation[k]
            above = (reach - mean[k]) * inverse
            below = (reach + mean[k]) * inverse
            excess += weight[k] * (1.0 - normal_tail(above) - normal_tail(below))
            slope += weight[k] * (normal_density(above) + normal_density(below)) * inverse
        if excess < 0.0:
            low = reach
        else:
            high = reach
        step = reach - excess / slope if slope > 1e-12 else high
        if low < step < high:
            if abs(step - reach) <= _QUANTILE_TOLERANCE * highest:
                return step
        else:
            step = 0.5 * (low + high)
        reach = step
    return reach


@njit(cache=True, nogil=True, error_model="numpy")
def _comb(mean, deviation, weight, tolerance, out):
    """Fill mean absolute, 95 % absolute, share inside, share beyond above, from a few points of every check."""
    highest = 1e-12
    for k in range(len(mean)):
        highest = max(highest, abs(mean[k]) + 2.0 * deviation[k])
    mass = np.zeros(_N_BINS + 1)
    mean_abs = inside = beyond = 0.0
    for k in range(len(mean)):
        share = weight[k] / len(_POINTS)
        for point in _POINTS:
            error = mean[k] + point * deviation[k]
            size = abs(error)
            mean_abs += share * size
            if size <= tolerance:
                inside += share
            elif error > 0.0:
                beyond += share
            mass[int(size / highest * _N_BINS)] += share
    reached = 0.0
    place = 0
    while place < _N_BINS and reached + mass[place] < 0.95:
        reached += mass[place]
        place += 1
    part = (0.95 - reached) / mass[place] if mass[place] > 0.0 else 0.0
    out[2] = mean_abs
    out[3] = (place + part) * highest / _N_BINS
    out[4] = inside
    out[5] = beyond


@njit(cache=True, nogil=True, error_model="numpy")
def describe_choices(
    set_of, specimens, error, contribution, prior_variance, check_weights, check_unit, check_target, truth_variance,
    tolerance, out,
):  # fmt: skip
    """Fill rows of rms, bias, mean absolute, 95 % absolute, share inside, share beyond above.

    ``set_of`` ``(n_choices,)`` and ``specimens`` ``(n_choices, most_ages)`` are of the schedules, the errors
    and variances of their sets at every check.
    """
    n_choices, most_ages = specimens.shape
    n_checks = error.shape[1]
    mean = np.empty(n_checks)
    deviation = np.empty(n_checks)
    weight = np.empty(n_checks)
    unit = np.empty(n_checks, dtype=np.int64)
    target = np.empty(n_checks, dtype=np.int64)
    n_units, n_targets = check_unit.max() + 1, check_target.max() + 1
    for c in range(n_choices):
        s = set_of[c]
        n = 0
        total = bias = floor = level = second = 0.0
        for k in range(n_checks):
            e, v = error[s, k], 0.0
            for i in range(most_ages):
                if specimens[c, i] > 0:
                    v += contribution[s, k, i] / specimens[c, i]
            if not (abs(e) < np.inf and v < np.inf):
                continue
            weight[n], mean[n], deviation[n] = check_weights[k], e, v
            unit[n], target[n] = check_unit[k], check_target[k]
            total += check_weights[k]
            bias += check_weights[k] * e
            floor += check_weights[k] * v
            second += check_weights[k] * (e * e + v)
            level += check_weights[k] * level_at(e, v, prior_variance[s, k], truth_variance[k])
            n += 1
        if n == 0:
            out[c, :] = np.nan
            continue
        bias /= total
        square = max(level, floor) / total
        factor = narrowing_factor(square, second / total, bias)
        mean_abs = inside = beyond = highest = 0.0
        out[c, 0] = sqrt(square)
        out[c, 1] = bias
        for k in range(n):
            weight[k] /= total
            mean[k] = bias + factor * (mean[k] - bias)
            deviation[k] = max(factor * sqrt(deviation[k]), LEAST_DEVIATION)
        together = 0.0
        if n_targets > 1:
            together = units_inside(
                mean[:n], deviation[:n], tolerance, weight[:n], unit[:n], target[:n], n_units, n_targets
            )
        if n > _MANY:
            _comb(mean[:n], deviation[:n], weight[:n], tolerance, out[c])
            out[c, 4] = together if n_targets > 1 else out[c, 4]
            continue
        for k in range(n):
            scaled = mean[k] / deviation[k]
            mean_abs += weight[k] * (
                mean[k] * (1.0 - 2.0 * normal_tail(scaled)) + 2.0 * deviation[k] * normal_density(scaled)
            )
            inside += weight[k] * inside_at(mean[k], deviation[k], tolerance)
            beyond += weight[k] * beyond_at(mean[k], deviation[k], tolerance)
            highest = max(highest, abs(mean[k]) + 6.0 * deviation[k])
        out[c, 2] = mean_abs
        out[c, 3] = _quantile(mean[:n], deviation[:n], weight[:n], 0.95, 1.96 * out[c, 0], highest)
        out[c, 4] = together if n_targets > 1 else inside
        out[c, 5] = beyond
