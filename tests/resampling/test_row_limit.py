"""Rows that stay beyond the limit, against a plain search through all of them."""

from __future__ import annotations

import numpy as np
import pytest

from planner.resampling import ErrorMatrix
from planner.resampling.search.row_limit import Bar, RowLimit, lowest
from tests.resampling.searches import cut_small, search
from tests.verdict.selection.test_batch_bootstrap import undominated_by_hand


@pytest.mark.parametrize("seed", range(12))
def test_the_lowest_of_every_tier_stay(seed: int) -> None:
    random = np.random.default_rng(seed)
    n_rows, n_units = 60, int(random.integers(1, 4))
    loss = np.round(random.random((n_rows, n_units)), 1)  # equals are common
    choice, is_low = random.integers(0, 30, n_rows), random.random(n_rows) < 0.5
    tier = random.integers(0, 9, 30).astype(np.int32)
    kept, bar = RowLimit(tier, most_rows=25, most_lowest=4).kept(choice, loss, is_low)
    assert bar is not None
    dearest = bar.dearest
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
    kept, bar = RowLimit(tier, most_rows=1, most_lowest=1).kept(np.arange(5), loss, is_low)
    assert bar is not None
    assert bar.dearest == 0
    assert np.flatnonzero(kept).tolist() == [1, 2, 3, 4]


@pytest.mark.parametrize("has_holes", [False, True])
@pytest.mark.parametrize("seed", range(10))
def test_rows_that_do_not_reach_the_bar_would_have_gone_anyhow(seed: int, has_holes: bool) -> None:
    random = np.random.default_rng(seed)
    n_units = int(random.integers(1, 5))
    n_rows, n_first = 400, 250
    choice = random.integers(0, 30, n_rows)
    tier = random.integers(0, 9, 30).astype(np.int32)
    tier[choice[n_first:]] += 3 * (random.random(n_rows - n_first) < 0.1)  # some tiers come late
    loss = np.round(random.random((n_rows, n_units)), 1)
    is_low = random.random(n_rows) < 0.05
    if has_holes:
        loss[random.random((n_rows, n_units)) < 0.15] = np.nan
    limit = RowLimit(tier, most_rows=30, most_lowest=8)
    first, bar = limit.kept(choice[:n_first], loss[:n_first], is_low[:n_first])
    assert bar is not None
    later = np.arange(n_first, n_rows)
    wanted = later[limit.reaches(bar, choice[later], loss[later], is_low[later])]
    assert 0 < len(wanted) < len(later)
    held = np.flatnonzero(first)
    with_all = np.concatenate([held, later])
    stay, _ = limit.kept(choice[with_all], loss[with_all], is_low[with_all])
    # what is kept of all rows is wanted, but for those of tiers that are not whole any more
    needed = [
        row for row in with_all[stay] if row >= n_first and tier[choice[row]] > dearest_of(limit, choice, with_all)
    ]
    assert set(needed) <= set(wanted.tolist())
    assert set(wanted.tolist()) == {
        row for row in later if is_wanted_by_hand(row, loss, tier[choice], is_low, bar, n_first)
    }


def is_wanted_by_hand(row: int, loss: np.ndarray, tier: np.ndarray, is_low: np.ndarray, bar: Bar, n_first: int) -> bool:
    """Whether one row stays at first sight, beside the first rows that have no hole; eight are lowest of all."""
    whole = [other for other in range(n_first) if not np.isnan(loss[other]).any()]
    eighth = sorted(float(loss[other].sum()) for other in whole)[7]
    if is_low[row] or tier[row] <= bar.dearest or np.isnan(loss[row]).any() or loss[row].sum() <= eighth + 1e-9:
        return True
    units = range(loss.shape[1])
    for out in [None, *(units if len(units) > 1 else ())]:
        left = [unit for unit in units if unit != out]
        rivals = [float(loss[other, left].sum()) for other in whole if tier[other] == tier[row]]
        if not rivals or loss[row, left].sum() <= min(rivals) + 1e-9:
            return True
    return False


def dearest_of(limit: RowLimit, choice: np.ndarray, rows: np.ndarray) -> int:
    """The dearest tier that is held whole of some rows, by counting."""
    tiers = sorted(int(limit.tier[choice[row]]) for row in rows)
    return max([last for last in set(tiers) if sum(tier <= last for tier in tiers) <= limit.most_rows], default=-1)


def test_pieces_that_come_after_rows_had_to_go_bring_all_that_is_claimed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Cut into dozens of pieces; tiers are those of specimens and visits, as without prices."""
    whole = search()
    key = whole.choices.n_specimens * 100 + whole.choices.set_n_ages[whole.choices.set_of]
    tier = np.unique(key, return_inverse=True)[1].astype(np.int32)
    cut_small(monkeypatch, 500)
    refused: list[int] = []
    reaches = RowLimit.reaches

    def counted(limit: RowLimit, bar: Bar, choice: np.ndarray, *of_rows: np.ndarray) -> np.ndarray:
        found = reaches(limit, bar, choice, *of_rows)
        refused.append(int(np.sum(~found)))
        return found

    monkeypatch.setattr(RowLimit, "reaches", counted)
    limited = search(row_limit=RowLimit(tier, most_rows=len(whole.row_choice) // 4, most_lowest=5))
    assert limited.dearest_whole is not None
    assert sum(refused) > 0
    assert np.array_equal(limited.score, whole.score)
    of_whole, of_limited = tier[whole.row_choice], tier[limited.row_choice]

    def rows(matrix: ErrorMatrix, which: np.ndarray) -> set[tuple[int, int]]:
        return set(zip(matrix.row_choice[which].tolist(), matrix.row_joint[which].tolist(), strict=True))

    is_cheap = of_limited <= limited.dearest_whole
    assert rows(limited, is_cheap) == rows(whole, of_whole <= limited.dearest_whole)
    assert rows(limited, ~is_cheap) < rows(whole, of_whole > limited.dearest_whole)
    for out in (None, *range(whole.loss.shape[1])):
        left, of_less = (np.delete(m.loss, [] if out is None else out, axis=1).sum(axis=1) for m in (whole, limited))
        for value in np.unique(of_whole):
            assert of_less[of_limited == value].min() == left[of_whole == value].min()
    by_hand = np.sort(whole.loss.sum(axis=1))[:5]
    assert np.array_equal(np.sort(limited.loss.sum(axis=1))[:5], by_hand)
