"""The lowest loss under any restriction of the schedules, judged on batches that did not choose it.

For every schedule the lowest mean loss over curves, weightings and constants is kept, once on all batches
and once without each of them. The argmin over any part of the schedules is then exact and costs nothing:
"no break before 8 h" or "at most 12 specimens" are masks.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from planner.choices import ChoiceSet
from planner.evidence import Cells
from planner.resampling import Joint, PairErrors, Scoring, pair_errors
from planner.resampling.errors.arithmetic import FEWEST_SHARED
from planner.resampling.errors.expansion import expand, expand_checks
from planner.resampling.errors.sweeps import sweep_sets, variance_with
from planner.resampling.search.error_matrix import Progress
from planner.resampling.search.learnt_rows import likeness_of
from planner.resampling.search.pieces import SetTable, set_table
from planner.resampling.threads import in_order
from planner.terms.arrays import AnyArray, BoolArray, FloatArray, SingleArray
from planner.verdict.selection.fold_minima import lowest_by_fold
from planner.verdict.validation.next_batch import NextBatchErrors, gathered
from planner.verdict.wording.held_out_words import LEAVING_OUT

SETS_AT_ONCE = 128
ROWS_AT_ONCE = 200_000  # joint choices: 14 MB with nine batches
MOST_SCHEDULES = 1_000_000  # beyond, only patterns whose counts differ by at most one are looked at


@dataclass(frozen=True, slots=True, eq=False)
class FoldTable:
    """Lowest mean losses of every schedule: rows are folds, the last one leaves nothing out."""

    cells: Cells
    scoring: Scoring
    choices: ChoiceSet
    joints: tuple[Joint, ...]
    loss: SingleArray  # infinite where it cannot be judged, (n_units + 1, n_choices)
    joint: AnyArray  # joint of that loss, (n_units + 1, n_choices)
    left_out: SingleArray  # loss of that joint on the unit left out, (n_units, n_choices)
    _errors: dict[tuple[int, int], AtChecks] = field(default_factory=dict)
    _pairs: dict[tuple[int, int], PairErrors | None] = field(default_factory=dict)

    def pick(self, allowed: BoolArray, fold: int = -1) -> tuple[int, int] | None:
        """Schedule and joint of lowest loss in a fold among the allowed, None where none can be judged.

        Parameters
        ----------
        allowed
            Schedules to choose among, ``(n_choices,)``.
        fold
            The unit left out; -1: none.
        """
        loss = np.where(allowed, self.loss[fold], np.inf)
        which = int(np.argmin(loss)) if loss.size else 0
        if not loss.size or not np.isfinite(loss[which]):
            return None
        return which, int(self.joint[fold, which])

    def at_checks(self, which: int, joint: int) -> AtChecks:
        """Errors of one joint choice at every check."""
        key = (which, joint)
        if key not in self._errors:
            positions, specimens = self.choices.row(which)
            swept = sweep_sets(self.cells, positions[None, :], np.array([len(positions)]), self.joints[joint])
            own = variance_with(swept.contribution, specimens[None, :])[0]
            self._errors[key] = AtChecks(swept.error[0], own, swept.prior_variance[0], swept.contribution[0])
        return self._errors[key]

    def pairs(self, which: int, joint: int) -> PairErrors | None:
        """Its next-batch errors; None without two batches of one mix."""
        key = (which, joint)
        if key not in self._pairs:
            self._pairs[key] = pair_errors(self.cells, self.scoring, self.choices, which, self.joints[joint])
        return self._pairs[key]


@dataclass(frozen=True, slots=True, eq=False)
class AtChecks:
    """Errors at checks, each ``(n_checks,)``."""

    error: FloatArray
    variance: FloatArray  # of the schedule's own specimens
    prior_variance: FloatArray  # of the specimens the batches really had
    contribution: FloatArray  # variance one specimen at each age adds, (n_checks, n_ages)


@dataclass(frozen=True, slots=True, eq=False)
class Restricted:
    """What a restriction allows, and how that does on the batches left out."""

    which: int  # schedule taken on all batches
    joint: int
    picks: dict[int, tuple[int, int]]  # unit left out -> schedule and joint taken without it
    at_checks: AtChecks  # every check by the pick that had not seen its unit; contribution is empty


def fold_table(
    cells: Cells,
    choices: ChoiceSet,
    joints: tuple[Joint, ...],
    scoring: Scoring,
    *,
    n_workers: int = 1,
    progress: Progress | None = None,
) -> FoldTable:
    """Score every schedule without each unit in turn.

    Where losses have holes they are scored through a reference that is known when all sets have been looked at: such
    sets are fitted once more then, as keeping what every joint does with every set would take most of the memory. The
    result does not depend on the number of workers.
    """
    n_choices, n_units = len(choices), scoring.n_units
    loss = np.full((n_units + 1, n_choices), np.inf, dtype=np.float32)
    joint = np.zeros((n_units + 1, n_choices), dtype=np.int16)
    left_out = np.full((n_units, n_choices), np.nan, dtype=np.float32)
    starts = range(0, choices.n_sets, SETS_AT_ONCE)
    first_of_set = np.searchsorted(choices.set_of, np.arange(choices.n_sets + 1))

    def fit(start: int, asked: tuple[Joint, ...] = joints, score: Scoring = scoring) -> SetTable:
        sets = slice(start, min(start + SETS_AT_ONCE, choices.n_sets))
        return set_table(cells, choices.set_members[sets], choices.set_n_ages[sets], asked, score)

    n_free = sum(not one.is_learnt for one in joints)  # joints that have learnt come last
    stated = tuple(
        _without(cells, joints[n_free:], scoring, unit) for unit in range(n_units if n_free < len(joints) else 0)
    )

    def add_up(start: int, table: SetTable, base: FloatArray | None) -> bool:
        """Whether it could be done: not without the reference where there are holes."""
        stop = min(start + SETS_AT_ONCE, choices.n_sets)
        mine = slice(int(first_of_set[start]), int(first_of_set[stop]))
        for part in _parts(mine, max(1, ROWS_AT_ONCE // len(joints))):
            rows = _losses(choices, part, start, stop, table, scoring)
            if base is None and (stated or not np.isfinite(rows).all()):
                return False
            through = np.zeros(n_units) if base is None else base
            lowest_by_fold(rows, through, FEWEST_SHARED, loss[:, part], joint[:, part], left_out[:, part])
            for unit, (asked, score) in enumerate(stated):
                learnt = _losses(choices, part, start, stop, fit(start, asked, score), score)
                learnt[:, :, unit] = rows[:, n_free:, unit]  # judged by what it has learnt from all others
                whole = np.concatenate([rows[:, :n_free], learnt], axis=1)
                found = [np.empty_like(column[:, part]) for column in (loss, joint, left_out)]
                lowest_by_fold(whole, through, FEWEST_SHARED, *found)
                loss[unit, part], joint[unit, part], left_out[unit, part] = (one[unit] for one in found)
        return True

    most = int(choices.patterns[choices.is_used()].max())

    def look(start: int) -> tuple[_Reference, bool]:
        table = fit(start)
        return _Reference.of(table, most, scoring.variance_factor), add_up(start, table, None)

    first: _Reference | None = None
    waiting: list[int] = []
    for start, (reference, is_done) in zip(starts, in_order(look, starts, n_workers), strict=True):
        first = reference if first is None or reference.is_before(first) else first
        waiting += [] if is_done else [start]
        if progress:
            progress(start // SETS_AT_ONCE + 1, len(starts) + len(waiting), LEAVING_OUT)
    base = np.zeros(n_units) if first is None else first.loss
    for done, _ in enumerate(in_order(lambda start: add_up(start, fit(start), base), waiting, n_workers), start=1):
        if progress:
            progress(len(starts) + done, len(starts) + len(waiting), LEAVING_OUT)
    return FoldTable(cells, scoring, choices, joints, loss, joint, left_out)


def _without(cells: Cells, learnt: tuple[Joint, ...], scoring: Scoring, unit: int) -> tuple[tuple[Joint, ...], Scoring]:
    """Joints with a prior that has not learnt from a unit either, and how they are scored."""
    asked = tuple(replace(one, without=unit) for one in learnt)
    return asked, replace(scoring, penalty=likeness_of(cells, asked, scoring))


@dataclass(frozen=True, slots=True, eq=False)
class _Reference:
    """The joint choice with fewest holes and lowest sum of losses, most specimens everywhere."""

    n_held: int  # units without a hole
    total: float
    loss: FloatArray  # NaN in its holes, (n_units,)

    @classmethod
    def of(cls, table: SetTable, most: int, variance_factor: float) -> _Reference:
        """The one of some sets."""
        own = variance_factor * np.nan_to_num(table.single_variance).sum(axis=-1) / most
        rows = (table.square + own).reshape(-1, table.square.shape[-1])
        is_held: AnyArray = np.array(np.isfinite(rows))
        n_held = is_held.sum(axis=1)
        total = np.where(is_held, rows, 0.0).sum(axis=1)
        best = int(np.argmin(np.where(n_held == n_held.max(), total, np.inf)))
        return cls(int(n_held[best]), float(total[best]), np.where(is_held[best], rows[best], np.nan))

    def is_before(self, other: _Reference) -> bool:
        return (-self.n_held, self.total) < (-other.n_held, other.total)


def restrict(table: FoldTable, allowed: BoolArray) -> Restricted | None:
    """Take the lowest loss among the allowed, and again without each unit; None where fewer than two judge.

    Parameters
    ----------
    allowed
        ``(n_choices,)``.
    """
    full = table.pick(allowed)
    if full is None:
        return None
    picks = {}
    for unit in range(table.scoring.n_units if table.scoring.n_units > 1 else 0):
        pick = table.pick(allowed, unit)
        if pick is not None:
            picks[unit] = pick
    if len(picks) < 2:
        return None
    columns = np.full((3, len(table.scoring.unit)), np.nan)
    for unit, (which, joint) in picks.items():
        own = table.scoring.unit == unit
        at = table.at_checks(which, joint)
        columns[:, own] = np.array([at.error, at.variance, at.prior_variance])[:, own]
    assembled = AtChecks(columns[0], columns[1], columns[2], np.empty((columns.shape[1], 0)))
    return Restricted(full[0], full[1], picks, assembled)


def later_errors(table: FoldTable, restricted: Restricted) -> NextBatchErrors | None:
    """Each left-out unit read off the curves of the other batches, by the pick that had not seen it."""
    cells = table.cells
    units = dict(zip(cells.views.batch, cells.views.unit.tolist(), strict=True))
    parts: list[tuple[PairErrors, int]] = []
    for unit, (which, joint) in restricted.picks.items():
        pairs = table.pairs(which, joint)
        if pairs is not None:
            own = np.array([units[name] for name in pairs.batches])[pairs.read_on] == unit
            parts.append((pairs.take(np.asarray(own)), 1))
    return gathered(parts, table.scoring)


def thinned(choices: ChoiceSet, *, most: int = MOST_SCHEDULES) -> ChoiceSet:
    """The same schedules, or where there are too many those whose counts differ by at most one."""
    if len(choices) <= most:
        return choices
    counts = choices.patterns
    least = np.where(counts > 0, counts, np.iinfo(counts.dtype).max).min(axis=1)
    return choices.part(np.asarray(counts.max(axis=1) - least <= 1)[choices.pattern_of])


def _losses(choices: ChoiceSet, part: slice, start: int, stop: int, table: SetTable, scoring: Scoring) -> FloatArray:
    """Loss of some schedules of the sets from `start` to `stop`, ``(n_choices, n_joints, n_units)``."""
    local = np.asarray(choices.set_of[part], dtype=np.int64) - start
    specimens = choices.specimens_of(part)
    loss = np.empty((len(local), table.square.shape[0], scoring.n_units))
    n_ages = choices.set_n_ages[start:stop]
    if table.error is None or table.contribution is None:
        expand(table.square, table.single_variance, local, n_ages, specimens, scoring.variance_factor, loss)
    else:
        expand_checks(
            table.error, table.contribution, local, n_ages, specimens, scoring.variance_factor, scoring.over_weight,
            scoring.is_worst, scoring.weight, scoring.unit, scoring.target, np.array(scoring.target_weights), loss,
        )  # fmt: skip
        if scoring.penalty is not None:
            loss += scoring.penalty
    return loss


def _parts(whole: slice, size: int) -> Iterator[slice]:
    for start in range(whole.start, whole.stop, size):
        yield slice(start, min(start + size, whole.stop))
