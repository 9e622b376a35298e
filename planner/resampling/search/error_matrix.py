"""The search: every schedule with every curve, weighting and maturity setting, in every held-out unit.

Every fit is that of one batch alone and nothing is tuned before it is selected, so leaving batches out,
nested selection, ties and the bootstrap over batches are sums and argmins over the rows kept here. Kept
is every joint choice that is within the rule's tie factor of the best in the full records or without any
one unit, for any number of specimens, and what the bootstrap may choose; the rule cannot tell that the
others were there.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, replace

import numpy as np

from planner.choices import ChoiceSet
from planner.evidence import Cells
from planner.resampling.errors.scoring import Scoring
from planner.resampling.errors.sweeps import Joint
from planner.resampling.search.checkpoints import Checkpoints
from planner.resampling.search.execution import Surroundings, present
from planner.resampling.search.executors import Crew, Pending, Threads, done
from planner.resampling.search.gathered_rows import GatheredRows
from planner.resampling.search.partition import cut, maximal_patterns, scouts
from planner.resampling.search.pieces import Piece
from planner.resampling.search.row_limit import Bar, RowLimit
from planner.resampling.search.task import Question, answer_piece, program_mark
from planner.terms.arrays import AnyArray, BoolArray, FloatArray, IntArray, SingleArray

Progress = Callable[[int, int, str], None]
WHAT = "Scoring every schedule"


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ErrorMatrix:
    """Rows are joint choices. NaN: the unit lacks an age of the schedule."""

    choices: ChoiceSet  # all that were searched, or those of them that anything is asked of
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
    n_searched: int  # schedules, whether they are among `choices` or not
    dearest_whole: int | None = None  # tier above which rows were thinned, see `RowLimit`; None: nowhere

    def joint_of(self, row: int) -> Joint:
        """Curve, weighting and constants of a row."""
        return self.joints[int(self.row_joint[row])]

    def choice_of(self, row: int) -> int:
        """Schedule of a row, as a position in `choices`."""
        return int(self.row_choice[row])

    def only(self, kept: IntArray) -> ErrorMatrix:
        """The same with some of its schedules, rising positions among which every row must have its own."""
        return replace(
            self,
            choices=self.choices.part(kept),
            row_choice=np.searchsorted(kept, self.row_choice),
            score=self.score[kept],
            best_joint=self.best_joint[kept],
        )


def error_matrix(
    cells: Cells,
    choices: ChoiceSet,
    joints: tuple[Joint, ...],
    scoring: Scoring,
    *,
    n_workers: int = 1,
    progress: Progress | None = None,
    is_all_kept: bool = False,
    row_limit: RowLimit | None = None,
) -> ErrorMatrix:
    """Score every joint choice.

    A scout goes first, a few patterns of specimens for some sets of ages, so that the pieces after it know
    what is near the best and hand back little. Pieces run on threads over compiled loops that hold no
    lock, or wherever :func:`surroundings` says; they are merged in their own order and the rows kept do
    not depend on who worked or when, so the result is the same to the last bit for any number of workers.
    `is_all_kept` keeps every row, for a few schedules named beforehand; `row_limit` bounds what is kept otherwise.
    """
    question = Question(
        cells=cells,
        choices=choices,
        joints=joints,
        scoring=scoring,
        is_maximal=maximal_patterns(choices),
        is_all_kept=is_all_kept,
    )
    most_specimens = int(choices.patterns[choices.is_used()].sum(axis=1, dtype=np.int64).max())
    threshold = np.full((scoring.n_units + 1, most_specimens + 1), np.inf)
    ahead = scouts(choices, len(cells.views.batch))
    is_worth = not is_all_kept and len(ahead) < len(choices)  # where all is kept nobody needs to know what is near
    scouting = cut(choices.part(ahead), len(joints), scoring, is_scouting=True) if is_worth else []
    spans = cut(choices, len(joints), scoring)
    todo: list[IntArray | slice] = [*(ahead[span] for span in scouting), *spans]
    gathered = _Gathered(choices, scoring.n_units, scoring.least_penalty(), row_limit)
    around = present() if len(todo) > 1 else Surroundings()  # what takes no time is done on the spot
    with _crew_of(around, min(n_workers, len(todo))) as crew:
        for place, piece in enumerate(_worked(question, todo, len(scouting), threshold, around.kept, crew)):
            np.minimum(threshold, piece.threshold, out=threshold)
            if place >= len(scouting):
                gathered.add(piece, spans[place - len(scouting)], threshold)
            if progress:
                progress(place + 1, len(todo), WHAT)
    return gathered.matrix(joints, np.full_like(threshold, np.inf) if is_all_kept else threshold)


def _crew_of(around: Surroundings, n_workers: int) -> AbstractContextManager[Crew]:
    """Whoever is told to work, else threads of this search's own."""
    return Threads(n_workers) if around.crew is None else nullcontext(around.crew)


def _worked(
    question: Question,
    todo: Sequence[IntArray | slice],
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

    def __init__(self, choices: ChoiceSet, n_units: int, least: FloatArray, row_limit: RowLimit | None) -> None:
        self._choices = choices
        self._n_of_pattern = choices.patterns.sum(axis=1, dtype=np.int64)
        self._score = np.full(len(choices), np.inf)
        self._best_joint = np.zeros(len(choices), dtype=np.int16)
        self._least = least
        self._row_limit = row_limit
        self._bar: Bar | None = None  # once rows had to go
        self._most_held = None if row_limit is None else 2 * row_limit.most_rows  # before they are thinned
        self._rows = GatheredRows(n_units)
        self._counts = np.zeros(4, dtype=np.int64)

    def add(self, piece: Piece, span: slice, threshold: FloatArray) -> None:
        self._score[span] = piece.score
        self._best_joint[span] = piece.best_joint
        self._counts += piece.counts
        self._rows.add(piece, span.start, self._is_wanted(piece, span.start))
        if self._row_limit is not None and self._most_held is not None and len(self._rows) > self._most_held:
            self._thin(threshold, self._row_limit)

    def _is_wanted(self, piece: Piece, first_choice: int) -> BoolArray | None:
        """Which rows of a piece the limit may keep; None: all."""
        if self._row_limit is None or self._bar is None:
            return None
        return self._row_limit.reaches(self._bar, piece.row_choice + first_choice, piece.loss, piece.is_low)

    def _rule(self, threshold: FloatArray) -> None:
        self._rows.keep_near(threshold, self._least, self._n_of_pattern, self._choices.pattern_of)

    def _thin(self, threshold: FloatArray, limit: RowLimit) -> None:
        self._rule(threshold)
        bar = self._rows.keep_within(limit)
        if bar is not None:  # tiers that some rows had to leave are not whole again
            self._bar = bar if self._bar is None else replace(bar, dearest=min(bar.dearest, self._bar.dearest))

    def matrix(self, joints: tuple[Joint, ...], threshold: FloatArray) -> ErrorMatrix:
        """Rule once more on what the pieces handed back, now that all thresholds have fallen."""
        if self._row_limit is not None and len(self._rows) > self._row_limit.most_rows:
            self._thin(threshold, self._row_limit)
        self._rule(threshold)
        return ErrorMatrix(
            choices=self._choices,
            joints=joints,
            row_choice=self._rows.taken("row_choice"),
            row_joint=self._rows.taken("row_joint"),
            loss=self._rows.taken("loss"),
            level=self._rows.taken("level"),
            variance=self._rows.taken("variance"),
            is_over=self._rows.taken("is_over"),
            is_low=self._rows.taken("is_low"),
            score=self._score,
            best_joint=self._best_joint,
            n_fits=int(self._counts[0]),
            n_at_bound=int(self._counts[1]),
            n_unconverged=int(self._counts[2]),
            n_second_looks=int(self._counts[3]),
            n_searched=len(self._choices),
            dearest_whole=None if self._bar is None else self._bar.dearest,
        )
