"""The search: every schedule with every curve, weighting and maturity setting, in every held-out unit.

Every fit is that of one batch alone and nothing is tuned before it is selected, so leaving batches out,
nested selection, ties and the bootstrap over batches are sums and argmins over the rows kept here. Kept
is every joint choice that is within the rule's tie factor of the best in the full records or without any
one unit, for any number of specimens, and what the bootstrap may choose; the rule cannot tell that the
others were there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from planner.choices import ChoiceSet
from planner.evidence import Cells
from planner.terms.arrays import AnyArray, BoolArray, FloatArray, IntArray, SingleArray

from .pieces import LOW_FACTOR, TIE_FACTOR, Piece, score_piece
from .scoring import Scoring
from .sweeps import Joint

Progress = Callable[[int, int, str], None]
ROWS_PER_PIECE = 250_000  # joint choices a piece holds at once: 18 MB with nine batches
WHAT = "Scoring every schedule"


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ErrorMatrix:
    """Rows are joint choices. NaN: the unit lacks an age of the schedule."""

    choices: ChoiceSet
    joints: tuple[Joint, ...]
    row_choice: IntArray  # schedule of each row, as a position in `choices`, (n_rows,)
    row_joint: IntArray  # joint of each row, (n_rows,)
    loss: FloatArray  # C, (n_rows, n_units)
    level: SingleArray  # unbiased squared error against true strength, (n_rows, n_units)
    variance: SingleArray  # v of the schedule's own specimens, (n_rows, n_units)
    is_over: BoolArray  # over-predicted beyond tolerance at any check, (n_rows, n_units)
    is_low: BoolArray  # of the bootstrap's neighbourhood, (n_rows,)
    score: FloatArray  # lowest mean loss of each schedule, infinite where it cannot be judged, (n_choices,)
    best_joint: AnyArray  # its joint, (n_choices,)
    n_fits: int
    n_at_bound: int
    n_unconverged: int
    n_second_looks: int

    @property
    def n_choices(self) -> int:
        return len(self.choices)

    def joint_of(self, row: int) -> Joint:
        """Curve, weighting and constants of a row."""
        return self.joints[int(self.row_joint[row])]

    def choice_of(self, row: int) -> int:
        """Schedule of a row, as a position in `choices`."""
        return int(self.row_choice[row])


def error_matrix(
    cells: Cells,
    choices: ChoiceSet,
    joints: tuple[Joint, ...],
    scoring: Scoring,
    *,
    n_workers: int = 1,
    progress: Progress | None = None,
    is_all_kept: bool = False,
) -> ErrorMatrix:
    """Score every joint choice.

    A scout goes first, one full pattern of specimens for each set of ages, so that the pieces after it
    know what is near the best and hand back little. Threads over compiled loops that hold no lock; pieces
    are merged in their own order and the rows kept do not depend on how they were cut, so the result is
    the same to the last bit for any number of workers. `is_all_kept` keeps every row, for a few schedules
    named beforehand.
    """
    most = int(choices.n_specimens.max())
    threshold = np.full((scoring.n_units + 1, most + 1), np.inf)
    is_maximal = maximal_patterns(choices)
    scouts = _scouts(choices)
    scouting = _pieces(scouts, len(joints)) if len(scouts) < len(choices) else []
    n_scout = len(scouting)
    todo = [*scouting, *_pieces(np.arange(len(choices)), len(joints))]
    gathered = _Gathered(choices, len(joints), scoring.n_units)

    def work(which: IntArray) -> Piece:
        return score_piece(
            cells,
            choices,
            which,
            joints,
            scoring,
            threshold=threshold.copy(),
            is_maximal=is_maximal[which],
            is_all_kept=is_all_kept,
        )

    for place, piece in enumerate(_ordered(work, todo, n_workers)):
        np.minimum(threshold, piece.threshold, out=threshold)
        if place >= n_scout:
            gathered.add(piece, todo[place])
        if progress:
            progress(place + 1, len(todo), WHAT)
    return gathered.matrix(joints, np.full_like(threshold, np.inf) if is_all_kept else threshold)


def maximal_patterns(choices: ChoiceSet) -> BoolArray:
    """Schedules that no further specimen fits into: at every age the most, or the budget spent."""
    totals = choices.n_specimens
    full = choices.specimens.max() if len(choices) else 0
    is_full = (choices.specimens == full).sum(axis=1) == choices.n_ages
    return np.asarray(is_full | (totals == totals.max()))


def _scouts(choices: ChoiceSet) -> IntArray:
    """The last schedule of every set: as many specimens at the youngest ages as fit."""
    last = np.flatnonzero(np.r_[np.diff(choices.set_of) != 0, True])
    return np.asarray(last)


def _pieces(which: IntArray, n_joints: int) -> list[IntArray]:
    size = max(1, ROWS_PER_PIECE // n_joints)
    return [which[start : start + size] for start in range(0, len(which), size)]


def _ordered(work: Callable[[IntArray], Piece], todo: list[IntArray], n_workers: int) -> Iterator[Piece]:
    """Work through the pieces in order, a few ahead at a time so that memory does not grow with their number."""
    if n_workers <= 1:
        yield from map(work, todo)
        return
    with ThreadPoolExecutor(n_workers) as pool:
        ahead = n_workers + 1
        waiting = [pool.submit(work, which) for which in todo[:ahead]]
        for place in range(len(todo)):
            yield waiting.pop(0).result()
            if place + ahead < len(todo):
                waiting.append(pool.submit(work, todo[place + ahead]))


class _Gathered:
    """Merges pieces and lets go of rows that turn out not to be near."""

    def __init__(self, choices: ChoiceSet, n_joints: int, n_units: int) -> None:
        self._choices = choices
        self._n_joints = n_joints
        self._score = np.full(len(choices), np.inf)
        self._best_joint = np.zeros(len(choices), dtype=np.int16)
        self._rows: list[tuple[AnyArray, ...]] = []
        self._counts = np.zeros(4, dtype=np.int64)
        self._n_units = n_units

    def add(self, piece: Piece, which: IntArray) -> None:
        self._score[which] = piece.score
        self._best_joint[which] = piece.best_joint
        self._counts += piece.counts
        self._rows.append(
            (
                which[piece.row_choice],
                piece.row_joint,
                piece.loss,
                piece.level,
                piece.variance,
                piece.is_over,
                piece.is_low,
            )  # fmt: skip
        )

    def matrix(self, joints: tuple[Joint, ...], threshold: FloatArray) -> ErrorMatrix:
        columns = [np.concatenate(column) for column in zip(*self._rows, strict=True)]
        self._rows.clear()
        row_choice, row_joint, loss, level, variance, is_over, is_low = columns
        n_specimens = self._choices.n_specimens[row_choice]
        is_hole = np.isnan(loss).any(axis=1)
        is_low = is_low & (loss.mean(axis=1) <= LOW_FACTOR * threshold[-1, -1])
        kept = np.flatnonzero(is_hole | is_low | _is_near(loss, n_specimens, threshold))
        return ErrorMatrix(
            choices=self._choices,
            joints=joints,
            row_choice=row_choice[kept].astype(np.int64),
            row_joint=row_joint[kept].astype(np.int64),
            loss=loss[kept],
            level=level[kept],
            variance=variance[kept],
            is_over=is_over[kept],
            is_low=is_low[kept] | is_hole[kept],
            score=self._score,
            best_joint=self._best_joint,
            n_fits=int(self._counts[0]),
            n_at_bound=int(self._counts[1]),
            n_unconverged=int(self._counts[2]),
            n_second_looks=int(self._counts[3]),
        )


def _is_near(loss: FloatArray, n_specimens: IntArray, threshold: FloatArray) -> BoolArray:
    """Within the tie factor of the best with as many specimens, in full or without any one unit."""
    n_units = loss.shape[1]
    total = loss.sum(axis=1)
    near = total / n_units <= TIE_FACTOR * threshold[-1, n_specimens]
    for unit in range(n_units if n_units > 1 else 0):
        near |= (total - loss[:, unit]) / (n_units - 1) <= TIE_FACTOR * threshold[unit, n_specimens]
    return np.asarray(near)
