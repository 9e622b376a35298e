"""One piece of the search: some schedules, every joint, every unit.

Pieces share nothing but what they read, so they run on any thread, process or machine and can be merged
in any order. Of the millions of joint choices a piece looks at it hands back the few that the choosing
rule may need, and the best joint of every schedule.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.choices import ChoiceSet
from planner.evidence import Cells
from planner.terms.arrays import AnyArray, BoolArray, FloatArray, IntArray, SingleArray

from .dominance import undominated
from .expansion import best_joints, expand, expand_checks, near_rows
from .scoring import Scoring
from .sweeps import Joint, sweep_sets
from .units import add_to_units

TIE_FACTOR = 1.21  # the rule ties nothing whose mean loss is above this times the best's
LOW_FACTOR = 4.0  # the bootstrap's neighbourhood: within twice the root mean loss of the best
EDGE = 1.0 + 1e-12  # loops and numpy add up in other orders: what is on an edge is ruled on when all is in
HOLE_SLACK = 1.5  # rows with holes are scored through others, so more of them are handed back


@dataclass(frozen=True, slots=True, eq=False)
class SetTable:
    """What every joint does with every set of ages of a piece, added up to units."""

    square: FloatArray  # mean e^2 and the penalty, NaN: a hole, (n_joints, n_sets, n_units)
    level: FloatArray  # unbiased squared error but for the schedule's own variance, same shape
    shares: FloatArray  # variance one specimen at each age adds, (n_joints, n_sets, n_units, most_ages)
    is_over: BoolArray  # over-predicted beyond tolerance at any check, (n_joints, n_sets, n_units)
    error: FloatArray | None  # at the checks, kept only where the loss needs them
    contribution: FloatArray | None
    counts: IntArray  # fits, at a bound, unconverged, second looks


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """What one piece hands back."""

    score: FloatArray  # lowest mean loss of each schedule over the units that hold it, (n_choices,)
    best_joint: AnyArray  # its joint, (n_choices,)
    row_choice: IntArray  # rows that the rule may need: schedule, counted from the piece's first, (n_rows,)
    row_joint: IntArray  # (n_rows,)
    loss: FloatArray  # (n_rows, n_units)
    level: SingleArray  # (n_rows, n_units)
    variance: SingleArray  # (n_rows, n_units)
    is_over: BoolArray  # (n_rows, n_units)
    is_low: BoolArray  # belongs to the bootstrap's neighbourhood, (n_rows,)
    threshold: FloatArray  # lowest means seen, see `near_rows`
    counts: IntArray


def set_table(
    cells: Cells, members: AnyArray, n_ages: IntArray, joints: tuple[Joint, ...], scoring: Scoring
) -> SetTable:
    """Sweep every joint over some sets of ages."""
    shape = (len(joints), len(n_ages), scoring.n_units)
    square, level = np.zeros(shape), np.zeros(shape)
    shares = np.zeros((*shape, members.shape[1]))
    is_over = np.zeros(shape, dtype=bool)
    weight = scoring.weight * np.array(scoring.shares)[scoring.target]
    counts = np.zeros(4, dtype=np.int64)
    errors, contributions = [], []
    for j, joint in enumerate(joints):
        swept = sweep_sets(cells, members, n_ages, joint)
        add_to_units(
            swept.error, swept.contribution, swept.prior_variance, weight, scoring.truth_variance, scoring.unit,
            scoring.tolerance, square[j], level[j], shares[j], is_over[j],
        )  # fmt: skip
        counts += (swept.n_fits, swept.n_at_bound, swept.n_unconverged, swept.n_second_looks)
        if scoring.is_linear:
            if scoring.penalty is not None:
                square[j] += scoring.penalty[j]
        else:
            errors.append(swept.error)
            contributions.append(swept.contribution)
    return SetTable(
        square,
        level,
        shares,
        is_over,
        np.array(errors) if errors else None,
        np.array(contributions) if contributions else None,
        counts,
    )


def score_piece(
    cells: Cells,
    choices: ChoiceSet,
    which: IntArray,
    joints: tuple[Joint, ...],
    scoring: Scoring,
    *,
    threshold: FloatArray,
    is_maximal: BoolArray,
    is_all_kept: bool = False,
) -> Piece:
    """Score some schedules with every joint.

    Parameters
    ----------
    which
        Schedules of the piece, as positions in `choices`, rising.
    threshold
        Lowest means known so far; not changed. Better ones only make the piece hand back fewer rows.
    is_maximal
        Schedules of the piece that no further specimen fits into: only these can be undominated.
    is_all_kept
        Hand back every row, for a few schedules named beforehand.
    """
    sets, local_set = np.unique(choices.set_of[which], return_inverse=True)
    n_ages = choices.set_n_ages[sets]
    table = set_table(cells, choices.set_members[sets], n_ages, joints, scoring)
    specimens = choices.specimens[which]
    n_units = scoring.n_units
    loss = np.empty((len(which), len(joints), n_units))
    if table.error is None:
        expand(table.square, table.shares, local_set, n_ages, specimens, scoring.variance_factor, loss)
    else:
        expand_checks(
            table.error, table.contribution, local_set, n_ages, specimens, scoring.variance_factor,
            scoring.over_weight, scoring.is_worst, scoring.weight, scoring.unit, scoring.target,
            np.array(scoring.shares), loss,
        )  # fmt: skip
        if scoring.penalty is not None:
            loss += scoring.penalty
    score, best_joint = _best_joints(loss)
    rows = loss.reshape(-1, n_units)
    n_specimens = np.repeat(specimens.sum(axis=1, dtype=np.int64), len(joints))
    is_hole = np.asarray(np.isnan(rows).any(axis=1))
    is_near, is_low = np.zeros(len(rows), dtype=bool), np.zeros(len(rows), dtype=bool)
    threshold, least = threshold.copy(), scoring.least_penalty()
    near_rows(
        rows, n_specimens, threshold, least, np.inf if is_all_kept else EDGE * TIE_FACTOR,
        np.repeat(is_maximal, len(joints)), least[-1] + EDGE * LOW_FACTOR * (threshold[-1, -1] - least[-1]),
        is_near, is_low,
    )  # fmt: skip
    at = np.flatnonzero(is_hole)
    is_near[at] = near_with_holes(
        rows[at], n_specimens[at], np.full_like(threshold, np.inf) if is_all_kept else threshold
    )
    low = np.flatnonzero(is_low)
    is_low[low] = undominated(rows[low])
    kept = np.flatnonzero(is_near | is_low)
    row_choice, row_joint = np.divmod(kept, len(joints))
    at = local_set[row_choice]
    inverse = 1.0 / np.maximum(specimens[row_choice], 1)
    variance = np.einsum("rua,ra->ru", table.shares[row_joint, at], inverse)
    return Piece(
        score=score,
        best_joint=best_joint,
        row_choice=row_choice,
        row_joint=row_joint,
        loss=rows[kept],
        level=(table.level[row_joint, at] + variance).astype(np.float32),
        variance=variance.astype(np.float32),
        is_over=table.is_over[row_joint, at],
        is_low=is_low[kept],
        threshold=threshold,
        counts=table.counts,
    )


def _best_joints(loss: FloatArray) -> tuple[FloatArray, AnyArray]:
    """Lowest mean loss of each schedule over the units that hold it; infinite with fewer than half of them."""
    score = np.empty(len(loss))
    best = np.empty(len(loss), dtype=np.int16)
    best_joints(loss, score, best)
    return score, best


def near_with_holes(rows: FloatArray, n_specimens: IntArray, threshold: FloatArray) -> BoolArray:
    """Mark rows with holes by the mean over the units they have, with more slack: a net, not a ruling.

    As in :func:`near_rows`; asked once more when all pieces are in, because the thresholds have fallen since.
    """
    held = ~np.isnan(rows)
    n_held = held.sum(axis=1)
    mean = np.where(held, rows, 0.0).sum(axis=1) / np.maximum(n_held, 1)
    limit = threshold[-1, n_specimens]
    wanted = np.where(np.isfinite(limit), HOLE_SLACK * TIE_FACTOR * limit, np.inf)
    return np.asarray((n_held > 0) & (mean < np.inf) & (mean <= wanted))
