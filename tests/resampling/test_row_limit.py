"""Rows that stay beyond the limit, against a plain search through all of them."""

from __future__ import annotations

import numpy as np
import pytest

from planner.resampling.search.row_limit import RowLimit, lowest
from tests.verdict.selection.test_batch_bootstrap import undominated_by_hand


@pytest.mark.parametrize("seed", range(12))
def test_the_lowest_of_every_tier_stay(seed: int) -> None:
    random = np.random.default_rng(seed)
    n_rows, n_units = 60, int(random.integers(1, 4))
    loss = np.round(random.random((n_rows, n_units)), 1)  # equals are common
    choice, is_low = random.integers(0, 30, n_rows), random.random(n_rows) < 0.5
    tier = random.integers(0, 9, 30).astype(np.int32)
    kept, dearest = RowLimit(tier, most_rows=25, most_lowest=4).kept(choice, loss, is_low)
    of_row = [int(tier[at]) for at in choice]
    held = [sum(at <= last for at in of_row) for last in range(9)]
    assert dearest == max([last for last in range(9) if held[last] <= 25], default=-1)
    expected = {row for row in range(n_rows) if of_row[row] <= dearest}
    left_out = [()] if n_units == 1 else [(), *((unit,) for unit in range(n_units))]
    for out in left_out:
        mean = [sum(loss[row, unit] for unit in range(n_units) if unit not in out) for row in range(n_rows)]
        for row in range(n_rows):
            if mean[row] <= min(mean[other] for other in range(n_rows) if of_row[other] == of_row[row]) + 1e-9:
                expected.add(row)
    total = [float(loss[row].sum()) for row in range(n_rows)]
    expected |= set(sorted(range(n_rows), key=lambda row: total[row])[:4])
    low = sorted((row for row in range(n_rows) if is_low[row]), key=lambda row: of_row[row])
    found = [low[at] for at in undominated_by_hand(loss[low])]
    expected |= set(sorted(found, key=lambda row: (total[row], low.index(row)))[:4])
    assert set(np.flatnonzero(kept).tolist()) == expected


@pytest.mark.parametrize("n_lowest", [1, 3, 7, 8, 20])
def test_of_equals_the_first_are_lowest(n_lowest: int) -> None:
    values = np.array([2.0, 1.0, 3.0, 1.0, 2.0, 2.0, 0.0, 3.0])
    in_order = sorted(range(len(values)), key=lambda at: values[at])
    assert sorted(lowest(values, n_lowest).tolist()) == sorted(in_order[:n_lowest])


def test_of_rows_alike_near_the_best_the_cheapest_stays() -> None:
    loss = np.array([[2.0, 2.0], [2.0, 2.0], [1.0, 1.0], [1.0, 1.0], [0.0, 0.0]])
    is_low = np.array([True, True, False, False, False])
    tier = np.array([2, 1, 1, 2, 0], dtype=np.int32)
    kept, dearest = RowLimit(tier, most_rows=1, most_lowest=1).kept(np.arange(5), loss, is_low)
    assert dearest == 0
    assert np.flatnonzero(kept).tolist() == [1, 2, 3, 4]
