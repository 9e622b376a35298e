"""The search: every schedule with every curve, weighting and maturity setting, in every held-out unit.

Every fit is that of one batch alone and nothing is tuned before it is selected, so leaving batches out,
nested selection, ties and the bootstrap over batches are sums and argmins over the rows kept here. Kept
is every joint choice that is within the rule's tie factor of the best in the full records or without any
one unit, for any number of specimens, and what the bootstrap may choose; the rule cannot tell that the
others were there.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass

import numpy as np

from planner.choices import ChoiceSet
from planner.evidence import Cells
from planner.resampling.errors.arithmetic import TIE_FACTOR
from planner.resampling.errors.scoring import Scoring
from planner.resampling.errors.sweeps import Joint
from planner.resampling.search.checkpoints import Checkpoints
from planner.resampling.search.execution import Surroundings, present
from planner.resampling.search.executors import Crew, Pending, Threads, done
from planner.resampling.search.partition import cut, maximal_patterns, scouts
from planner.resampling.search.pieces import LOW_FACTOR, Piece, hole_limit, near_with_holes
from planner.resampling.search.task import Question, answer_piece, program_mark
from planner.terms.arrays import AnyArray, BoolArray, FloatArray, IntArray, SingleArray

Progress = Callable[[int, int, str], None]
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

    A scout goes first, a few patterns of specimens for some sets of ages, so that the pieces after it know
    what is near the best and hand back little. Pieces run on threads over compiled loops that hold no
    lock, or wherever :func:`surroundings` says; they are merged in their own order and the rows kept do
    not depend on who worked or when, so the result is the same to the last bit for any number of workers.
    `is_all_kept` keeps every row, for a few schedules named beforehand.
    """
    n_specimens = choices.n_specimens
    question = Question(
        cells=cells,
        choices=choices,
        joints=joints,
        scoring=scoring,
        is_maximal=maximal_patterns(choices, n_specimens),
        is_all_kept=is_all_kept,
    )
    threshold = np.full((scoring.n_units + 1, int(n_specimens.max()) + 1), np.inf)
    ahead = scouts(choices, len(cells.views.batch))
    is_worth = not is_all_kept and len(ahead) < len(choices)  # where all is kept nobody needs to know what is near
    scouting = cut(choices, ahead, len(joints), scoring, is_scouting=True) if is_worth else []
    todo = [*scouting, *cut(choices, np.arange(len(choices)), len(joints), scoring)]
    gathered = _Gathered(choices, n_specimens)
    around = present() if len(todo) > 1 else Surroundings()  # what takes no time is done on the spot
    with _crew_of(around, min(n_workers, len(todo))) as crew:
        for place, piece in enumerate(_worked(question, todo, len(scouting), threshold, around.kept, crew)):
            np.minimum(threshold, piece.threshold, out=threshold)
            if place >= len(scouting):
                gathered.add(piece, todo[place])
            if progress:
                progress(place + 1, len(todo), WHAT)
    return gathered.matrix(
        joints, np.full_like(threshold, np.inf) if is_all_kept else threshold, scoring.least_penalty()
    )


def _crew_of(around: Surroundings, n_workers: int) -> AbstractContextManager[Crew]:
    """Whoever is told to work, else threads of this search's own."""
    return Threads(n_workers) if around.crew is None else nullcontext(around.crew)


def _worked(
    question: Question,
    todo: list[IntArray],
    n_scouts: int,
    threshold: FloatArray,
    kept: Checkpoints | None,
    crew: Crew,
) -> Iterator[Piece]:
    """Pieces in their order, worked out or taken from an earlier run; `threshold` falls as they come.

    A few are ahead at a time, so that memory does not grow with their number. No other piece is begun before
    all scouts are back: it would look at far more rows than it needs to.
    """
    program = program_mark()
    fingerprint = question.fingerprint() if kept is not None else ""
    if kept is not None:
        kept.begin(fingerprint, len(todo), lambda at, known: answer_piece(question, program, todo[at], known))
    shared = crew.share(question)
    waiting: deque[tuple[Pending, FloatArray | None]] = deque()  # what was known; None: taken as kept
    n_begun = 0
    for place in range(len(todo)):
        within = n_scouts if place < n_scouts else len(todo)
        while n_begun < within and len(waiting) < crew.n_ahead():
            found = kept.read(fingerprint, n_begun) if kept is not None else None
            if found is not None:
                waiting.append((done(found), None))
            else:
                known = threshold.copy()
                waiting.append((crew.submit(answer_piece, shared, program, todo[n_begun], known), known))
            n_begun += 1
        pending, begun_with = waiting.popleft()
        piece: Piece = pending.result()
        if kept is not None and begun_with is not None:
            kept.write(fingerprint, place, piece, begun_with)
        yield piece


class _Gathered:
    """Merges pieces and lets go of rows that turn out not to be near."""

    def __init__(self, choices: ChoiceSet, n_specimens: IntArray) -> None:
        self._choices = choices
        self._n_specimens = n_specimens
        self._score = np.full(len(choices), np.inf)
        self._best_joint = np.zeros(len(choices), dtype=np.int16)
        self._pieces: deque[tuple[Piece, IntArray]] = deque()
        self._counts = np.zeros(4, dtype=np.int64)

    def add(self, piece: Piece, which: IntArray) -> None:
        self._score[which] = piece.score
        self._best_joint[which] = piece.best_joint
        self._counts += piece.counts
        self._pieces.append((piece, which))

    def matrix(self, joints: tuple[Joint, ...], threshold: FloatArray, least: FloatArray) -> ErrorMatrix:
        """Rule once more on what the pieces handed back, now that all thresholds have fallen."""
        low_mean = float(least[-1] + LOW_FACTOR * (threshold[-1, -1] - least[-1]))
        ruled = [self._ruled_on(piece, which, threshold, least, low_mean) for piece, which in self._pieces]
        n_rows, n_units = sum(len(kept) for kept, _ in ruled), self._pieces[0][0].loss.shape[1]
        row_choice, row_joint = np.empty(n_rows, dtype=np.int64), np.empty(n_rows, dtype=np.int64)
        loss = np.empty((n_rows, n_units))
        level, variance = np.empty((n_rows, n_units), dtype=np.float32), np.empty((n_rows, n_units), dtype=np.float32)
        is_over, is_low = np.empty((n_rows, n_units), dtype=bool), np.empty(n_rows, dtype=bool)
        stop = 0
        for kept, low in ruled:
            piece, which = self._pieces.popleft()  # one by one, so that little is in memory twice
            start, stop = stop, stop + len(kept)
            row_choice[start:stop] = which[piece.row_choice[kept]]
            row_joint[start:stop] = piece.row_joint[kept]
            loss[start:stop] = piece.loss[kept]
            level[start:stop] = piece.level[kept]
            variance[start:stop] = piece.variance[kept]
            is_over[start:stop] = piece.is_over[kept]
            is_low[start:stop] = low
        return ErrorMatrix(
            choices=self._choices,
            joints=joints,
            row_choice=row_choice,
            row_joint=row_joint,
            loss=loss,
            level=level,
            variance=variance,
            is_over=is_over,
            is_low=is_low,
            score=self._score,
            best_joint=self._best_joint,
            n_fits=int(self._counts[0]),
            n_at_bound=int(self._counts[1]),
            n_unconverged=int(self._counts[2]),
            n_second_looks=int(self._counts[3]),
        )

    def _ruled_on(
        self, piece: Piece, which: IntArray, threshold: FloatArray, least: FloatArray, low_mean: float
    ) -> tuple[IntArray, BoolArray]:
        """Rows of a piece that are kept, and which of them are of the bootstrap's neighbourhood."""
        n_specimens = self._n_specimens[which[piece.row_choice]]
        is_hole: BoolArray = np.asarray(np.isnan(piece.loss).any(axis=1))
        is_low: BoolArray = np.asarray(piece.is_low & (piece.loss.mean(axis=1) <= low_mean))
        is_near = _is_near(piece.loss, n_specimens, threshold, least)
        is_near[is_hole] = near_with_holes(piece.loss[is_hole], n_specimens[is_hole], hole_limit(threshold))
        kept = np.flatnonzero(is_low | is_near)
        return kept, is_low[kept] | is_hole[kept]


def _is_near(loss: FloatArray, n_specimens: IntArray, threshold: FloatArray, least: FloatArray) -> BoolArray:
    """Within the tie factor of the best with as many specimens, in full or without any one unit."""
    n_units = loss.shape[1]
    limit = least[:, None] + TIE_FACTOR * (threshold - least[:, None])
    total = loss.sum(axis=1)
    near = total / n_units <= limit[-1, n_specimens]
    for unit in range(n_units if n_units > 1 else 0):
        near |= (total - loss[:, unit]) / (n_units - 1) <= limit[unit, n_specimens]
    return np.asarray(near)
