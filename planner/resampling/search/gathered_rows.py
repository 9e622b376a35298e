"""The rows that pieces hand back, gathered in one place.

Rows that turn out not to be near are let go of in place: those that stay move up, so that nothing is in memory twice.
"""

from __future__ import annotations

import numpy as np

from planner.resampling.errors.arithmetic import TIE_FACTOR
from planner.resampling.search.pieces import LOW_FACTOR, Piece, hole_limit, near_with_holes
from planner.resampling.search.pruning import near_rows
from planner.resampling.search.row_limit import Bar, RowLimit
from planner.terms.arrays import AnyArray, BoolArray, FloatArray, IntArray

ROWS_AT_ONCE = 100_000  # ruled on or moved together
BY_ROW = {"row_choice": np.int32, "row_joint": np.int16, "is_low": np.bool_}
BY_UNIT = {"loss": np.float64, "level": np.float32, "variance": np.float32, "is_over": np.bool_}


class GatheredRows:
    """Columns as in `ErrorMatrix`, with room for more rows; room that is not used costs no memory."""

    def __init__(self, n_units: int) -> None:
        self._n_rows = 0
        self._columns: dict[str, AnyArray] = {name: np.empty(0, dtype=kind) for name, kind in BY_ROW.items()}
        self._columns |= {name: np.empty((0, n_units), dtype=kind) for name, kind in BY_UNIT.items()}

    def __len__(self) -> int:
        return self._n_rows

    def column(self, name: str) -> AnyArray:
        """One column of all rows; it is written over when rows are added or let go of."""
        return self._columns[name][: self._n_rows]

    def add(self, piece: Piece, first_choice: int, is_wanted: BoolArray | None = None) -> None:
        """Put the rows of a piece that are wanted behind the others, its schedules counted from `first_choice`."""
        n_wanted = len(piece.row_choice) if is_wanted is None else int(is_wanted.sum())
        start, self._n_rows = self._n_rows, self._n_rows + n_wanted
        for name, held in self._columns.items():
            if self._n_rows > len(held):
                roomier = np.empty((2 * self._n_rows, *held.shape[1:]), dtype=held.dtype)
                roomier[:start] = held[:start]
                self._columns[name] = roomier
            added = getattr(piece, name) if is_wanted is None else getattr(piece, name)[is_wanted]
            self._columns[name][start : self._n_rows] = added + first_choice if name == "row_choice" else added

    def keep_near(self, threshold: FloatArray, least: FloatArray, n_of_pattern: IntArray, pattern_of: AnyArray) -> None:
        """Let go of what is not near the best by the lowest means known now, see `near_rows`.

        Parameters
        ----------
        threshold, least
            As in :func:`planner.resampling.search.pruning.near_rows`; where no lowest mean is known all are kept.
        n_of_pattern, pattern_of
            Specimens of each pattern, ``(n_patterns,)``, and the pattern of each schedule, ``(n_choices,)``.
        """
        low_mean = float(least[-1] + LOW_FACTOR * (threshold[-1, -1] - least[-1]))
        slack = np.inf if np.isinf(threshold).all() else TIE_FACTOR
        hole, threshold = hole_limit(threshold), threshold.copy()
        is_kept = np.empty(self._n_rows, dtype=bool)
        for start in range(0, self._n_rows, ROWS_AT_ONCE):
            some = slice(start, start + ROWS_AT_ONCE)
            loss, was_low = self.column("loss")[some], self.column("is_low")[some]
            n_specimens = n_of_pattern[pattern_of[self.column("row_choice")[some]]]
            is_hole = np.isnan(loss.sum(axis=1))
            is_near, is_low = np.zeros((2, len(loss)), dtype=bool)
            near_rows(loss, n_specimens, threshold, least, slack, was_low, low_mean, is_near, is_low)
            is_near[is_hole] = near_with_holes(loss[is_hole], n_specimens[is_hole], hole)
            is_kept[some] = is_near | is_low
            was_low[:] = is_low | is_hole
        self._keep(is_kept)

    def keep_within(self, limit: RowLimit) -> Bar | None:
        """Let go of what is beyond the limit; what later rows must reach, None where nothing had to go."""
        is_kept, bar = limit.kept(self.column("row_choice"), self.column("loss"), self.column("is_low"))
        if bar is not None:
            self._keep(is_kept)
        return bar

    def _keep(self, is_kept: BoolArray) -> None:
        if is_kept.all():
            return
        for column in self._columns.values():
            n_kept = 0
            for start in range(0, self._n_rows, ROWS_AT_ONCE):
                some = slice(start, min(start + ROWS_AT_ONCE, self._n_rows))
                kept = column[some][is_kept[some]]
                column[n_kept : n_kept + len(kept)] = kept
                n_kept += len(kept)
        self._n_rows = int(is_kept.sum())

    def taken(self, name: str) -> AnyArray:
        """One column without the room behind it, which is given back; it is not here any more."""
        column = self._columns.pop(name)[: self._n_rows]
        return column.astype(np.int64 if column.dtype.kind == "i" else column.dtype)
