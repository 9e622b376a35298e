"""Rows of pieces in one place: what is let go of leaves no trace, what stays keeps its order."""

from __future__ import annotations

from typing import cast

import numpy as np
import pytest

from planner.resampling.search import gathered_rows
from planner.resampling.search.gathered_rows import BY_ROW, BY_UNIT, GatheredRows
from planner.resampling.search.pieces import Piece
from planner.resampling.search.row_limit import RowLimit

N_UNITS = 3


def piece_of(n_rows: int, random: np.random.Generator) -> Piece:
    return Piece(
        score=np.zeros(0),
        best_joint=np.zeros(0, dtype=np.int16),
        row_choice=random.integers(0, 1000, n_rows),
        row_joint=random.integers(0, 99, n_rows),
        loss=random.random((n_rows, N_UNITS)),
        level=random.random((n_rows, N_UNITS)).astype(np.float32),
        variance=random.random((n_rows, N_UNITS)).astype(np.float32),
        is_over=random.random((n_rows, N_UNITS)) < 0.5,
        is_low=random.random(n_rows) < 0.5,
        threshold=np.zeros((N_UNITS + 1, 1)),
        counts=np.zeros(4, dtype=np.int64),
    )


class Drawn:
    """A limit that keeps what is drawn, and remembers it."""

    def __init__(self, random: np.random.Generator) -> None:
        self.random = random
        self.is_kept = np.zeros(0, dtype=bool)

    def kept(self, row_choice: np.ndarray, loss: np.ndarray, is_low: np.ndarray) -> tuple[np.ndarray, int]:
        assert len(row_choice) == len(loss) == len(is_low)
        self.is_kept = self.random.random(len(loss)) < 0.4
        return self.is_kept, 7


@pytest.mark.parametrize("rows_at_once", [1, 7, 1000])
def test_rows_that_stay_move_up_in_their_order(rows_at_once: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(gathered_rows, "ROWS_AT_ONCE", rows_at_once)
    random = np.random.default_rng(3)
    limit, gathered = Drawn(random), GatheredRows(N_UNITS)
    expected: dict[str, list[np.ndarray]] = {name: [] for name in (*BY_ROW, *BY_UNIT)}
    for turn, n_rows in enumerate((5, 0, 40, 1, 17, 90)):
        piece = piece_of(n_rows, random)
        gathered.add(piece, 1000 * turn)
        for name, parts in expected.items():
            added = getattr(piece, name)
            added = added + 1000 * turn if name == "row_choice" else added
            expected[name] = [np.concatenate([*parts, added])]
        if turn % 2:
            assert gathered.keep_within(cast(RowLimit, limit)) == 7
            expected = {name: [parts[0][limit.is_kept]] for name, parts in expected.items()}
    assert 0 < len(gathered) < 153
    for name, (column,) in expected.items():
        found = gathered.taken(name)
        assert found.dtype == (np.int64 if name in ("row_choice", "row_joint") else column.dtype)
        np.testing.assert_array_equal(found, column)


@pytest.mark.parametrize("rows_at_once", [7, 1000])
@pytest.mark.parametrize("is_known", [True, False])
def test_rows_near_the_best_stay_and_all_where_none_is_known(
    rows_at_once: int, is_known: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(gathered_rows, "ROWS_AT_ONCE", rows_at_once)
    random = np.random.default_rng(5)
    piece = piece_of(200, random)
    piece.loss[::9, 1] = np.nan  # holes
    n_specimens = random.integers(1, 4, 1000)
    of_row = n_specimens[piece.row_choice]
    means = np.stack(
        [*(np.delete(piece.loss, unit, axis=1).mean(axis=1) for unit in range(N_UNITS)), piece.loss.mean(1)]
    )
    is_whole = ~np.isnan(piece.loss).any(axis=1)
    threshold = np.full((N_UNITS + 1, 4), np.inf)
    if is_known:  # the lowest with at most so many specimens
        for most in (1, 2, 3):
            threshold[:, most] = means[:, is_whole & (of_row <= most)].min(axis=1)
    least = np.full(N_UNITS + 1, 0.02)
    gathered = GatheredRows(N_UNITS)
    gathered.add(piece, 0)
    gathered.keep_near(threshold, least, n_specimens, np.arange(1000))
    is_near = (means <= 0.02 + 1.21 * (threshold[:, of_row] - 0.02)).any(axis=0)
    held = np.nanmean(piece.loss, axis=1)
    is_near[~is_whole] = (held <= 1.5 * 1.21 * threshold[-1, of_row])[~is_whole]  # scored through others: more slack
    is_low = piece.is_low & (means[-1] <= 0.02 + 4 * (threshold[-1, -1] - 0.02))
    expected = is_near | is_low
    assert expected.all() is np.bool_(not is_known)
    assert gathered.taken("row_joint").tolist() == piece.row_joint[expected].tolist()
    assert gathered.taken("is_low").tolist() == (is_low | ~is_whole)[expected].tolist()
