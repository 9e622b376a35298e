"""A later pour is never told to be read better than the batch itself, however many trial batches there are."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from planner.verdict.validation.next_batch import NextBatchErrors, next_batch_verdict


@pytest.mark.parametrize(
    ("own_rms", "expected"),
    [
        (0.09, (0.09, 0.09 / np.sqrt(2.0), 0.09 / np.sqrt(3.0))),  # every mean square of pours lies below it
        (0.01, (0.05, 0.04, 0.03)),  # and here above it
    ],
)
def test_the_own_batch_is_the_floor_of_every_number_of_trial_batches(
    own_rms: float, expected: tuple[float, ...]
) -> None:
    n = 8
    errors = NextBatchErrors(
        error=np.resize([0.05, -0.05], n),
        level=np.full(n, 0.05**2),
        read_on=np.arange(n),
        pair=np.arange(n),
        target=np.zeros(n, dtype=np.int64),
        weight=np.full(n, 1.0 / n),
        n_batches=n,
        squares=np.array([0.05, 0.04, 0.03]) ** 2,
    )
    scoring = SimpleNamespace(tolerance=0.1, is_by_mix=False)
    told = next_batch_verdict(errors, scoring, own_level=0.0, own_rms=own_rms)  # type: ignore[arg-type]
    assert told.rms == pytest.approx(expected[0])
    assert told.rms_by_trial_batches == pytest.approx(expected)
