"""How far few splits and few mixes can be off, where the answer is known by counting."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from tests.real_concrete.quantile_bound import kept_by_counting, kept_by_one_choice, luck_of_mixes, luck_of_splits
from tests.real_concrete.realised import Realised


def one_choice(absolute: list[float]) -> Realised:
    """Mixes whose errors are these, whatever is chosen."""
    errors = np.array(absolute)
    return cast(
        Realised,
        SimpleNamespace(
            mixes=SimpleNamespace(records=absolute),
            lowest=lambda _every: None,
            of=lambda _choice, every: errors[np.asarray(every)],
        ),
    )


def test_where_all_mixes_err_alike_nothing_is_luck() -> None:
    alike = one_choice([0.1] * 24)
    assert kept_by_one_choice(alike, 14, range(1, 50)) == 1.0
    assert luck_of_splits(alike, 14, 40) == 0.0
    assert luck_of_mixes(alike, 14) == 0.0


def test_different_errors_are_kept_as_often_as_counting_says() -> None:
    # Whatever the errors: 2,000 splits have a standard error of .0055, .02 is 3.6 of them: 1 false alarm in 3,000. A
    # deviation from some 50 sets of 40 has one of 10 %, .35 is 3.5: 1 in 2,000. Fixed seeds.
    rising = one_choice([0.01 * (at + 1) for at in range(24)])
    counted = kept_by_counting(14, 10)
    assert kept_by_one_choice(rising, 14, range(1, 2001)) == pytest.approx(counted, abs=0.02)
    assert luck_of_splits(rising, 14, 40) == pytest.approx(np.sqrt(counted * (1 - counted) / 40), rel=0.35)
