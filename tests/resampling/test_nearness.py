"""The quick look through all joint choices against the plain loop that works every loss out."""

from __future__ import annotations

import numpy as np
import pytest

from planner.resampling.errors.arithmetic import TIE_FACTOR
from planner.resampling.errors.expansion import expand
from planner.resampling.search.pieces import hole_limit, near_with_holes
from planner.resampling.search.pruning import best_joints, losses_at, near_rows, promising


def invented(seed: int, *, n_units: int, has_holes: bool):
    """Losses of 4 sets under 6 joints, each set with every pattern of 1 to 3 specimens at 3 ages."""
    random = np.random.default_rng(seed)
    patterns = np.stack(np.meshgrid([1, 2, 3], [1, 2, 3], [1, 2, 3]), axis=-1).reshape(-1, 3)
    square = random.exponential(1.0, (6, 4, n_units))
    shares = random.exponential(0.3, (6, 4, n_units, 3))
    if has_holes:
        is_hole = random.random((6, 4, n_units)) < 0.2
        square[is_hole] = np.nan
        shares[is_hole] = np.nan
    specimens = np.tile(patterns, (4, 1)).astype(np.int16)
    set_of = np.repeat(np.arange(4), len(patterns))
    return square, shares, set_of, np.full(4, 3), specimens, 2.0


@pytest.mark.parametrize("n_units", [1, 2, 5, 9])
@pytest.mark.parametrize("has_holes", [False, True])
@pytest.mark.parametrize("is_known", [False, True])  # are thresholds known, or is this the first piece
def test_the_quick_look_leaves_out_nothing_that_is_near_or_low(n_units, has_holes, is_known):
    n_marked = n_rows = 0
    for seed in range(10):
        given = invented(seed, n_units=n_units, has_holes=has_holes)
        specimens = given[4]
        n_specimens = specimens.sum(axis=1, dtype=np.int64)
        loss = np.empty((len(specimens), 6, n_units))
        expand(*given, loss)
        rows = loss.reshape(-1, n_units)
        of_row = np.repeat(n_specimens, 6)
        threshold = np.full((n_units + 1, 10), np.inf)
        least = np.zeros(n_units + 1)
        wanted = specimens.sum(axis=1) == 9
        marks = np.zeros((2, len(rows)), dtype=bool)
        if is_known:
            near_rows(rows, of_row, threshold, least, TIE_FACTOR, np.repeat(wanted, 6), np.inf, *marks.copy())
        assert np.isinf(threshold[:, 0]).all()  # of no specimens: nothing is written past the end of the row before
        low_mean = 4.0 * threshold[-1, -1]

        score, best = np.empty(len(specimens)), np.empty(len(specimens), dtype=np.int16)
        is_promising = np.zeros((len(specimens), 6), dtype=bool)
        near_limit = TIE_FACTOR * threshold
        promising(*given, n_specimens, near_limit, hole_limit(threshold), wanted, low_mean, score, best, is_promising)

        is_near, is_low = marks
        near_rows(rows, of_row, threshold.copy(), least, TIE_FACTOR, np.repeat(wanted, 6), low_mean, is_near, is_low)
        is_hole = np.isnan(rows).any(axis=1)
        is_near[is_hole] = near_with_holes(rows[is_hole], of_row[is_hole], hole_limit(threshold))
        assert not np.any((is_near | is_low) & ~is_promising.ravel())
        n_marked, n_rows = n_marked + is_promising.sum(), n_rows + is_promising.size

        plain_score, plain_best = np.empty(len(specimens)), np.empty(len(specimens), dtype=np.int16)
        best_joints(loss, plain_score, plain_best)
        np.testing.assert_allclose(score, plain_score, rtol=1e-12)
        np.testing.assert_array_equal(best, plain_best)  # continuous losses: no ties that rounding could turn

        wanted_rows = np.flatnonzero(is_promising)
        single = np.empty((len(wanted_rows), n_units))
        losses_at(*given, *np.divmod(wanted_rows, 6), single)
        np.testing.assert_array_equal(single, rows[wanted_rows])  # the same additions in the same order
    assert n_marked < n_rows or not is_known  # else it would be no quick look
