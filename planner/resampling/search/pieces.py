"""One piece of the search: some schedules, every joint, every unit.

Pieces share nothing but what they read, so they run on any thread, process or machine and can be merged
in any order. Of the millions of joint choices a piece looks at it hands back the few that the choosing
rule may need, and the best joint of every schedule.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from planner.choices import ChoiceSet
from planner.evidence import Cells
from planner.resampling.errors.arithmetic import TIE_FACTOR
from planner.resampling.errors.expansion import expand_checks
from planner.resampling.errors.scoring import Scoring
from planner.resampling.errors.sweeps import Joint, sweep_all
from planner.resampling.search.dominance import undominated
from planner.resampling.search.pruning import best_joints, losses_at, near_rows, promising
from planner.terms.arrays import AnyArray, BoolArray, FloatArray, IntArray, SingleArray

LOW_FACTOR = 4.0  # the bootstrap's neighbourhood: within twice the root mean loss of the best
EDGE = 1.0 + 1e-12  # loops and numpy add up in other orders: what is on an edge is ruled on when all is in
VALUES_AT_ONCE = 500_000  # losses looked at together: 4 MB
HOLE_SLACK = 1.5  # rows with holes are scored through others, so more of them are handed back


@dataclass(frozen=True, slots=True, eq=False)
class SetTable:
    """What every joint does with every set of ages of a piece, added up to units."""

    square: FloatArray  # mean e^2 and the penalty, NaN: a hole, (n_joints, n_sets, n_units)
    level: FloatArray  # unbiased squared error but for the schedule's own variance, same shape
    single_variance: FloatArray  # variance one specimen at each age adds, (n_joints, n_sets, n_units, most_ages)
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
    swept, added = sweep_all(
        cells,
        members,
        n_ages,
        joints,
        weight=scoring.check_weight,
        truth_variance=scoring.truth_variance,
        unit=scoring.unit,
        tolerance=scoring.tolerance,
        n_units=scoring.n_units,
        is_kept=not scoring.is_linear,
        most_error=scoring.most_error,
    )
    square = added.square
    if scoring.penalty is not None and scoring.is_linear:
        square += scoring.penalty[:, None, :]
    return SetTable(
        square,
        added.level,
        added.single_variance,
        added.is_over,
        None if scoring.is_linear else np.clip(swept.error, -scoring.most_error, scoring.most_error),
        None if scoring.is_linear else swept.contribution,
        swept.counts,
    )


def score_piece(
    cells: Cells,
    choices: ChoiceSet,
    which: IntArray | slice,
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
        Schedules of the piece, as rising positions in `choices` or a span of them.
    threshold
        Lowest means known so far; not changed. Better ones only make the piece hand back fewer rows.
    is_maximal
        Schedules of the piece that no further specimen fits into: only these can be undominated.
    is_all_kept
        Hand back every row, for a few schedules named beforehand.
    """
    sets, local_set = np.unique(choices.set_of[which], return_inverse=True)
    table = set_table(cells, choices.set_members[sets], choices.set_n_ages[sets], joints, scoring)
    specimens = choices.specimens_of(which)
    patterns = Patterns(
        local_set, choices.set_n_ages[sets], specimens, specimens.sum(axis=1, dtype=np.int64), is_maximal
    )
    limits = Limits.of(threshold, scoring.least_penalty(), is_all_kept=is_all_kept)
    if table.error is None:
        score, best_joint, rows, loss_of = _promising(table, patterns, scoring, limits)
    else:
        score, best_joint, rows, loss_of = _all_of_them(table, patterns, scoring)
    threshold = threshold.copy()
    ruled = [
        _ruled_on(part, loss_of(part), patterns, len(joints), threshold, limits)
        for part in _parts(rows, max(1, VALUES_AT_ONCE // scoring.n_units))
    ]
    at, loss, is_near, is_low = (np.concatenate(column) for column in zip(*ruled, strict=True))
    low = np.flatnonzero(is_low)
    is_low[low] = undominated(loss[low])
    kept = np.flatnonzero(is_near | is_low)
    at, loss, is_low = at[kept], loss[kept], is_low[kept]
    row_choice, row_joint = np.divmod(at, len(joints))
    in_set = local_set[row_choice]
    inverse = 1.0 / np.maximum(specimens[row_choice], 1)
    variance = np.einsum("rua,ra->ru", table.single_variance[row_joint, in_set], inverse)
    return Piece(
        score=score,
        best_joint=best_joint,
        row_choice=row_choice,
        row_joint=row_joint,
        loss=loss,
        level=(table.level[row_joint, in_set] + variance).astype(np.float32),
        variance=variance.astype(np.float32),
        is_over=table.is_over[row_joint, in_set],
        is_low=is_low,
        threshold=threshold,
        counts=table.counts,
    )


@dataclass(frozen=True, slots=True, eq=False)
class Patterns:
    """The schedules of a piece."""

    set_of: IntArray  # set of each, counted from the piece's first, rising, (n_choices,)
    n_ages: IntArray  # of each set, (n_sets,)
    specimens: AnyArray  # (n_choices, most_ages)
    n_specimens: IntArray  # (n_choices,)
    is_maximal: BoolArray  # no further specimen fits into it: only these can be undominated, (n_choices,)


@dataclass(frozen=True, slots=True, eq=False)
class Limits:
    """Mean losses up to which a joint choice is handed back, from what was known when the piece began."""

    near: FloatArray  # without each unit, last row without none, (n_units + 1, most_specimens + 1)
    hole: FloatArray  # over the units that hold it, (most_specimens + 1,)
    low_mean: float
    least: FloatArray  # least mean penalty of any joint, (n_units + 1,)
    slack: float

    @classmethod
    def of(cls, threshold: FloatArray, least: FloatArray, *, is_all_kept: bool) -> Limits:
        """Read them off the lowest means known."""
        slack = np.inf if is_all_kept else EDGE * TIE_FACTOR
        endless = np.full_like(threshold, np.inf)
        return cls(
            near=endless if is_all_kept else least[:, None] + slack * (threshold - least[:, None]),
            hole=endless[-1] if is_all_kept else hole_limit(threshold),
            low_mean=least[-1] + EDGE * LOW_FACTOR * float(threshold[-1, -1] - least[-1]),
            least=least,
            slack=slack,
        )


LossOf = Callable[[IntArray], FloatArray]
NearBest = tuple[
    FloatArray, AnyArray, IntArray, LossOf
]  # score and best joint; rows that may be near, and their losses


def _promising(table: SetTable, patterns: Patterns, scoring: Scoring, limits: Limits) -> NearBest:
    n_joints, n_choices = len(table.square), len(patterns.set_of)
    score, best = np.empty(n_choices), np.empty(n_choices, dtype=np.int16)
    is_promising = np.zeros((n_choices, n_joints), dtype=bool)
    linear = (
        table.square,
        table.single_variance,
        patterns.set_of,
        patterns.n_ages,
        patterns.specimens,
        scoring.variance_factor,
    )
    promising(
        *linear,
        patterns.n_specimens,
        limits.near,
        limits.hole,
        patterns.is_maximal,
        limits.low_mean,
        score,
        best,
        is_promising,
    )

    def loss_of(rows: IntArray) -> FloatArray:
        loss = np.empty((len(rows), scoring.n_units))
        losses_at(*linear, *np.divmod(rows, n_joints), loss)
        return loss

    return score, best, np.flatnonzero(is_promising), loss_of


def _all_of_them(table: SetTable, patterns: Patterns, scoring: Scoring) -> NearBest:
    """The same where the loss is not linear in the variance: nothing is known of it before it is worked out."""
    assert table.error is not None
    n_choices = len(patterns.set_of)
    loss = np.empty((n_choices, len(table.square), scoring.n_units))
    expand_checks(
        table.error, table.contribution, patterns.set_of, patterns.n_ages, patterns.specimens,
        scoring.variance_factor, scoring.over_weight, scoring.is_worst, scoring.weight, scoring.unit, scoring.target,
        np.array(scoring.target_weights), loss,
    )  # fmt: skip
    if scoring.penalty is not None:
        loss += scoring.penalty
    score, best = np.empty(n_choices), np.empty(n_choices, dtype=np.int16)
    best_joints(loss, score, best)
    rows = loss.reshape(-1, scoring.n_units)
    return score, best, np.arange(len(rows)), rows.__getitem__


def _ruled_on(
    rows: IntArray,
    loss: FloatArray,
    patterns: Patterns,
    n_joints: int,
    threshold: FloatArray,
    limits: Limits,
) -> tuple[IntArray, FloatArray, BoolArray, BoolArray]:
    """Rows that are near or low, their losses, and which are which; `threshold` falls to what is seen here."""
    choice = rows // n_joints
    n_specimens = patterns.n_specimens[choice]
    is_hole = np.isnan(loss).any(axis=1)
    is_near, is_low = np.zeros(len(rows), dtype=bool), np.zeros(len(rows), dtype=bool)
    near_rows(
        loss,
        n_specimens,
        threshold,
        limits.least,
        limits.slack,
        patterns.is_maximal[choice],
        limits.low_mean,
        is_near,
        is_low,
    )
    with_holes = np.flatnonzero(is_hole)
    near_mean = limits.hole if limits.slack == np.inf else hole_limit(threshold)
    is_near[with_holes] = near_with_holes(loss[with_holes], n_specimens[with_holes], near_mean)
    kept = np.flatnonzero(is_near | is_low)
    return rows[kept], loss[kept], is_near[kept], is_low[kept]


def _parts(rows: IntArray, size: int) -> list[IntArray]:
    return [rows[start : start + size] for start in range(0, max(len(rows), 1), size)]


def hole_limit(threshold: FloatArray) -> FloatArray:
    """Highest mean over the units it has up to which a row with holes is near, ``(most_specimens + 1,)``."""
    return np.asarray(HOLE_SLACK * TIE_FACTOR * threshold[-1])


def near_with_holes(rows: FloatArray, n_specimens: IntArray, limit: FloatArray) -> BoolArray:
    """Mark rows with holes by the mean over the units they have, with more slack: a net, not a ruling.

    Asked once more when all pieces are in, because the thresholds have fallen since. `limit` is that of
    :func:`hole_limit`.
    """
    held = ~np.isnan(rows)
    n_held = held.sum(axis=1)
    mean = np.where(held, rows, 0.0).sum(axis=1) / np.maximum(n_held, 1)
    return np.asarray((n_held > 0) & (mean < np.inf) & (mean <= limit[n_specimens]))
