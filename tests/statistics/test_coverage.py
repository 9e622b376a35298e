"""A small part of the study of coverage; the whole of it is ``python -m tests.statistics.coverage``."""

from __future__ import annotations

import numpy as np
import pytest

from tests.statistics.coverage import inside_of, redraw

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("without_what_comes_after_casting")]
N_REDRAWS = 5


def test_shares_inside_count_batches_on_both_nights_as_one() -> None:
    errors = np.array([[0.0, 0.2], [0.05, 0.05], [0.2, 0.0], [0.0, 0.0]])
    # both nights: 2 of 4; cool night: 3 of 4; warm night: 3 of 4
    assert inside_of(errors, tolerance=0.1) == pytest.approx((0.5 + 0.75 + 0.75) / 3)


def test_bounds_hold_on_redrawn_records() -> None:
    held = [redraw(seed, n_fresh=300) for seed in range(N_REDRAWS)]
    # At a coverage of .9 three or more misses in five have a chance of .009
    assert sum(row.own_bound >= row.own_rms for row in held) >= 3
    assert sum(row.inside >= row.inside_lower for row in held) >= 3
    # in each of the redraws 5 to 24 too, next_rms 2.6 times own_rms or more
    for row in held:
        assert row.own_rms < row.next_rms
        assert row.apparent_rms < row.own_bound
    # the runway's true errors lie between the 3.0 % of the best choice in hindsight and the customary 7 %;
    # of fives drawn from the redraws 5 to 24, 1 in 100 has its median outside the limits
    assert 0.028 < np.median([row.own_rms for row in held]) < 0.06
