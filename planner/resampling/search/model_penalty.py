"""What the records say of a curve and of maturity constants beyond any one schedule.

Among thousands of joint choices a wrong curve, or a wrong constant that makes up for it, looks right in
some schedule by luck, and a few batches cannot tell. Two things in the records can:

* A curve that suits a mix suits it in most schedules. The typical loss of a joint over all sets of ages
  is added to the loss of each of its choices.
* A constant that suits a mix brings its site-cured companions of every age onto the standard curve, not
  only those at the target. Their squared distances from it are added, each companion counted as much as
  one check at the target.

Both are added batch by batch. A penalty per batch is summed and left out like any other loss, so selection
without a batch, ties and the bootstrap never see what they must not: curve and constants are not tuned
first, they are chosen with the schedule in every fold. Schedules of one joint keep their order.

The median, and weight 1, were tried beside other quantiles and weights on simulated programmes, see
``python -m tests.statistics.regret`` and ``python -m tests.statistics.fresh_batches``.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np

from planner.evidence import Cells
from planner.resampling.errors.scoring import Scoring
from planner.resampling.errors.sweeps import Joint
from planner.resampling.search.pieces import set_table
from planner.resampling.threads import in_order
from planner.terms.arrays import FloatArray, IntArray

MOST_SETS = 400  # sets of ages that a joint is judged by, spread evenly over all
FEWEST_AGES, MOST_AGES = 3, 7  # of such a set
MOST_CANDIDATES = 12  # of more, an even choice: the sets would be too many to list


def with_likeness(cells: Cells, joints: tuple[Joint, ...], scoring: Scoring, *, n_workers: int = 1) -> Scoring:
    """Add the penalty of every joint to the scoring."""
    curves = curve_likeness(cells, joints, scoring, n_workers=n_workers)
    penalty = curves + constant_likeness(cells, joints, scoring)
    return replace(scoring, penalty=penalty)


def reference_sets(cells: Cells) -> tuple[IntArray, IntArray]:
    """Sets of the candidate ages that curves are judged by, ``(n_sets, most_ages)`` and ``(n_sets,)``.

    They do not depend on what else limits a schedule: how a curve suits a mix is a matter of its records, and a
    stricter limit must not make another curve, and with it another schedule, look better.
    """
    candidates = np.flatnonzero(cells.is_candidate)
    if len(candidates) > MOST_CANDIDATES:
        candidates = candidates[np.unique(np.linspace(0, len(candidates) - 1, MOST_CANDIDATES).astype(np.int64))]
    fewest, most = min(FEWEST_AGES, len(candidates)), min(MOST_AGES, len(candidates))
    sets = [ages for n_ages in range(fewest, most + 1) for ages in combinations(candidates.tolist(), n_ages)]
    kept = np.unique(np.linspace(0, len(sets) - 1, MOST_SETS).astype(np.int64))
    members = np.full((len(kept), most), -1, dtype=np.int64)
    for row, at in enumerate(kept):
        members[row, : len(sets[at])] = sets[at]
    return members, (members >= 0).sum(axis=1)


def curve_likeness(cells: Cells, joints: tuple[Joint, ...], scoring: Scoring, *, n_workers: int = 1) -> FloatArray:
    """Median loss of each joint over sets of ages, with as many specimens as the records have, ``(n_joints, n_units)``.

    Sets that a unit lacks, or with too few ages for the curve, do not count; a joint that a unit cannot
    judge at all takes the largest median there.
    """
    members, n_ages = reference_sets(cells)
    n_specimens = float(np.mean(cells.views.n_specimens[cells.views.n_specimens > 0]))

    def typical(joint: Joint) -> FloatArray:
        table = set_table(cells, members, n_ages, (joint,), replace(scoring, penalty=None))
        loss = table.square[0] + scoring.variance_factor * table.single_variance[0].sum(axis=2) / n_specimens
        loss = np.where(np.isfinite(loss), loss, np.nan)
        held = ~np.isnan(loss).all(axis=0)
        median = np.full(scoring.n_units, np.nan)
        if held.any():
            median[held] = np.nanmedian(loss[:, held], axis=0)
        return median

    medians = np.array(list(in_order(typical, joints, n_workers)))
    worst = np.nanmax(medians, axis=0, initial=0.0)
    return np.where(np.isnan(medians), worst, medians)


def constant_likeness(cells: Cells, joints: tuple[Joint, ...], scoring: Scoring) -> FloatArray:
    """Squared distances of site-cured companions from the standard curve, ``(n_joints, n_units)``.

    Added over the companions of a unit and divided by its checks, so that a companion of any age counts as
    much as a check at the target. The standard curve is straight between its means in the logarithm of
    maturity, its ends continued, so that no formula takes part. Zero in units without companions.
    """
    penalty = np.zeros((len(cells.settings), scoring.n_units))
    unit = cells.views.unit[cells.site_cured.view]
    n_checks = np.bincount(scoring.unit, minlength=scoring.n_units)
    for m in range(len(cells.settings)):
        squares = np.array([_squared_distance(cells, m, k) for k in range(len(unit))])
        squares = np.minimum(squares, scoring.most_error**2)
        penalty[m] = np.bincount(unit, weights=squares, minlength=scoring.n_units) / np.maximum(n_checks, 1)
    return np.asarray(penalty[[joint.setting for joint in joints]])


def _squared_distance(cells: Cells, setting: int, companion: int) -> float:
    """Squared relative error of the standard curve, read at the maturity of one companion cell."""
    view = int(cells.site_cured.view[companion])
    held = np.isfinite(cells.views.mean_mpa[view])
    if held.sum() < 2:
        return 0.0
    maturity, reached = cells.views.maturity_h[setting, view, held], cells.site_cured.maturity_h[setting, companion]
    if not (maturity[0] > 0.0 and np.all(np.diff(maturity) > 0.0) and reached > 0.0):
        return 1.0  # constants under which frozen concrete has no maturity deny it the strength it broke at
    knots = np.log(maturity)
    strength = cells.views.mean_mpa[view, held]
    at = np.log(reached)
    right = int(np.clip(np.searchsorted(knots, at), 1, knots.size - 1))
    share = (at - knots[right - 1]) / (knots[right] - knots[right - 1])
    reading = (1.0 - share) * strength[right - 1] + share * strength[right]
    return float((reading / cells.site_cured.truth_mpa[companion] - 1.0) ** 2)
