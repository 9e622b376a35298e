"""The study of the capped ranking loss, on one split of one set."""

from __future__ import annotations

import numpy as np

from planner.resampling.errors import scoring
from tests.real_concrete.data import mix_sets
from tests.statistics.loss_cap import regrets


def test_a_split_is_judged_with_and_without_the_cap() -> None:
    largest = mix_sets()[0]
    kept = scoring.FEWEST_TO_CAP
    # Split 1 of 10 mixes at 14 d: a few mixes far off decide alone where nothing caps them. Fixed records, no chance.
    ((uncapped, capped, quantile, other),) = regrets(largest, largest.targets_h[0], 10, 1)
    assert scoring.FEWEST_TO_CAP == kept == 10
    assert 1.0 <= capped < uncapped
    assert np.isfinite([quantile, other]).all()
